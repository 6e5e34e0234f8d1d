//! The calls in a main program: the way to the travel height, then one block that calls, with its arguments.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::{Diagnostic, Span};
use borewright_motion::{
    Action, FlatAction, FlatStep, Limits, Parameter, Relation, Spot, Step, Symbol, Value, bind, evaluate,
    evaluate_with, unroll,
};
use borewright_number::{Dimension, Interval, Rational, Rounding};

use super::counted::Round;
use super::{Context, Emitter};
use crate::errors;
use crate::job::{Subprogram, travel_symbol};
use crate::number::pointed;
use crate::wear::{self, Worn};
use crate::writer::Block;

/// A routine that is called at a place.
pub(super) struct Entered<'s> {
    pub(super) routine: &'s str,
    pub(super) at: &'s Spot,
    pub(super) arguments: &'s [(Symbol, Dimension, Value)],
    /// What it does there.
    pub(super) inner: &'s [&'s FlatStep],
    pub(super) span: Span,
}

/// How a call gives the place of its routine.
pub(super) enum Centre<'s> {
    /// As numbers, rounded to the machine's decimals.
    Written(&'s Spot),
    /// In two variables that the program has worked out, off by so much at most, in the machine's unit.
    Computed { variables: [u32; 2], off: f64 },
}

/// A parameter, what the call gives it, and the same rounded.
pub(super) struct Argument<'p> {
    parameter: &'p Parameter,
    exact: Value,
    rounded: Rational,
}

impl<'m> Emitter<'m> {
    /// All steps; those of a routine that is a subprogram become its call.
    pub(super) fn steps(&mut self, steps: &[FlatStep]) -> Result<(), Diagnostic> {
        let mut inside = 0usize;
        for (i, step) in steps.iter().enumerate() {
            let rest = steps.get(i + 1..).unwrap_or_default();
            if let FlatAction::Enter { routine, at, place, places, arguments, around } = &step.action
                && !self.subprograms.is_empty()
            {
                if inside == 0 {
                    let entered = Entered { routine, at, arguments, inner: &within(rest), span: step.span };
                    match around.as_ref().and_then(|around| Round::of(around, step, *place, *places)) {
                        Some(round) => self.call_round(&entered, &round, step)?,
                        None => {
                            self.pass_comment(step);
                            let of = match places {
                                2.. => format!(", PLACE {place} OF {places}"),
                                _ => String::new(),
                            };
                            self.w.comment(&format!("{routine}{of}"));
                            self.call(&entered)?;
                        }
                    }
                }
                inside += 1;
            } else if step.action == FlatAction::Leave && inside > 0 {
                inside -= 1;
                self.at = self.target(&step.end, step.span)?;
                // The subprogram has set its own feeds.
                self.feed = None;
                self.deviation.pause();
            } else if inside == 0 {
                let before = i.checked_sub(1).and_then(|j| steps.get(j));
                self.step(step, &Context { before, after: rest.first() })?;
            }
        }
        Ok(())
    }

    /// What the main program calls.
    pub(super) fn list_calls(&mut self) {
        for sub in self.subprograms {
            let word = crate::header::program_word(sub.number, self.machine).unwrap_or_default();
            self.w.comment(&format!("CALLS {word} {}: LOAD BOTH", sub.routine.name));
        }
        let word = |number: &u32| crate::header::program_word(*number, self.machine).unwrap_or_default();
        match self.shared.as_slice() {
            [] => {}
            [only] => self.w.comment(&format!("CALLS {}: LOAD BOTH", word(only))),
            [first, .., last] => {
                self.w.comment(&format!("CALLS {} TO {}: LOAD ALL OF THEM", word(first), word(last)));
            }
        }
    }

    fn call(&mut self, entered: &Entered<'_>) -> Result<(), Diagnostic> {
        let sub = self.subprogram(entered)?;
        let travel = self.travel_above(entered)?;
        self.down_to_travel(entered, &travel)?;
        self.follows_wear(sub, entered.span)?;
        let centre = Centre::Written(entered.at);
        let given = self.given(sub, entered, &centre)?;
        self.call_block(sub, &given, &centre, &travel, entered.span)
    }

