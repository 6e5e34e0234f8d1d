//! Random sentences of the grammar, made from the EBNF of the manual, and a recogniser for it.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::FileId;
use borewright_syntax::{GRAMMAR, Token, lex};

/// A random number generator (splitmix64): small, seeded, the same everywhere.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `sides`.
    pub fn roll(&mut self, sides: usize) -> usize {
        (self.next() % sides.max(1) as u64) as usize
    }

    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.roll(from.len())]
    }
}

/// A sentence of so many words is long.
const LONG: usize = 120;

/// The right side of a rule.
#[derive(Debug, Clone, PartialEq)]
pub enum Form {
    Terminal(String),
    /// A word in capitals.
    Class(String),
    Rule(String),
    Sequence(Vec<Form>),
    Choice(Vec<Form>),
    Optional(Box<Form>),
    Repeated(Box<Form>),
}

pub struct Grammar {
    pub rules: BTreeMap<String, Form>,
    /// How many rules deep the shortest sentence of a rule is.
    depths: BTreeMap<String, usize>,
}

impl Grammar {
    /// The grammar of the manual.
    pub fn of_manual() -> Self {
        let blocks = GRAMMAR.split("```ebnf\n").skip(1).map(|rest| rest.split_once("```").unwrap().0);
        let text = blocks.collect::<String>();
        let mut reader = Reader { tokens: cut(&text), at: 0 };
        let mut rules = BTreeMap::new();
        while reader.at < reader.tokens.len() {
            let name = reader.take();
            assert_eq!(reader.take(), "=", "after {name}");
            let form = reader.choice();
            assert_eq!(reader.take(), ".", "at the end of {name}");
            assert!(rules.insert(name.clone(), form).is_none(), "two rules for {name}");
        }
        let depths = depths(&rules);
        Self { rules, depths }
    }

    /// Every quoted word and sign.
    pub fn terminals(&self) -> BTreeSet<String> {
        let mut found = BTreeSet::new();
        self.rules.values().for_each(|form| collect(form, &mut found));
        found
    }

    /// A random sentence: spellings, where a unit touches the number before it.
    pub fn sentence(&self, rule: &str, depth: usize, dice: &mut Dice) -> Vec<String> {
        let mut words = Vec::new();
        self.write(&Form::Rule(rule.to_owned()), depth, dice, &mut words);
        words
    }

    fn write(&self, form: &Form, depth: usize, dice: &mut Dice, words: &mut Vec<String>) {
        // A long sentence is brought to its end, lest an expression be nested deeper than the parser reads.
        let depth = if words.len() > LONG { 0 } else { depth };
        match form {
            Form::Terminal(text) => words.push(text.clone()),
            Form::Class(name) if name == "UNIT" => {
                let number = words.last_mut().expect("a unit follows a number");
                number.push_str(dice.pick::<&str>(&["mm", "in", "deg", "rpm", "mm/min", "in/min", "s"]));
            }
            Form::Class(name) => words.push(class(name, dice)),
            Form::Rule(name) => self.write(&self.rules[name], depth.saturating_sub(1), dice, words),
            Form::Sequence(forms) => forms.iter().for_each(|form| self.write(form, depth, dice, words)),
            Form::Choice(forms) => {
                let fit: Vec<_> = forms.iter().filter(|form| self.depth(form) <= depth).collect();
                let shortest = || forms.iter().min_by_key(|form| self.depth(form)).unwrap();
                let chosen = if fit.is_empty() { shortest() } else { dice.pick(&fit) };
                self.write(chosen, depth, dice, words);
            }
            Form::Optional(form) => {
                if self.depth(form) <= depth && dice.roll(2) == 0 {
                    self.write(form, depth, dice, words);
                }
            }
            Form::Repeated(form) => {
                while self.depth(form) <= depth && dice.roll(5) < 2 {
                    self.write(form, depth, dice, words);
                }
            }
        }
    }

    fn depth(&self, form: &Form) -> usize {
        depth(form, &self.depths).unwrap_or(usize::MAX)
    }

