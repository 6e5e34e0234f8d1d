//! From a motion and a text that was lifted to every formula that must hold for the two to agree.
//!
//! For every value of every argument, vacant ones and values out of range among them, and for every mode at
//! entry that the text can ask for: either the text raises an alarm before anything moves and before any mode
//! changes, and the motion does not admit the values; or text and motion do the same things in the same order,
//! and the modes are left as they were found. Expressions are compared as reals; what the text rounds to
//! decimals is compared within that rounding.

mod ceilings;
mod compare;
mod expected;
mod guards;
mod interface;
mod names;
mod ratio;
mod resolve;
mod settle;
mod vacant;

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::Span;
use borewright_machine::Machine;
use borewright_motion::{
    Act, ActKind, Clause, Condition, Course, Ending, Expr, Joined, Lifted, Motion, Parameter, Promise,
    Relation, Symbol, calls,
};
use borewright_number::{Dimension, Rounding};

use crate::engine::well_defined;
use crate::{Formula, Hypothesis, HypothesisKind, Kind, Obligation, Sort, Variable};
use compare::{Comparer, Matter, Role};
use expected::{Expected, Turns};
use guards::{Guard, Test};
use interface::{argument, centre, decimals, given, in_text, scale};
use names::{Names, of_parts};
use resolve::{Resolver, cases};
use vacant::Case;

