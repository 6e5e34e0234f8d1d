//! From a motion to its moves with all that is known where each begins: one line of symbolic moves, in which
//! the body of a loop stands once for the first turn and once for every later one, until both agree.

use std::collections::BTreeSet;
use std::rc::Rc;

use borewright_base::Span;
use borewright_motion::{Action, Call, Condition, Expr, Motion, Passes, Point, Step, Symbol, Way};
use borewright_number::Dimension;

use super::scope::{Order, Scope, before_of, symbols_of};
use crate::{Hypothesis, HypothesisKind, Lemma};

/// A height along Z.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Height {
    /// As the routine was entered: nobody knows.
    Unknown,
    /// After `retract` where no travel height is stated: above everything.
    Retracted,
    /// Here.
    At(Expr),
}

/// Where the cutter's end is.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    /// In the plane; `None` at entry.
    pub xy: Option<Point>,
    /// Along Z.
    pub z: Height,
}

/// How it moves.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Path {
    /// As fast as the machine can, by a way that need not be straight.
    Rapid,
    /// Straight at feed.
    Line,
    /// Along an arc.
    Arc(Way, Point),
    /// Round a full circle.
    Turn(Way, Point),
}

/// One move.
#[derive(Debug, Clone)]
pub(crate) struct Move {
    /// How.
    pub path: Path,
    /// From where.
    pub from: Place,
    /// To where.
    pub to: Place,
    /// Whether the step itself says an end in the plane.
    pub says_xy: bool,
    /// The feed stated for it.
    pub feed: Option<Expr>,
    /// Whether it may begin where no cutting move ended: nothing is known yet of its start.
    pub fresh: bool,
    /// What is known.
    pub at: At,
}

/// What is known where something happens.
#[derive(Debug, Clone)]
pub(crate) struct At {
    /// Names and facts.
    pub scope: Rc<Scope>,
    /// Which turns of the loops around it.
    pub turns: Turns,
    /// The loops around it, outermost first, by the name of their value or counter.
    pub loops: Vec<Symbol>,
    /// Whether it surely happens: not within a `repeat` that may have no turns.
    pub certain: bool,
    /// Which tool of a job's list is in the spindle.
    pub tool: Option<usize>,
    /// The step in the text.
    pub span: Span,
    /// `arc-2`: kind and number of the step, in source order.
    pub site: String,
    /// Which of several ways of getting there: 0 for the first.
    pub variant: usize,
}

/// Which turns of a loop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Turn {
    /// The first.
    First,
    /// Any later one.
    Later,
    /// After at least one turn of a `repeat`.
    Done,
    /// After a `repeat` of no turns.
    Skipped,
}

/// A restriction on the turns of one loop.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Restriction {
    turn: Turn,
    index: Symbol,
    facts: Vec<(Condition, HypothesisKind)>,
}

/// Restrictions on turns; none means all turns.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Turns(Vec<Restriction>);

impl Turns {
    /// The restrictions as facts.
    pub(crate) fn facts(&self) -> Vec<Hypothesis> {
        let all = self.0.iter().flat_map(|r| &r.facts);
        all.map(|(condition, kind)| Hypothesis {
            condition: condition.clone(),
            kind: kind.clone(),
            span: None,
        })
        .collect()
    }

    /// Whether these are turns after the first of the loop with this counter.
    pub(crate) fn are_later(&self, index: &Symbol) -> bool {
        self.0.iter().any(|r| r.index == *index && r.turn == Turn::Later)
    }

    /// Which turns of the loop with this counter, where it is not all.
    pub(crate) fn of(&self, index: &Symbol) -> Option<Turn> {
        self.0.iter().find(|r| r.index == *index).map(|r| r.turn)
    }

    /// The restrictions on other loops.
    pub(crate) fn but_for(&self, index: &Symbol) -> Self {
        self.without(index)
    }

    /// The names by which the turns are told.
    pub(crate) fn names(&self) -> BTreeSet<Symbol> {
        self.0.iter().flat_map(|r| &r.facts).flat_map(|(condition, _)| condition.symbols()).collect()
    }

