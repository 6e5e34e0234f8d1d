//! From a motion and a text that was lifted to every formula that must hold for the two to agree.
//!
//! For every value of every argument, vacant ones and values out of range among them, and for every mode at
//! entry that the text can ask for: either the text raises an alarm before anything moves and before any mode
//! changes, and the motion does not admit the values; or text and motion do the same things in the same order,
//! and the modes are left as they were found. Expressions are compared as reals; what the text rounds to
//! decimals is compared within that rounding.

mod compare;
mod expected;
mod guards;
mod interface;
mod resolve;
mod settle;

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::Span;
use borewright_machine::Machine;
use borewright_motion::{
    Act, ActKind, Clause, Condition, Course, Ending, Expr, Joined, Lifted, Motion, Symbol,
};
use borewright_number::Dimension;

use crate::{Formula, Hypothesis, HypothesisKind, Kind, Obligation, Sort, Variable};
use compare::{Comparer, Matter};
use expected::{Expected, Turns};
use guards::{Guard, Test};
use interface::{argument, centre, given, in_text, scale};
use resolve::{Resolver, cases};

pub use interface::{Given, Interface, Tolerance};
pub use settle::{Agreed, TextVerdicts, settle_text, settle_unproved};

/// Faults that cannot come once the text agrees, since the motion's own obligations rule them out: arcs that are
/// none or too small.
const OF_THE_MOTION: [&str; 2] = ["R0619", "R0620"];

/// Every obligation of agreement.
#[must_use]
pub fn agree(motion: &Motion, lifted: &Lifted, machine: &Machine, interface: &Interface) -> Vec<Obligation> {
    let mut motion = motion.clone();
    let travel = interface.travel.iter().filter(|t| !motion.parameters.iter().any(|p| p.symbol == t.symbol));
    motion.parameters.extend(travel.cloned().collect::<Vec<_>>());
    motion.head.extend(interface.demanded.iter().cloned().map(Clause::Require));
    let motion = &motion;
    match expected::expect(motion, machine, interface) {
        Ok(expected) => {
            let guards = guards::guards(motion, machine, interface, &expected.names);
            let mut agreement = Agreement {
                motion,
                machine,
                interface,
                expected,
                guards,
                resolver: Resolver::default(),
                list: Vec::new(),
            };
            agreement.all(lifted);
            agreement.list
        }
        Err(why) => vec![Agreement::refused(motion, why)],
    }
}

struct Agreement<'a> {
    motion: &'a Motion,
    machine: &'a Machine,
    interface: &'a Interface,
    expected: Expected,
    guards: Vec<Guard>,
    resolver: Resolver,
    list: Vec<Obligation>,
}

