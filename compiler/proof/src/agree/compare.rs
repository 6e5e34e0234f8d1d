//! Acts of a text against acts of its motion, one by one.

use borewright_base::Span;
use borewright_motion::{Act, ActKind, Condition, Expr, Function, Node, Place, Spindle, State, Symbol};
use borewright_number::Rational;

use super::expected::{Turns, UNKNOWN, whole};
use super::interface::Tolerance;
use super::resolve::Resolver;
use crate::Kind;
use crate::oblige::tidy::{Sum, tidy};

/// One thing that must hold for a text to agree.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Matter {
    pub(super) kind: Kind,
    pub(super) why: String,
    pub(super) span: Span,
    /// What holds there besides the facts of the course.
    pub(super) facts: Vec<Condition>,
    pub(super) goal: Condition,
    /// Each of them implies the goal and may be easier to prove.
    pub(super) easier: Vec<Condition>,
}

/// Compares acts.
pub(super) struct Comparer<'a> {
    pub(super) tolerance: &'a Tolerance,
    pub(super) loops: &'a std::collections::BTreeMap<Symbol, Turns>,
    /// A text that is run by itself states spindle, tool and coolant.
    pub(super) main: bool,
    pub(super) resolver: Resolver,
    pub(super) matters: Vec<Matter>,
    pub(super) facts: Vec<Condition>,
}

