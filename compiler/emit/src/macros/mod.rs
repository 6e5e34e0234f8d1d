//! The macro form: one program with numbered variables for every admitted size.
//!
//! In order: header, sizes, guards, names, moves, the modes put back, alarms. Guards stand before the first
//! move and the first change of a mode; values are worked out before the moves that use them.

mod free;
mod guards;
mod inline;
mod moves;
mod narrow;
mod off;
mod parameters;
mod plan;
mod print;
mod program;
mod scale;
mod terms;

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::{Diagnostic, Diagnostics};
use borewright_machine::Machine;
use borewright_motion::{
    Action, Clause, Condition, Expr, Motion, Parameter, Point, Relation, Requirement, Symbol,
};
use borewright_number::{Dimension, Quantity, Rational};

use crate::assumptions::assumptions;
use crate::deviation::{self, Deviation};
use crate::interface::{MacroParts, of_macro};
use crate::job::travel_symbol;
use crate::writer::{Block, Writer};
use crate::{Arguments, Bounds, EmittedFile, Form, Settings, errors, header};
use inline::inline_calls;
use moves::Moves;
pub(crate) use narrow::narrowed;
use off::Off;
use parameters::Places;
pub(crate) use parameters::{Taken, decimals, farthest, fitted, fitted_by};
use plan::{Planner, Sequence};
use print::Printer;
use scale::Scale;
pub(crate) use terms::least;

/// What a program that calls a macro has to know of it.
pub(crate) struct Interface {
    /// Letter and variable of each parameter.
    pub(crate) of: BTreeMap<Symbol, Taken>,
    /// The names of the centre's coordinates.
    pub(crate) centre: Option<(Symbol, Symbol)>,
    /// Arguments come by letters, and those that have a default may be left out.
    pub(crate) vacant: bool,
    /// How far its path may be off.
    pub(crate) deviation: Deviation,
    /// Parameters that come as the number of a table's row.
    pub(crate) rows: BTreeSet<Symbol>,
}

/// Who runs a macro.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Role {
    /// The operator, or a program written by hand.
    Alone,
    /// The main program of a job, which has brought the cutter to the travel height.
    Called,
    /// The operator, on a control that compares nothing.
    Unguarded,
}

/// What a macro is sparing of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Thrift {
    /// What is needed again keeps its variable.
    Work,
    /// What is needed again is worked out again.
    Variables,
}

/// Emits a macro.
pub(crate) fn emit_macro(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
) -> Result<EmittedFile, Diagnostics> {
    let written = || {
        let number = header::program_number(motion, machine, settings)?;
        if machine.has_variables() && !machine.flow.if_goto {
            return write_free(motion, machine, settings, number);
        }
        let style = style(motion, machine, settings)?;
        write_macro(motion, machine, settings, number, (style, Role::Alone))
    };
    written().map(|(file, _)| file).map_err(|diagnostic| {
        let mut diagnostics = Diagnostics::default();
        diagnostics.report(diagnostic);
        diagnostics
    })
}

/// Emits a routine as the subprogram of a job.
pub(crate) fn emit_called(
    motion: &Motion,
    machine: &Machine,
    style: Arguments,
    number: u32,
) -> Result<(EmittedFile, Interface), Diagnostic> {
    let mut travelling = motion.clone();
    travelling.parameters.push(travel_height(motion, machine));
    // A height to which the routine comes down at rapid may not lie above the one at which it travels.
    for step in &motion.body {
        if let Action::RapidZ(z) = &step.action
            && z.as_symbol().is_some_and(|s| motion.parameters.iter().any(|p| p.symbol == *s))
        {
            travelling.head.push(Clause::Require(Requirement {
                condition: Condition::at_most(z.clone(), Expr::symbol(&travel_symbol())),
                alarm: format!("TRAVEL BELOW {z}"),
                practice: false,
                span: step.span,
            }));
        }
    }
    write_macro(&travelling, machine, &Settings::default(), Some(number), (style, Role::Called))
}

