//! The blocks form: everything worked out, every loop unrolled, every number rounded to the machine's decimals.

use borewright_base::{Diagnostic, Diagnostics, Span};
use borewright_machine::{Centre, Machine};
use borewright_motion::{
    Coolant, CutterKind, Field, FlatAction, FlatStep, Job, Limits, Motion, Position, Spot, Symbol, Tool,
    Turn, UnrollError, Value, Way, evaluate, unroll,
};
use borewright_number::{Dimension, Quantity, Rational};
use borewright_proof::Interface;

use crate::arcs::{self, Grid};
use crate::assumptions::{self, assumptions, uses_wear};
use crate::deviation::{self, Deviation};
use crate::interface::of_blocks;
use crate::job::Subprogram;
use crate::number::{Digits, Steps};
use crate::wear::{self, Worn};
use crate::writer::{Block, Writer};
use crate::{EmittedFile, Form, Settings, errors, header};
use shared::Shared;

mod called;
mod counted;
mod off;
mod shared;

/// Emits plain blocks: one program, and where the machine calls programs but keeps no variables, those that it calls.
pub(crate) fn emit_blocks(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
) -> Result<Vec<EmittedFile>, Diagnostics> {
    emit_with(motion, machine, settings, Form::Blocks, &[])
}

/// Emits the main program of a job: blocks, but for calls of the routines that are subprograms.
pub(crate) fn emit_with(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
    form: Form,
    subprograms: &[Subprogram],
) -> Result<Vec<EmittedFile>, Diagnostics> {
    let failed = |diagnostic: Diagnostic| {
        let mut diagnostics = Diagnostics::default();
        diagnostics.report(diagnostic);
        diagnostics
    };
    if uses_wear(motion) && form == Form::Blocks {
        return Err(failed(
            Diagnostic::error(errors::WEAR, motion.span, "plain blocks cannot follow the wear of a cutter")
                .hint("leave `wear` out of the cutter, or write the macro form"),
        ));
    }
    let steps =
        unroll(motion, &settings.values, Limits::default()).map_err(|e| failed(unroll_error(motion, &e)))?;
    let number = header::program_number(motion, machine, settings).map_err(failed)?;
    let worn = wear::worn(motion, machine).map_err(failed)?;
    let mut emitter = Emitter::new(motion, machine, form, (subprograms, &worn));
    emitter.begin();
    emitter.steps(&steps).map_err(failed)?;
    let shared = emitter.share(number);
    emitter.tail();
    let alarms = wear::alarms(&mut emitter.w, &worn, machine).map_err(failed)?;
    emitter.close();
    emitter.put_head(number, settings, &steps);
    header::fits(&emitter.w, machine, motion.span).map_err(failed)?;
    let bounds = emitter.deviation.bounds(machine);
    let (text, lines) = emitter.w.finish();
    let name = header::file_name(motion, number, machine);
    let worn = worn.into_iter().map(|w| w.wear).collect();
    let interface = Interface { wear: worn, alarms, ..of_blocks(motion, machine, settings, &bounds) };
    let warnings = Vec::new();
    let shared = shared.into_iter().map(|shared| shared.file(motion, machine, &bounds)).collect::<Vec<_>>();
    let main = EmittedFile { name, text, lines, program: number, form, bounds, warnings, interface };
    Ok(std::iter::once(main).chain(shared).collect())
}

/// What went wrong, at the place it went wrong.
pub(crate) fn unroll_error(motion: &Motion, error: &UnrollError) -> Diagnostic {
    let at = |code, span| Diagnostic::error(code, span, error.to_string());
    match error {
        UnrollError::Bind(_) => at(errors::SIZES, motion.span)
            .hint("give a value with `--set NAME=VALUE`, inside the range and the requirements"),
        UnrollError::Evaluate(_, span)
        | UnrollError::Count(_, span)
        | UnrollError::UnknownStart(span)
        | UnrollError::NoTool(_, span)
        | UnrollError::TooDeep(span) => at(errors::UNROLL, *span),
        UnrollError::TooManySteps(_) => {
            at(errors::UNROLL, motion.span).hint("the macro form keeps loops as loops")
        }
    }
}

/// The neighbours of a step.
struct Context<'s> {
    before: Option<&'s FlatStep>,
    after: Option<&'s FlatStep>,
}

