//! Motions written by hand, a line a step, without the language: `line (x; y) z feed`. Polar points are
//! written `<radius @ angle>`.

use borewright_base::{FileId, Span};
use borewright_motion::{
    Action, Clause, Condition, CutterKind, Demand, Demands, Expr, Feature, Field, Function, Let, Made,
    Motion, Parameter, Passes, Point, Promise, Relation, Requirement, Shape, Step, Symbol, Way,
};
use borewright_number::{Dimension, Rational};

/// Reads a motion. Panics on what it cannot read: tests are written by those who read this file.
pub fn motion(text: &str) -> Motion {
    let mut reader = Reader { lines: text.lines().collect(), next: 0, motion: empty(), feed: None };
    while let Some(line) = reader.line() {
        reader.head(line);
    }
    reader.motion
}

fn empty() -> Motion {
    Motion {
        name: String::new(),
        documentation: Vec::new(),
        span: Span::default(),
        inch: false,
        program: None,
        parameters: Vec::new(),
        head: Vec::new(),
        demands: None,
        job: None,
        made: Vec::new(),
        given: Vec::new(),
        body: Vec::new(),
    }
}

struct Reader<'a> {
    lines: Vec<&'a str>,
    next: usize,
    motion: Motion,
    feed: Option<Expr>,
}

impl<'a> Reader<'a> {
    fn line(&mut self) -> Option<&'a str> {
        loop {
            let line = self.lines.get(self.next)?.trim();
            self.next += 1;
            if !line.is_empty() {
                return Some(line);
            }
        }
    }

    fn span(&self) -> Span {
        Span::new(FileId(0), self.next..self.next)
    }

    fn head(&mut self, line: &str) {
        let span = self.span();
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        match word {
            "routine" => self.motion.name = rest.to_owned(),
            "length" | "feedrate" | "angle" => self.parameter(word, rest, span),
            "let" => self.motion.head.push(Clause::Let(read_let(rest, span))),
            "requires" => self.motion.head.push(Clause::Require(Requirement {
                condition: condition(rest),
                alarm: "NO".to_owned(),
                practice: false,
                span,
            })),
            "cutter" => self.cutter(rest, span),
            "hole" | "boss" | "ring" => self.feature(word, rest, span),
            "{" => self.motion.body = self.block(),
            _ => panic!("{line}"),
        }
    }

    fn parameter(&mut self, kind: &str, rest: &str, span: Span) {
        let (rest, default) = rest.split_once('=').map_or((rest, None), |(a, b)| (a, Some(expr(b))));
        let words: Vec<&str> = rest.split_whitespace().collect();
        let dimension = match kind {
            "angle" => Dimension::ANGLE,
            "feedrate" => Dimension::FEED,
            _ => Dimension::LENGTH,
        };
        let number = |t: &str| Rational::from_decimal(t).unwrap();
        self.motion.parameters.push(Parameter {
            symbol: Symbol::new(words[0]),
            dimension,
            whole: false,
            least: number(words[1]),
            greatest: number(words[2]),
            default,
            letter: None,
            meaning: String::new(),
            inch: false,
            words: Vec::new(),
            span,
        });
    }

    fn cutter(&mut self, rest: &str, span: Span) {
        let rules = rest.split(',').map(|rule| {
            let Condition::Compare(relation, a, value) = condition(rule) else { panic!("{rule}") };
            let field = Field::ALL.into_iter().find(|f| f.name() == a.to_string()).unwrap();
            Demand { field, relation, value, span }
        });
        self.motion.demands = Some(Demands { kind: CutterKind::Flat, rules: rules.collect(), span });
    }

    /// `hole seat diameter: bore, floor: -depth promises within, sized`
    fn feature(&mut self, kind: &str, rest: &str, span: Span) {
        let (rest, promises) = rest.split_once(" promises ").unwrap();
        let (name, rest) = rest.split_once(' ').unwrap();
        let size = |key: &str| {
            let pairs = rest.split(',').map(|p| p.split_once(':').unwrap());
            pairs.into_iter().find(|(k, _)| k.trim() == key).map(|(_, v)| expr(v))
        };
        let get = |key: &str| size(key).unwrap();
        let (floor, top) = (get("floor"), size("top").unwrap_or_else(Expr::zero));
        let shape = match kind {
            "hole" => Shape::Hole { diameter: get("diameter"), floor, top, pilot: size("pilot") },
            "boss" => Shape::Boss { diameter: get("diameter"), blank: get("blank"), floor, top },
            _ => Shape::Ring { outer: get("outer"), inner: get("inner"), floor, top },
        };
        let promise = |word: &str| match word.trim() {
            "within" => Promise::Within,
            "sized" => Promise::Sized,
            "cleared" => Promise::Cleared,
            "smooth" => Promise::Smooth,
            "climb" => Promise::Climb,
            "conventional" => Promise::Conventional,
            other => panic!("{other}"),
        };
        let promises = promises.split(',').map(|p| (promise(p), span)).collect();
        let feature = Feature { name: name.to_owned(), shape, at: vec![Point::centre()], span };
        self.motion.made.push(Made { feature, promises });
    }

    fn block(&mut self) -> Vec<Step> {
        let mut steps = Vec::new();
        loop {
            let line = self.line().expect("a closing brace");
            if line == "}" {
                return steps;
            }
            let span = self.span();
            if let Some(feed) = line.strip_prefix("feed ") {
                self.feed = (feed != "none").then(|| expr(feed));
                continue;
            }
            let action = self.action(line);
            steps.push(Step { action, span });
        }
    }

    fn action(&mut self, line: &str) -> Action {
        let span = self.span();
        let feed = self.feed.clone();
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        match word {
            "let" => Action::Let(read_let(rest, span)),
            "retract" => Action::Retract,
            "rapid" => match rest.strip_prefix("z ") {
                Some(z) => Action::RapidZ(expr(z)),
                None => Action::RapidTo(point(rest)),
            },
            "line" => {
                let (to, z) = target(rest);
                Action::Line { to, z, feed }
            }
            "arc" | "turn" => {
                let (way, rest) = rest.split_once(' ').unwrap();
                let way = if way == "ccw" { Way::Ccw } else { Way::Cw };
                let (end, about) = rest.split_once("about ").unwrap();
                let ((to, z), about) = (target(end), point(about));
                match to {
                    Some(to) => Action::Arc { way, to, z, about, feed },
                    None => Action::Turn { way, z, about, feed },
                }
            }
            "dwell" => Action::Dwell(expr(rest)),
            "passes" => {
                let rest = rest.strip_suffix('{').unwrap();
                let (name, rest) = rest.split_once(" from ").unwrap();
                let (from, rest) = rest.split_once(" to ").unwrap();
                let (to, by) = rest.split_once(" by ").unwrap();
                let part = |p: &str| Symbol::new(format!("{name}.{p}"));
                let (index, count) = (part("index"), part("count"));
                let (from, to, by) = (expr(from), expr(to), expr(by));
                let outer = self.feed.clone();
                let body = self.block();
                self.feed = outer;
                Action::Passes(Passes {
                    value: Symbol::new(name),
                    index,
                    count,
                    from,
                    to,
                    by,
                    whole: None,
                    body,
                })
            }
            _ => panic!("{line}"),
        }
    }
}