    /// The facts in other words.
    fn changed(&self, words: &dyn Fn(&Expr) -> Expr) -> Self {
        let fact = |(c, kind): &(Condition, HypothesisKind)| {
            (c.substitute(&|s| Some(words(&Expr::symbol(s)))), kind.clone())
        };
        let restriction =
            |r: &Restriction| Restriction { facts: r.facts.iter().map(fact).collect(), ..r.clone() };
        Self(self.0.iter().map(restriction).collect())
    }

    fn with(&self, restriction: Restriction) -> Self {
        let mut turns = self.without(&restriction.index);
        turns.0.push(restriction);
        turns
    }

    fn without(&self, index: &Symbol) -> Self {
        Self(self.0.iter().filter(|r| r.index != *index).cloned().collect())
    }

    /// The turns of either, where that is one restriction less.
    fn join(&self, other: &Self) -> Option<Self> {
        if self == other {
            return Some(self.clone());
        }
        let complementary = |a: Turn, b: Turn| {
            matches!((a.min(b), a.max(b)), (Turn::First, Turn::Later) | (Turn::Done, Turn::Skipped))
        };
        self.0.iter().find_map(|mine| {
            let theirs = other.0.iter().find(|r| r.index == mine.index)?;
            let same_rest = self.without(&mine.index) == other.without(&mine.index);
            (complementary(mine.turn, theirs.turn) && same_rest).then(|| self.without(&mine.index))
        })
    }
}

/// How the cutter arrived where it is.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Arrival {
    /// The direction of the path; `None` where it has none that can be named.
    pub direction: Option<[Expr; 3]>,
    /// What has happened since: a reason why the path is not one with what follows.
    pub broken: Option<&'static str>,
}

/// The place between two moves.
#[derive(Debug, Clone)]
pub(crate) struct Joint {
    /// Where.
    pub place: Place,
    /// How the cutter arrived.
    pub before: Arrival,
    /// The direction of the move that follows, and why it is not one with what came before.
    pub after: Arrival,
    /// What is known; the step is the one that follows.
    pub at: At,
}

/// What the walk comes by.
#[derive(Debug, Clone)]
pub(crate) enum Event {
    /// A move.
    Move(Box<Move>),
    /// The place between two moves.
    Joint(Box<Joint>),
    /// The cutter goes up out of the way from here.
    Retract(Place, At),
    /// A value is worked out.
    Let(At),
    /// It waits.
    Dwell(Place, At),
    /// A loop of passes begins.
    Passes(Box<Passes>, At),
    /// A routine is called.
    Call(Box<Call>, At),
    /// A tool comes into the spindle; position in the tool list.
    Tool(usize, At),
    /// The spindle turns.
    Spindle(Way, Expr, At),
    /// The program stops for the operator.
    Stop(At),
    /// The tool's work is over.
    ToolDone(At),
}

/// One way to be somewhere.
#[derive(Debug, Clone)]
struct State {
    place: Place,
    /// Whether a cutting move led here.
    by_feed: bool,
    arrival: Arrival,
    turns: Turns,
}

/// Walks the body of a motion.
pub(crate) struct Walk<'a> {
    scope: Rc<Scope>,
    states: Vec<State>,
    loops: Vec<Symbol>,
    certain: bool,
    sites: Vec<(&'static str, usize)>,
    events: Vec<Event>,
    travel: Option<Expr>,
    tool: Option<usize>,
    motion: &'a Motion,
    order: &'a dyn Fn(&Scope, &Passes, &Turns) -> Order,
}

/// The moves of a body, in order, and the places where it may end.
pub(crate) fn walk(
    scope: Rc<Scope>,
    motion: &Motion,
    body: &[Step],
    travel: Option<Expr>,
    order: &dyn Fn(&Scope, &Passes, &Turns) -> Order,
) -> (Vec<Event>, Vec<Place>) {
    let start = State {
        place: Place { xy: None, z: Height::Unknown },
        by_feed: false,
        arrival: Arrival { direction: None, broken: Some("the routine begins here") },
        turns: Turns::default(),
    };
    let mut walk = Walk {
        scope,
        states: vec![start],
        loops: Vec::new(),
        certain: true,
        sites: Vec::new(),
        events: Vec::new(),
        travel,
        tool: None,
        motion,
        order,
    };
    body.iter().for_each(|step| walk.step(step));
    walk.ends();
    (walk.events, walk.states.into_iter().map(|s| s.place).collect())
}

