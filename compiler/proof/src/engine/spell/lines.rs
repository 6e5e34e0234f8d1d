//! The steps of a spelled proof, whose facts have labels; and their text, in which facts are numbered.

use std::collections::HashMap;
use std::fmt::Write as _;

use borewright_number::Rational;

/// Stands for a fact, wherever it will stand among the others.
pub(super) type Label = usize;

/// A step, and the facts that it adds.
#[derive(Debug)]
pub(super) enum Line {
    /// As it stands.
    Plain(String, Vec<Label>),
    /// A claim, the facts of its opposite, and why these cannot be.
    Prove { claim: String, opposite: Vec<Label>, proof: Block, adds: Vec<Label> },
}

/// Steps, and what they lead to.
#[derive(Debug)]
pub(super) struct Block {
    pub(super) lines: Vec<Line>,
    pub(super) end: End,
}

/// How a proof ends.
#[derive(Debug)]
pub(super) enum End {
    /// No part of the fact holds.
    Cases(Label),
    /// Equations that replace products, and a sum.
    Combine(Vec<Label>, Vec<Summand>),
    Evaluate(Label),
}

/// `scale` times facts: of `a > b`, `a >= b`, `a = b` and `a != b` `a - b`, of `a < b` and `a <= b` `b - a`.
#[derive(Debug, Clone)]
pub(super) struct Summand {
    pub(super) scale: Rational,
    pub(super) factors: Vec<Label>,
}

/// `scale * product of facts`
pub(super) fn summand(scale: impl Into<Rational>, facts: &[Label]) -> Summand {
    Summand { scale: scale.into(), factors: facts.to_vec() }
}

/// The two sides of a comparison.
pub(super) fn sides(text: &str) -> Option<(&str, &str)> {
    let (_, sides) = text.strip_suffix(')')?.split_once(' ')?;
    let mut depth = 0;
    let between = sides.find(|c: char| {
        depth += i32::from(c == '(') - i32::from(c == ')');
        depth == 0 && c == ' '
    })?;
    Some((sides.get(..between)?, sides.get(between + 1..)?))
}

/// The opposite of a comparison.
pub(super) fn opposite(text: &str) -> String {
    let (word, rest) = text.split_once(' ').unwrap_or((text, ""));
    let opposite = match word {
        "(<" => "(>=",
        "(<=" => "(>",
        "(=" => "(!=",
        "(!=" => "(=",
        "(>=" => "(<",
        _ => "(<=",
    };
    format!("{opposite} {rest}")
}

/// Writes lines, and counts the facts.
#[derive(Debug)]
pub(super) struct Writer<'a> {
    /// What the labelled facts say.
    texts: &'a [String],
    numbers: HashMap<Label, usize>,
    count: usize,
}

impl<'a> Writer<'a> {
    pub(super) fn new(texts: &'a [String]) -> Self {
        Self { texts, numbers: HashMap::new(), count: 0 }
    }

    pub(super) fn lines(&mut self, lines: &[Line]) -> Vec<String> {
        lines.iter().map(|line| self.line(line)).collect()
    }

    fn line(&mut self, line: &Line) -> String {
        match line {
            Line::Plain(text, adds) => {
                self.add(adds);
                text.clone()
            }
            Line::Prove { claim, opposite, proof, adds } => {
                let text = self.nested(opposite, proof);
                self.add(adds);
                format!("(prove {claim} {text})")
            }
        }
    }

    fn add(&mut self, labels: &[Label]) {
        for label in labels {
            self.numbers.insert(*label, self.count);
            self.count += 1;
        }
    }

    fn nested(&mut self, more: &[Label], block: &Block) -> String {
        let before = self.count;
        self.add(more);
        let mut text = String::new();
        for line in &block.lines {
            let line = self.line(line);
            let _ = write!(text, "{line} ");
        }
        text.push_str(&self.end(&block.end));
        self.count = before;
        text
    }

    fn end(&mut self, end: &End) -> String {
        match end {
            End::Cases(fact) => format!("(cases {})", self.number(*fact)),
            End::Combine(rules, summands) => {
                let rules: Vec<String> = rules.iter().map(|rule| self.number(*rule)).collect();
                let mut text = format!("(combine ({})", rules.join(" "));
                for summand in summands {
                    let _ = write!(text, " ({}", self.scale(summand));
                    for factor in &summand.factors {
                        let _ = write!(text, " {}", self.number(*factor));
                    }
                    text.push(')');
                }
                text + ")"
            }
            End::Evaluate(fact) => format!("(evaluate {})", self.number(*fact)),
        }
    }

    /// For the checker every fact is its left side less its right side.
    fn scale(&self, summand: &Summand) -> Rational {
        let text = |label: &Label| self.texts.get(*label).map_or("", String::as_str);
        let less = summand.factors.iter().filter(|label| text(label).starts_with("(<"));
        if less.count() % 2 == 1 { -summand.scale.clone() } else { summand.scale.clone() }
    }

    fn number(&self, label: Label) -> String {
        self.numbers.get(&label).map_or_else(|| "?".to_owned(), usize::to_string)
    }
}

/// `(* (* a b) c)`, or 1.
pub(super) fn product(factors: &[String]) -> String {
    factors
        .iter()
        .cloned()
        .reduce(|product, factor| format!("(* {product} {factor})"))
        .unwrap_or_else(|| "1".to_owned())
}