fn read_let(text: &str, span: Span) -> Let {
    let (name, value) = text.split_once('=').unwrap();
    Let { symbol: Symbol::new(name.trim()), dimension: Dimension::LENGTH, value: expr(value), span }
}

fn target(text: &str) -> (Option<Point>, Option<Expr>) {
    let text = text.trim();
    if let Some(z) = text.strip_prefix("z ") {
        return (None, Some(expr(z)));
    }
    match text.split_once(" z ") {
        Some((p, z)) => (Some(point(p)), Some(expr(z))),
        None => ((!text.is_empty()).then(|| point(text)), None),
    }
}

/// `(x; y)`, `<r @ a>`, `centre`, and sums of them.
fn point(text: &str) -> Point {
    let terms = text.split('&').map(|term| {
        let term = term.trim();
        if term == "centre" {
            return Point::centre();
        }
        let inner = &term[1..term.len() - 1];
        match (inner.split_once(';'), inner.split_once('@')) {
            (Some((x, y)), _) => Point::new(expr(x), expr(y)),
            (None, Some((r, a))) => Point::polar(&expr(r), &expr(a)),
            _ => panic!("{term}"),
        }
    });
    terms.reduce(|a, b| a.plus(&b)).unwrap()
}

fn condition(text: &str) -> Condition {
    let relations = [
        ("==", Relation::Equal),
        ("!=", Relation::NotEqual),
        ("<=", Relation::LessEqual),
        (">=", Relation::GreaterEqual),
        ("<", Relation::Less),
        (">", Relation::Greater),
    ];
    let (sign, relation) = relations.into_iter().find(|(sign, _)| text.contains(sign)).unwrap();
    let (a, b) = text.split_once(sign).unwrap();
    Condition::compare(relation, expr(a), expr(b))
}

pub fn expr(text: &str) -> Expr {
    let mut parser = Parser { text: text.as_bytes(), at: 0 };
    let value = parser.sum();
    parser.blank();
    assert_eq!(parser.at, text.len(), "{text}");
    value
}

struct Parser<'a> {
    text: &'a [u8],
    at: usize,
}

impl Parser<'_> {
    fn blank(&mut self) {
        while self.text.get(self.at) == Some(&b' ') {
            self.at += 1;
        }
    }

    fn take(&mut self, c: u8) -> bool {
        self.blank();
        let found = self.text.get(self.at) == Some(&c);
        self.at += usize::from(found);
        found
    }

    fn sum(&mut self) -> Expr {
        let mut left = self.product();
        loop {
            if self.take(b'+') {
                left = left + self.product();
            } else if self.take(b'-') {
                left = left - self.product();
            } else {
                return left;
            }
        }
    }

    fn product(&mut self) -> Expr {
        let mut left = self.atom();
        loop {
            if self.take(b'*') {
                left = left * self.atom();
            } else if self.take(b'/') {
                left = left / self.atom();
            } else {
                return left;
            }
        }
    }

    fn atom(&mut self) -> Expr {
        if self.take(b'-') {
            return -self.atom();
        }
        if self.take(b'(') {
            let inner = self.sum();
            assert!(self.take(b')'));
            return inner;
        }
        self.blank();
        let start = self.at;
        while self.text.get(self.at).is_some_and(|c| c.is_ascii_alphanumeric() || b"._".contains(c)) {
            self.at += 1;
        }
        let word = std::str::from_utf8(&self.text[start..self.at]).unwrap();
        if let Some(number) = Rational::from_decimal(word) {
            return Expr::number(number);
        }
        if !self.take(b'(') {
            return if word == "pi" { Expr::pi() } else { Expr::named(word) };
        }
        let first = self.sum();
        let value = match word {
            "min" | "max" => {
                assert!(self.take(b','));
                let second = self.sum();
                if word == "min" { first.min(second) } else { first.max(second) }
            }
            "sin" => first.sin(),
            "cos" => first.cos(),
            "tan" => first.call(Function::Tan),
            "sqrt" => first.call(Function::Sqrt),
            "abs" => first.call(Function::Abs),
            other => panic!("{other}"),
        };
        assert!(self.take(b')'));
        value
    }
}