/// Emits a program for a control that compares nothing.
fn write_free(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
    number: Option<u32>,
) -> Result<(EmittedFile, Interface), Diagnostic> {
    let free::Fixed { motion: mut fixed, told, values } = free::fix(motion, machine, settings)?;
    let shown = |(symbol, value): &(Symbol, Rational)| {
        let parameter = motion.parameters.iter().find(|p| p.symbol == *symbol);
        let word = parameter.and_then(|p| p.words.iter().find(|(_, number)| number == value));
        let dimension = parameter.map_or(Dimension::RATIO, |p| p.dimension);
        let number = || Quantity { value: value.clone(), dimension }.text(machine.inch());
        format!("{symbol}={}", word.map_or_else(number, |(word, _)| word.clone()))
    };
    let list = told.iter().map(shown).collect::<Vec<_>>().join(", ");
    fixed.documentation.push(format!("FIXED WHEN IT WAS WRITTEN: {list}"));
    let nothing = Settings::default();
    let (mut file, interface) =
        write_macro(&fixed, machine, &nothing, number, (Arguments::Top, Role::Unguarded))?;
    // It is compared with the motion at the values for which it was written.
    file.interface.values = values;
    Ok((file, interface))
}

/// The height at which a job travels, as one more parameter.
fn travel_height(motion: &Motion, machine: &Machine) -> Parameter {
    let free = motion.parameters.iter().all(|p| p.letter != Some('Z'));
    Parameter {
        symbol: travel_symbol(),
        dimension: Dimension::LENGTH,
        whole: false,
        least: Rational::ZERO,
        greatest: machine.millimetres(&farthest(machine, 'Z')),
        default: None,
        letter: (free && machine.letter_variable('Z').is_some()).then_some('Z'),
        meaning: "where it retracts to, and where the cutter stands when it is called".to_owned(),
        inch: machine.inch(),
        words: Vec::new(),
        span: motion.span,
    }
}

/// Writes it so that nothing is worked out twice; where there are too few variables for that, so that it needs fewer.
fn write_macro(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
    number: Option<u32>,
    (style, role): (Arguments, Role),
) -> Result<(EmittedFile, Interface), Diagnostic> {
    let written = write_with(motion, machine, settings, number, (style, role, Thrift::Work));
    match written {
        Err(refused) if refused.code == errors::TOO_MANY_VARIABLES => {
            write_with(motion, machine, settings, number, (style, role, Thrift::Variables))
        }
        Ok(_) | Err(_) => written,
    }
}

fn write_with(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
    number: Option<u32>,
    (style, role, thrift): (Arguments, Role, Thrift),
) -> Result<(EmittedFile, Interface), Diagnostic> {
    let rows = parameters::rows(motion, machine);
    let (guarded, narrowed) = narrowed(motion, machine);
    let mut scaled = in_machine_units(&guarded, machine, &rows)?;
    // Where nothing is guarded, defaults are the values of this run.
    if role != Role::Unguarded {
        fit_defaults(&mut scaled, machine);
    }
    let places = Places::assign(&scaled, machine, style)?;
    let mut macro_ = Macro {
        motion: &scaled,
        machine,
        style,
        role,
        places,
        p: Printer::new(machine, thrift),
        saved: Vec::new(),
        needed: BTreeSet::new(),
        deviation: Deviation::default(),
    };
    macro_.body(settings)?;
    let deviation = macro_.deviation;
    let bounds = deviation.bounds(machine);
    let mut w = macro_.headed(motion, number, &bounds, !narrowed.is_empty());
    let Macro { p, places, .. } = macro_;
    let (slack, longer, fewer, mut program) = (p.slack, p.longer, p.fewer, p.program);
    let (warnings, alarms) = (std::mem::take(&mut program.warnings), std::mem::take(&mut program.raised));
    w.append(program.number(&places.free(machine), &places.spent(), motion.span)?);
    if machine.programs.percent {
        w.percent();
    }
    header::fits(&w, machine, motion.span)?;
    let (text, lines) = w.finish();
    let name = header::file_name(motion, number, machine);
    let Places { of, centre, .. } = places;
    let parts = MacroParts {
        variables: of.iter().map(|(s, taken)| (s.clone(), taken.variable)).collect(),
        centre: centre.clone(),
        style,
        alarms,
        slack,
        narrowed,
        longer,
        fewer,
        rows,
        travel: motion.parameters.iter().find(|p| p.symbol == travel_symbol()).cloned(),
        settings,
    };
    let compared = of_macro(motion, machine, parts);
    let rows = compared.rows.clone();
    let interface = Interface { of, centre, vacant: style == Arguments::Letters, deviation, rows };
    let file = EmittedFile {
        name,
        text,
        lines,
        program: number,
        form: Form::Macro,
        bounds,
        warnings,
        interface: compared,
    };
    Ok((file, interface))
}