struct Emitter<'m> {
    motion: &'m Motion,
    machine: &'m Machine,
    digits: Digits<'m>,
    w: Writer<'m>,
    /// Rounded coordinates that the machine is at; `None` where not known.
    at: [Option<Steps>; 3],
    at_home: bool,
    feed: Option<String>,
    /// The H number that the first move in Z turns on.
    length_pending: Option<String>,
    /// The work offset that the first move in the plane is preceded by.
    work_pending: Option<String>,
    /// Coolant that starts once the cutter is down at its first height.
    coolant_pending: Option<Coolant>,
    turns: Vec<Turn>,
    operation: usize,
    /// The tool of the job that is in the spindle.
    tool: Option<usize>,
    form: Form,
    subprograms: &'m [Subprogram],
    worn: &'m [Worn],
    deviation: Deviation,
    /// Programs with blocks that come again.
    shared: Vec<u32>,
}

impl<'m> Emitter<'m> {
    fn new(
        motion: &'m Motion,
        machine: &'m Machine,
        form: Form,
        (subprograms, worn): (&'m [Subprogram], &'m [Worn]),
    ) -> Self {
        Self {
            motion,
            machine,
            digits: Digits::new(machine),
            // Block numbers could be those that a guard jumps to.
            w: Writer::new(machine, worn.is_empty()),
            at: [None; 3],
            at_home: false,
            feed: None,
            length_pending: None,
            work_pending: None,
            coolant_pending: None,
            turns: Vec::new(),
            operation: 0,
            tool: None,
            form,
            subprograms,
            worn,
            deviation: Deviation::default(),
            shared: Vec::new(),
        }
    }

    /// The head that the machine file asks for, and the modes of a fragment.
    fn begin(&mut self) {
        let machine = self.machine;
        for block in &machine.programs.head {
            self.w.raw(block);
        }
        wear::guard(&mut self.w, self.worn, machine);
        if self.motion.job.is_none() {
            self.w.raw(&format!("{} {}", machine.units_code(), machine.words.routine_start));
        }
    }

    /// Blocks that come again go to programs of their own, where the machine calls programs and the main program has a
    /// number after which they can be numbered. Where it keeps variables as well, its macro form is shorter still.
    fn share(&mut self, number: Option<u32>) -> Vec<Shared> {
        let (machine, calls) = (self.machine, &self.machine.calls);
        let called = calls.subprogram.is_some() && calls.back.is_some() && calls.nesting > 0;
        let (Some(own), true, Form::Blocks) = (number, called && !machine.has_variables(), self.form) else {
            return Vec::new();
        };
        let (lines, shared) = shared::share(self.w.take(), own, self.motion, machine);
        self.w.extend(lines);
        self.shared = shared.iter().map(|shared| shared.number).collect();
        shared
    }

    /// Puts the header before the blocks: only now is it known how far their rounding went.
    fn put_head(&mut self, number: Option<u32>, settings: &Settings, steps: &[FlatStep]) {
        let blocks = std::mem::replace(&mut self.w, Writer::new(self.machine, false));
        let (motion, machine) = (self.motion, self.machine);
        header::open(&mut self.w, motion, number, machine);
        header::promises(&mut self.w, motion);
        self.w.comment(
            "MOTION PROVED FOR EVERY ADMITTED SIZE. TEXT PROVED TO AGREE WITH IT WITHIN ITS ROUNDING",
        );
        for line in deviation::told(&self.deviation.bounds(machine), machine) {
            self.w.comment(&line);
        }
        self.list_calls();
        for worn in self.worn {
            self.w.comment(&worn.told(machine));
        }
        self.sizes(settings);
        match &motion.job {
            Some(job) => self.set_up(job, steps),
            None => self.w.comment(
                "A FRAGMENT: SPINDLE, OFFSETS AND COOLANT ARE SET BEFORE IT. ZERO: CENTRE, TOP FACE",
            ),
        }
        header::assumed(&mut self.w, &assumptions(motion, machine, self.form));
        header::cautions(&mut self.w);
        self.w.append(blocks);
    }

    fn sizes(&mut self, settings: &Settings) {
        let Ok(env) = borewright_motion::bind(self.motion, &settings.values) else { return };
        for parameter in &self.motion.parameters {
            let Some(value) = env.get(&parameter.symbol) else { continue };
            let quantity = Quantity { value: value.middle(), dimension: parameter.dimension };
            let shown = quantity.text(self.machine.inch());
            let text = format!("{} = {shown}: {}", parameter.symbol, parameter.meaning);
            self.w.comment(text.trim_end_matches([' ', ':']));
        }
    }