pub use interface::{Given, Interface, Tolerance, Wear};
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
            let mut guards = guards::guards(motion, machine, interface, &expected.names);
            for guard in &mut guards {
                if let Test::Size { granted, required } = &mut guard.test {
                    *granted = expected.ceilings.condition(granted);
                    *required = expected.ceilings.condition(required);
                }
            }
            let mut agreement = Agreement {
                motion,
                machine,
                interface,
                expected,
                guards,
                resolver: Resolver::default(),
                told: BTreeSet::new(),
                ceilings: Vec::new(),
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
    /// Parameters that are names of the text: what was supplied, else the default.
    told: BTreeSet<Symbol>,
    /// What the text rounds up a little less of.
    ceilings: Vec<ceilings::Match>,
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
        self.letters();
        self.names(lifted);
        let own = self.resolver.clone();
        self.ceilings(lifted);
        let runs = |c: &&Course| !refuses(c);
        if !lifted.courses.iter().any(|c| runs(&c)) {
            let why = "the text raises an alarm whatever happens";
            self.broken(Kind::Admitted, why, self.motion.span, &[]);
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
            for (case, facts) in self.cases(course) {
                self.rounded_up(&case, &facts);
                self.admits(course, &case, &facts);
            }
        }
        for course in &moving {
            for (case, facts) in self.cases(course) {
                self.rounded_up(&case, &facts);
                self.refuses(course, &case, &facts);
                self.moves(course, &case, &facts);
            }
        }
        for need in &lifted.needs {
            if OF_THE_MOTION.contains(&need.code) {
                continue;
            }
            // What the text itself works out counts here, not what the motion says of it.
            let facts: Vec<Condition> = need.facts.iter().map(|f| own.condition(f)).collect();
            let goal = own.condition(&need.condition);
            self.add(Kind::Computable, &format!("not so: {}", need.message), self.motion.span, &facts, goal);
        }
    }

    /// Names for what the text rounds up a little less of than its motion does.
    fn ceilings(&mut self, lifted: &Lifted) {
        let Some(part) = &self.interface.tolerance.rounded_up else { return };
        let joined = lifted.joined.iter().map(|j| Expr::symbol(&j.symbol));
        let all = joined.chain(lifted.courses.iter().flat_map(ceilings::exprs));
        let mut exprs: Vec<Expr> = Vec::new();
        for expr in all.map(|e| self.resolver.expr(&e)) {
            if !exprs.contains(&expr) {
                exprs.push(expr);
            }
        }
        self.ceilings = self.expected.ceilings.matches(&exprs, part);
        for found in &self.ceilings {
            self.resolver.round_up(found.text.clone(), found.name.clone());
        }
    }

    /// Where a course uses what the text rounds up, it is what the motion rounds up there, but for a small part.
    fn rounded_up(&mut self, case: &Case, facts: &[Condition]) {
        for found in self.ceilings.clone() {
            let named = |f: &&Condition| found.name.as_symbol().is_some_and(|s| f.symbols().contains(s));
            if !facts.iter().any(|f| named(&f)) {
                continue;
            }
            let known: Vec<Condition> = facts.iter().filter(|f| !named(f)).cloned().collect();
            for (why, goal) in &found.goals {
                let goal = case.condition(goal);
                if goal != Condition::True {
                    self.settled(
                        Kind::SameCount,
                        why,
                        self.motion.span,
                        &known,
                        &goal,
                        &[near(&known, &goal)],
                    );
                }
            }
        }
    }

    /// A letter that the author fixed fills the variable that the text takes for it.
    fn letters(&mut self) {
        let letters = &self.machine.calls.letters;
        let wrong = |p: &&Parameter| {
            let own = p.letter.and_then(|letter| letters.get(&letter));
            let taken = self.interface.variables.get(&p.symbol).filter(|v| letters.values().any(|l| l == *v));
            own.is_some() && taken.is_some() && own != taken
        };
        let found = self.motion.parameters.iter().find(wrong).map(|p| (p.symbol.clone(), p.span));
        if let Some((symbol, span)) = found {
            self.broken(Kind::SameDefault, &format!("`{symbol}` comes in by another letter"), span, &[]);
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
                    self.told.insert(symbol.clone());
                    if !defaults.iter().any(|d| d.0 == symbol && d.3 == vacant) {
                        defaults.push((symbol, dimension, default, vacant, span));
                    }
                }
                None => self.resolver.name(&joined.symbol, chosen(joined)),
            }
        }
        for (symbol, dimension, default, vacant, span) in defaults {
            let default = default.substitute(&|s| self.expected.names.get(s).cloned());
            let goal = self.stands_for(&self.resolver.expr(&vacant), &default, dimension);
            let why = format!("`{symbol}` gets its default where it is left out");
            self.add(Kind::SameDefault, &why, span, &[], goal);
        }
    }

    /// That what a text takes for a vacant argument is the default. A number that does not end within the decimals of
    /// the text is the one before it or behind it that does: any size of the range would be right, and which one is
    /// taken stands in the header.
    fn stands_for(&self, vacant: &Expr, default: &Expr, dimension: Dimension) -> Condition {
        let scale = scale(dimension, self.machine);
        let made = || vacant.clone() * Expr::number(scale.clone());
        let Some(number) = default.as_number() else { return Condition::equal(made(), default.clone()) };
        let decimals = decimals(dimension, self.machine);
        let beside = [Rounding::Down, Rounding::Up].map(|r| (number / &scale).rounded(decimals, r) * &scale);
        Condition::any(beside.map(|number| Condition::equal(made(), Expr::number(number))))
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
            let measured = self.interface.measured(p);
            let vacant = vacant(&p.symbol, measured)?;
            return Some((p.symbol.clone(), measured, p.default.clone()?, vacant, p.span));
        }
        let variables = self.interface.centre?;
        let (symbol, _) = centre().into_iter().zip(variables).find(|(_, v)| *v == joined.variable)?;
        let vacant = vacant(&symbol, Dimension::LENGTH)?;
        Some((symbol, Dimension::LENGTH, Expr::zero(), vacant, self.motion.span))
    }

    /// Who states what the machine does besides moving.
    fn role(&self) -> Role {
        match (self.interface.called, &self.motion.job) {
            (true, _) => Role::Called,
            (false, None) => Role::Fragment,
            (false, Some(_)) => Role::Job,
        }
    }

    /// Names that stand for whole numbers.
    fn whole(&self) -> BTreeSet<Symbol> {
        let parameters = self.motion.parameters.iter().filter(|p| p.whole).map(|p| p.symbol.clone());
        parameters.chain(self.expected.loops.keys().cloned()).collect()
    }

    /// What a course knows, in the names of the motion.
    fn facts(&self, course: &Course) -> Vec<Condition> {
        let mut facts: Vec<Condition> = course.facts.iter().map(|f| self.resolver.condition(f)).collect();
        // A course that moves may use what was rounded up without ever asking about it.
        let moves = !course.acts.is_empty() && !refuses(course);
        let told = if moves {
            self.ceilings.iter().flat_map(ceilings::Match::facts).collect()
        } else {
            ceilings::facts_of(&self.ceilings, facts.iter())
        };
        facts.extend(told);
        facts
    }

    /// The cases of a course by the arguments that it tells apart, each with its facts.
    fn cases(&self, course: &Course) -> Vec<(Case, Vec<Condition>)> {
        let facts = self.facts(course);
        let cases = vacant::cases(&facts, self.motion, &self.expected.names, &self.told);
        let with = |case: Case| {
            let facts = facts.iter().map(|f| case.condition(f)).filter(|f| *f != Condition::True).collect();
            (case, facts)
        };
        cases.into_iter().map(with).collect()
    }

    /// How a course ends, and what it leaves behind: nothing of that hangs on sizes, unless it cannot be taken.
    fn tidy(&mut self, course: &Course) {
        let facts = self.facts(course);
        for (kind, why) in self.untidy(course) {
            self.broken(kind, &why, self.motion.span, &facts);
        }
    }

    fn untidy(&self, course: &Course) -> Vec<(Kind, String)> {
        let called = self.interface.called;
        let mut found = Vec::new();
        match &course.end {
            Ending::Alarm { text, .. } if !course.acts.is_empty() => {
                found.push((Kind::Refused, format!("the alarm `{text}` comes after a move")));
            }
            Ending::Alarm { text, .. } if !called && self.interface.wear.is_empty() => {
                found.push((Kind::Admitted, format!("it raises the alarm `{text}`")));
            }
            Ending::Alarm { .. } => {}
            Ending::Return if called => {}
            Ending::End if !called => {}
            Ending::Return | Ending::End => {
                found.push((Kind::LeftAlone, "it ends in another way than it should".to_owned()));
            }
        }
        let variables = &self.machine.variables;
        let common = |v: &u32| variables.common.iter().any(|range| range.contains(*v));
        if let Some(variable) = course.written.iter().find(|v| called || !common(v)) {
            found.push((Kind::LeftAlone, format!("it writes #{variable}, which is not its own")));
        }
        if called && !course.changed.is_empty() {
            let names: Vec<_> = course.changed.iter().copied().collect();
            found.push((Kind::LeftAlone, format!("changed at its end: {}", names.join(", "))));
        }
        if called && !refuses(course) && !guards::fit(course, self.machine) {
            let why =
                "it moves with the other units, with cutter compensation on or with the length offset off";
            found.push((Kind::Refused, why.to_owned()));
        }
        found
    }

    /// A course that refuses does so for the reason that its alarm names, and no earlier one.
    fn admits(&mut self, course: &Course, case: &Case, facts: &[Condition]) {
        let (number, text) = match &course.end {
            Ending::Alarm { number, text } => (expected::whole(number), text.clone()),
            Ending::Return | Ending::End => (None, "a stop".to_owned()),
        };
        let guards = self.guards.clone();
        let mut reasons: Vec<Vec<Condition>> = Vec::new();
        for (i, guard) in guards.iter().enumerate().filter(|(_, g)| g.is_named(number, &text)) {
            // Where alarms have no numbers, it does not show which one came first.
            let earlier = if number.is_some() { i } else { 0 };
            let before = guards.iter().take(earlier).map(|g| g.holds(course, self.machine));
            let all = before.chain([guard.fails(course, self.machine)]).map(|c| case.condition(&c));
            let all: Vec<Condition> = all.collect();
            if !all.contains(&Condition::False) {
                reasons.push(all);
            }
        }
        let span = self.motion.span;
        match reasons.as_slice() {
            [] => {
                let why = format!("nothing calls for the alarm `{text}`");
                self.broken(Kind::Admitted, &why, span, facts);
            }
            [only] => {
                let why = format!("the alarm `{text}` is raised for its reason");
                for goal in only {
                    self.follows(Kind::Admitted, &why, span, facts, goal);
                }
            }
            several => {
                let why = format!("the alarm `{text}` is raised for one of its reasons");
                self.one_of(several, &why, facts);
            }
        }
    }

    /// A course that refuses for one of several reasons; each of the questions that led to it may have another.
    fn one_of(&mut self, reasons: &[Vec<Condition>], why: &str, facts: &[Condition]) {
        let all = |reason: &Vec<Condition>| Condition::all(reason.iter().cloned());
        let goal = Condition::any(reasons.iter().map(all));
        let choice = facts.iter().position(|f| matches!(f, Condition::Or(_)));
        let ways = match choice.and_then(|at| facts.get(at)) {
            Some(Condition::Or(parts)) => parts.clone(),
            _ => vec![Condition::True],
        };
        for way in ways {
            let mut known: Vec<Condition> = facts
                .iter()
                .enumerate()
                .filter(|(i, _)| Some(*i) != choice)
                .map(|(_, f)| f.clone())
                .collect();
            if let Condition::And(parts) = &way {
                known.extend(parts.iter().cloned());
            } else if way != Condition::True {
                known.push(way.clone());
            }
            let shown = |c: &Condition| {
                let part = matches!(c, Condition::Or(parts) if parts.iter().any(|p| known.contains(p)));
                part || known.contains(c)
            };
            if reasons.iter().any(|reason| reason.iter().all(shown)) {
                continue;
            }
            if self.settled(Kind::Admitted, why, self.motion.span, &known, &goal, &[]) {
                let alike = |goal: &Condition| !goal.symbols().is_disjoint(&way.symbols());
                let own: Vec<Formula> = reasons
                    .iter()
                    .map(all)
                    .filter(alike)
                    .flat_map(|goal| self.formulas(&related(&known, &goal), &goal))
                    .collect();
                self.put_first(own);
            }
        }
    }

    /// Easier formulas of the last obligation, to be tried before the others.
    fn put_first(&mut self, formulas: Vec<Formula>) {
        if let Some(own) = self.list.last_mut() {
            own.easier.splice(0..0, formulas);
        }
    }

    /// A course that moves is taken by admitted sizes only.
    fn refuses(&mut self, course: &Course, case: &Case, facts: &[Condition]) {
        for guard in self.guards.clone() {
            let goal = case.condition(&guard.holds(course, self.machine));
            self.follows(Kind::Refused, &guard.what, guard.span, facts, &goal);
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
            let shown = |o: &Obligation| o.formula == self.formula(&few, goal);
            if !self.list.iter().any(shown) {
                self.settled(kind, why, span, &few, goal, &[]);
            }
        }
    }

    /// What a text has made sure of when it goes on: somewhat more sizes than the motion admits.
    fn required(&self) -> Vec<Condition> {
        let mut all = Vec::new();
        for guard in &self.guards {
            match &guard.test {
                Test::Entry(_) => {}
                Test::Size { required: Condition::And(parts), .. } => all.extend(parts.iter().cloned()),
                Test::Size { required: one, .. } => all.push(one.clone()),
            }
        }
        all
    }

    /// A course that moves does what the motion does.
    fn moves(&mut self, course: &Course, case: &Case, facts: &[Condition]) {
        let mut comparer = Comparer {
            tolerance: &self.interface.tolerance,
            loops: &self.expected.loops,
            role: self.role(),
            compensation: has_compensation(self.machine),
            whole: self.whole(),
            smooth: promises_smooth(self.motion),
            resolver: self.resolver.clone(),
            matters: Vec::new(),
            facts: Vec::new(),
            most: Vec::new(),
        };
        comparer.acts(&course.acts, &self.expected.acts, self.motion.span);
        if self.role() == Role::Job {
            comparer.at_end(&course.state, &self.expected.state, self.motion.span);
        }
        for matter in comparer.matters {
            let put = |c: &Condition| case.condition(c);
            let matter = Matter {
                goal: put(&matter.goal),
                facts: matter.facts.iter().map(put).collect(),
                easier: matter.easier.iter().map(put).collect(),
                ..matter
            };
            self.matter(matter, facts);
        }
    }

    fn matter(&mut self, matter: Matter, facts: &[Condition]) {
        let Matter { kind, why, span, facts: turns, goal, easier } = matter;
        if goal == Condition::True {
            return;
        }
        let all: Vec<Condition> = facts.iter().chain(&turns).cloned().collect();
        let names = Names::of_tables([&goal]);
        for case in cases(names.put(&goal)) {
            let case = case.with(&names);
            let with = |facts: &[Condition]| facts.iter().chain(&case.facts).cloned().collect::<Vec<_>>();
            let few = related(&all, &case.goal);
            let here: Vec<Condition> = all.iter().map(|fact| case.within(fact)).collect();
            let sets =
                [with(&turns), with(&few), with(&near(&all, &case.goal)), with(&related(&here, &case.goal))];
            // What is listed already has its easier formulas.
            if !self.settled(kind, &why, span, &with(&all), &case.goal, &sets) {
                continue;
            }
            let simpler: Vec<Formula> =
                easier.iter().flat_map(|goal| self.formulas(&near(&all, goal), goal)).collect();
            self.put_first(simpler);
        }
    }

    /// Something that is wrong wherever the facts can hold.
    fn broken(&mut self, kind: Kind, why: &str, span: Span, facts: &[Condition]) {
        self.settled(kind, why, span, facts, &Condition::False, &[]);
    }

    /// An obligation under what a text has made sure of.
    fn add(&mut self, kind: Kind, why: &str, span: Span, facts: &[Condition], goal: Condition) {
        let mut required = self.required();
        required.extend(facts.iter().cloned());
        let names = Names::of_counts(facts, &goal);
        for case in cases(names.put(&goal)) {
            let named = [facts, &case.facts].concat().iter().map(|c| names.put(c)).collect::<Vec<_>>();
            let near_named = near(&named, &case.goal);
            let parts = of_parts(&near_named, &case.goal);
            let parts = parts.map(|(facts, goal)| self.formula(&near(&facts, &goal), &goal));
            let named = (!names.is_empty()).then(|| self.formula(&near_named, &case.goal));
            let case = case.with(&names);
            let all: Vec<Condition> = required.iter().chain(&case.facts).cloned().collect();
            // What the text itself has made sure of is often enough, and easier without a second bound for each value.
            let own: Vec<Condition> = facts.iter().chain(&case.facts).cloned().collect();
            let sets = [near(&own, &case.goal), related(&all, &case.goal), near(&all, &case.goal)];
            if self.settled(kind, why, span, &all, &case.goal, &sets) {
                self.put_first(parts.into_iter().chain(named).collect());
            }
        }
    }

    fn formula(&self, facts: &[Condition], goal: &Condition) -> Formula {
        formula(self.motion, &self.expected.loops, facts, goal)
    }

    /// The formula, and before it one with names for what is read off tables.
    fn formulas(&self, facts: &[Condition], goal: &Condition) -> Vec<Formula> {
        let plain = self.formula(facts, goal);
        let names = Names::of_tables(facts.iter().chain([goal]));
        if names.is_empty() {
            return vec![plain];
        }
        let goal = names.put(goal);
        let mut facts: Vec<Condition> = facts.iter().map(|f| names.put(f)).collect();
        let symbols = facts.iter().chain([&goal]).flat_map(Condition::symbols).collect();
        facts.extend(names.ranges(&symbols));
        let few = self.formula(&near(&facts, &goal), &goal);
        let all = self.formula(&facts, &goal);
        if few == all { vec![few, plain] } else { vec![few, all, plain] }
    }

    /// An obligation, where it is not listed yet; the same with fewer facts is tried first.
    fn settled(
        &mut self,
        kind: Kind,
        why: &str,
        span: Span,
        facts: &[Condition],
        goal: &Condition,
        fewer: &[Vec<Condition>],
    ) -> bool {
        let mut all = self.formulas(facts, goal);
        let Some(whole) = all.pop() else { return false };
        let mut easier: Vec<Formula> = Vec::new();
        let fewer = fewer.iter().filter_map(|facts| Some(self.formula(&defined(facts, goal)?, goal)));
        for formula in all.into_iter().chain(fewer) {
            if formula != whole && !easier.contains(&formula) {
                easier.push(formula);
            }
        }
        if self.list.iter().any(|o| o.kind == kind && o.formula == whole && o.why == why) {
            return false;
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
        true
    }
}

