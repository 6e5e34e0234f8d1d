//! The wear of cutters in the main program of a job: guards of what the operator keeps in retained variables, and
//! the actual diameter as an argument of the calls.

use std::collections::BTreeMap;

use borewright_base::{Diagnostic, Span};
use borewright_machine::{Machine, Wear as Kept};
use borewright_motion::{Action, Call, Clause, Expr, Field, Motion, Relation, Step, Symbol, calls, evaluate};
use borewright_number::{Rational, Rounding};
use borewright_proof::Wear;

use crate::errors;
use crate::number::pointed;
use crate::writer::Writer;

/// A cutter of the job that the operator may correct.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Worn {
    /// What the text is compared by.
    pub(crate) wear: Wear,
    name: String,
    pocket: i64,
    /// The most that the variable may hold, either way, in the machine's unit.
    most: Rational,
}

/// Labels and numbers of the alarms begin here.
const FIRST: u32 = 101;

/// The cutters of a job that may be corrected.
///
/// # Errors
/// Where the machine keeps no wear that a program could read and guard.
pub(crate) fn worn(motion: &Motion, machine: &Machine) -> Result<Vec<Worn>, Diagnostic> {
    let Some(job) = &motion.job else { return Ok(Vec::new()) };
    let mut list = Vec::new();
    for (i, tool) in job.tools.iter().enumerate() {
        let value = |field| tool.fields.get(&field).and_then(|e| evaluate(e, &BTreeMap::new()).ok());
        let zero = |e: &Expr| e.as_number().is_some_and(Rational::is_zero);
        if tool.fields.get(&Field::Wear).is_none_or(zero) {
            continue;
        }
        let refuse = |why: &str| {
            let text = format!("the wear of `{}` cannot be read at the control: {why}", tool.name);
            Diagnostic::error(errors::WEAR, tool.span, text).hint("leave `wear` out of the cutter")
        };
        let allowed = value(Field::Wear).and_then(|v| v.exact().cloned());
        let pocket = value(Field::Pocket).and_then(|v| v.exact().and_then(Rational::to_i64));
        let (Some(allowed), Some(pocket)) = (allowed, pocket) else {
            return Err(refuse("what it may be is no number"));
        };
        if !machine.flow.if_goto || machine.alarms.variable.is_none() {
            return Err(refuse("nothing could guard it on this machine"));
        }
        let first =
            machine.variables.wear.ok_or_else(|| refuse("the machine file names no `variables.wear`"))?;
        let variable = u32::try_from(pocket - 1).ok().and_then(|n| first.0.checked_add(n));
        let variable = variable.filter(|n| first.contains(*n));
        let variable = variable.ok_or_else(|| refuse("its pocket has no variable in `variables.wear`"))?;
        let radius = machine.axes.wear == Kept::Radius;
        let whole = if radius { Rational::from(2) } else { Rational::ONE };
        let most = (&allowed / &(&whole * &machine.unit())).rounded(machine.numbers.decimals, Rounding::Down);
        let greatest = &most * &(&whole * &machine.unit());
        let wear = Wear { tool: i, span: tool.span, variable, radius, greatest };
        list.push(Worn { wear, name: tool.name.clone(), pocket, most });
    }
    Ok(list)
}

impl Worn {
    fn limits(&self, machine: &Machine) -> String {
        let most = pointed(&self.most, machine.numbers.decimals);
        format!("-{most} TO {most}")
    }

    /// What the header says.
    pub(crate) fn told(&self, machine: &Machine) -> String {
        let kept = if self.wear.radius { "RADIUS" } else { "DIAMETER" };
        format!(
            "WEAR OF CUTTER {} {}: #{}, BY {kept}, {}. THE ACTUAL {kept} IS THE NOMINAL ONE AND THIS: BELOW 0 FOR A \
             CUTTER THAT CUTS SMALL. SET IT TO 0 FOR A NEW ONE",
            self.pocket,
            self.name,
            self.wear.variable,
            self.limits(machine)
        )
    }

    /// The actual diameter as an argument: `[12.+#503]`.
    pub(crate) fn diameter(&self, nominal: &str) -> String {
        let twice = if self.wear.radius { "2.*" } else { "" };
        format!("[{nominal}+{twice}#{}]", self.wear.variable)
    }
}

