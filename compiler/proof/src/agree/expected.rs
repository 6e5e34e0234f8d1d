//! What a text should do: the acts of a motion, with every name put in and every call inlined.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::Arc;

use borewright_base::Span;
use borewright_machine::Machine;
use borewright_motion::{
    Act, ActKind, Action, Bodies, Call, Clause, Coolant, Expr, Field, Motion, Passes, Place, Point, Relation,
    Spindle, State, Step, Symbol, Way, evaluate_with,
};
use borewright_number::Rational;

use super::ceilings::Ceilings;
use super::interface::{Interface, centre};

/// A coordinate that nobody knows.
pub(super) const UNKNOWN: &str = "?";

/// More acts than any text holds.
const MOST: usize = 400_000;

/// The acts of a motion, and what holds at its end.
pub(super) struct Expected {
    pub(super) acts: Vec<Act>,
    pub(super) state: State,
    /// Values of names: parameters that are fixed, and every `let` of the head.
    pub(super) names: BTreeMap<Symbol, Expr>,
    /// Loops by the symbol of their counter.
    pub(super) loops: BTreeMap<Symbol, Turns>,
    /// Names for what is rounded up, where the text may take a little less.
    pub(super) ceilings: Ceilings,
}

/// How often a loop should turn.
#[derive(Debug, Clone)]
pub(super) enum Turns {
    /// In steps of at most `by` over `way`, which is not negative; or in whole ones, the last of which takes what remains.
    Passes { way: Expr, by: Expr, whole: bool },
    /// This often.
    Times(Expr),
}

/// Walks a motion.
pub(super) fn expect(motion: &Motion, machine: &Machine, interface: &Interface) -> Result<Expected, String> {
    let mut walker = Walker {
        machine,
        motion,
        centre: [Expr::zero(), Expr::zero()],
        interface,
        travel: interface.travel.as_ref().map(|t| Expr::symbol(&t.symbol)),
        names: BTreeMap::new(),
        at: [None, None, None],
        feed: None,
        state: State::default(),
        acts: Vec::new(),
        loops: BTreeMap::new(),
        bodies: Bodies::default(),
        between_turns: false,
        ceilings: interface.tolerance.rounded_up.as_ref().map(|_| RefCell::default()),
    };
    if interface.centre.is_some() {
        walker.centre = centre().map(|s| Expr::symbol(&s));
    }
    if !interface.called {
        for parameter in &motion.parameters {
            let value = match (interface.values.get(&parameter.symbol), &parameter.default) {
                (Some(value), _) => Expr::number(value.clone()),
                (None, Some(default)) => walker.put_in(default),
                (None, None) => return Err(format!("`{}` has no value", parameter.symbol)),
            };
            walker.names.insert(parameter.symbol.clone(), value);
        }
    }
    let rules = motion.demands.iter().flat_map(|d| &d.rules);
    for rule in rules.filter(|r| r.relation == Relation::Equal && motion.job.is_none()) {
        let value = walker.put_in(&rule.value);
        walker.names.insert(rule.field.symbol(), value);
    }
    for clause in &motion.head {
        if let Clause::Let(l) = clause {
            let value = walker.put_in(&l.value);
            walker.names.insert(l.symbol.clone(), value);
        }
    }
    let names = walker.names.clone();
    walker.steps(&motion.body)?;
    let ceilings = walker.ceilings.map(RefCell::into_inner).unwrap_or_default();
    Ok(Expected { acts: walker.acts, state: walker.state, names, loops: walker.loops, ceilings })
}

struct Walker<'a> {
    machine: &'a Machine,
    interface: &'a Interface,
    motion: &'a Motion,
    centre: [Expr; 2],
    /// A subprogram retracts to this height.
    travel: Option<Expr>,
    names: BTreeMap<Symbol, Expr>,
    /// Where the cutter is; `None` where nobody knows.
    at: [Option<Expr>; 3],
    feed: Option<Expr>,
    state: State,
    acts: Vec<Act>,
    loops: BTreeMap<Symbol, Turns>,
    bodies: Bodies,
    /// A turn of a loop begins, or a loop has ended, since the last act.
    between_turns: bool,
    /// Names for what is rounded up, where that matters.
    ceilings: Option<RefCell<Ceilings>>,
}