/// The site where a motion ends: the cutter is left standing there.
pub(crate) const END: &str = "end";

impl Walk<'_> {
    fn step(&mut self, step: &Step) {
        let span = step.span;
        match &step.action {
            Action::Let(l) => {
                let at = self.at("let", span);
                self.events.push(Event::Let(at));
                let inch = self.motion.inch;
                Rc::make_mut(&mut self.scope).define(l, inch);
                self.interrupt("a value is worked out there");
            }
            Action::Retract => self.retract(span),
            Action::RapidTo(to) => self.moves("rapid", &Said::rapid(Some(to), None), span),
            Action::RapidZ(z) => self.moves("rapid", &Said::rapid(None, Some(z)), span),
            Action::Line { to, z, feed } => {
                let motion = Said { path: Path::Line, to: to.as_ref(), z: z.as_ref(), feed: feed.as_ref() };
                self.moves("line", &motion, span);
            }
            Action::Arc { way, to, z, about, feed } => {
                let path = Path::Arc(*way, self.point(about));
                let motion = Said { path, to: Some(to), z: z.as_ref(), feed: feed.as_ref() };
                self.moves("arc", &motion, span);
            }
            Action::Turn { way, z, about, feed } => {
                let path = Path::Turn(*way, self.point(about));
                let motion = Said { path, to: None, z: z.as_ref(), feed: feed.as_ref() };
                self.moves("turn", &motion, span);
            }
            Action::Passes(passes) => self.passes(passes, span),
            Action::Repeat { index, count, body } => self.repeat(index, count, body, span),
            Action::Call(call) => self.call(call, span),
            Action::Dwell(_) => {
                let at = self.at("dwell", span);
                let places = self.places();
                let dwell = |s: Standing| Event::Dwell(s.place, At { turns: s.turns, ..at.clone() });
                self.events.extend(places.into_iter().map(dwell));
                self.interrupt("the axes wait there");
            }
            Action::With { tool, body } => self.with(*tool, body, span),
            Action::Spindle { way, speed } => {
                let at = self.at("spindle", span);
                self.events.push(Event::Spindle(*way, speed.clone(), at));
                self.interrupt("the spindle is set there");
            }
            Action::Coolant(_) => self.interrupt("the coolant is switched there"),
            Action::Stop(_) => {
                let at = self.at("stop", span);
                self.events.push(Event::Stop(at));
                self.interrupt("the program stops there");
            }
        }
    }

    /// Where the motion ends, the cutter stands as in a dwell.
    fn ends(&mut self) {
        let at = At { site: END.to_owned(), ..self.at(END, self.motion.span) };
        let dwell = |s: Standing| Event::Dwell(s.place, At { turns: s.turns, ..at.clone() });
        self.events.extend(self.places().into_iter().map(dwell).collect::<Vec<_>>());
    }

    /// The next site of that kind.
    fn at(&mut self, kind: &'static str, span: Span) -> At {
        let number = match self.sites.iter_mut().find(|(k, _)| *k == kind) {
            Some((_, n)) => {
                *n += 1;
                *n
            }
            None => {
                self.sites.push((kind, 1));
                1
            }
        };
        At {
            scope: self.scope.clone(),
            turns: Turns::default(),
            loops: self.loops.clone(),
            certain: self.certain,
            tool: self.tool,
            span,
            site: format!("{kind}-{number}"),
            variant: 0,
        }
    }

    fn interrupt(&mut self, why: &'static str) {
        self.states.iter_mut().for_each(|s| s.arrival.broken = s.arrival.broken.or(Some(why)));
        self.merge();
    }

    fn point(&self, p: &Point) -> Point {
        Point { x: self.scope.flatten(&p.x), y: self.scope.flatten(&p.y) }
    }

    /// The turns of the loops around that all states share; all turns where they differ.
    fn common_turns(&self) -> Turns {
        let mut turns = self.states.iter().map(|s| &s.turns);
        let first = turns.next().cloned().unwrap_or_default();
        if turns.all(|t| *t == first) { first } else { Turns::default() }
    }

    /// Where the cutter may be, each place once.
    fn places(&self) -> Vec<Standing> {
        let mut places: Vec<Standing> = Vec::new();
        for state in &self.states {
            let known = places.iter_mut().find_map(|known| {
                let same = known.place == state.place;
                known.turns = same.then(|| known.turns.join(&state.turns)).flatten()?;
                known.fresh |= !state.by_feed;
                Some(())
            });
            if known.is_none() {
                let State { place, turns, by_feed, .. } = state.clone();
                places.push(Standing { place, turns, fresh: !by_feed });
            }
        }
        places
    }

    /// States that differ in nothing that matters become one.
    fn merge(&mut self) {
        let mut merged: Vec<State> = Vec::new();
        for state in std::mem::take(&mut self.states) {
            let known = merged.iter_mut().find_map(|m| {
                let alike = m.alike(&state);
                m.turns = alike.then(|| m.turns.join(&state.turns)).flatten()?;
                Some(())
            });
            if known.is_none() {
                merged.push(state);
            }
        }
        self.states = merged;
    }

    fn retract(&mut self, span: Span) {
        let at = self.at("retract", span);
        for (variant, Standing { place, turns, .. }) in self.places().into_iter().enumerate() {
            self.events.push(Event::Retract(place, At { turns, variant, ..at.clone() }));
        }
        let z = self.travel.clone().map_or(Height::Retracted, Height::At);
        for state in &mut self.states {
            state.place.z = z.clone();
            state.by_feed = false;
            state.arrival = Arrival { direction: None, broken: Some("the cutter goes up there") };
        }
        self.merge();
    }

    /// One source move: a move for each place it may begin at, a joint for each way of arriving there.
    fn moves(&mut self, kind: &'static str, motion: &Said<'_>, span: Span) {
        let at = self.at(kind, span);
        for (variant, Standing { place: from, turns, fresh }) in self.places().into_iter().enumerate() {
            let at = At { turns, variant, ..at.clone() };
            let to = self.end(motion, &from);
            let move_ = Move {
                path: motion.path.clone(),
                from,
                to,
                says_xy: motion.to.is_some(),
                feed: motion.feed.cloned(),
                fresh,
                at,
            };
            self.events.push(Event::Move(Box::new(move_)));
        }
        let mut states = std::mem::take(&mut self.states);
        for (variant, state) in states.iter_mut().enumerate() {
            let to = self.end(motion, &state.place);
            let (start, end) = directions(&motion.path, &state.place, &to);
            if still(start.as_ref()) {
                continue;
            }
            let broken = matches!(motion.path, Path::Rapid).then_some("the cutter moves at rapid there");
            let joint = Joint {
                place: state.place.clone(),
                before: state.arrival.clone(),
                after: Arrival { direction: start, broken },
                at: At { turns: state.turns.clone(), variant, ..at.clone() },
            };
            self.events.push(Event::Joint(Box::new(joint)));
            state.place = to;
            state.by_feed = !matches!(motion.path, Path::Rapid);
            state.arrival = Arrival { direction: end, broken };
        }
        self.states = states;
        self.merge();
    }

    fn end(&self, motion: &Said<'_>, from: &Place) -> Place {
        Place {
            xy: motion.to.map(|p| self.point(p)).or_else(|| from.xy.clone()),
            z: motion.z.map_or_else(|| from.z.clone(), |z| Height::At(self.scope.flatten(z))),
        }
    }

    fn passes(&mut self, passes: &Passes, span: Span) {
        let at = self.at("passes", span);
        self.events.push(Event::Passes(Box::new(passes.clone()), at));
        self.interrupt("a loop of passes begins there");
        let all = self.common_turns();
        let order = (self.order)(&self.scope, passes, &all);
        let (inch, [value, before, index, count]) = (self.motion.inch, symbols_of(passes));
        let outside = self.scope.clone();
        Rc::make_mut(&mut self.scope).passes(passes, inch, Dimension::LENGTH, order);
        let symbol = Expr::symbol;
        let first = Restriction {
            turn: Turn::First,
            index: index.clone(),
            facts: vec![
                (Condition::equal(symbol(&index), Expr::from(1)), HypothesisKind::Path),
                (
                    Condition::equal(symbol(&before), passes.from.clone()),
                    HypothesisKind::Lemma(Lemma::Passes),
                ),
            ],
        };
        let later = Restriction {
            turn: Turn::Later,
            index: index.clone(),
            facts: vec![(Condition::at_least(symbol(&index), Expr::from(2)), HypothesisKind::Path)],
        };
        let back = [(value.clone(), symbol(&before)), (index.clone(), symbol(&index) - Expr::from(1))];
        self.turn_round(&passes.body, &value, [first, later], &back);
        let out = [(value, self.scope.flatten(&passes.to)), (index.clone(), symbol(&count))];
        self.leave(&outside, &index, &out, "a loop of passes ends there");
    }

    fn repeat(&mut self, index: &Symbol, count: &Expr, body: &[Step], span: Span) {
        // Its count is worked out there.
        let at = self.at("repeat", span);
        self.events.push(Event::Let(at));
        self.interrupt("a repeat begins there");
        let (outside, surely) = (self.scope.clone(), self.certain);
        let entered = self.states.clone();
        let runs = self.scope.bounds(count).0.is_some_and(|least| least.signum() > 0);
        self.certain = surely && runs;
        Rc::make_mut(&mut self.scope).repeat(index, count);
        let restriction = |turn, condition| Restriction {
            turn,
            index: index.clone(),
            facts: vec![(condition, HypothesisKind::Path)],
        };
        let i = || Expr::symbol(index);
        let first = restriction(Turn::First, Condition::equal(i(), Expr::from(1)));
        let later = restriction(Turn::Later, Condition::at_least(i(), Expr::from(2)));
        self.turn_round(body, index, [first, later], &[(index.clone(), i() - Expr::from(1))]);
        self.leave(&outside, index, &[(index.clone(), count.clone())], "a repeat ends there");
        (self.scope, self.certain) = (outside, surely);
        if runs {
            return;
        }
        let done = restriction(Turn::Done, Condition::at_least(count.clone(), Expr::from(1)));
        let skipped = restriction(Turn::Skipped, Condition::at_most(count.clone(), Expr::zero()));
        for state in &mut self.states {
            state.turns = state.turns.with(done.clone());
        }
        self.states.extend(entered.into_iter().map(|s| State { turns: s.turns.with(skipped.clone()), ..s }));
        self.merge();
    }

    /// Walks a body from where it is entered, and from where it ends: `back` tells the names of a turn in
    /// those of the turn after it.
    fn turn_round(
        &mut self,
        body: &[Step],
        name: &Symbol,
        [first, later]: [Restriction; 2],
        back: &[(Symbol, Expr)],
    ) {
        self.loops.push(name.clone());
        let restricted = |states: &[State], r: &Restriction| -> Vec<State> {
            states.iter().map(|s| State { turns: s.turns.with(r.clone()), ..s.clone() }).collect()
        };
        let entered = restricted(&self.states, &first);
        let (sites, scope, length) = (self.sites.clone(), self.scope.clone(), self.events.len());
        let mut again: Vec<State> = Vec::new();
        // First from where it is entered, to see where it ends; then from there too, until nothing is new.
        for _ in 0..MOST_ROUNDS {
            (self.sites, self.scope) = (sites.clone(), scope.clone());
            self.events.truncate(length);
            self.states = entered.iter().chain(&again).cloned().collect();
            self.merge();
            body.iter().for_each(|step| self.step(step));
            let ended: Vec<State> = self.states.iter().map(|s| s.without_lets(&scope, &self.scope)).collect();
            if ended.iter().any(|s| s.mentions(&before_of(name))) {
                break;
            }
            let ended: Vec<State> = ended.iter().map(|s| s.renamed(back).interrupted(TURN_ENDS)).collect();
            let mut new = restricted(&ended, &later);
            new.retain(|s| !again.iter().any(|known| known.admits(s)));
            if new.is_empty() {
                self.loops.pop();
                return;
            }
            again.extend(new);
        }
        // Where a turn begins depends on more than the turn before: nobody knows, then.
        (self.sites, self.scope) = (sites, scope);
        self.events.truncate(length);
        let place = Place { xy: None, z: Height::Unknown };
        let arrival = Arrival { direction: None, broken: Some(TURN_ENDS) };
        self.states = vec![State { place, by_feed: false, arrival, turns: Turns::default() }];
        body.iter().for_each(|step| self.step(step));
        self.loops.pop();
    }

    fn leave(&mut self, outside: &Scope, index: &Symbol, out: &[(Symbol, Expr)], why: &'static str) {
        self.states = self
            .states
            .iter()
            .map(|s| {
                let state = s.without_lets(outside, &self.scope).renamed(out);
                State { turns: state.turns.without(index), ..state }
            })
            .collect();
        self.interrupt(why);
    }

    fn call(&mut self, call: &Call, span: Span) {
        let at = self.at("call", span);
        let turns = self.common_turns();
        self.events.push(Event::Call(Box::new(call.clone()), At { turns, ..at }));
        let z = self.travel.clone().map_or(Height::Retracted, Height::At);
        // A called routine is proved from any position; where it leaves the cutter, nobody need know.
        for state in &mut self.states {
            state.place = Place { xy: None, z: z.clone() };
            state.by_feed = false;
            state.arrival = Arrival { direction: None, broken: Some("a call ends there") };
        }
        self.merge();
    }

    fn with(&mut self, tool: usize, body: &[Step], span: Span) {
        let at = self.at("with", span);
        self.events.push(Event::Tool(tool, at.clone()));
        let unknown = Place { xy: None, z: Height::Unknown };
        let fresh = |s: &mut State| {
            s.place = unknown.clone();
            s.by_feed = false;
            s.arrival = Arrival { direction: None, broken: Some("the tool is changed there") };
        };
        self.states.iter_mut().for_each(fresh);
        self.merge();
        let outside = self.scope.clone();
        if let Some(held) = self.motion.job.as_ref().and_then(|job| job.tools.get(tool)) {
            let inch = self.motion.inch;
            Rc::make_mut(&mut self.scope).tool(held, inch);
        }
        self.tool = Some(tool);
        body.iter().for_each(|step| self.step(step));
        (self.scope, self.tool) = (outside, None);
        self.states.iter_mut().for_each(fresh);
        self.merge();
        self.events.push(Event::ToolDone(at));
    }
}