impl Comparer<'_> {
    /// Compares two lists of acts.
    pub(super) fn acts(&mut self, text: &[Act], motion: &[Act], span: Span) {
        let text = without_doubles(text);
        let motion = without_doubles(motion);
        for (made, wanted) in text.iter().zip(&motion) {
            self.act(made, wanted);
        }
        if text.len() != motion.len() {
            let why = format!("the text does {} things where the motion does {}", text.len(), motion.len());
            let at = motion.get(text.len()).map_or(span, |act| act.span);
            self.broken(Kind::SameMove, &why, at);
        }
    }

    pub(super) fn broken(&mut self, kind: Kind, why: &str, span: Span) {
        self.matter(kind, why, span, Condition::False);
    }

    fn matter(&mut self, kind: Kind, why: &str, span: Span, goal: Condition) {
        self.matter_with(kind, why, span, goal, Vec::new());
    }

    fn matter_with(&mut self, kind: Kind, why: &str, span: Span, goal: Condition, easier: Vec<Condition>) {
        let facts = self.facts.clone();
        self.matters.push(Matter { kind, why: why.to_owned(), span, facts, goal, easier });
    }

    fn act(&mut self, made: &Act, wanted: &Act) {
        let span = wanted.span;
        match (&made.kind, &wanted.kind) {
            (ActKind::Home, ActKind::Home) => {}
            (ActKind::Rapid { from, to }, ActKind::Rapid { to: target, .. }) => {
                let goal = self.place(from, to, target);
                self.matter(Kind::SameMove, "the rapid move ends where it should", span, goal);
            }
            (ActKind::Line { from, to, feed }, ActKind::Line { to: target, feed: asked, .. }) => {
                let goal = Condition::all([self.place(from, to, target), self.feed(feed, asked)]);
                self.matter(Kind::SameMove, "the line ends where it should, at its feed", span, goal);
                self.state(&made.state, &wanted.state, span);
            }
            (ActKind::Arc { .. }, ActKind::Arc { .. }) => self.arc(made, wanted),
            (ActKind::Dwell(time), ActKind::Dwell(asked)) => {
                let difference = self.resolver.expr(time) - asked.clone();
                let goal = between(&difference, &Rational::ZERO, &self.tolerance.dwell);
                self.matter(Kind::SameMove, "the dwell lasts as long as it should", span, goal);
            }
            (ActKind::Stop(_), ActKind::Stop(_)) => self.state(&made.state, &wanted.state, span),
            (
                ActKind::Loop { index, first, last, body },
                ActKind::Loop { index: counter, last: name, body: turn, .. },
            ) => self.turns((index, first, last, body), (counter, name, turn), span),
            (
                ActKind::Home
                | ActKind::Rapid { .. }
                | ActKind::Line { .. }
                | ActKind::Arc { .. }
                | ActKind::Dwell(_)
                | ActKind::Stop(_)
                | ActKind::Loop { .. },
                _,
            ) => {
                let why = format!("{} where {} belongs", said(&made.kind), said(&wanted.kind));
                self.broken(Kind::SameMove, &why, span);
            }
        }
    }

    fn arc(&mut self, made: &Act, wanted: &Act) {
        let ActKind::Arc { from, to, centre, counterclockwise, full, feed } = &made.kind else { return };
        let ActKind::Arc {
            to: target, centre: about, counterclockwise: way, full: whole, feed: asked, ..
        } = &wanted.kind
        else {
            return;
        };
        let span = wanted.span;
        if counterclockwise != way {
            self.broken(Kind::SameMove, "the arc goes round the other way", span);
        }
        let [cx, cy] = centre;
        let [ax, ay] = about;
        let centres = Condition::all([
            self.near(cx, ax, &self.tolerance.centre.clone()),
            self.near(cy, ay, &self.tolerance.centre.clone()),
        ]);
        let goal = Condition::all([self.place(from, to, target), centres, self.feed(feed, asked)]);
        let why = "the arc ends where it should, about its centre, at its feed";
        self.matter(Kind::SameMove, why, span, goal);
        if *whole == Condition::True {
            let goal = self.resolver.condition(full);
            self.matter(Kind::SameMove, "the full turn ends where it began", span, goal);
        } else {
            let [fx, fy, _] = from;
            let [tx, ty, _] = to;
            let (dx, dy) = (
                self.resolver.expr(tx) - self.resolver.expr(fx),
                self.resolver.expr(ty) - self.resolver.expr(fy),
            );
            // Ends nearer than 1e-7 along both axes would be a full turn to the controller.
            let (goal, easier) = apart(&dx, &dy);
            self.matter_with(Kind::SameMove, "the arc is no full turn", span, goal, easier);
        }
        self.state(&made.state, &wanted.state, span);
    }

    /// Loops: as many turns, and each turn the same.
    fn turns(
        &mut self,
        (index, first, last, body): (&Symbol, &Expr, &Expr, &[Act]),
        (counter, name, turn): (&Symbol, &Expr, &[Act]),
        span: Span,
    ) {
        if whole(first) != Some(1) {
            self.broken(Kind::SameCount, "the loop does not begin at 1", span);
        }
        if !is_whole(&self.resolver.expr(last)) {
            self.broken(Kind::SameCount, "the number of turns is not a whole number", span);
        }
        let Some(turns) = self.loops.get(counter).cloned() else { return };
        let outer = (self.resolver.clone(), self.facts.len());
        let number = self.resolver.expr(last);
        match turns {
            Turns::Times(count) => {
                let goal = Condition::equal(number, count.clone());
                self.matter(Kind::SameCount, "the loop turns as often as it should", span, goal);
            }
            Turns::Passes { way, by } => {
                let one = || Expr::from(1);
                let steps = way / by;
                // A step may be longer by this part of it.
                let longer = Rational::ONE + self.tolerance.count.clone();
                let fewest = steps.clone() / Expr::number(longer);
                let fewer = Condition::any([
                    Condition::equal(number.clone(), one()),
                    Condition::less(number.clone(), steps + one()),
                ]);
                for (why, goal) in [
                    ("there is one pass at least", Condition::at_least(number.clone(), one())),
                    ("no pass is deeper than asked", Condition::at_least(number.clone(), fewest)),
                    ("there is no pass more than needed", fewer),
                ] {
                    self.matter(Kind::SameCount, why, span, goal);
                }
                self.resolver.count(last, name.clone());
            }
        }
        self.resolver.name(index, Expr::symbol(counter));
        self.facts.push(Condition::at_least(name.clone(), Expr::from(1)));
        self.facts.push(Condition::at_least(Expr::symbol(counter), Expr::from(1)));
        self.facts.push(Condition::at_most(Expr::symbol(counter), name.clone()));
        self.acts(body, turn, span);
        self.resolver = outer.0;
        self.facts.truncate(outer.1);
        if let Turns::Passes { .. } = turns_of(self.loops, counter) {
            self.resolver.count(last, name.clone());
        }
    }

    /// The end of a move. A coordinate that nobody knows is right where the text leaves it alone.
    fn place(&self, from: &Place, to: &Place, target: &Place) -> Condition {
        let tolerance = self.tolerance.end.clone();
        let one = |((made, wanted), before): ((&Expr, &Expr), &Expr)| {
            if wanted.as_symbol().is_some_and(|s| s.name() == UNKNOWN) {
                return Condition::from_bool(made == before);
            }
            self.near(made, wanted, &tolerance)
        };
        Condition::all(to.iter().zip(target).zip(from).map(one))
    }

    fn feed(&self, made: &Option<Expr>, asked: &Option<Expr>) -> Condition {
        match (made, asked) {
            (Some(made), Some(asked)) => self.near(made, asked, &self.tolerance.feed),
            (None, None) => Condition::True,
            (Some(_), None) | (None, Some(_)) => Condition::False,
        }
    }

    fn near(&self, made: &Expr, wanted: &Expr, tolerance: &Rational) -> Condition {
        let made = self.resolver.expr(made);
        if made == *wanted {
            return Condition::True;
        }
        if tolerance.is_zero() {
            return Condition::equal(made, wanted.clone());
        }
        between(&(made - wanted.clone()), &-tolerance.clone(), tolerance)
    }

    /// At the end nothing turns and nothing flows.
    pub(super) fn at_end(&mut self, made: &State, wanted: &State, span: Span) {
        let made = State {
            work: wanted.work,
            tool: wanted.tool.clone(),
            length: wanted.length.clone(),
            ..made.clone()
        };
        self.state(&made, wanted, span);
    }

    /// Spindle, coolant, tool and offsets, where the text is to state them.
    pub(super) fn state(&mut self, made: &State, wanted: &State, span: Span) {
        if !self.main {
            return;
        }
        let on = |coolant: Option<bool>| coolant == Some(true);
        let coolant = |s: &State| (on(s.coolant.0), on(s.coolant.1));
        let mut goals = vec![
            Condition::from_bool(coolant(made) == coolant(wanted)),
            Condition::from_bool(wanted.work.is_none() || made.work == wanted.work),
        ];
        for (made, wanted) in [(&made.tool, &wanted.tool), (&made.length, &wanted.length)] {
            if let Some(wanted) = wanted {
                let equal = |made: &Expr| self.near(made, wanted, &Rational::ZERO);
                goals.push(made.as_ref().map_or(Condition::False, equal));
            }
        }
        match (&made.spindle, &wanted.spindle) {
            // A fragment leaves the spindle to others.
            (_, None) => {}
            (
                Some(Spindle::Turning { counterclockwise, speed: Some(speed) }),
                Some(Spindle::Turning { counterclockwise: way, speed: Some(asked) }),
            ) => {
                goals.push(Condition::from_bool(counterclockwise == way));
                goals.push(self.near(speed, asked, &self.tolerance.speed));
            }
            (Some(Spindle::Stopped), Some(Spindle::Stopped)) => {}
            (Some(_) | None, Some(_)) => goals.push(Condition::False),
        }
        let why = "spindle, coolant, tool and offsets are as they should be";
        self.matter(Kind::SameState, why, span, Condition::all(goals));
    }
}