impl Walker<'_> {
    fn put_in(&self, expr: &Expr) -> Expr {
        let full = self.in_full(expr);
        match &self.ceilings {
            Some(ceilings) => ceilings.borrow_mut().named(&full),
            None => full,
        }
    }

    fn in_full(&self, expr: &Expr) -> Expr {
        expr.substitute(&|s| self.names.get(s).cloned())
    }

    fn steps(&mut self, steps: &[Step]) -> Result<(), String> {
        steps.iter().try_for_each(|step| self.step(step))
    }

    fn step(&mut self, step: &Step) -> Result<(), String> {
        let span = step.span;
        match &step.action {
            Action::Let(l) => {
                let value = self.put_in(&l.value);
                self.names.insert(l.symbol.clone(), value);
            }
            Action::Retract => self.retract(span)?,
            Action::RapidTo(to) => {
                let [x, y] = self.point(to);
                let from = self.place();
                self.go([Some(x), Some(y), None]);
                self.push(ActKind::Rapid { from, to: self.place() }, span)?;
            }
            Action::RapidZ(z) => {
                let z = self.put_in(z);
                self.rapid_z(z, span)?;
            }
            Action::Line { to, z, feed } => self.line(to.as_ref(), z.as_ref(), feed.as_ref(), span)?,
            Action::Arc { way, to, z, about, feed } => {
                let to = self.point(to);
                self.arc(*way, Some(to), z.as_ref(), about, feed.as_ref(), span)?;
            }
            Action::Turn { way, z, about, feed } => {
                self.arc(*way, None, z.as_ref(), about, feed.as_ref(), span)?;
            }
            Action::Passes(passes) => self.passes(passes, span)?,
            Action::Repeat { index, count, body } => {
                let count = self.put_in(count);
                self.repeat(index, count, body, span)?;
            }
            Action::Call(call) => self.call(call)?,
            Action::Dwell(time) => self.push(ActKind::Dwell(self.put_in(time)), span)?,
            Action::With { tool, body } => self.with(*tool, body, span)?,
            Action::Spindle { way, speed } => {
                let counterclockwise = *way == Way::Ccw;
                let speed = Some(self.put_in(speed));
                self.state.spindle = Some(Spindle::Turning { counterclockwise, speed });
            }
            Action::Coolant(coolant) => {
                self.state.coolant = match coolant {
                    Coolant::Mist => (Some(true), Some(false)),
                    Coolant::Flood => (Some(false), Some(true)),
                };
            }
            Action::Stop(text) => self.push(ActKind::Stop(text.clone()), span)?,
        }
        Ok(())
    }

    fn call(&mut self, call: &Call) -> Result<(), String> {
        for place in &call.at {
            let body = call.body(place, &mut self.bodies);
            self.steps(&body)?;
        }
        Ok(())
    }

    fn line(
        &mut self,
        to: Option<&Point>,
        z: Option<&Expr>,
        feed: Option<&Expr>,
        span: Span,
    ) -> Result<(), String> {
        let [x, y] = match to {
            Some(to) => self.point(to).map(Some),
            None => [None, None],
        };
        let z = z.map(|z| self.put_in(z));
        let from = self.place();
        self.go([x, y, z]);
        let feed = self.feed(feed);
        self.push(ActKind::Line { from, to: self.place(), feed }, span)
    }

    fn push(&mut self, kind: ActKind, span: Span) -> Result<(), String> {
        if self.acts.len() >= MOST {
            return Err(format!("the motion has more than {MOST} steps"));
        }
        // There a text may count: the motion is smooth with that in mind.
        let computed = std::mem::take(&mut self.between_turns);
        self.acts.push(Act { kind, span, state: Arc::new(State { computed, ..self.state.clone() }) });
        Ok(())
    }

    fn place(&self) -> Place {
        self.at.clone().map(|c| c.unwrap_or_else(|| Expr::named(UNKNOWN)))
    }

    fn go(&mut self, to: [Option<Expr>; 3]) {
        for (at, to) in self.at.iter_mut().zip(to) {
            if to.is_some() {
                *at = to;
            }
        }
    }

    fn point(&self, point: &Point) -> [Expr; 2] {
        let [x, y] = self.centre.clone();
        [x + self.put_in(&point.x), y + self.put_in(&point.y)]
    }

    fn feed(&mut self, feed: Option<&Expr>) -> Option<Expr> {
        if let Some(feed) = feed {
            self.feed = Some(self.put_in(feed));
        }
        self.feed.clone()
    }

    fn home(&mut self, span: Span) -> Result<(), String> {
        self.at[2] = None;
        self.push(ActKind::Home, span)
    }

    fn rapid_z(&mut self, z: Expr, span: Span) -> Result<(), String> {
        if self.state.length.is_none() {
            self.state.length.clone_from(&self.state.tool);
        }
        let from = self.place();
        self.go([None, None, Some(z)]);
        self.push(ActKind::Rapid { from, to: self.place() }, span)
    }

    /// Up to the travel height, where there is one and the present height is known; else home.
    fn retract(&mut self, span: Span) -> Result<(), String> {
        if let Some(travel) = &self.travel {
            let travel = travel.clone();
            return if self.at[2].as_ref() == Some(&travel) { Ok(()) } else { self.rapid_z(travel, span) };
        }
        let travel = self.motion.job.as_ref().map(|job| self.put_in(&job.travel));
        match (travel, &self.at[2]) {
            (Some(travel), Some(z)) if travel == *z => Ok(()),
            (Some(travel), Some(_)) => self.rapid_z(travel, span),
            (Some(_) | None, _) => self.home(span),
        }
    }

    fn arc(
        &mut self,
        way: Way,
        to: Option<[Expr; 2]>,
        z: Option<&Expr>,
        about: &Point,
        feed: Option<&Expr>,
        span: Span,
    ) -> Result<(), String> {
        let centre = self.point(about);
        let from = self.place();
        let z = z.map(|z| self.put_in(z));
        let feed = self.feed(feed);
        let whole = to.is_none();
        if whole && !self.machine.arcs.full_circle {
            let [x, y, start] = from.clone();
            let two = || Expr::from(2);
            let across = [two() * centre[0].clone() - x.clone(), two() * centre[1].clone() - y.clone()];
            let middle = z.as_ref().map(|z| (start + z.clone()) / two());
            self.half(way, across, middle, &centre, feed.clone(), span)?;
            return self.half(way, [x, y], z, &centre, feed, span);
        }
        let [x, y] = to.map_or([None, None], |[x, y]| [Some(x), Some(y)]);
        self.go([x, y, z]);
        let (to, counterclockwise) = (self.place(), way == Way::Ccw);
        let full = borewright_motion::Condition::from_bool(whole);
        self.push(ActKind::Arc { from, to, centre, counterclockwise, full, feed }, span)
    }

    fn half(
        &mut self,
        way: Way,
        to: [Expr; 2],
        z: Option<Expr>,
        centre: &[Expr; 2],
        feed: Option<Expr>,
        span: Span,
    ) -> Result<(), String> {
        let from = self.place();
        let [x, y] = to;
        self.go([Some(x), Some(y), z]);
        let (to, counterclockwise) = (self.place(), way == Way::Ccw);
        let full = borewright_motion::Condition::False;
        self.push(ActKind::Arc { from, to, centre: centre.clone(), counterclockwise, full, feed }, span)
    }

    fn passes(&mut self, passes: &Passes, span: Span) -> Result<(), String> {
        let count = self.in_full(&passes.count_value());
        let value = |index: Expr, count: Expr| passes.value_at(index, count);
        if let Some(count) = if passes.is_single() { Some(1) } else { whole(&count) } {
            for index in 1..=count {
                let (i, n) = (Expr::number(Rational::from(index)), Expr::number(Rational::from(count)));
                let at = if index == count { passes.to.clone() } else { value(i.clone(), n.clone()) };
                let at = self.put_in(&at);
                self.names.insert(passes.index.clone(), i);
                self.names.insert(passes.count.clone(), n);
                self.names.insert(passes.value.clone(), at);
                self.between_turns = true;
                self.steps(&passes.body)?;
            }
            self.between_turns = true;
            return Ok(());
        }
        let way = (passes.to.clone() - passes.from.clone()).call(borewright_motion::Function::Abs);
        let turns = Turns::Passes {
            way: self.put_in(&way),
            by: self.put_in(&passes.by),
            whole: passes.whole.is_some(),
        };
        self.loops.insert(passes.index.clone(), turns);
        let (i, n) = (Expr::symbol(&passes.index), Expr::symbol(&passes.count));
        let at = self.put_in(&value(i, n.clone()));
        self.names.insert(passes.value.clone(), at);
        self.around(&passes.index, n, &passes.body, span)
    }

    fn repeat(&mut self, index: &Symbol, count: Expr, body: &[Step], span: Span) -> Result<(), String> {
        if let Some(count) = whole(&count) {
            for i in 1..=count {
                self.names.insert(index.clone(), Expr::number(Rational::from(i)));
                self.between_turns = true;
                self.steps(body)?;
            }
            self.between_turns = true;
            self.names.remove(index);
            return Ok(());
        }
        self.loops.insert(index.clone(), Turns::Times(count.clone()));
        self.around(index, count, body, span)
    }

    /// One turn for all, from what holds at the start of every turn.
    fn around(&mut self, index: &Symbol, last: Expr, body: &[Step], span: Span) -> Result<(), String> {
        let before = std::mem::take(&mut self.acts);
        let (bodies, mut at, mut feed) = (self.bodies.clone(), self.at.clone(), self.feed.clone());
        let mut state = self.state.clone();
        loop {
            (self.bodies, self.at, self.feed) = (bodies.clone(), at.clone(), feed.clone());
            self.state.clone_from(&state);
            self.acts.clear();
            self.steps(body)?;
            let ends = self.at.clone();
            let both = keep_equal(&at, &ends);
            let same_feed = if feed == self.feed { feed.clone() } else { None };
            if both == at && same_feed == feed {
                break;
            }
            (at, feed) = (both, same_feed);
            state.length.clone_from(&self.state.length);
        }
        let at_last = |e: &Expr| {
            let at_last = e.substitute(&|s| (s == index).then(|| last.clone()));
            // There is one turn at least: as many parts of the way as there are make the whole.
            at_last.map(&|part| whole_way(part, &last))
        };
        self.at = self.at.clone().map(|c| c.map(|c| at_last(&c)));
        self.feed = self.feed.as_ref().map(at_last);
        let body = std::mem::replace(&mut self.acts, before);
        self.push(ActKind::Loop { index: index.clone(), first: Expr::from(1), last, body }, span)
    }

    fn with(&mut self, tool: usize, body: &[Step], span: Span) -> Result<(), String> {
        let job = self.motion.job.as_ref().ok_or("`with` outside a job")?;
        let held = job.tools.get(tool).ok_or("a tool that is not in the list")?;
        for (field, value) in &held.fields {
            let value = self.put_in(value);
            self.names.insert(field.symbol(), value);
        }
        if let Some(worn) = self.interface.wear.iter().find(|worn| worn.tool == tool) {
            let nominal = self.names.remove(&Field::Diameter.symbol()).ok_or("a cutter without diameter")?;
            self.names.insert(Field::Diameter.symbol(), nominal + Expr::symbol(&worn.symbol()));
        }
        self.home(span)?;
        self.at = [None, None, None];
        self.feed = None;
        self.state.tool = held.fields.get(&Field::Pocket).map(|p| self.put_in(p));
        self.state.length = None;
        let work = self.put_in(&job.work);
        self.state.work = whole(&work).and_then(|n| u8::try_from(n).ok());
        self.steps(body)?;
        self.home(span)?;
        self.state.coolant = (Some(false), Some(false));
        self.state.spindle = Some(Spindle::Stopped);
        Ok(())
    }
}

fn keep_equal(a: &[Option<Expr>; 3], b: &[Option<Expr>; 3]) -> [Option<Expr>; 3] {
    let [ax, ay, az] = a;
    let [bx, by, bz] = b;
    [(ax, bx), (ay, by), (az, bz)].map(|(a, b)| if a == b { a.clone() } else { None })
}

/// `way * n / n`
fn whole_way(part: &Expr, n: &Expr) -> Option<Expr> {
    let borewright_motion::Node::Div(a, b) = part.node() else { return None };
    let borewright_motion::Node::Mul(way, times) = a.node() else { return None };
    (b == n && times == n).then(|| way.clone())
}

/// The whole number that an expression is: worked out where it names nothing.
pub(super) fn whole(expr: &Expr) -> Option<i64> {
    let exact = |n: &Rational| if n.is_whole() { n.to_i64() } else { None };
    match expr.as_number() {
        Some(number) => exact(number),
        None if expr.symbols().is_empty() => evaluate_with(expr, &|_| None).ok()?.exact().and_then(exact),
        None => None,
    }
}