/// What a source move says.
struct Said<'a> {
    path: Path,
    to: Option<&'a Point>,
    z: Option<&'a Expr>,
    feed: Option<&'a Expr>,
}

impl<'a> Said<'a> {
    fn rapid(to: Option<&'a Point>, z: Option<&'a Expr>) -> Self {
        Self { path: Path::Rapid, to, z, feed: None }
    }
}

/// Where the cutter may stand, in which turns, and whether a cutting move may not have led there.
struct Standing {
    place: Place,
    turns: Turns,
    fresh: bool,
}

/// So often a loop's body is walked to learn where its turns begin.
const MOST_ROUNDS: usize = 4;

const TURN_ENDS: &str = "a turn of the loop ends there";

impl State {
    /// The same in all but the turns.
    fn alike(&self, other: &Self) -> bool {
        self.place == other.place && self.arrival == other.arrival && self.by_feed == other.by_feed
    }

    /// Whether all that is said of this one holds of the other.
    fn admits(&self, other: &Self) -> bool {
        self.alike(other) && self.turns.0.iter().all(|r| other.turns.0.contains(r))
    }

    /// Whether its place is told by that name.
    fn mentions(&self, name: &Symbol) -> bool {
        let z = if let Height::At(z) = &self.place.z { Some(z) } else { None };
        let xy = self.place.xy.iter().flat_map(|p| [&p.x, &p.y]);
        xy.chain(z).any(|e| e.symbols().contains(name))
    }

