//! From a routine's text to the same text with one thing wrong.

use crate::random::Random;

/// One changed text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mutant {
    /// What was changed.
    pub change: String,
    /// The text.
    pub text: String,
}

/// A token of the language, blanks and comments too, so that all together are the text.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Token<'a> {
    kind: Kind,
    text: &'a str,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Blank,
    Text,
    Number,
    Name,
    Sign,
}

/// The text with one thing changed; `None` where the draw changes nothing.
#[must_use]
pub fn mutate(text: &str, random: &mut Random) -> Option<Mutant> {
    let change = match random.below(20) {
        0..=3 => number(text, random),
        4..=5 => sign(text, random),
        6 => comparison(text, random),
        7 => minus(text, random),
        8..=9 => name(text, random),
        10 => add_little(text, random),
        11 => drop_term(text, random),
        12 => delete_line(text, random, &["requires", "practice"]),
        13 => delete_line(text, random, MOVES),
        14 => swap_lines(text, random),
        15 => repeat_line(text, random),
        16 => word(text, random, &["ccw", "cw"]),
        17 => promise(text, random),
        18 => delete_part(text, random),
        _ => word(text, random, &["centre", "(0, 0.05mm)", "(tool / 50, 0)", "pivot"]),
    }?;
    (change.text != text).then_some(change)
}

const MOVES: &[&str] =
    &["rapid", "line", "arc", "turn", "feed", "retract", "call", "dwell", "spindle", "stop"];

/// Words that are no names of values.
const WORDS: &[&str] = &[
    "use",
    "let",
    "function",
    "table",
    "routine",
    "job",
    "program",
    "requires",
    "practice",
    "cutter",
    "makes",
    "given",
    "work",
    "travel",
    "feed",
    "retract",
    "rapid",
    "line",
    "arc",
    "turn",
    "passes",
    "repeat",
    "call",
    "dwell",
    "with",
    "spindle",
    "coolant",
    "stop",
    "promises",
    "to",
    "from",
    "by",
    "about",
    "at",
    "z",
    "as",
    "in",
    "ccw",
    "cw",
    "if",
    "then",
    "else",
    "and",
    "or",
    "not",
    "all",
    "length",
    "angle",
    "flat",
    "hole",
    "boss",
    "ring",
    "count",
    "ratio",
    "speed",
    "time",
    "within",
    "sized",
    "cleared",
    "smooth",
    "climb",
    "conventional",
    "row",
];

fn tokens(text: &str) -> Vec<Token<'_>> {
    let mut tokens = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let (kind, length) = token(rest, first);
        let (head, tail) = rest.split_at(length.max(first.len_utf8()).min(rest.len()));
        tokens.push(Token { kind, text: head });
        rest = tail;
    }
    tokens
}

fn token(rest: &str, first: char) -> (Kind, usize) {
    let span = |accept: &dyn Fn(char) -> bool| rest.find(|c| !accept(c)).unwrap_or(rest.len());
    if first.is_whitespace() {
        return (Kind::Blank, span(&char::is_whitespace));
    }
    if rest.starts_with("//") {
        return (Kind::Blank, rest.find('\n').unwrap_or(rest.len()));
    }
    if first == '"' {
        let inner = rest.get(1..).and_then(|r| r.find('"')).map_or(rest.len(), |at| at + 2);
        return (Kind::Text, inner);
    }
    if first.is_ascii_digit() {
        let whole = span(&|c| c.is_ascii_digit());
        let after = rest.get(whole..).unwrap_or("");
        let fraction = match after.strip_prefix('.') {
            Some(digits) if digits.starts_with(|c: char| c.is_ascii_digit()) => {
                1 + digits.find(|c: char| !c.is_ascii_digit()).unwrap_or(digits.len())
            }
            Some(_) | None => 0,
        };
        let unit = rest.get(whole + fraction..).unwrap_or("");
        let letters = unit.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(unit.len());
        let per = unit.get(letters..).unwrap_or("").starts_with("/min");
        return (Kind::Number, whole + fraction + letters + if per && letters > 0 { 4 } else { 0 });
    }
    if first.is_alphabetic() || first == '_' {
        return (Kind::Name, span(&|c| c.is_alphanumeric() || c == '_'));
    }
    let pair = rest.get(..2).unwrap_or("");
    (Kind::Sign, if ["<=", ">=", "==", "!=", ".."].contains(&pair) { 2 } else { first.len_utf8() })
}

