//! The grammar of the manual and the parser are held to each other.

use std::collections::BTreeSet;

use borewright_syntax::{Sign, Word};

use crate::common::{codes, complaints};
use crate::sentences::{Dice, Grammar};

#[test]
fn the_parser_accepts_every_sentence_of_the_grammar() {
    let grammar = Grammar::of_manual();
    let mut dice = Dice::new(1);
    let mut words = 0;
    for _ in 0..4_000 {
        let depth = 4 + dice.roll(20);
        let text = grammar.sentence("file", depth, &mut dice).join(" ");
        words += text.split(' ').count();
        assert_eq!(complaints(&text), "", "{text}");
    }
    assert!(words > 50_000, "only {words} words: the sentences are too short to say anything");
}

#[test]
fn the_parser_accepts_nothing_else() {
    let grammar = Grammar::of_manual();
    let mut dice = Dice::new(2);
    let terminals: Vec<String> = grammar.terminals().into_iter().collect();
    let mut accepted = 0;
    let mut refused = 0;
    for _ in 0..8_000 {
        let depth = 4 + dice.roll(14);
        let mut words = grammar.sentence("file", depth, &mut dice);
        if words.is_empty() {
            continue;
        }
        for _ in 0..=dice.roll(2) {
            change(&mut words, &terminals, &mut dice);
        }
        let text = words.join(" ");
        let found = codes(&text);
        assert_eq!(found.is_empty(), grammar.recognises(&text), "{text}\n{}", complaints(&text));
        if found.is_empty() {
            accepted += 1;
        } else {
            refused += 1;
        }
    }
    assert!(accepted > 100 && refused > 1_000, "{accepted} accepted, {refused} refused");
}

/// Leaves a word out, doubles it, swaps it with the next one or puts another in its place.
fn change(words: &mut Vec<String>, terminals: &[String], dice: &mut Dice) {
    if words.is_empty() {
        return;
    }
    let at = dice.roll(words.len());
    match dice.roll(4) {
        0 => {
            words.remove(at);
        }
        1 => words.insert(at, words[at].clone()),
        2 => {
            let next = (at + 1) % words.len();
            words.swap(at, next);
        }
        _ => words[at] = dice.pick(terminals).clone(),
    }
}

#[test]
fn grammar_and_lexer_know_the_same_words_and_signs() {
    let unreserved = ["all", "remainder", "last", "counted"];
    let of_grammar = Grammar::of_manual().terminals();
    let of_lexer: BTreeSet<String> = Word::ALL
        .into_iter()
        .map(Word::text)
        .chain(Sign::ALL.into_iter().map(Sign::text))
        .chain(unreserved)
        .map(str::to_owned)
        .collect();
    assert_eq!(of_grammar, of_lexer);
    for word in unreserved {
        assert_eq!(Word::from_text(word), None);
    }
}

#[test]
fn the_page_lists_the_reserved_words_by_their_use() {
    let (_, rest) = borewright_syntax::GRAMMAR.split_once("## Reserved words").unwrap();
    let (leading, others) = rest.split_once("The others:").unwrap();
    let (others, _) = others.split_once("\n\n").unwrap();
    let quoted =
        |text: &str| -> BTreeSet<String> { text.split('`').skip(1).step_by(2).map(str::to_owned).collect() };
    let words = |leading: bool| -> BTreeSet<String> {
        Word::ALL.into_iter().filter(|w| w.is_leading() == leading).map(|w| w.text().to_owned()).collect()
    };
    assert_eq!(quoted(leading), words(true));
    assert_eq!(quoted(others), words(false));
}
