//! The canonical form: what it looks like, and what it never does.

use borewright_base::FileId;
use borewright_syntax::{format, lex};
use pretty_assertions::assert_eq;
use proptest::prelude::*;

use crate::common::{complaints, tree};
use crate::sentences::{Dice, Grammar};

fn formatted(text: &str) -> String {
    format(FileId(0), text).unwrap_or_else(|_| panic!("{text}\n{}", complaints(text)))
}

fn comments(text: &str) -> Vec<&str> {
    lex(FileId(0), text).comments.iter().map(|comment| comment.text).collect()
}

/// The spellings of tokens and comments in order, but for commas, which may come and go at the end of a list.
fn order(text: &str) -> Vec<String> {
    let lexed = lex(FileId(0), text);
    let tokens = lexed.tokens.iter().map(|(token, span)| (span.start, token.describe()));
    let comments = lexed.comments.iter().map(|comment| (comment.span.start, comment.text.to_owned()));
    let mut all: Vec<_> = tokens.chain(comments).collect();
    all.sort();
    all.into_iter().map(|(_, text)| text).filter(|text| text != "`,`").collect()
}

#[track_caller]
fn assert_keeps_everything(text: &str) {
    let once = formatted(text);
    assert_eq!(formatted(&once), once, "a second time changes something; from\n{text}");
    assert_eq!(tree(&once), tree(text), "the tree changes; from\n{text}");
    assert_eq!(comments(&once), comments(text), "a comment is lost; from\n{text}");
    assert_eq!(order(&once), order(text), "a comment moves across code; from\n{text}");
}

macro_rules! forms {
    ($($name:ident: $text:expr;)*) => {
        $(#[test] fn $name() {
            assert_keeps_everything($text);
            insta::assert_snapshot!(format!("{}----\n{}", $text, formatted($text)));
        })*
    };
}

forms! {
    one_statement_a_line:
        "use bores let a=1 routine r(a:length in 0..-1mm,){retract passes level from 0 to-a by 1mm{line to z level feed 5mm/min}with mill{}}";
    long_parameter_lists_have_one_on_each_line:
        "routine r(a:length as A in 0..1mm,/// first\n  b: feed in 1mm/min..2mm/min = 5mm/min, /// second\n/// above the third\nc: right or left = right){}";
    columns_are_lined_up:
        "table screw(size: length, head: length) { row M5=5mm,8.5mm\nrow M12=12mm,18mm }\njob j\ncutter a=flat(pocket:1)\ncutter rougher=flat(pocket:2)\n{\n}\nroutine r()\nrequires a<b else \"ONE\"\nrequires a+b<c else \"TWO\"\npractice a+b+c<1mm else \"THREE\"\n{\n}\n";
    comments_stay_where_they_are:
        "// first\n\n\n// second\nlet a = 1 // beside\n// above\nroutine r(\n  a: length // no comma\n  // last\n) // after the bracket\n// above the brace\n{ // after the brace\n\n  // in the block\n\n  retract // one\n  rapid to centre // two\n\n\n  line to (1mm, // x\n    2mm) // y\n  call drill(depth, // why\n  )\n  // at the end\n}\n// at the very end";
    blank_lines_are_kept_one_at_a_time:
        "\n\nlet a = 1\nlet b = 2\n\n\n\nlet c = 3\nroutine r()\n\nlet d = 4\n{\n\n    retract\n\n\n    retract\n\n}\nlet e = 5\n";
    signs_have_blanks_where_people_put_them:
        "let a=-(b+c)*-d/e.f let g=[(1,-2),(r at 90deg)] let h=if not a==b then-1 else min(a,-b) and c";
    nothing_stays_nothing: "";
    comments_alone: "// one\n\n\n\n// two";
}

#[test]
fn wrong_texts_are_left_alone() {
    assert!(format(FileId(0), "let a = ").is_err());
}

/// Blanks, line ends and comments between two words.
fn between(dice: &mut Dice) -> &'static str {
    match dice.roll(24) {
        0 => "\n",
        1 => "\n\n\n",
        2 => " // note\n",
        3 => "\n// alone\n",
        4 => " /// beside\n",
        5 => "\n\n/// above\n/// and more\n",
        6 => "\r\n\t",
        _ => " ",
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_500))]

    #[test]
    fn formatting_keeps_everything(seed in any::<u64>(), depth in 3_usize..20) {
        let mut dice = Dice::new(seed);
        let words = Grammar::of_manual().sentence("file", depth, &mut dice);
        let mut text = between(&mut dice).to_owned();
        for word in words {
            text.push_str(&word);
            text.push_str(between(&mut dice));
        }
        assert_keeps_everything(&text);
    }
}
