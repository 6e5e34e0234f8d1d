//! From controller text to a trace: what `run` does.

use borewright_base::{Diagnostic, Diagnostics, SourceMap};
use borewright_runtime::state::Units;
use borewright_runtime::{Controller, CutterOffset, Program, Request, RunOptions, Setting, Trace};

use crate::host::Host;
use crate::{errors, machines};

/// What is to be run.
#[derive(Debug, Clone, Default)]
pub struct RunOrder {
    /// Path of the program.
    pub file: String,
    /// Built-in machine or path of a machine file; a generic controller where none is named.
    pub machine: Option<String>,
    /// Blocks to run instead of the first program, the last of them the call: `G65 P9010 B50.`
    pub call: Vec<String>,
    /// Variables to set first: `#101=50`
    pub set: Vec<String>,
    /// Cutter offsets, as the controller keeps them: `1=0.05mm`
    pub offset: Vec<String>,
    /// Paths of further programs that may be called.
    pub with: Vec<String>,
}

/// What a run did.
#[derive(Debug)]
pub struct Ran {
    /// The texts.
    pub sources: SourceMap,
    /// Everything found: in reading first, then in the run.
    pub found: Vec<Diagnostic>,
    /// What the controller did; `None` where nothing could be run.
    pub trace: Option<Trace>,
}

impl Ran {
    /// The exit status: an alarm counts as something found.
    #[must_use]
    pub fn status(&self) -> u8 {
        let alarms = self.trace.as_ref().is_some_and(|trace| !trace.alarms.is_empty());
        errors::status(&self.found).max(u8::from(alarms))
    }
}

/// Runs a program on the virtual controller.
#[must_use]
pub fn run(host: &dyn Host, order: &RunOrder) -> Ran {
    let (mut sources, mut found) = (SourceMap::default(), Diagnostics::default());
    let trace = attempt(host, order, &mut sources, &mut found);
    let mut found = found.into_sorted();
    let run = trace.iter().flat_map(|trace| &trace.diagnostics);
    let run: Vec<Diagnostic> = run.filter(|fault| !repeats(fault, &found)).cloned().collect();
    found.extend(run);
    Ran { sources, found, trace }
}

/// Whether a fault only says that a block was reached of which it has been said why it cannot be read.
fn repeats(fault: &Diagnostic, found: &[Diagnostic]) -> bool {
    let Some(block) = fault.span.filter(|_| fault.code == borewright_runtime::errors::UNREADABLE_BLOCK)
    else {
        return false;
    };
    found
        .iter()
        .filter_map(|d| d.span)
        .any(|s| s.file == block.file && s.start <= block.end && block.start <= s.end)
}

fn attempt(
    host: &dyn Host,
    order: &RunOrder,
    sources: &mut SourceMap,
    found: &mut Diagnostics,
) -> Option<Trace> {
    let program = read(host, &order.file, sources, found);
    let with: Vec<Option<Program>> = order.with.iter().map(|path| read(host, path, sources, found)).collect();
    let called = order.call.split_last();
    let call = called.map(|(text, _)| request(text, sources, found));
    let before: Vec<Option<Request>> =
        called.into_iter().flat_map(|(_, first)| first).map(|text| block(text, sources, found)).collect();
    let set: Vec<Option<Setting>> = order.set.iter().map(|text| setting(text, sources, found)).collect();
    let offsets: Vec<Option<CutterOffset>> =
        order.offset.iter().map(|text| offset(text, sources, found)).collect();
    let controller = controller(host, order.machine.as_deref(), sources, found);
    let with: Vec<Program> = with.into_iter().collect::<Option<_>>()?;
    let (program, controller) = (program?, controller?);
    let offsets: Vec<CutterOffset> = offsets.into_iter().collect::<Option<_>>()?;
    let options = RunOptions {
        call: call.map_or(Some(None), |call| call.map(Some))?,
        before: before.into_iter().collect::<Option<_>>()?,
        called: !order.call.is_empty(),
        set: set.into_iter().collect::<Option<_>>()?,
        with: with.iter().collect(),
        cutter_offsets: offsets.iter().map(|o| (o.d, o.within(controller.units))).collect(),
        ..RunOptions::default()
    };
    Some(borewright_runtime::run(&program, &controller, &options))
}

/// Reads one text. A text with faults is still a program: a run tells whether it reaches them.
fn read(host: &dyn Host, path: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<Program> {
    let bytes = match host.read(path) {
        Ok(bytes) => bytes,
        Err(trouble) => {
            let _said = found.report(errors::trouble(path, &trouble));
            return None;
        }
    };
    let text = borewright_runtime::decode(&bytes);
    let file = sources.add(path, text.as_str());
    if text.trim().is_empty() {
        let _said = found.report(errors::empty_program(path, file));
        return None;
    }
    let (program, faults) = borewright_runtime::read(file, &text);
    found.append(faults);
    Some(program)
}

fn request(text: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<Request> {
    said(borewright_runtime::parse_call(sources.add("--call", text), text), found)
}

fn block(text: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<Request> {
    said(borewright_runtime::parse_block(sources.add("--call", text), text), found)
}

fn setting(text: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<Setting> {
    said(borewright_runtime::parse_set(sources.add("--set", text), text), found)
}

fn offset(text: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<CutterOffset> {
    said(borewright_runtime::parse_offset(sources.add("--offset", text), text), found)
}

fn said<T>(result: Result<T, borewright_runtime::Fault>, found: &mut Diagnostics) -> Option<T> {
    result.map_err(|fault| found.report(fault.into())).ok()
}

fn controller(
    host: &dyn Host,
    machine: Option<&str>,
    sources: &mut SourceMap,
    found: &mut Diagnostics,
) -> Option<Controller> {
    match machine {
        None => Some(Controller::generic(Units::Millimetre)),
        Some(name) => machines::find(host, name, sources, found).map(|machine| Controller::from(&machine)),
    }
}