impl Agreement<'_> {
    fn refused(motion: &Motion, why: String) -> Obligation {
        let formula = Formula {
            variables: Vec::new(),
            hypotheses: Vec::new(),
            goal: Condition::False,
            hints: Vec::new(),
        };
        Obligation {
            id: format!("{}/text", motion.name),
            routine: motion.name.clone(),
            promise: None,
            kind: Kind::SameMove,
            why,
            span: motion.span,
            because: None,
            formula,
            easier: Vec::new(),
            check: None,
        }
    }

    fn all(&mut self, lifted: &Lifted) {
        self.names(lifted);
        let runs = |c: &&Course| !refuses(c);
        if !lifted.courses.iter().any(|c| runs(&c)) {
            self.broken(Kind::Admitted, "the text raises an alarm whatever happens", self.motion.span);
        }
        let mut alarms: Vec<&Course> = Vec::new();
        let mut moving: Vec<&Course> = Vec::new();
        for course in &lifted.courses {
            self.tidy(course);
            let (known, goes_on) = match course.end {
                Ending::Alarm { .. } => (&mut alarms, false),
                Ending::Return | Ending::End if refuses(course) => (&mut alarms, false),
                Ending::Return | Ending::End => (&mut moving, true),
            };
            // Courses that differ in the modes of the caller alone are one.
            let same = |k: &&Course| {
                let fit = |c: &Course| guards::fit(c, self.machine);
                // Before the guards of sizes, courses differ by the modes alone.
                let alike = k.facts == course.facts && k.end == course.end && fit(k) == fit(course);
                alike && (goes_on || k.entry == course.entry || fit(k)) && (!goes_on || k.acts == course.acts)
            };
            if !known.iter().any(same) {
                known.push(course);
            }
        }
        for course in &alarms {
            self.admits(course);
        }
        for course in &moving {
            self.refuses(course);
            self.moves(course);
        }
        for need in &lifted.needs {
            if OF_THE_MOTION.contains(&need.code) {
                continue;
            }
            let facts: Vec<Condition> = need.facts.iter().map(|f| self.resolver.condition(f)).collect();
            let goal = self.resolver.condition(&need.condition);
            self.add(Kind::Computable, &format!("not so: {}", need.message), self.motion.span, &facts, goal);
        }
    }

    /// Names that the text gave, told in the motion's: an argument or its default is the parameter.
    fn names(&mut self, lifted: &Lifted) {
        let mut defaults: Vec<(Symbol, Dimension, Expr, Expr, Span)> = Vec::new();
        for joined in &lifted.joined {
            let parameter = self.parameter(joined);
            match parameter {
                Some((symbol, dimension, default, vacant, span)) => {
                    let value = in_text(&Expr::symbol(&symbol), dimension, self.machine);
                    self.resolver.name(&joined.symbol, value);
                    if !defaults.iter().any(|d| d.0 == symbol && d.3 == vacant) {
                        defaults.push((symbol, dimension, default, vacant, span));
                    }
                }
                None => self.resolver.name(&joined.symbol, joined.value()),
            }
        }
        for (symbol, dimension, default, vacant, span) in defaults {
            let default = default.substitute(&|s| self.expected.names.get(s).cloned());
            let scale = Expr::number(scale(dimension, self.machine));
            let goal = Condition::equal(self.resolver.expr(&vacant) * scale, default);
            let why = format!("`{symbol}` gets its default where it is left out");
            self.add(Kind::SameDefault, &why, span, &[], goal);
        }
    }

    /// The parameter that a joined value is: what was supplied, else its default.
    fn parameter(&self, joined: &Joined) -> Option<(Symbol, Dimension, Expr, Expr, Span)> {
        let is = |symbol: &Symbol| {
            let variable = self.interface.variables.get(symbol);
            variable == Some(&joined.variable)
        };
        let vacant = |symbol: &Symbol, dimension: Dimension| {
            let supplied = in_text(&argument(symbol), dimension, self.machine);
            let given = Condition::not_equal(Expr::symbol(&given(symbol)), Expr::zero());
            if joined.condition == given && joined.yes == supplied {
                Some(joined.no.clone())
            } else if joined.condition == given.negated() && joined.no == supplied {
                Some(joined.yes.clone())
            } else {
                None
            }
        };
        if let Some(p) = self.motion.parameters.iter().find(|p| is(&p.symbol)) {
            let vacant = vacant(&p.symbol, p.dimension)?;
            return Some((p.symbol.clone(), p.dimension, p.default.clone()?, vacant, p.span));
        }
        let variables = self.interface.centre?;
        let (symbol, _) = centre().into_iter().zip(variables).find(|(_, v)| *v == joined.variable)?;
        let vacant = vacant(&symbol, Dimension::LENGTH)?;
        Some((symbol, Dimension::LENGTH, Expr::zero(), vacant, self.motion.span))
    }

    /// What holds of every course without any proof: how it ends, and what it leaves behind.
    fn tidy(&mut self, course: &Course) {
        let span = self.motion.span;
        let called = self.interface.called;
        match &course.end {
            Ending::Alarm { text, .. } if !course.acts.is_empty() => {
                let why = format!("the alarm `{text}` comes after a move");
                self.broken(Kind::Refused, &why, span);
            }
            Ending::Alarm { text, .. } if !called => {
                self.broken(Kind::Admitted, &format!("it raises the alarm `{text}`"), span);
            }
            Ending::Alarm { .. } => {}
            Ending::Return if called => {}
            Ending::End if !called => {}
            Ending::Return | Ending::End => {
                self.broken(Kind::LeftAlone, "it ends in another way than it should", span);
            }
        }
        if !called {
            return;
        }
        if !course.changed.is_empty() {
            let names: Vec<_> = course.changed.iter().copied().collect();
            let why = format!("changed at its end: {}", names.join(", "));
            self.broken(Kind::LeftAlone, &why, span);
        }
        if let Some(variable) = course.written.first() {
            self.broken(Kind::LeftAlone, &format!("it writes #{variable}, which is not its own"), span);
        }
        if !refuses(course) && !guards::fit(course, self.machine) {
            let why =
                "it moves with the other units, with cutter compensation on or with the length offset off";
            self.broken(Kind::Refused, why, span);
        }
    }

    /// A course that refuses does so for the reason that its alarm names, and no earlier one.
    fn admits(&mut self, course: &Course) {
        let facts: Vec<Condition> = course.facts.iter().map(|f| self.resolver.condition(f)).collect();
        let (number, text) = match &course.end {
            Ending::Alarm { number, text } => (expected::whole(number), text.clone()),
            Ending::Return | Ending::End => (None, "a stop".to_owned()),
        };
        let named = |g: &Guard| g.number.is_none() || g.number.map(i64::from) == number || number.is_none();
        let guards = self.guards.clone();
        let mut reasons: Vec<Vec<Condition>> = Vec::new();
        for (i, guard) in guards.iter().enumerate().filter(|(_, g)| named(g)) {
            let before = guards.iter().take(i).map(|g| g.holds(course, self.machine));
            let all: Vec<Condition> = before.chain([guard.fails(course, self.machine)]).collect();
            if !all.contains(&Condition::False) {
                reasons.push(all);
            }
        }
        let span = self.motion.span;
        match reasons.as_slice() {
            [] => self.broken(Kind::Admitted, &format!("nothing calls for the alarm `{text}`"), span),
            [only] => {
                let why = format!("the alarm `{text}` is raised for its reason");
                for goal in only {
                    self.follows(Kind::Admitted, &why, span, &facts, goal);
                }
            }
            several => {
                let goal = Condition::any(several.iter().map(|all| Condition::all(all.iter().cloned())));
                let why = format!("the alarm `{text}` is raised for one of its reasons");
                self.settled(Kind::Admitted, &why, span, &facts, &goal, &[]);
            }
        }
    }

    /// A course that moves is taken by admitted sizes only.
    fn refuses(&mut self, course: &Course) {
        let facts: Vec<Condition> = course.facts.iter().map(|f| self.resolver.condition(f)).collect();
        for guard in self.guards.clone() {
            let goal = guard.holds(course, self.machine);
            self.follows(Kind::Refused, &guard.what, guard.span, &facts, &goal);
        }
    }

    /// An obligation that follows from the facts that speak of the same names; none, where it is one of them.
    fn follows(&mut self, kind: Kind, why: &str, span: Span, facts: &[Condition], goal: &Condition) {
        if let Condition::And(parts) = goal {
            for part in parts {
                self.follows(kind, why, span, facts, part);
            }
        } else if *goal != Condition::True && !facts.contains(goal) {
            let few = related(facts, goal);
            let shown = |o: &Obligation| o.formula == formula(self.motion, &self.expected.loops, &few, goal);
            if !self.list.iter().any(shown) {
                self.settled(kind, why, span, &few, goal, &[]);
            }
        }
    }

    /// What the text may take for granted of sizes that are admitted.
    fn granted(&self) -> Vec<Condition> {
        let mut granted = Vec::new();
        for guard in &self.guards {
            match &guard.test {
                Test::Entry(_) => {}
                Test::Size { granted: Condition::And(parts), .. } => granted.extend(parts.iter().cloned()),
                Test::Size { granted: one, .. } => granted.push(one.clone()),
            }
        }
        granted
    }

    /// A course that moves does what the motion does.
    fn moves(&mut self, course: &Course) {
        let facts: Vec<Condition> = course.facts.iter().map(|f| self.resolver.condition(f)).collect();
        let mut comparer = Comparer {
            tolerance: &self.interface.tolerance,
            loops: &self.expected.loops,
            main: !self.interface.called,
            resolver: self.resolver.clone(),
            matters: Vec::new(),
            facts: Vec::new(),
        };
        comparer.acts(&course.acts, &self.expected.acts, self.motion.span);
        if !self.interface.called && self.motion.job.is_some() {
            comparer.at_end(&course.state, &self.expected.state, self.motion.span);
        }
        for matter in comparer.matters {
            self.matter(matter, &facts);
        }
    }

    fn matter(&mut self, matter: Matter, facts: &[Condition]) {
        let Matter { kind, why, span, facts: turns, goal, easier } = matter;
        if goal == Condition::True {
            return;
        }
        let all: Vec<Condition> = facts.iter().chain(&turns).cloned().collect();
        for case in cases(goal) {
            let with = |facts: &[Condition]| facts.iter().chain(&case.facts).cloned().collect::<Vec<_>>();
            let few = related(&all, &case.goal);
            let sets = [with(&turns), with(&few), with(&near(&all, &case.goal))];
            self.settled(kind, &why, span, &with(&all), &case.goal, &sets);
            if let Some(last) = self.list.last_mut() {
                let simpler = easier.iter().map(|goal| {
                    let few = near(&all, goal);
                    formula(self.motion, &self.expected.loops, &few, goal)
                });
                last.easier.splice(0..0, simpler);
            }
        }
    }

    fn broken(&mut self, kind: Kind, why: &str, span: Span) {
        self.settled(kind, why, span, &[], &Condition::False, &[]);
    }

    /// An obligation under what admitted sizes grant.
    fn add(&mut self, kind: Kind, why: &str, span: Span, facts: &[Condition], goal: Condition) {
        let mut granted = self.granted();
        granted.extend(facts.iter().cloned());
        for case in cases(goal) {
            let all: Vec<Condition> = granted.iter().chain(&case.facts).cloned().collect();
            let sets = [related(&all, &case.goal), near(&all, &case.goal)];
            self.settled(kind, why, span, &all, &case.goal, &sets);
        }
    }

    /// An obligation; the same with fewer facts is tried first.
    fn settled(
        &mut self,
        kind: Kind,
        why: &str,
        span: Span,
        facts: &[Condition],
        goal: &Condition,
        fewer: &[Vec<Condition>],
    ) {
        let whole = formula(self.motion, &self.expected.loops, facts, goal);
        let mut easier: Vec<Formula> = Vec::new();
        for facts in fewer {
            let formula = formula(self.motion, &self.expected.loops, facts, goal);
            if formula != whole && !easier.contains(&formula) {
                easier.push(formula);
            }
        }
        if self.list.iter().any(|o| o.kind == kind && o.formula == whole && o.why == why) {
            return;
        }
        let short = kind.phrases().short.replace(' ', "-");
        self.list.push(Obligation {
            id: format!("{}/text/{short}-{}", self.motion.name, self.list.len() + 1),
            routine: self.motion.name.clone(),
            promise: None,
            kind,
            why: why.to_owned(),
            span,
            because: None,
            formula: whole,
            easier,
            check: None,
        });
    }
}