/// Whether the machine can have a macro at all, and how it gets its sizes.
pub(crate) fn style(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
) -> Result<Arguments, Diagnostic> {
    let refuse = |text: &str| {
        Diagnostic::error(errors::NO_MACRO_FORM, motion.span, text)
            .hint("write the blocks form: `--form blocks` with `--set NAME=VALUE` for each size")
    };
    if !machine.has_variables() {
        return Err(refuse(&format!("the machine `{}` keeps no variables for programs", machine.name)));
    }
    if !machine.flow.if_goto {
        return Err(refuse(&format!(
            "the machine `{}` has no tests: nothing could guard a macro",
            machine.name
        )));
    }
    let letters =
        machine.calls.macro_call.is_some() && machine.calls.back.is_some() && machine.variables.vacant;
    match (settings.arguments, letters) {
        (Some(Arguments::Letters), false) => {
            Err(refuse(&format!("the machine `{}` has no calls with letter arguments", machine.name)))
        }
        (Some(Arguments::Top), _) | (None, false) => Ok(Arguments::Top),
        (Some(Arguments::Letters) | None, true) => Ok(Arguments::Letters),
    }
}

/// The motion with its calls put in and every literal in the machine's unit.
fn in_machine_units(
    motion: &Motion,
    machine: &Machine,
    rows: &BTreeSet<Symbol>,
) -> Result<Motion, Diagnostic> {
    let mut inlined = motion.clone();
    inlined.body = free::with_numbers(&inline_calls(&motion.body))?;
    for parameter in inlined.parameters.iter_mut().filter(|p| rows.contains(&p.symbol)) {
        parameter.dimension = Dimension::RATIO;
    }
    let mut scale = Scale::new(machine.unit());
    if scale.unit != Rational::ONE {
        inlined = scale.motion(&inlined)?;
    }
    Ok(inlined)
}

/// Defaults that are numbers, in the machine's unit, as the nearest that its arguments can hold.
fn fit_defaults(motion: &mut Motion, machine: &Machine) {
    for parameter in &mut motion.parameters {
        let number = parameter.default.as_ref().and_then(|d| d.as_number().cloned());
        if let Some(number) = number {
            parameter.default = Some(Expr::number(fitted(&number, parameter, machine)));
        }
    }
}