    fn set_up(&mut self, job: &Job, steps: &[FlatStep]) {
        let used = |i: usize| steps.iter().any(|s| s.action == FlatAction::Tool(i));
        for (i, tool) in job.tools.iter().enumerate().filter(|(i, _)| used(*i)) {
            let _ = i;
            let text = self.tool_text(tool);
            self.w.comment(&text);
        }
    }

    /// `CUTTER 2 FINISHER: FLAT END MILL, DIAMETER 12MM, FLUTES 30MM`, and what its kind has besides.
    fn tool_text(&self, tool: &Tool) -> String {
        let value = |field| {
            tool.fields.get(&field).and_then(|e| evaluate(e, &std::collections::BTreeMap::new()).ok())
        };
        let shown = |field: Field| {
            // Most thread cutters are straight.
            let value = value(field).filter(|v| field != Field::Taper || !v.middle().is_zero())?;
            let quantity = Quantity { value: value.middle(), dimension: field.dimension() };
            Some(format!("{} {}", field.name(), quantity.text(self.machine.inch())))
        };
        let shape: &[Field] = match tool.kind {
            CutterKind::Flat | CutterKind::Ball => &[],
            CutterKind::Corner => &[Field::Corner],
            CutterKind::Point => &[Field::Angle, Field::Tip],
            CutterKind::Disc => &[Field::Tooth],
            CutterKind::Thread => &[Field::Pitch, Field::Rows, Field::Nose, Field::Tooth, Field::Taper],
        };
        let all = [Field::Diameter, Field::Flutes, Field::Reach, Field::Teeth];
        let facts: Vec<_> = all.iter().chain(shape).copied().filter_map(shown).collect();
        let pocket = value(Field::Pocket).map_or_else(String::new, |p| p.middle().decimal_text(0));
        format!("CUTTER {pocket} {}: {}, {}", tool.name, assumptions::kind(tool.kind), facts.join(", "))
    }

    fn step(&mut self, step: &FlatStep, context: &Context<'_>) -> Result<(), Diagnostic> {
        self.pass_comment(step);
        let span = step.span;
        match &step.action {
            FlatAction::Enter { routine, at, place, places, arguments, .. } => {
                let shown = |(s, d, v): &(Symbol, Dimension, Value)| {
                    let quantity = Quantity { value: v.middle(), dimension: *d };
                    format!("{s}={}", quantity.text(self.machine.inch()))
                };
                let values = arguments.iter().map(shown).collect::<Vec<_>>().join(", ");
                let place = if *places > 1 { format!(" PLACE {place} OF {places}") } else { String::new() };
                let (x, y) = (self.digits.length(&at.x.middle()), self.digits.length(&at.y.middle()));
                self.w.comment(&format!("{routine}{place}: CENTRE X{x} Y{y}"));
                self.w.comment(&values);
            }
            FlatAction::Leave => {}
            FlatAction::Tool(index) => self.tool(*index, span)?,
            FlatAction::Retract => self.retract(&step.end, span)?,
            FlatAction::Rapid => self.rapid(step)?,
            FlatAction::Line { feed } => self.line(step, feed.as_ref())?,
            FlatAction::Arc { way, about, full, feed } => {
                let note = arc_note(*full, context);
                self.arc(step, *way, about, *full, feed.as_ref(), note)?;
            }
            FlatAction::Dwell(time) => {
                let seconds = self.digits.dwell(time, span)?;
                self.w.block(Block::code("G4").word(self.machine.words.dwell_letter, &seconds), span);
            }
            FlatAction::Spindle(Some((way, speed))) => {
                let speed = self.digits.speed(speed, span)?;
                self.w.block(Block::code(&format!("S{speed}")).and(spindle_code(*way)), span);
            }
            FlatAction::Spindle(None) => self.w.block(Block::code("M5"), span),
            FlatAction::Coolant(coolant) => self.coolant(*coolant, span),
            FlatAction::Stop(text) => self.w.block(Block::code("M0").note(text), span),
        }
        Ok(())
    }