/// Replaces one of the tokens that a test picks out.
fn replace(
    text: &str,
    random: &mut Random,
    what: &str,
    pick: impl Fn(&Token<'_>) -> bool,
    with: impl Fn(&str, &mut Random) -> String,
) -> Option<Mutant> {
    let tokens = tokens(text);
    let picked: Vec<usize> = tokens.iter().enumerate().filter(|(_, t)| pick(t)).map(|(i, _)| i).collect();
    let at = *random.choose(&picked)?;
    let old = tokens.get(at)?.text;
    let new = with(old, random);
    let line = tokens.get(..at)?.iter().map(|t| t.text.matches('\n').count()).sum::<usize>() + 1;
    let changed: String =
        tokens.iter().enumerate().map(|(i, t)| if i == at { new.as_str() } else { t.text }).collect();
    Some(Mutant { change: format!("{what}, line {line}: `{old}` becomes `{new}`"), text: changed })
}

/// A number a little greater or smaller, doubled, halved, or none.
fn number(text: &str, random: &mut Random) -> Option<Mutant> {
    replace(
        text,
        random,
        "number",
        |t| t.kind == Kind::Number,
        |old, random| {
            let unit_at = old.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(old.len());
            let (digits, unit) = old.split_at(unit_at);
            let value: f64 = digits.parse().unwrap_or(0.0);
            let little = match unit {
                "mm" => 0.01,
                "in" => 0.001,
                "" => 0.1,
                _ => 1.0,
            };
            let new = match random.below(6) {
                0 => value + little,
                1 => (value - little).max(0.0),
                2 => value * 2.0,
                3 => value / 2.0,
                4 => value * 1.1,
                _ => 0.0,
            };
            format!("{}{unit}", (new * 1e6).round() / 1e6)
        },
    )
}

fn sign(text: &str, random: &mut Random) -> Option<Mutant> {
    let signs = ["+", "-", "*"];
    let is_sign = |t: &Token<'_>| t.kind == Kind::Sign && (signs.contains(&t.text) || t.text == "/");
    replace(text, random, "operator", is_sign, |old, random| {
        let other: Vec<&str> = signs.iter().chain(&["/"]).copied().filter(|s| *s != old).collect();
        random.choose(&other).map_or(String::new(), |s| (*s).to_owned())
    })
}

fn comparison(text: &str, random: &mut Random) -> Option<Mutant> {
    let relations = ["<=", ">=", "<", ">", "=="];
    let is_relation = |t: &Token<'_>| t.kind == Kind::Sign && relations.contains(&t.text);
    replace(text, random, "comparison", is_relation, |old, random| {
        let other: Vec<&str> = relations.iter().copied().filter(|s| *s != old).collect();
        random.choose(&other).map_or(String::new(), |s| (*s).to_owned())
    })
}

fn is_value(t: &Token<'_>) -> bool {
    t.kind == Kind::Number || (t.kind == Kind::Name && !WORDS.contains(&t.text))
}

fn minus(text: &str, random: &mut Random) -> Option<Mutant> {
    replace(text, random, "sign", is_value, |old, _| format!("(-{old})"))
}

/// One name in the place of another, both of this text.
fn name(text: &str, random: &mut Random) -> Option<Mutant> {
    // A letter alone is a call letter.
    let is_name = |t: &Token<'_>| t.kind == Kind::Name && t.text.len() > 1 && !WORDS.contains(&t.text);
    let mut names: Vec<&str> = tokens(text).into_iter().filter(is_name).map(|t| t.text).collect();
    names.sort_unstable();
    names.dedup();
    replace(text, random, "name", is_name, |_, random| {
        random.choose(&names).map_or(String::new(), |n| (*n).to_owned())
    })
}

fn add_little(text: &str, random: &mut Random) -> Option<Mutant> {
    replace(text, random, "a little", is_value, |old, random| {
        let littles = ["+ 0.01mm", "- 0.01mm", "+ 1deg", "- 1deg", "+ 0.5mm", "- 0.5mm"];
        format!("({old} {})", random.choose(&littles).copied().unwrap_or("+ 0.01mm"))
    })
}

/// `a + b` becomes `a`: an operator and the value after it go.
fn drop_term(text: &str, random: &mut Random) -> Option<Mutant> {
    let tokens = tokens(text);
    let is_operator = |i: &usize| {
        let sign = tokens.get(*i).is_some_and(|t| ["+", "-", "*", "/"].contains(&t.text));
        sign && tokens.get(i + 1).is_some_and(|t| t.kind == Kind::Blank)
            && tokens.get(i + 2).is_some_and(is_value)
    };
    let operators: Vec<usize> = (0..tokens.len()).filter(is_operator).collect();
    let at = *random.choose(&operators)?;
    let kept = tokens.iter().enumerate().filter(|(i, _)| !(at..=at + 2).contains(i));
    let dropped: String = tokens.get(at..=at + 2)?.iter().map(|t| t.text).collect();
    Some(Mutant { change: format!("term `{dropped}` dropped"), text: kept.map(|(_, t)| t.text).collect() })
}

/// Lines that begin with one of these words and open no block.
fn lines_with(text: &str, words: &[&str]) -> Vec<usize> {
    let begins = |line: &str| {
        let first = line.split_whitespace().next().unwrap_or("");
        words.contains(&first) && !line.contains('{')
    };
    text.lines().enumerate().filter(|(_, l)| begins(l)).map(|(i, _)| i).collect()
}

fn joined<'a>(lines: impl IntoIterator<Item = &'a str>) -> String {
    lines.into_iter().flat_map(|l| [l, "\n"]).collect()
}