/// Guards, before anything moves and any mode changes.
pub(crate) fn guard(w: &mut Writer<'_>, list: &[Worn], machine: &Machine) {
    if list.is_empty() {
        return;
    }
    w.comment("GUARDS: NOTHING MOVES AND NO MODE CHANGES BEFORE ALL OF THEM HAVE PASSED");
    for ((label, _), worn) in numbered(list) {
        let (variable, span) = (worn.wear.variable, Some(worn.wear.span));
        let most = pointed(&worn.most, machine.numbers.decimals);
        let note = format!("WEAR OF CUTTER {}", worn.pocket);
        if machine.variables.vacant {
            w.jump_if(&format!("#{variable} EQ #0"), label, &note, span);
        }
        w.jump_if(&format!("#{variable} LT -{most}"), label + 1, "", span);
        w.jump_if(&format!("#{variable} GT {most}"), label + 1, "", span);
    }
}

/// The alarms, below everything else; numbers with the cutters that they are of.
pub(crate) fn alarms(
    w: &mut Writer<'_>,
    list: &[Worn],
    machine: &Machine,
) -> Result<Vec<(u32, Option<Span>)>, Diagnostic> {
    let Some(alarm) = machine.alarms.variable else { return Ok(Vec::new()) };
    let mut raised = Vec::new();
    for ((label, nth), worn) in numbered(list) {
        let span = Some(worn.wear.span);
        let pair = [
            format!("#{}: WEAR {} IS NOT SET", worn.wear.variable, worn.pocket),
            format!("WEAR {}: {}", worn.pocket, worn.limits(machine)),
        ];
        for (more, text) in (0u32..).zip(pair) {
            let number = machine.alarms.numbers.numbers().nth(nth + more as usize).ok_or_else(|| {
                let text = "it needs more alarms than the machine has";
                Diagnostic::error(errors::WEAR, worn.wear.span, text)
            })?;
            // Without vacant variables nobody raises the first of them.
            if more == 1 || machine.variables.vacant {
                let _cut = w.alarm(label + more, alarm, number, &text, span);
                raised.push((number, span));
            }
        }
    }
    Ok(raised)
}

fn numbered(list: &[Worn]) -> impl Iterator<Item = ((u32, usize), &Worn)> {
    (FIRST..).step_by(2).zip((0..).step_by(2)).zip(list)
}

/// The parameter of a routine that is the diameter of its cutter.
pub(crate) fn tied(routine: &Motion) -> Option<&Symbol> {
    let rules = routine.demands.iter().flat_map(|d| &d.rules);
    let mut tied = rules.filter(|r| r.field == Field::Diameter && r.relation == Relation::Equal);
    tied.find_map(|r| r.value.as_symbol())
}

/// The call that stands here.
pub(crate) fn call_at(steps: &[Step], at: Span) -> Option<&Call> {
    calls(steps).into_iter().find(|(_, span)| *span == at).map(|(call, _)| call)
}

/// Whether the place to which a routine goes first hangs on the diameter of its cutter.
pub(crate) fn begins_by_diameter(routine: &Motion, diameter: &Symbol) -> bool {
    let mut hangs = vec![diameter.clone()];
    let mut name = |symbol: &Symbol, value: &Expr| {
        if value.symbols().iter().any(|s| hangs.contains(s)) {
            hangs.push(symbol.clone());
        }
    };
    for parameter in &routine.parameters {
        parameter.default.iter().for_each(|d| name(&parameter.symbol, d));
    }
    for clause in &routine.head {
        if let Clause::Let(l) = clause {
            name(&l.symbol, &l.value);
        }
    }
    for step in &routine.body {
        match &step.action {
            Action::Let(l) => name(&l.symbol, &l.value),
            Action::RapidTo(to) => {
                return to.x.symbols().iter().chain(&to.y.symbols()).any(|s| hangs.contains(s));
            }
            Action::Retract
            | Action::RapidZ(_)
            | Action::Line { .. }
            | Action::Arc { .. }
            | Action::Turn { .. }
            | Action::Passes(_)
            | Action::Repeat { .. }
            | Action::Call(_)
            | Action::With { .. }
            | Action::Spindle { .. }
            | Action::Coolant(_)
            | Action::Stop(_)
            | Action::Dwell(_) => {}
        }
    }
    false
}
