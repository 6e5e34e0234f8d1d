//! From a source text to programs for a machine: what `build` does. Nothing is emitted unless all is proved.

use std::collections::BTreeMap;
use std::sync::Arc;

use borewright_base::{Diagnostic, Diagnostics, FileId, SourceMap};
use borewright_emit::{Assumption, EmittedFile, Form};
use borewright_machine::Machine;
use borewright_motion::{Motion, Symbol};
use borewright_proof::{Agreed, Limits, Proved, Settings, Settled};

use crate::agreement::{AgreedText, Written};
use crate::host::Host;
use crate::load::load;
use crate::pipeline::{Judged, hold_back, judge, understand};
use crate::{agreement, errors, machines, setting, verdicts};

/// What is to be built.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BuildOrder {
    /// Path of the source text.
    pub file: String,
    /// Numbered variables or plain blocks.
    pub form: Form,
    /// Built-in machine or path of a machine file.
    pub machine: String,
    /// Only these routines and jobs; all of the file where none is named.
    pub routines: Vec<String>,
    /// `bore=50mm`
    pub set: Vec<String>,
}

/// What was built.
#[derive(Debug)]
pub struct Built {
    /// The texts.
    pub sources: SourceMap,
    /// Everything found, sorted by place.
    pub found: Vec<Diagnostic>,
    /// What was proved, or not.
    pub routines: Vec<Judged>,
    /// The programs; none where an error was found.
    pub programs: Vec<BuiltProgram>,
    /// What is assumed and not proved.
    pub assumptions: Vec<Assumption>,
    /// What the machine sets as limits: the motions were proved under them.
    pub limits: Limits,
}

/// One program, ready to be written.
#[derive(Debug, Clone)]
pub struct BuiltProgram {
    /// Of which routine or job.
    pub routine: String,
    /// The machine's name.
    pub machine: String,
    /// Whether its lengths are inches.
    pub inch: bool,
    /// What is known of the text.
    pub file: EmittedFile,
    /// The text: what is written to a file is this.
    pub text: Agreed<String>,
    /// What was proved of the text.
    pub settled: Vec<Settled>,
}

/// Proves the routines and jobs of a file and writes them out for a machine.
#[must_use]
pub fn build(host: &dyn Host, order: &BuildOrder) -> Built {
    let mut found = Diagnostics::default();
    let mut loaded = load(host, std::slice::from_ref(&order.file), &mut found); // path to trees
    let machine = machines::find_beside(host, &order.machine, &order.file, &mut loaded.sources, &mut found);
    let motions = understand(&loaded, &mut found); // trees to motions
    let chosen = choose(order, &motions, &loaded.asked, &mut found);
    let (needed, _) = hold_back(needed(&chosen), &found);
    let settings = settings(machine.as_ref(), order.form);
    let routines = judge(host, &needed, &settings, &loaded.asked); // motions to verdicts
    for routine in &routines {
        found.append(verdicts::findings(routine)); // verdicts to findings
    }
    let mut emission = Emission::default();
    if let Some(machine) = machine.filter(|_| !found.has_errors()) {
        let chosen = routines.iter().filter(|judged| chosen.iter().any(|m| m.span == judged.motion.span));
        let known: Vec<_> = routines.iter().filter_map(|judged| judged.verdicts.proved.as_ref()).collect();
        emission.run(order, &machine, (&chosen.collect::<Vec<_>>(), &known), &mut found); // proved motions to text
    }
    let Emission { programs, assumptions } = emission;
    let programs = if found.has_errors() { Vec::new() } else { programs };
    let (sources, found, limits) = (loaded.sources, found.into_sorted(), settings.limits);
    Built { sources, found, routines, programs, assumptions, limits }
}

/// The routines and jobs of the file, or those of them that were named.
pub(crate) fn choose(
    order: &BuildOrder,
    motions: &[Arc<Motion>],
    asked: &[FileId],
    found: &mut Diagnostics,
) -> Vec<Arc<Motion>> {
    let own: Vec<&Arc<Motion>> = motions.iter().filter(|motion| asked.contains(&motion.span.file)).collect();
    if own.is_empty() && !found.has_errors() {
        let _said = found.report(errors::nothing_to_build(&order.file));
    }
    let names: Vec<&str> = own.iter().map(|motion| motion.name.as_str()).collect();
    for name in &order.routines {
        // In a file with errors the routine may be there and not be understood.
        if !names.contains(&name.as_str()) && !found.has_errors() {
            let _said = found.report(errors::unknown_routine(name, &order.file, &names));
        }
    }
    let is_chosen = |motion: &Motion| order.routines.is_empty() || order.routines.contains(&motion.name);
    own.into_iter().filter(|motion| is_chosen(motion)).cloned().collect()
}

