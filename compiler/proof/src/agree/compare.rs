//! Acts of a text against acts of its motion, one by one.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::Span;
use borewright_motion::{
    Act, ActKind, Condition, Expr, Function, Node, Place, Relation, Spindle, State, Symbol, decide_with,
};
use borewright_number::Rational;

use super::expected::{Turns, UNKNOWN, whole};
use super::interface::Tolerance;
use super::names::Names;
use super::ratio::compared;
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

/// What a text is, seen from the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// It is called, and leaves spindle, tool, coolant and offsets as they were.
    Called,
    /// It is run by itself, for work that others have prepared.
    Fragment,
    /// It is run by itself and states everything.
    Job,
}

/// Compares acts.
pub(super) struct Comparer<'a> {
    pub(super) tolerance: &'a Tolerance,
    pub(super) loops: &'a BTreeMap<Symbol, Turns>,
    /// Who states spindle, tool and coolant.
    pub(super) role: Role,
    /// The machine has cutter radius compensation, which may be on unless the text switches it off.
    pub(super) compensation: bool,
    /// Parameters that are whole numbers.
    pub(super) whole: BTreeSet<Symbol>,
    /// Nothing may be computed between an arc and the feed move before or after it.
    pub(super) smooth: bool,
    pub(super) resolver: Resolver,
    pub(super) matters: Vec<Matter>,
    pub(super) facts: Vec<Condition>,
    /// The most turns that the loops around have: true wherever the numbers of turns agree, and seldom needed.
    pub(super) most: Vec<Condition>,
}