/// A joined value as a motion says it: where the text asks whether two differ, as a choice by whether they are equal.
fn chosen(joined: &Joined) -> Expr {
    if matches!(joined.condition, Condition::Compare(Relation::NotEqual, ..)) {
        Expr::choose(joined.condition.negated(), joined.no.clone(), joined.yes.clone())
    } else {
        joined.value()
    }
}

/// Whether texts for a machine switch cutter radius compensation off, or read whether it is on.
fn has_compensation(machine: &Machine) -> bool {
    let words = [&machine.words.safe_start, &machine.words.routine_start];
    machine.modes.compensation.is_some() || words.iter().any(|w| w.split_whitespace().any(|w| w == "G40"))
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

/// The facts that can be well defined for all that those before them say; `None` where the goal cannot. To look for a
/// proof of what may divide by a name of which nothing is known would take long, and in vain.
fn defined(facts: &[Condition], goal: &Condition) -> Option<Vec<Condition>> {
    let mut known = BTreeSet::new();
    let mut kept = Vec::new();
    for fact in facts {
        if well_defined(fact).symbols().is_subset(&known) {
            known.extend(fact.symbols());
            kept.push(fact.clone());
        }
    }
    well_defined(goal).symbols().is_subset(&known).then_some(kept)
}

/// Names of counters and of whether an argument is supplied: whole numbers.
fn is_counter(name: &str) -> bool {
    name.starts_with("turn.") || [".given", ".index", ".count"].iter().any(|end| name.ends_with(end))
}

/// Whether a motion, or a routine that it calls, promises that the edge leaves no mark.
fn promises_smooth(motion: &Motion) -> bool {
    let own = motion.made.iter().any(|m| m.promises.iter().any(|(p, _)| *p == Promise::Smooth));
    own || calls(&motion.body).iter().any(|(call, _)| promises_smooth(&call.routine))
}
