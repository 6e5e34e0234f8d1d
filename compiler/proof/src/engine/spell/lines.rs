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
    /// Two terms are equal, by equations that replace products.
    Equal { rules: Vec<Label>, sides: String, adds: Vec<Label> },
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

/// `scale` times factors.
#[derive(Debug, Clone)]
pub(super) struct Summand {
    pub(super) scale: Rational,
    pub(super) factors: Vec<Piece>,
}

#[derive(Debug, Clone)]
pub(super) enum Piece {
    Fact(Label),
    Any(String),
    Square(String),
}

/// `scale * product of facts`
pub(super) fn summand(scale: impl Into<Rational>, facts: &[Label]) -> Summand {
    Summand { scale: scale.into(), factors: facts.iter().copied().map(Piece::Fact).collect() }
}

impl Summand {
    /// Times some polynomials.
    pub(super) fn any(mut self, of: &[&str]) -> Self {
        self.factors.extend(of.iter().map(|text| Piece::Any((*text).to_owned())));
        self
    }
}

/// Writes lines, and counts the facts.
#[derive(Debug, Default)]
pub(super) struct Writer {
    numbers: HashMap<Label, usize>,
    count: usize,
}

impl Writer {
    pub(super) fn lines(&mut self, lines: &[Line]) -> Vec<String> {
        lines.iter().map(|line| self.line(line)).collect()
    }

    fn line(&mut self, line: &Line) -> String {
        match line {
            Line::Plain(text, adds) => {
                self.add(adds);
                text.clone()
            }
            Line::Equal { rules, sides, adds } => {
                let rules: Vec<String> = rules.iter().map(|rule| self.number(*rule)).collect();
                self.add(adds);
                format!("(equal ({}) {sides})", rules.join(" "))
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
                    let _ = write!(text, " ({}", summand.scale);
                    for factor in &summand.factors {
                        let _ = match factor {
                            Piece::Fact(label) => write!(text, " {}", self.number(*label)),
                            Piece::Any(of) => write!(text, " (any {of})"),
                            Piece::Square(of) => write!(text, " (square {of})"),
                        };
                    }
                    text.push(')');
                }
                text + ")"
            }
            End::Evaluate(fact) => format!("(evaluate {})", self.number(*fact)),
        }
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