fn claims(
    w: &mut Writer,
    machine: &Machine,
    bounds: &Bounds,
    (style, slack): (Arguments, Option<&Rational>),
) {
    w.comment(match style {
        Arguments::Letters => "MOTION PROVED FOR EVERY ADMITTED SIZE. TEXT PROVED TO AGREE WITH IT",
        Arguments::Top => {
            "MOTION PROVED FOR EVERY ADMITTED SIZE. TEXT PROVED TO AGREE WITH IT AT THE SIZES WRITTEN IN IT"
        }
    });
    if let Some(slack) = slack {
        let slack = crate::number::pointed(slack, machine.numbers.significant_digits.min(9));
        w.comment(&format!(
            "GUARDS THAT COMPUTE ALLOW UP TO {slack} FOR THE CONTROLS OWN ROUNDING: A SIZE EXACTLY ON ITS LIMIT \
             PASSES, AND WHERE A SIZE MUST STAY OFF ITS LIMIT SO MUCH IS KEPT CLEAR"
        ));
    }
    for line in deviation::told(bounds, machine) {
        w.comment(&line);
    }
    let tolerance = machine.millimetres(&machine.arcs.tolerance);
    if bounds.arc_mismatch.as_ref().is_none_or(|apart| *apart > tolerance) {
        let step = crate::number::Digits::new(machine).length(&machine.resolution());
        w.comment(&format!(
            "THAT IS FOR A CONTROL THAT ROUNDS EVERY WORD TO {step}: ITS ARC TOLERANCE MUST ALLOW IT"
        ));
    }
}

struct Macro<'m> {
    motion: &'m Motion,
    machine: &'m Machine,
    style: Arguments,
    role: Role,
    places: Places,
    p: Printer<'m>,
    /// Variables that hold modes to put back.
    saved: Vec<String>,
    /// Names that something needs; the others get no variable.
    needed: BTreeSet<Symbol>,
    /// How far the path may be off.
    deviation: Deviation,
}

impl<'m> Macro<'m> {
    /// What stands above the blocks; `motion` is in base units.
    fn headed(&self, motion: &Motion, number: Option<u32>, bounds: &Bounds, narrowed: bool) -> Writer<'m> {
        let machine = self.machine;
        let mut w = Writer::new(machine, false);
        header::open(&mut w, motion, number, machine);
        self.places.write(&mut w, self.motion, machine, number, self.role == Role::Called);
        if self.role == Role::Unguarded {
            w.comment("NOTHING AT THE CONTROL CHECKS THEM: KEEP THEM WITHIN THEIR RANGES");
        }
        header::promises(&mut w, motion);
        claims(&mut w, machine, bounds, (self.style, self.p.slack.as_ref()));
        if narrowed && self.role != Role::Unguarded {
            let from = if machine.inch() { "MILLIMETRES" } else { "INCHES" };
            let step = crate::number::Digits::new(machine).length(&machine.resolution());
            w.comment(&format!(
                "LENGTHS THAT THE SOURCE HAS IN {from} ARE ROUNDED IN GUARDS SO THAT LESS IS LET IN: EACH BY LESS \
                 THAN {step}"
            ));
        }
        if let Some(most) = self.p.longer.values().max() {
            w.comment(&print::told_longer(most));
        }
        if let Some(most) = &self.p.fewer {
            w.comment(&print::told_fewer(most));
        }
        header::assumed(&mut w, &assumptions(motion, machine, Form::Macro));
        header::cautions(&mut w);
        w
    }

    fn body(&mut self, settings: &Settings) -> Result<(), Diagnostic> {
        let motion = self.motion;
        let sequence = self.planner().sequence(&motion.body)?;
        self.needed = needed(motion, &sequence);
        if self.style == Arguments::Top && self.role != Role::Called {
            self.assign_sizes(settings)?;
        }
        self.p.program.w.comment("-");
        if self.role == Role::Unguarded {
            self.known_arguments()?;
        } else {
            self.p
                .program
                .w
                .comment("GUARDS: NOTHING MOVES AND NO MODE CHANGES BEFORE ALL OF THEM HAVE PASSED");
            self.guard_modes();
            self.guard_sizes()?;
            self.p.program.w.comment("-");
        }
        self.save_modes()?;
        let start = match (self.style, self.role) {
            (Arguments::Letters, _) | (_, Role::Called) => self.machine.words.routine_start.clone(),
            (Arguments::Top, Role::Alone | Role::Unguarded) => {
                format!("{} {}", self.machine.units_code(), self.machine.words.routine_start)
            }
        };
        // Modes are set behind everything that can be worked out before them.
        self.moves(&sequence, &start)?;
        self.end()
    }

    fn planner(&self) -> Planner<'_> {
        let lets = self.motion.head.iter().filter_map(|clause| match clause {
            Clause::Let(l) => Some((l.symbol.clone(), l.value.clone())),
            Clause::Require(_) => None,
        });
        let centre = match &self.places.centre {
            Some((x, y)) => Point::new(Expr::symbol(x), Expr::symbol(y)),
            None => Point::centre(),
        };
        let travel = (self.role == Role::Called).then(|| Expr::symbol(&travel_symbol()));
        Planner { machine: self.machine, centre, lets: lets.collect(), at: None, travel }
    }

    fn moves(&mut self, sequence: &Sequence, start: &str) -> Result<(), Diagnostic> {
        let facts = facts(self.motion);
        let off = Off::new(self.machine, &self.motion.head, facts);
        let mut moves = Moves { p: &mut self.p, feed: None, depth: 0, counts: BTreeMap::new(), off };
        moves.names_and_values(sequence, &self.needed)?;
        moves.counts(sequence)?;
        moves.p.program.w.comment("MOTION BEGINS");
        moves.p.program.w.raw(start);
        moves.each(sequence)?;
        self.deviation = moves.off.deviation;
        Ok(())
    }

    /// Puts the modes back and goes back to the caller, or ends the program; then the alarms.
    fn end(&mut self) -> Result<(), Diagnostic> {
        let span = self.motion.span;
        let alarmed = self.machine.alarms.variable.is_some() || self.role == Role::Unguarded;
        let out = (!alarmed).then(|| self.p.program.label());
        if !self.saved.is_empty() {
            let block = self.saved.iter().fold(Block::default(), |b, slot| b.word('G', slot));
            self.p.program.w.block(block.note("MODES OF THE CALLER"), span);
        }
        // Behind them: a call that is refused has changed no mode, and saved none.
        if let Some(label) = out {
            self.p.program.w.label(label);
        }
        let returns = self.style == Arguments::Letters || self.role == Role::Called;
        match &self.machine.calls.back {
            Some(back) if returns => self.p.program.w.raw(back),
            Some(_) | None => {
                self.p.program.w.block(Block::code("M5"), span);
                for block in &self.machine.programs.tail {
                    self.p.program.w.raw(block);
                }
            }
        }
        if self.role == Role::Unguarded {
            return Ok(());
        }
        self.p.program.w.comment("-");
        self.p.program.w.comment("ALARMS");
        self.p.program.write_alarms(span, out)
    }
}