/// These and all that they call, callees first.
pub(crate) fn needed(chosen: &[Arc<Motion>]) -> Vec<Arc<Motion>> {
    let mut needed: Vec<Arc<Motion>> = Vec::new();
    for motion in borewright_lower::called(chosen).iter().chain(chosen) {
        if !needed.iter().any(|known| known.span == motion.span) {
            needed.push(Arc::clone(motion));
        }
    }
    needed
}

/// What the machine sets as limits. In plain blocks every feed and speed is known and held against the machine
/// when it is written; a macro takes whatever its range admits, so the proof must know the limits.
pub(crate) fn settings(machine: Option<&Machine>, form: Form) -> Settings {
    let default = Settings::default();
    let Some(machine) = machine else { return default };
    let limits = Limits {
        smallest_arc: machine.millimetres(&machine.arcs.smallest_radius),
        greatest_feed: (form == Form::Macro).then(|| machine.millimetres(&machine.axes.greatest_feed)),
        greatest_speed: (form == Form::Macro).then(|| (*machine.axes.greatest_speed).clone()),
    };
    Settings { limits, ..default }
}

/// What a motion is emitted with: the values of its own parameters.
pub(crate) fn emission(motion: &Motion, values: &setting::Values) -> borewright_emit::Settings {
    let own = |symbol: &Symbol| motion.parameters.iter().any(|p| p.symbol == *symbol);
    let values = values.iter().filter(|(symbol, _)| own(symbol)).map(|(s, v)| (s.clone(), v.clone()));
    borewright_emit::Settings { values: values.collect(), ..Default::default() }
}

/// Programs as they are made.
#[derive(Debug, Default)]
struct Emission {
    programs: Vec<BuiltProgram>,
    assumptions: Vec<Assumption>,
}

impl Emission {
    fn run(
        &mut self,
        order: &BuildOrder,
        machine: &Machine,
        (chosen, known): (&[&Judged], &[&Proved<Motion>]),
        found: &mut Diagnostics,
    ) {
        let motions: Vec<&Motion> = chosen.iter().map(|judged| &*judged.motion).collect();
        let values = match setting::read(&order.set, &motions) {
            Ok(values) => values,
            Err(faults) => {
                for fault in faults {
                    let _said = found.report(fault);
                }
                return;
            }
        };
        for judged in chosen {
            self.one(order.form, machine, (judged, known), &values, found);
        }
        self.refuse_equal_names(found);
    }

    fn one(
        &mut self,
        form: Form,
        machine: &Machine,
        (judged, known): (&Judged, &[&Proved<Motion>]),
        values: &setting::Values,
        found: &mut Diagnostics,
    ) {
        // Whoever is not proved has had it reported.
        let Some(proved) = &judged.verdicts.proved else { return };
        let settings = emission(&judged.motion, values);
        match borewright_emit::emit(proved, machine, form, &settings) {
            Ok(files) => {
                files.iter().flat_map(|file| file.warnings.clone()).for_each(|w| found.warn(w));
                self.keep((&judged.motion.name, known), machine, files, found); // text to agreed text
            }
            Err(faults) => found.append(faults),
        }
        for assumed in borewright_emit::assumptions(&judged.motion, machine, form) {
            if !self.assumptions.contains(&assumed) {
                self.assumptions.push(assumed);
            }
        }
    }

    /// Keeps the programs if all of them agree with what was proved; else it is our fault.
    fn keep(
        &mut self,
        (routine, known): (&str, &[&Proved<Motion>]),
        machine: &Machine,
        files: Vec<EmittedFile>,
        found: &mut Diagnostics,
    ) {
        let written: Vec<Written<'_>> = files.iter().map(Written::from).collect();
        let texts = match agreement::agreed(known, &written, machine) {
            Ok(texts) => texts,
            Err(fault) => {
                let _said = found.report(*fault);
                return;
            }
        };
        for (file, agreed) in files.into_iter().zip(texts) {
            // Two jobs may call one routine that has a number of its own: its program is the same for both.
            let known = self.programs.iter().any(|p| p.file.name == file.name && p.file.text == file.text);
            if !known {
                let (routine, machine, inch) = (routine.to_owned(), machine.name.clone(), machine.inch());
                let AgreedText { text, settled } = agreed;
                self.programs.push(BuiltProgram { routine, machine, inch, file, text, settled });
            }
        }
    }

    /// Two programs of one name would overwrite each other.
    fn refuse_equal_names(&self, found: &mut Diagnostics) {
        let mut seen: BTreeMap<&str, &str> = BTreeMap::new();
        for program in &self.programs {
            if let Some(first) = seen.insert(&program.file.name, &program.routine) {
                let _said = found.report(errors::file_twice(&program.file.name, first, &program.routine));
            }
        }
    }
}