impl Comparer<'_> {
    /// Compares two lists of acts.
    pub(super) fn acts(&mut self, text: &[Act], motion: &[Act], span: Span) {
        let text = without_doubles(text, &self.tolerance.end);
        let motion = without_doubles(motion, &Rational::ZERO);
        for (made, wanted) in text.iter().zip(&motion) {
            self.act(made, wanted);
        }
        for (i, (before, after)) in text.iter().zip(text.iter().skip(1)).enumerate() {
            let between_turns = motion.get(i + 1).is_some_and(|act| act.state.computed);
            let computes = self.smooth && after.state.computed && !between_turns;
            if computes && joins(&before.kind, &after.kind) {
                let at = motion.first().map_or(span, |act| act.span);
                self.broken(
                    Kind::SameMove,
                    "it computes or branches where moves should flow into each other",
                    at,
                );
            }
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
            (ActKind::Home, ActKind::Home) => self.under(&made.state, &wanted.state, span),
            (ActKind::Rapid { from, to }, ActKind::Rapid { to: target, .. }) => {
                let goal = self.place(from, to, target);
                self.matter(Kind::SameMove, "the rapid move ends where it should", span, goal);
                self.under(&made.state, &wanted.state, span);
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
            let around = self.facts.len();
            self.facts.extend(self.most.iter().cloned());
            self.matter_with(Kind::SameMove, "the arc is no full turn", span, goal, easier);
            self.facts.truncate(around);
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
        if !self.is_whole(&self.resolver.counted(last)) {
            self.broken(Kind::SameCount, "the number of turns is not a whole number", span);
        }
        let Some(turns) = self.loops.get(counter).cloned() else { return };
        let outer = (self.resolver.clone(), self.facts.len(), self.most.len());
        let number = self.resolver.counted(last);
        match turns {
            Turns::Times(count) => {
                let goal = Condition::equal(number, count.clone());
                self.matter(Kind::SameCount, "the loop turns as often as it should", span, goal);
            }
            Turns::Passes { way, by, whole } => {
                let steps = way / by;
                self.steps(&number, (steps.clone(), whole), counter, span);
                self.resolver.count(last, name.clone());
                self.most.push(Condition::at_most(name.clone(), steps + Expr::from(1)));
            }
        }
        self.resolver.name(index, Expr::symbol(counter));
        self.facts.push(Condition::at_least(name.clone(), Expr::from(1)));
        self.facts.push(Condition::at_least(Expr::symbol(counter), Expr::from(1)));
        self.facts.push(Condition::at_most(Expr::symbol(counter), name.clone()));
        self.acts(body, turn, span);
        self.resolver = outer.0;
        self.facts.truncate(outer.1);
        self.most.truncate(outer.2);
        if let Turns::Passes { .. } = turns_of(self.loops, counter) {
            self.resolver.count(last, name.clone());
        }
    }

    /// As many passes as the motion has steps: `max(1, ceil(steps))`, but that a step may be a little longer. Of whole steps it
    /// is the last that takes all that was counted less.
    fn steps(&mut self, number: &Expr, (steps, whole): (Expr, bool), counter: &Symbol, span: Span) {
        let one = || Expr::from(1);
        let longer = Rational::ONE + self.tolerance.counts.get(counter).cloned().unwrap_or(Rational::ZERO);
        // What both read off a table cancels by its name.
        let names = Names::of_tables([&Condition::equal(number.clone(), steps.clone())]);
        let ratio = counted(number)
            .and_then(|counted| compared(&names.put_in(counted), &names.put_in(&steps), &longer))
            .map(|both| both.map(|goal| names.back(&goal)));
        let [no_more, no_longer] = ratio.map_or([None, None], |both| both.map(Some));
        let no_longer = no_longer.filter(|_| !whole);
        let fewest = if whole {
            steps.clone() - Expr::number(longer - Rational::ONE)
        } else {
            steps.clone() / Expr::number(longer)
        };
        let fewer = Condition::any([
            Condition::equal(number.clone(), one()),
            Condition::less(number.clone(), steps + one()),
        ]);
        for (why, goal, easier) in [
            ("there is one pass at least", Condition::at_least(number.clone(), one()), None),
            ("no pass is deeper than asked", Condition::at_least(number.clone(), fewest), no_longer),
            ("there is no pass more than needed", fewer, no_more),
        ] {
            self.matter_with(Kind::SameCount, why, span, goal, easier.into_iter().collect());
        }
    }

    /// Whether an expression has whole values only, told by its looks.
    fn is_whole(&self, expr: &Expr) -> bool {
        match expr.node() {
            Node::Number(number) => number.is_whole(),
            Node::Call(Function::Ceil | Function::Floor, _) => true,
            Node::Add(a, b) | Node::Sub(a, b) | Node::Mul(a, b) | Node::Min(a, b) | Node::Max(a, b) => {
                self.is_whole(a) && self.is_whole(b)
            }
            Node::If(_, a, b) => self.is_whole(a) && self.is_whole(b),
            Node::Neg(a) => self.is_whole(a),
            // That such an argument is whole, the text has tested: that is an obligation of its own.
            Node::Symbol(symbol) => self.whole.contains(symbol) || super::is_counter(symbol.name()),
            Node::Pi | Node::Div(..) | Node::Call(..) => false,
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

    /// What decides where a move really goes: offsets and compensation.
    fn under(&mut self, made: &State, wanted: &State, span: Span) {
        if made.shifted {
            self.broken(Kind::SameState, "it moves with a zero that the text has shifted", span);
        }
        if self.compensation && made.compensation != Some(false) {
            self.broken(Kind::SameState, "it moves while cutter compensation may be on", span);
        }
        if self.role == Role::Called {
            return;
        }
        let work = if self.role == Role::Fragment || wanted.work.is_some() {
            Condition::from_bool(made.work == wanted.work)
        } else {
            Condition::True
        };
        let length = match (&made.length, &wanted.length) {
            (Some(made), Some(wanted)) => self.near(made, wanted, &Rational::ZERO),
            (None, Some(_)) => Condition::False,
            // A fragment leaves it on, with the number that it has.
            (length, None) => {
                Condition::from_bool(self.role == Role::Job || (length.is_none() && !made.bare))
            }
        };
        let why = "the offsets are those that belong here";
        self.matter(Kind::SameState, why, span, Condition::all([work, length]));
    }

    /// Spindle, coolant and tool, where the text is to state them.
    fn state(&mut self, made: &State, wanted: &State, span: Span) {
        self.under(made, wanted, span);
        if self.role == Role::Called {
            return;
        }
        let on = |coolant: Option<bool>| coolant == Some(true);
        let coolant = |s: &State| (on(s.coolant.0), on(s.coolant.1));
        let fragment = self.role == Role::Fragment;
        let same = if fragment { made.coolant == wanted.coolant } else { coolant(made) == coolant(wanted) };
        let mut goals = vec![Condition::from_bool(same)];
        if let Some(wanted) = &wanted.tool {
            let equal = |made: &Expr| self.near(made, wanted, &Rational::ZERO);
            goals.push(made.tool.as_ref().map_or(Condition::False, equal));
        }
        match (&made.spindle, &wanted.spindle) {
            (None, None) => {}
            // A fragment leaves the spindle to others.
            (Some(_), None) => goals.push(Condition::from_bool(!fragment)),
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
        let why = "spindle, coolant and tool are as they should be";
        self.matter(Kind::SameState, why, span, Condition::all(goals));
    }
}

fn turns_of(loops: &BTreeMap<Symbol, Turns>, counter: &Symbol) -> Turns {
    loops.get(counter).cloned().unwrap_or(Turns::Times(Expr::zero()))
}

/// Whether two moves may meet on a wall: both in the plane, one of them an arc.
fn joins(a: &ActKind, b: &ActKind) -> bool {
    let flat = |kind: &ActKind| match kind {
        ActKind::Line { from: [a, b, _], to: [x, y, _], .. } => (a, b) != (x, y),
        ActKind::Arc { .. } => true,
        ActKind::Home
        | ActKind::Rapid { .. }
        | ActKind::Dwell(_)
        | ActKind::Stop(_)
        | ActKind::Loop { .. } => false,
    };
    let arc = |kind: &ActKind| matches!(kind, ActKind::Arc { .. });
    flat(a) && flat(b) && (arc(a) || arc(b))
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
fn without_doubles<'a>(acts: &'a [Act], tolerance: &Rational) -> Vec<&'a Act> {
    let mut kept: Vec<&Act> = Vec::new();
    for act in acts {
        let moves = |a: &&&Act| !matches!(a.kind, ActKind::Stop(_) | ActKind::Dwell(_));
        let last = kept.iter().rev().find(moves).map(|a| &a.kind);
        if matches!((&act.kind, last), (ActKind::Home, Some(ActKind::Home))) {
            continue;
        }
        // A rapid move to where the cutter is already is none.
        if matches!(&act.kind, ActKind::Rapid { from, to } if from == to) {
            continue;
        }
        // A main program goes to the first place of what it calls by rounded numbers.
        if kept.last().is_some_and(|before| is_there(before, act, tolerance)) {
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

/// Whether a rapid move goes to where the rapid move before it has ended, as nearly as numbers are rounded.
fn is_there(before: &Act, act: &Act, tolerance: &Rational) -> bool {
    let (ActKind::Rapid { to: at, .. }, ActKind::Rapid { to, .. }) = (&before.kind, &act.kind) else {
        return false;
    };
    let near = |(a, b): (&Expr, &Expr)| {
        let apart = (a.clone() - b.clone()).call(Function::Abs);
        let within = Condition::at_most(apart, Expr::number(tolerance.clone()));
        a == b || decide_with(&within, &|_| None).ok().flatten() == Some(true)
    };
    !tolerance.is_zero() && at.iter().zip(to).all(near)
}

/// The height to which a rapid move goes that moves nothing but Z.
fn height(act: &Act) -> Option<&Rational> {
    let ActKind::Rapid { from: [a, b, _], to: [x, y, z] } = &act.kind else { return None };
    z.as_number().filter(|_| a == x && b == y)
}

/// What a number of passes is counted from: `ceil(a)`, which a control may know only as rounding away from zero,
/// or that where it is not below 1, and 1 where it is. What is counted is not negative.
fn counted(number: &Expr) -> Option<&Expr> {
    let is = |e: &Expr, n: i64| whole(e) == Some(n);
    if let Node::If(condition, a, b) = number.node()
        && let Condition::Compare(relation, x, y) = &**condition
    {
        let (yes, no) = match relation {
            Relation::GreaterEqual => (a, b),
            Relation::Less => (b, a),
            Relation::Greater | Relation::LessEqual | Relation::Equal | Relation::NotEqual => return None,
        };
        let at_least_one = is(y, 1) && is(no, 1) && x == yes;
        let away_from_zero = is(y, 0) && *yes == x.clone().call(Function::Ceil);
        return match (at_least_one, away_from_zero) {
            (true, _) => counted(yes),
            (false, true) => Some(x),
            (false, false) => None,
        };
    }
    if let Node::Call(Function::Ceil, from) = number.node() { Some(from) } else { None }
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