/// What is known to be 0 or more for every admitted size, with the names of the head put in.
fn facts(motion: &Motion) -> Vec<Expr> {
    let mut lets: Vec<(Symbol, Expr)> = Vec::new();
    let mut facts = Vec::new();
    for clause in &motion.head {
        let put = |e: &Expr| e.substitute(&|s| lets.iter().find(|(n, _)| n == s).map(|(_, v)| v.clone()));
        match clause {
            Clause::Let(l) => {
                let value = put(&l.value);
                lets.push((l.symbol.clone(), value));
            }
            Clause::Require(r) => {
                if let Condition::Compare(relation, a, b) = &r.condition {
                    match relation {
                        Relation::Less | Relation::LessEqual => facts.push(put(b) - put(a)),
                        Relation::Greater | Relation::GreaterEqual => facts.push(put(a) - put(b)),
                        Relation::Equal | Relation::NotEqual => {}
                    }
                }
            }
        }
    }
    facts
}

/// The names that something needs: guards, moves, and the lets behind them.
fn needed(motion: &Motion, sequence: &Sequence) -> BTreeSet<Symbol> {
    let mut names = BTreeSet::new();
    moves::names_used(sequence, &mut names);
    for clause in motion.head.iter().rev() {
        match clause {
            Clause::Require(r) => names.extend(r.condition.symbols()),
            Clause::Let(l) if names.contains(&l.symbol) => names.extend(l.value.symbols()),
            Clause::Let(_) => {}
        }
    }
    names
}