fn turns_of(loops: &std::collections::BTreeMap<Symbol, Turns>, counter: &Symbol) -> Turns {
    loops.get(counter).cloned().unwrap_or(Turns::Times(Expr::zero()))
}

/// That two ends are apart: the square of their distance; and what is simpler and implies that.
fn apart(dx: &Expr, dy: &Expr) -> (Condition, Vec<Condition>) {
    let number = |text: &str| Expr::number(Rational::from_decimal(text).unwrap_or(Rational::ONE));
    let square = dx.squared() + dy.squared();
    let goal = Condition::at_least(square.clone(), number("0.000000000002"));
    let mut lengths = Vec::new();
    // A distance that is a plain one, or that of a quarter or half turn about its radius.
    for scale in ["1", "2", "0.5"] {
        let root = Sum::of(&(square.clone() * number(scale))).and_then(|sum| sum.root());
        lengths.extend(root.map(|root| root.to_expr()));
    }
    lengths.extend([tidy(dx), tidy(dy)]);
    let far = || number("0.00001");
    let ways = lengths
        .into_iter()
        .flat_map(|length| [Condition::at_least(length.clone(), far()), Condition::at_most(length, -far())]);
    (goal, ways.filter(|c| *c != Condition::False).collect())
}

/// `least <= e <= greatest`
fn between(e: &Expr, least: &Rational, greatest: &Rational) -> Condition {
    Condition::all([
        Condition::at_least(e.clone(), Expr::number(least.clone())),
        Condition::at_most(e.clone(), Expr::number(greatest.clone())),
    ])
}

/// A second move home right behind the first is none, and neither is a halt on the way down at rapid.
fn without_doubles(acts: &[Act]) -> Vec<&Act> {
    let mut kept: Vec<&Act> = Vec::new();
    for act in acts {
        let moves = |a: &&&Act| !matches!(a.kind, ActKind::Stop(_) | ActKind::Dwell(_));
        let last = kept.iter().rev().find(moves).map(|a| &a.kind);
        if matches!((&act.kind, last), (ActKind::Home, Some(ActKind::Home))) {
            continue;
        }
        let halts = kept.last().and_then(|before| Some((height(before)?, height(act)?)));
        if halts.is_some_and(|(above, below)| above >= below) {
            kept.pop();
        }
        kept.push(act);
    }
    kept
}

/// The height to which a rapid move goes that moves nothing but Z.
fn height(act: &Act) -> Option<&Rational> {
    let ActKind::Rapid { from: [a, b, _], to: [x, y, z] } = &act.kind else { return None };
    z.as_number().filter(|_| a == x && b == y)
}

/// Whether an expression has whole values only, told by its looks.
fn is_whole(expr: &Expr) -> bool {
    match expr.node() {
        Node::Number(number) => number.is_whole(),
        Node::Call(Function::Ceil | Function::Floor, _) => true,
        Node::Add(a, b) | Node::Sub(a, b) | Node::Mul(a, b) | Node::Min(a, b) | Node::Max(a, b) => {
            is_whole(a) && is_whole(b)
        }
        Node::If(_, a, b) => is_whole(a) && is_whole(b),
        Node::Neg(a) => is_whole(a),
        // A count among the parameters: the text has tested it, or the goal of equal counts fails.
        Node::Symbol(_) => true,
        Node::Pi | Node::Div(..) | Node::Call(..) => false,
    }
}

fn said(kind: &ActKind) -> &'static str {
    match kind {
        ActKind::Home => "a move home",
        ActKind::Rapid { .. } => "a rapid move",
        ActKind::Line { .. } => "a line",
        ActKind::Arc { .. } => "an arc",
        ActKind::Dwell(_) => "a dwell",
        ActKind::Stop(_) => "a stop",
        ActKind::Loop { .. } => "a loop",
    }
}