    /// After a stop, nothing hangs on the way of getting there any more.
    fn interrupted(mut self, why: &'static str) -> Self {
        self.arrival = Arrival { direction: None, broken: self.arrival.broken.or(Some(why)) };
        self
    }

    /// Names that a loop's body gives, put out again: in the next turn they mean something else.
    fn without_lets(&self, outside: &Scope, inside: &Scope) -> Self {
        self.changed(&|e| inside.inline_beyond(outside, e))
    }

    fn renamed(&self, names: &[(Symbol, Expr)]) -> Self {
        let to = |s: &Symbol| names.iter().find(|(n, _)| n == s).map(|(_, e)| e.clone());
        self.changed(&|e| e.substitute(&to))
    }

    /// Everything that is known, put in other words.
    fn changed(&self, words: &dyn Fn(&Expr) -> Expr) -> Self {
        let change = |e: &Expr| super::tidy::tidy(&words(e));
        let place = Place {
            xy: self.place.xy.as_ref().map(|p| Point { x: change(&p.x), y: change(&p.y) }),
            z: match &self.place.z {
                Height::At(z) => Height::At(change(z)),
                other @ (Height::Unknown | Height::Retracted) => other.clone(),
            },
        };
        let direction = self.arrival.direction.as_ref().map(|d| d.clone().map(|e| change(&e)));
        let arrival = Arrival { direction, broken: self.arrival.broken };
        Self { place, by_feed: self.by_feed, arrival, turns: self.turns.changed(words) }
    }
}