/// Whether a course only refuses: with an alarm, or with a stop and nothing else.
fn refuses(course: &Course) -> bool {
    let stops = matches!(course.acts.as_slice(), [Act { kind: ActKind::Stop(_), .. }]);
    matches!(course.end, Ending::Alarm { .. }) || stops
}

/// The facts that speak of nothing but what the goal speaks of.
fn related(facts: &[Condition], goal: &Condition) -> Vec<Condition> {
    let symbols = goal.symbols();
    facts.iter().filter(|f| f.symbols().is_subset(&symbols)).cloned().collect()
}

/// The facts that speak of what facts about the goal speak of.
fn near(facts: &[Condition], goal: &Condition) -> Vec<Condition> {
    let mut symbols = goal.symbols();
    let touching = facts.iter().map(Condition::symbols).filter(|s| !s.is_disjoint(&symbols));
    let more: Vec<Symbol> = touching.flatten().collect();
    symbols.extend(more);
    facts.iter().filter(|f| f.symbols().is_subset(&symbols)).cloned().collect()
}

fn formula(
    motion: &Motion,
    counters: &BTreeMap<Symbol, Turns>,
    facts: &[Condition],
    goal: &Condition,
) -> Formula {
    let mut symbols: BTreeSet<Symbol> = goal.symbols();
    symbols.extend(facts.iter().flat_map(Condition::symbols));
    let parameters: BTreeMap<&Symbol, _> = motion.parameters.iter().map(|p| (&p.symbol, p)).collect();
    let variable = |symbol: Symbol| {
        let parameter = parameters.get(&symbol);
        // A count may come with any value: that it is whole is for the text to test.
        let counter = counters.contains_key(&symbol) || is_counter(symbol.name());
        Variable {
            sort: if counter && parameter.is_none() { Sort::Whole } else { Sort::Real },
            dimension: parameter.map_or(Dimension::RATIO, |p| p.dimension),
            inch: parameter.is_some_and(|p| p.inch),
            definition: None,
            symbol,
        }
    };
    let hypothesis = |condition: &Condition| Hypothesis {
        condition: condition.clone(),
        kind: HypothesisKind::Path,
        span: None,
    };
    Formula {
        variables: symbols.into_iter().map(variable).collect(),
        hypotheses: facts.iter().map(hypothesis).collect(),
        goal: goal.clone(),
        hints: Vec::new(),
    }
}

/// Names of counters and of whether an argument is supplied: whole numbers.
fn is_counter(name: &str) -> bool {
    name.starts_with("turn.") || [".given", ".index", ".count"].iter().any(|end| name.ends_with(end))
}