    /// True when the tokens are a file of the grammar.
    pub fn recognises(&self, text: &str) -> bool {
        let tokens: Vec<_> = lex(FileId(0), text).tokens.into_iter().map(|(token, _)| token).collect();
        let mut known = BTreeMap::new();
        self.ends("file", 0, &tokens, &mut known).contains(&tokens.len())
    }

    /// Where the rule can end when it begins at token `at`.
    fn ends<'g>(
        &'g self,
        rule: &'g str,
        at: usize,
        tokens: &[Token<'_>],
        known: &mut BTreeMap<(&'g str, usize), BTreeSet<usize>>,
    ) -> BTreeSet<usize> {
        if let Some(ends) = known.get(&(rule, at)) {
            return ends.clone();
        }
        let ends = self.ends_of(&self.rules[rule], at, tokens, known);
        known.insert((rule, at), ends.clone());
        ends
    }

    fn ends_of<'g>(
        &'g self,
        form: &'g Form,
        at: usize,
        tokens: &[Token<'_>],
        known: &mut BTreeMap<(&'g str, usize), BTreeSet<usize>>,
    ) -> BTreeSet<usize> {
        match form {
            Form::Terminal(text) => next_if(at, tokens, |token| spells(token, text)),
            // The unit is part of the number's token.
            Form::Class(name) if name == "UNIT" => BTreeSet::from([at]),
            Form::Class(name) => next_if(at, tokens, |token| belongs(token, name)),
            Form::Rule(name) => self.ends(name, at, tokens, known),
            Form::Sequence(forms) => forms.iter().fold(BTreeSet::from([at]), |from, form| {
                from.into_iter().flat_map(|at| self.ends_of(form, at, tokens, known)).collect()
            }),
            Form::Choice(forms) => {
                forms.iter().flat_map(|form| self.ends_of(form, at, tokens, known)).collect()
            }
            Form::Optional(form) => {
                let mut ends = self.ends_of(form, at, tokens, known);
                ends.insert(at);
                ends
            }
            Form::Repeated(form) => {
                let mut ends = BTreeSet::from([at]);
                let mut fresh = ends.clone();
                while !fresh.is_empty() {
                    let more = fresh.into_iter().flat_map(|at| self.ends_of(form, at, tokens, known));
                    fresh = more.collect::<BTreeSet<_>>().difference(&ends).copied().collect();
                    ends.extend(&fresh);
                }
                ends
            }
        }
    }
}

fn next_if(at: usize, tokens: &[Token<'_>], is: impl Fn(Token<'_>) -> bool) -> BTreeSet<usize> {
    tokens.get(at).filter(|&&token| is(token)).map(|_| at + 1).into_iter().collect()
}

fn spells(token: Token<'_>, text: &str) -> bool {
    match token {
        Token::Word(word) => word.text() == text,
        Token::Sign(sign) => sign.text() == text,
        Token::Name(name) => name == text,
        Token::Number(..) | Token::BadNumber | Token::Text(_) | Token::Stray => false,
    }
}

fn belongs(token: Token<'_>, class: &str) -> bool {
    match token {
        Token::Name(name) => {
            class == "NAME"
                || class == "ZONE" && is_zone(name)
                || class == "LETTER" && name.len() == 1 && name.as_bytes()[0].is_ascii_uppercase()
        }
        Token::Number(..) => class == "NUMBER",
        Token::Text(_) => class == "TEXT",
        Token::Word(_) | Token::Sign(_) | Token::BadNumber | Token::Stray => false,
    }
}

/// `H7`: one or two capital letters, one or two digits.
fn is_zone(name: &str) -> bool {
    let digits = name.trim_start_matches(|c: char| c.is_ascii_uppercase());
    (1..=2).contains(&(name.len() - digits.len()))
        && (1..=2).contains(&digits.len())
        && digits.chars().all(|c| c.is_ascii_digit())
}

fn class(name: &str, dice: &mut Dice) -> String {
    let words: &[&str] = match name {
        "NAME" => &["bore", "depth", "x", "centre", "hole", "level", "M8", "pi", "B", "tool_2"],
        "NUMBER" => &["0", "1", "12", "0.5", "25.40", "007"],
        "TEXT" => &["\"TOO BIG\"", "\"\"", "\"über // x\""],
        "ZONE" => &["H7", "JS7", "H11"],
        "LETTER" => &["A", "B", "Z"],
        other => panic!("no words for {other}"),
    };
    (*dice.pick(words)).to_owned()
}

fn collect(form: &Form, found: &mut BTreeSet<String>) {
    match form {
        Form::Terminal(text) => {
            found.insert(text.clone());
        }
        Form::Class(_) | Form::Rule(_) => {}
        Form::Sequence(forms) | Form::Choice(forms) => forms.iter().for_each(|form| collect(form, found)),
        Form::Optional(form) | Form::Repeated(form) => collect(form, found),
    }
}

/// The depth of the shortest sentence of each rule, by trying until nothing changes.
fn depths(rules: &BTreeMap<String, Form>) -> BTreeMap<String, usize> {
    let mut known = BTreeMap::new();
    loop {
        let before = known.clone();
        for (name, form) in rules {
            if let Some(depth) = depth(form, &before) {
                known.insert(name.clone(), depth + 1);
            }
        }
        if known == before {
            assert_eq!(known.len(), rules.len(), "a rule without a finite sentence");
            return known;
        }
    }
}

fn depth(form: &Form, known: &BTreeMap<String, usize>) -> Option<usize> {
    match form {
        Form::Terminal(_) | Form::Class(_) => Some(0),
        Form::Rule(name) => known.get(name).copied(),
        Form::Sequence(forms) => {
            forms.iter().map(|form| depth(form, known)).try_fold(0, |a, b| Some(a.max(b?)))
        }
        Form::Choice(forms) => forms.iter().filter_map(|form| depth(form, known)).min(),
        // What may be left out is left out where depth is short, and asked for its own depth elsewhere.
        Form::Optional(_) | Form::Repeated(_) => Some(0),
    }
}

/// Reads the notation.
struct Reader {
    tokens: Vec<String>,
    at: usize,
}

impl Reader {
    fn peek(&self) -> &str {
        self.tokens.get(self.at).map_or("", String::as_str)
    }

    fn take(&mut self) -> String {
        self.at += 1;
        self.tokens[self.at - 1].clone()
    }

    fn choice(&mut self) -> Form {
        let mut forms = vec![self.sequence()];
        while self.peek() == "|" {
            self.take();
            forms.push(self.sequence());
        }
        if forms.len() == 1 { forms.remove(0) } else { Form::Choice(forms) }
    }

    fn sequence(&mut self) -> Form {
        let mut forms = Vec::new();
        while !matches!(self.peek(), "" | "." | "|" | "]" | "}" | ")") {
            forms.push(self.part());
        }
        if forms.len() == 1 { forms.remove(0) } else { Form::Sequence(forms) }
    }

    fn part(&mut self) -> Form {
        let token = self.take();
        let (close, wrap): (&str, fn(Form) -> Form) = match token.as_str() {
            "[" => ("]", |form| Form::Optional(Box::new(form))),
            "{" => ("}", |form| Form::Repeated(Box::new(form))),
            "(" => (")", |form| form),
            text if text.starts_with('"') => return Form::Terminal(text.trim_matches('"').to_owned()),
            name if name.chars().all(|c| c.is_ascii_uppercase()) => return Form::Class(token),
            _ => return Form::Rule(token),
        };
        let form = wrap(self.choice());
        assert_eq!(self.take(), close);
        form
    }
}

/// Cuts the notation into words, quoted words and signs.
fn cut(text: &str) -> Vec<String> {
    let mut tokens = Vec::new();
    let mut rest = text.trim_start();
    while let Some(first) = rest.chars().next() {
        let length = match first {
            '"' => rest[1..].find('"').expect("a closing quote") + 2,
            c if c.is_alphabetic() => rest.find(|c: char| !c.is_alphanumeric()).unwrap_or(rest.len()),
            c => c.len_utf8(),
        };
        tokens.push(rest[..length].to_owned());
        rest = rest[length..].trim_start();
    }
    tokens
}