    /// Says which turn of a loop begins.
    fn pass_comment(&mut self, step: &FlatStep) {
        self.turns_comment(&step.turns);
    }

    fn turns_comment(&mut self, turns: &[Turn]) {
        let same = turns.iter().zip(&self.turns).take_while(|(a, b)| a == b).count();
        for turn in turns.iter().skip(same) {
            let value = turn.value.as_ref().map(|value| self.digits.length(&value.middle()));
            let value = value.map_or_else(String::new, |value| format!(": {value}"));
            self.w.comment(&format!("{} {} OF {}{value}", turn.symbol, turn.index, turn.count));
        }
        turns.clone_into(&mut self.turns);
    }

    /// A full safe start: the operator can begin again here.
    fn tool(&mut self, index: usize, span: Span) -> Result<(), Diagnostic> {
        let (machine, Some(job)) = (self.machine, self.motion.job.as_ref()) else { return Ok(()) };
        let Some(tool) = job.tools.get(index) else { return Ok(()) };
        self.operation += 1;
        self.tool = Some(index);
        self.deviation.pause();
        let pocket = tool.fields.get(&Field::Pocket);
        let pocket = pocket.and_then(|e| evaluate(e, &std::collections::BTreeMap::new()).ok());
        let pocket = pocket.map_or_else(|| "0".to_owned(), |p| p.middle().decimal_text(0));
        let text = format!("OPERATION {}: {}", self.operation, self.tool_text(tool));
        self.w.comment("-");
        self.w.comment(&text);
        self.w.raw(&format!("{} {}", machine.units_code(), machine.words.safe_start));
        self.home();
        let change = Block::code(&format!("T{pocket}")).and(&machine.words.tool_change);
        self.w.block(change, span);
        self.length_pending = Some(pocket);
        self.work_pending = Some(self.work_offset(job)?);
        self.at = [None; 3];
        self.feed = None;
        Ok(())
    }

    fn work_offset(&self, job: &Job) -> Result<String, Diagnostic> {
        let value = evaluate(&job.work, &std::collections::BTreeMap::new()).ok();
        let number = value.as_ref().and_then(|v| v.exact().and_then(Rational::to_i64));
        let offsets = &self.machine.words.work_offsets;
        let index = number.and_then(|n| usize::try_from(n - 1).ok());
        index.and_then(|i| offsets.get(i)).cloned().ok_or_else(|| {
            let text = format!("the machine has no work offset {}, only 1 to {}", job.work, offsets.len());
            Diagnostic::error(errors::WORK_OFFSET, self.motion.span, text)
        })
    }

    fn home(&mut self) {
        for block in &self.machine.words.home {
            self.w.raw(block);
        }
        self.at[2] = None;
        self.at_home = true;
    }

    fn retract(&mut self, end: &Position, span: Span) -> Result<(), Diagnostic> {
        match &end.z {
            None if self.at_home => {}
            None => self.home(),
            Some(z) => {
                let z = self.digits.steps(z, span)?;
                self.rapid_z(z, span);
            }
        }
        Ok(())
    }

    fn coolant(&mut self, coolant: Option<Coolant>, span: Span) {
        match coolant {
            None => {
                self.coolant_pending = None;
                self.w.block(Block::code("M9"), span);
            }
            // With the cutter still at home, coolant waits until it is down.
            Some(on) if self.at_home => self.coolant_pending = Some(on),
            Some(on) => self.w.block(Block::code(self.coolant_code(on)), span),
        }
    }