fn still(direction: Option<&[Expr; 3]>) -> bool {
    direction.is_some_and(|d| d.iter().all(|e| *e == Expr::zero()))
}

/// Directions at the start and at the end of a move; lengths do not matter, but are never negative.
fn directions(path: &Path, from: &Place, to: &Place) -> (Option<[Expr; 3]>, Option<[Expr; 3]>) {
    let rise = match (&from.z, &to.z) {
        (Height::At(a), Height::At(b)) => super::tidy::tidy(&(b.clone() - a.clone())),
        (a, b) if a == b => Expr::zero(),
        _ => return (None, None),
    };
    let (Some(p), Some(q)) = (&from.xy, &to.xy) else { return (None, None) };
    match path {
        Path::Rapid | Path::Line => {
            let d = flat(&q.minus(p));
            let line = Some([d.x, d.y, rise]);
            (line.clone(), line)
        }
        Path::Arc(way, centre) | Path::Turn(way, centre) => {
            let Some(sweep) = sweep(path, p, q, centre, &rise) else { return (None, None) };
            let tangent = |at: &Point| {
                let r = flat(&at.minus(centre));
                let (x, y) = match way {
                    Way::Ccw => (-r.y, r.x),
                    Way::Cw => (r.y, -r.x),
                };
                Some([x * sweep.clone(), y * sweep.clone(), rise.clone()])
            };
            (tangent(p), tangent(q))
        }
    }
}

/// The angle that an arc sweeps, in radians: needed only where it rises or falls.
fn sweep(path: &Path, p: &Point, q: &Point, centre: &Point, rise: &Expr) -> Option<Expr> {
    if *rise == Expr::zero() {
        return Some(Expr::from(1));
    }
    if matches!(path, Path::Turn(..)) {
        return Some(Expr::pi() * Expr::from(2));
    }
    let opposite = flat(&p.minus(centre).plus(&q.minus(centre)));
    (opposite == Point::centre()).then(Expr::pi)
}

/// Both coordinates in one form.
pub(crate) fn flat(p: &Point) -> Point {
    Point { x: super::tidy::tidy(&p.x), y: super::tidy::tidy(&p.y) }
}