fn delete_line(text: &str, random: &mut Random, words: &[&str]) -> Option<Mutant> {
    let at = *random.choose(&lines_with(text, words))?;
    let gone = text.lines().nth(at)?.trim();
    let kept = text.lines().enumerate().filter(|(i, _)| *i != at).map(|(_, l)| l);
    Some(Mutant { change: format!("line {} deleted: `{gone}`", at + 1), text: joined(kept) })
}

fn swap_lines(text: &str, random: &mut Random) -> Option<Mutant> {
    let moves = lines_with(text, MOVES);
    let pairs: Vec<usize> = moves.iter().copied().filter(|i| moves.contains(&(i + 1))).collect();
    let at = *random.choose(&pairs)?;
    let mut lines: Vec<&str> = text.lines().collect();
    lines.swap(at, at + 1);
    Some(Mutant { change: format!("lines {} and {} swapped", at + 1, at + 2), text: joined(lines) })
}

/// A move stands once more, after another one.
fn repeat_line(text: &str, random: &mut Random) -> Option<Mutant> {
    let moves = lines_with(text, MOVES);
    let (from, to) = (*random.choose(&moves)?, *random.choose(&moves)?);
    let mut lines: Vec<&str> = text.lines().collect();
    let line = *lines.get(from)?;
    lines.insert(to + 1, line);
    Some(Mutant { change: format!("line {} again after line {}", from + 1, to + 1), text: joined(lines) })
}

/// One of these words in the place of another of them.
fn word(text: &str, random: &mut Random, words: &[&str]) -> Option<Mutant> {
    let is_word = |t: &Token<'_>| t.kind == Kind::Name && words.contains(&t.text);
    replace(text, random, "word", is_word, |old, random| {
        let other: Vec<&str> = words.iter().copied().filter(|w| *w != old).collect();
        random.choose(&other).map_or(String::new(), |w| (*w).to_owned())
    })
}

/// A promise more, or another one.
fn promise(text: &str, random: &mut Random) -> Option<Mutant> {
    let all = ["within", "sized", "cleared", "smooth", "climb", "conventional"];
    let is_promise = |t: &Token<'_>| t.kind == Kind::Name && all.contains(&t.text);
    replace(text, random, "promise", is_promise, |old, random| {
        let other = random.choose(&all).copied().unwrap_or("smooth");
        if random.once_in(2) { format!("{old}, {other}") } else { other.to_owned() }
    })
}

/// One of several parts between commas goes: an argument, a demand, a promise.
fn delete_part(text: &str, random: &mut Random) -> Option<Mutant> {
    let with_parts: Vec<usize> = text
        .lines()
        .enumerate()
        .filter(|(_, l)| ["cutter", "makes", "call", "given"].iter().any(|w| l.trim_start().starts_with(w)))
        .filter(|(_, l)| l.contains(", "))
        .map(|(i, _)| i)
        .collect();
    let at = *random.choose(&with_parts)?;
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let line = lines.get_mut(at)?;
    let commas: Vec<usize> = line.match_indices(", ").map(|(i, _)| i).collect();
    let from = *random.choose(&commas)?;
    let end = line.get(from + 2..)?.find([',', ')']).map_or(line.len(), |i| from + 2 + i);
    let gone = line.get(from..end)?.to_owned();
    line.replace_range(from..end, "");
    let change = format!("line {}: `{gone}` deleted", at + 1);
    Some(Mutant { change, text: joined(lines.iter().map(String::as_str)) })
}