    fn coolant_code(&self, coolant: Coolant) -> &'m str {
        match coolant {
            Coolant::Flood => "M8",
            Coolant::Mist => &self.machine.words.mist,
        }
    }

    /// The rounded end of a step.
    fn target(&self, end: &Position, span: Span) -> Result<[Option<Steps>; 3], Diagnostic> {
        let round = |v: &Option<Value>| v.as_ref().map(|v| self.digits.steps(v, span)).transpose();
        Ok([round(&end.x)?, round(&end.y)?, round(&end.z)?])
    }

    fn rapid(&mut self, step: &FlatStep) -> Result<(), Diagnostic> {
        let target = self.target(&step.end, step.span)?;
        if step.start.z != step.end.z {
            if let [_, _, Some(z)] = target {
                self.rapid_z(z, step.span);
            }
            return Ok(());
        }
        if let Some(offset) = self.work_pending.take() {
            self.w.block(Block::code(&offset), step.span);
        }
        let block = self.plane_words(Block::code("G0"), target, true);
        self.w.block(block, step.span);
        self.at = [target[0], target[1], self.at[2]];
        self.deviation.ends(self.plane_off(target, &step.end));
        self.deviation.pause();
        Ok(())
    }

    /// Z at rapid; the first one of an operation turns the length offset on.
    fn rapid_z(&mut self, z: Steps, span: Span) {
        let mut block = Block::code("G0");
        if let Some(pocket) = self.length_pending.take() {
            block = block.and(&self.machine.words.length_on).word('H', &pocket);
        }
        self.w.block(block.word('Z', &self.digits.of_steps(z)), span);
        self.at[2] = Some(z);
        self.at_home = false;
        if let Some(coolant) = self.coolant_pending.take() {
            self.w.block(Block::code(self.coolant_code(coolant)), span);
        }
    }

    /// X and Y where they change, or both where the block would say nothing.
    fn plane_words(&self, mut block: Block, target: [Option<Steps>; 3], all: bool) -> Block {
        for (letter, (to, at)) in ['X', 'Y'].into_iter().zip(target.iter().zip(&self.at)) {
            if let Some(to) = to.filter(|to| all || Some(*to) != *at) {
                block = block.word(letter, &self.digits.of_steps(to));
            }
        }
        block
    }

    fn feed_word(&mut self, block: Block, feed: Option<&Value>, span: Span) -> Result<Block, Diagnostic> {
        let Some(feed) = feed else { return Ok(block) };
        let feed = self.digits.feed(feed, span)?;
        if self.feed.as_ref() == Some(&feed) {
            return Ok(block);
        }
        self.feed = Some(feed.clone());
        Ok(block.word('F', &feed))
    }

    fn line(&mut self, step: &FlatStep, feed: Option<&Value>) -> Result<(), Diagnostic> {
        let target = self.target(&step.end, step.span)?;
        let still = target == self.at;
        let mut block = self.plane_words(Block::code("G1"), target, still);
        if let Some(z) = target[2].filter(|z| Some(*z) != self.at[2]) {
            block = block.word('Z', &self.digits.of_steps(z));
        }
        let block = self.feed_word(block, feed, step.span)?;
        self.w.block(block, step.span);
        self.line_off(step, target);
        self.at = target;
        self.at_home = false;
        Ok(())
    }

    fn arc(
        &mut self,
        step: &FlatStep,
        way: Way,
        about: &Spot,
        full: bool,
        feed: Option<&Value>,
        note: &str,
    ) -> Result<(), Diagnostic> {
        let span = step.span;
        let target = self.target(&step.end, span)?;
        let ([Some(sx), Some(sy), sz], [Some(ex), Some(ey), ez]) = (self.at, target) else {
            return Err(Diagnostic::error(
                errors::UNROLL,
                span,
                "the arc starts where X and Y are not known",
            ));
        };
        if sz != ez && !self.machine.arcs.helical {
            return Err(Diagnostic::error(errors::HELIX, span, "the machine takes no helical arcs"));
        }
        let start = (sx, sy);
        let (end, centre, mismatch) = self.place(start, (ex, ey), step, about, full)?;
        self.arc_off(step, about, (start, end, centre), mismatch);
        self.height_off(target, &step.end);
        let code = if way == Way::Ccw { "G3" } else { "G2" };
        if full && !self.machine.arcs.full_circle {
            // The point across is on a step as well, so both halves have one radius.
            let across = (2 * centre.0 - start.0, 2 * centre.1 - start.1);
            self.across_off(step, about, across);
            let middle = self.middle(step)?;
            self.height_off(
                [None, None, middle.as_ref().map(|(steps, _)| *steps)],
                &Position { z: middle.as_ref().map(|(_, exact)| exact.clone()), ..step.end.clone() },
            );
            let middle = middle.map(|(steps, _)| steps);
            let half = |to: &str| format!("{note}{to}").trim().to_owned();
            self.arc_block(code, (start, across, centre), middle, feed, span, &half(", FIRST HALF"))?;
            self.arc_block(code, (across, end, centre), ez, None, span, &half(", SECOND HALF"))
        } else {
            self.arc_block(code, (start, end, centre), ez, feed, span, note)
        }
    }

    /// The height halfway round, rounded from the exact one: halfway between rounded ends lies up to a step beside it.
    fn middle(&self, step: &FlatStep) -> Result<Option<(Steps, Value)>, Diagnostic> {
        let (Some(from), Some(to)) = (&step.start.z, &step.end.z) else { return Ok(None) };
        let middle = Value::Exact((from.middle() + to.middle()) / Rational::from(2));
        Ok(Some((self.digits.steps(&middle, step.span)?, middle)))
    }

    /// An end and a centre on steps, with radii that agree and are not too small.
    fn place(
        &mut self,
        start: Grid,
        nearest: Grid,
        step: &FlatStep,
        about: &Spot,
        full: bool,
    ) -> Result<(Grid, Grid, f64), Diagnostic> {
        let refuse = |text: &str| Diagnostic::error(errors::ARC, step.span, text);
        if !full && start == nearest {
            return Err(refuse(
                "the arc is so short that its ends round to one point: it would be a full circle",
            ));
        }
        let exact = |v: &Value| self.digits.exact_steps(&v.middle());
        let ideal = (exact(&about.x), exact(&about.y));
        let end = match (&step.end.x, &step.end.y) {
            (Some(x), Some(y)) if !full => (exact(x), exact(y)),
            _ => (Rational::from(start.0), Rational::from(start.1)),
        };
        let tolerance = self.machine.millimetres(&self.machine.arcs.tolerance);
        let tolerance = self.digits.exact_steps(&tolerance);
        let (end, chosen) = arcs::choose(start, &end, &ideal, &tolerance, !full)
            .ok_or_else(|| refuse("no rounding brings its two radii within the machine's tolerance"))?;
        let smallest = self.digits.exact_steps(&self.machine.millimetres(&self.machine.arcs.smallest_radius));
        if arcs::radius_squared(start, chosen.at) < &smallest * &smallest {
            let least = self.machine.arcs.smallest_radius.decimal_text(6);
            return Err(
                refuse("its radius is below the machine's smallest").hint(format!("the least is {least}"))
            );
        }
        Ok((end, chosen.at, chosen.mismatch))
    }

    fn arc_block(
        &mut self,
        code: &str,
        (start, end, centre): (Grid, Grid, Grid),
        z: Option<Steps>,
        feed: Option<&Value>,
        span: Span,
        note: &str,
    ) -> Result<(), Diagnostic> {
        let digits = self.digits;
        let mut block =
            Block::code(code).word('X', &digits.of_steps(end.0)).word('Y', &digits.of_steps(end.1));
        if let Some(height) = z.filter(|z| Some(*z) != self.at[2]) {
            block = block.word('Z', &digits.of_steps(height));
        }
        let offset = match self.machine.arcs.centre {
            Centre::Incremental => (centre.0 - start.0, centre.1 - start.1),
            Centre::Absolute => centre,
        };
        block = block.word('I', &digits.of_steps(offset.0)).word('J', &digits.of_steps(offset.1));
        let block = self.feed_word(block, feed, span)?;
        self.w.block(block.note(note), span);
        self.at = [Some(end.0), Some(end.1), z.or(self.at[2])];
        Ok(())
    }

    fn tail(&mut self) {
        if self.motion.job.is_none() {
            self.w.block(Block::code("M5").note("ALSO WHERE ANOTHER PROGRAM STARTED IT"), self.motion.span);
        }
        for block in &self.machine.programs.tail {
            self.w.raw(block);
        }
    }

    fn close(&mut self) {
        if self.machine.programs.percent {
            self.w.percent();
        }
    }
}

fn spindle_code(way: Way) -> &'static str {
    match way {
        // Seen from above, as on the print: a right-hand cutter turns clockwise.
        Way::Cw => "M3",
        Way::Ccw => "M4",
    }
}

/// What an arc is for, told from its neighbours: leads roll onto and off a full turn.
fn arc_note(full: bool, context: &Context<'_>) -> &'static str {
    let turns = |step: Option<&FlatStep>| {
        step.is_some_and(|s| matches!(s.action, FlatAction::Arc { full: true, .. }))
    };
    match (full, turns(context.after), turns(context.before)) {
        (true, _, _) => "FULL TURN",
        (false, true, _) => "LEAD IN",
        (false, false, true) => "LEAD OUT",
        (false, false, false) => "",
    }
}