    pub(super) fn subprogram(&self, entered: &Entered<'_>) -> Result<&'m Subprogram, Diagnostic> {
        let found = self.subprograms.iter().find(|s| s.routine.name == entered.routine);
        found.ok_or_else(|| {
            let text = format!("the call of `{}` has no subprogram: our own fault", entered.routine);
            Diagnostic::error(errors::JOB_AS_MACRO, entered.span, text)
        })
    }

    /// The travel height, above all that the routine does.
    pub(super) fn travel_above(&self, entered: &Entered<'_>) -> Result<Value, Diagnostic> {
        let travel = self.travel(entered.span)?;
        let above = |s: &&FlatStep| {
            s.end.z.as_ref().is_some_and(|z| z.relates(Relation::Greater, &travel) == Some(true))
        };
        if entered.inner.iter().any(above) {
            let text = format!("`{}` goes higher than the travel height of the job", entered.routine);
            return Err(Diagnostic::error(errors::JOB_AS_MACRO, entered.span, text)
                .hint("state a greater `travel z`"));
        }
        Ok(travel)
    }

    /// What the call gives its routine. The moves there are off by what arguments and place are rounded by.
    pub(super) fn given<'s>(
        &mut self,
        sub: &'s Subprogram,
        entered: &Entered<'_>,
        centre: &Centre<'_>,
    ) -> Result<Vec<Argument<'s>>, Diagnostic> {
        let admitted = |steps_stated: bool| {
            let given = self.arguments(sub, entered, steps_stated);
            let off = self.admitted(sub, &given, entered, centre)?;
            Ok::<_, Diagnostic>((given, off))
        };
        // A step that the routine works out from rounded arguments may be a little short: then the call states it.
        let found = admitted(false);
        let (given, (plane, height)) =
            if found.is_err() && self.worn_now().is_none() { admitted(true).or(found) } else { found }?;
        self.deviation = self.deviation.and(sub.interface.deviation.moved(plane, height));
        Ok(given)
    }

    fn travel(&self, span: Span) -> Result<Value, Diagnostic> {
        let travel = self.motion.job.as_ref().map(|job| &job.travel);
        travel.and_then(|t| evaluate(t, &BTreeMap::new()).ok()).ok_or_else(|| {
            let text = "the travel height of a job in macro form must be a number";
            Diagnostic::error(errors::JOB_AS_MACRO, span, text)
        })
    }

    /// A subprogram begins at the travel height, with the length offset on. From the machine's home that is
    /// reached above the place to which the routine itself would go first.
    pub(super) fn down_to_travel(&mut self, entered: &Entered<'_>, travel: &Value) -> Result<(), Diagnostic> {
        let Entered { at, inner, span, .. } = *entered;
        if self.at[2].is_none() {
            let first = inner.iter().find(|s| s.action == FlatAction::Rapid && s.end.x.is_some());
            let (x, y) = match first.map(|s| (s.end.x.clone(), s.end.y.clone())) {
                Some((Some(x), Some(y))) => (x, y),
                _ => (at.x.clone(), at.y.clone()),
            };
            if let Some(offset) = self.work_pending.take() {
                self.w.block(Block::code(&offset), span);
            }
            let (x, y) = (self.digits.steps(&x, span)?, self.digits.steps(&y, span)?);
            let target = [Some(x), Some(y), None];
            let block = self.plane_words(Block::code("G0"), target, true);
            self.w.block(block, span);
            self.at = target;
            let z = self.digits.steps(travel, span)?;
            self.rapid_z(z, span);
        }
        Ok(())
    }

    /// What the call has to say: a value that the routine's default gives as well is left to it, but for the lengths of
    /// steps where those are to be stated.
    fn arguments<'s>(
        &self,
        sub: &'s Subprogram,
        entered: &Entered<'_>,
        steps_stated: bool,
    ) -> Vec<Argument<'s>> {
        let Entered { arguments, span, .. } = *entered;
        let stated = wear::call_at(&self.motion.body, span).filter(|_| self.worn_now().is_some());
        // With a cutter that may be corrected, what the author states stays, and a default follows the cutter.
        let own = |s: &Symbol| stated.map(|call| call.arguments.iter().any(|(name, _)| name == s));
        let facts = self.cutter_facts();
        let known = |s: &Symbol| {
            let given = arguments.iter().find(|(symbol, ..)| symbol == s).map(|(_, _, value)| value.clone());
            given.or_else(|| facts.get(s).cloned().map(Value::Exact))
        };
        let by_steps = steps(&sub.routine.body);
        let mut given = Vec::new();
        for parameter in &sub.routine.parameters {
            let Some(exact) = known(&parameter.symbol) else { continue };
            let default = parameter.default.as_ref().and_then(|d| evaluate_with(d, &known).ok());
            let left = own(&parameter.symbol).map_or(default.as_ref() == Some(&exact), |stated| !stated);
            let rounded = self.rounded_argument(sub, parameter, &exact);
            let stays = steps_stated && by_steps.contains(&parameter.symbol);
            // A default that is a number stands in the routine as its argument would be rounded.
            if sub.interface.vacant && left && !stays && default.is_some() {
                let number = parameter.default.as_ref().is_some_and(|d| d.as_number().is_some());
                if !number || exact.exact() == Some(&rounded) {
                    continue;
                }
            }
            given.push(Argument { parameter, exact, rounded });
        }
        given
    }

    /// The cutter in the spindle, where the operator may correct it.
    fn worn_now(&self) -> Option<&Worn> {
        self.worn.iter().find(|worn| Some(worn.wear.tool) == self.tool)
    }

    /// All that hangs on the diameter must be worked out at the control.
    pub(super) fn follows_wear(&self, sub: &Subprogram, span: Span) -> Result<(), Diagnostic> {
        let Some(diameter) = wear::tied(&sub.routine).filter(|_| self.worn_now().is_some()) else {
            return Ok(());
        };
        let why = if !sub.interface.vacant {
            "on this machine every size of a call is worked out when the job is written"
        } else if wear::begins_by_diameter(&sub.routine, diameter) {
            "the place to which it goes first hangs on the diameter of the cutter"
        } else {
            return Ok(());
        };
        let text = format!("`{}` cannot follow the wear of its cutter: {why}", sub.routine.name);
        Err(Diagnostic::error(errors::WEAR, span, text).hint("leave `wear` out of the cutter"))
    }

    /// In base units, as the decimals of the machine have it, within the range that the routine takes.
    fn rounded_argument(&self, sub: &Subprogram, parameter: &Parameter, exact: &Value) -> Rational {
        let unit = self.argument_unit(sub, parameter);
        let value = exact.middle() / &unit;
        if sub.interface.rows.contains(&parameter.symbol) {
            return value;
        }
        // A step that is rounded down would be one step more.
        let way = if steps(&sub.routine.body).contains(&parameter.symbol) {
            Rounding::Up
        } else {
            Rounding::Nearest
        };
        crate::macros::fitted_by(&value, parameter, self.machine, way) * unit
    }

    fn argument_unit(&self, sub: &Subprogram, parameter: &Parameter) -> Rational {
        let length = parameter.dimension.length == 1 && !sub.interface.rows.contains(&parameter.symbol);
        if length { self.machine.unit() } else { Rational::ONE }
    }

    fn cutter_facts(&self) -> BTreeMap<Symbol, Rational> {
        let tool = self.tool.and_then(|i| self.motion.job.as_ref()?.tools.get(i));
        let facts = tool.into_iter().flat_map(|t| &t.fields);
        let value = |e| evaluate(e, &BTreeMap::new()).ok().map(|v| v.middle());
        facts.filter_map(|(field, e)| Some((field.symbol(), value(e)?))).collect()
    }

    /// The rounded arguments are held against the routine's ranges and requirements, and its motion at them
    /// against the exact one: how far they are apart along an axis, and in height.
    fn admitted(
        &self,
        sub: &Subprogram,
        given: &[Argument<'_>],
        entered: &Entered<'_>,
        centre: &Centre<'_>,
    ) -> Result<(f64, f64), Diagnostic> {
        let Entered { at, inner, span, .. } = *entered;
        let exact = given.iter().all(|g| g.exact.exact() == Some(&g.rounded));
        let values = given.iter().map(|g| (g.parameter.symbol.clone(), g.rounded.clone()));
        let values: BTreeMap<Symbol, Rational> = values.chain(self.cutter_facts()).collect();
        let refuse = |why: String| {
            let text = format!(
                "the arguments of this call, rounded to what the machine takes, are not admitted: {why}"
            );
            Diagnostic::error(errors::SIZES, span, text)
                .hint("give the routine sizes that end within the decimals of the machine")
        };
        bind(&sub.admits, &values).map_err(|e| refuse(e.to_string()))?;
        let placed = self.placed(at, centre);
        if exact {
            let unit = Interval::from_rational(&self.machine.unit());
            let off = |place: Interval, exact: &Value| ((place - exact.interval()) / unit).abs().hi;
            return Ok((off(placed.0, &at.x).max(off(placed.1, &at.y)), 0.0));
        }
        let steps = unroll(&sub.routine, &values, Limits::default()).map_err(|e| refuse(e.to_string()))?;
        let moves = |s: &&FlatStep| s.action != FlatAction::Retract;
        let (worked, wanted): (Vec<_>, Vec<_>) =
            (steps.iter().filter(moves).collect(), inner.iter().copied().filter(moves).collect());
        if worked.len() != wanted.len() {
            return Err(refuse("they give another number of moves".to_owned()));
        }
        Ok(self.apart(&worked, &wanted, placed))
    }

    /// Where the place that the call gives lies, in mm.
    fn placed(&self, at: &Spot, centre: &Centre<'_>) -> (Interval, Interval) {
        let place = |v: &Value| match centre {
            Centre::Written(_) => {
                let rounded = self.digits.exact_steps(&v.middle()).rounded(0, Rounding::Nearest);
                Interval::from_rational(&(rounded * self.machine.resolution()))
            }
            Centre::Computed { off, .. } => {
                let off = Interval::point(*off) * Interval::from_rational(&self.machine.unit());
                v.interval() + (-off).hull(off)
            }
        };
        (place(&at.x), place(&at.y))
    }

    /// How far the moves at rounded arguments are from the exact ones.
    fn apart(&self, worked: &[&FlatStep], wanted: &[&FlatStep], (x, y): (Interval, Interval)) -> (f64, f64) {
        let unit = Interval::from_rational(&self.machine.unit());
        let mut most = (0.0f64, 0.0f64);
        let off = |a: Option<&Value>, b: Option<&Value>, shift: Interval| match (a, b) {
            (Some(a), Some(b)) => ((a.interval() + shift - b.interval()) / unit).abs().hi,
            _ => 0.0,
        };
        for (a, b) in worked.iter().zip(wanted) {
            let plane =
                off(a.end.x.as_ref(), b.end.x.as_ref(), x).max(off(a.end.y.as_ref(), b.end.y.as_ref(), y));
            most.0 = most.0.max(plane);
            if let (FlatAction::Arc { about: p, .. }, FlatAction::Arc { about: q, .. }) =
                (&a.action, &b.action)
            {
                most.0 = most.0.max(off(Some(&p.x), Some(&q.x), x)).max(off(Some(&p.y), Some(&q.y), y));
            }
            most.1 = most.1.max(off(a.end.z.as_ref(), b.end.z.as_ref(), Interval::ZERO));
        }
        most
    }

    pub(super) fn call_block(
        &mut self,
        sub: &Subprogram,
        given: &[Argument<'_>],
        centre: &Centre<'_>,
        travel: &Value,
        span: Span,
    ) -> Result<(), Diagnostic> {
        let mut words: Vec<(Symbol, String)> = Vec::new();
        for g in given {
            let row = sub.interface.rows.contains(&g.parameter.symbol);
            let dimension = if row { Dimension::RATIO } else { g.parameter.dimension };
            let decimals = crate::macros::decimals(dimension, self.machine);
            let value = &g.rounded / &self.argument_unit(sub, g.parameter);
            let digits = pointed(&value, decimals);
            let tied = wear::tied(&sub.routine) == Some(&g.parameter.symbol);
            let digits = match self.worn_now().filter(|_| tied) {
                Some(worn) => worn.diameter(&digits),
                None => digits,
            };
            words.push((g.parameter.symbol.clone(), digits));
        }
        let length =
            |value: &Value| Ok::<_, Diagnostic>(self.digits.of_steps(self.digits.steps(value, span)?));
        words.push((travel_symbol(), length(travel)?));
        match (&sub.interface.centre, centre) {
            (Some((x, y)), Centre::Written(at)) => {
                words.push((x.clone(), length(&at.x)?));
                words.push((y.clone(), length(&at.y)?));
            }
            (Some((x, y)), Centre::Computed { variables: [vx, vy], .. }) => {
                words.push((x.clone(), format!("#{vx}")));
                words.push((y.clone(), format!("#{vy}")));
            }
            (None, Centre::Written(at)) if at.x.middle().is_zero() && at.y.middle().is_zero() => {}
            (None, Centre::Written(_) | Centre::Computed { .. }) => {
                let text = format!(
                    "`{}` uses the letters X and Y itself: nothing is left to place it",
                    sub.routine.name
                );
                return Err(Diagnostic::error(errors::LETTER, span, text));
            }
        }
        self.write_call(sub, &words, span);
        Ok(())
    }

    fn write_call(&mut self, sub: &Subprogram, words: &[(Symbol, String)], span: Span) {
        let number = sub.number.to_string();
        let machine = self.machine;
        let place = |symbol: &Symbol| sub.interface.of.get(symbol).copied();
        match (sub.interface.vacant, &machine.calls.macro_call, &machine.calls.subprogram) {
            (true, Some(word), _) => {
                let mut block = Block::code(word).word('P', &number);
                for (symbol, digits) in words {
                    if let Some(letter) = place(symbol).and_then(|t| t.letter) {
                        block = block.word(letter, digits);
                    }
                }
                self.w.call(block, span);
            }
            (_, _, word) => {
                for (symbol, digits) in words {
                    if let Some(taken) = place(symbol) {
                        let note = symbol.name().replace('.', " ");
                        self.w.assign_text(&taken.variable.to_string(), digits, &note, Some(span));
                    }
                }
                let word = word.clone().unwrap_or_default();
                self.w.block(Block::code(&word).word('P', &number), span);
            }
        }
    }
}

/// The names that say how long the steps of passes may be.
fn steps(body: &[Step]) -> BTreeSet<Symbol> {
    let mut found = BTreeSet::new();
    for step in body {
        if let Action::Passes(passes) = &step.action {
            found.extend(passes.by.as_symbol().cloned());
        }
        if let Action::Call(call) = &step.action {
            let inner = steps(&call.routine.body);
            let passed_on = call.arguments.iter().filter(|(name, _)| inner.contains(name));
            found.extend(passed_on.filter_map(|(_, value)| value.as_symbol().cloned()));
        }
        found.extend(steps(step.action.body()));
    }
    found
}

/// The steps up to the end of the routine that has just been entered.
fn within(rest: &[FlatStep]) -> Vec<&FlatStep> {
    let mut depth = 1usize;
    let mut inner = Vec::new();
    for step in rest {
        if matches!(step.action, FlatAction::Enter { .. }) {
            depth += 1;
        } else if step.action == FlatAction::Leave {
            depth -= 1;
        }
        if depth == 0 {
            break;
        }
        inner.push(step);
    }
    inner
}
