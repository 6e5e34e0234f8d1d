//! Reports as JSON for programs. The names are a contract: they may be added to, never changed.
//!
//! Every place is resolved to a path, a line and a column; both count from 1, columns in characters.

use std::collections::BTreeMap;

use borewright_base::{Code, Diagnostic, Severity, SourceMap, Span};
use borewright_emit::Form;
use borewright_motion::Motion;
use borewright_number::{Dimension, Quantity, Rational, Rounding, Unit};
use borewright_proof::{Settled, Verdict};
use borewright_runtime::trace::{TracedAlarm, TracedEvent, TracedMove};
use serde::Serialize;
use sha2::{Digest as _, Sha256};

use crate::{Built, BuiltProgram, Judged, Ran, Report, verdicts};

/// The version of all the shapes in this file.
pub const VERSION: u32 = 1;

/// A finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// `S0103`
    pub code: &'static str,
    /// `unclosed-bracket`
    pub name: &'static str,
    /// `error` or `warning`
    pub severity: &'static str,
    /// One line.
    pub message: String,
    /// Where.
    #[serde(flatten)]
    pub place: Place,
    /// Further places.
    pub labels: Vec<Label>,
    /// Advice.
    pub hints: Vec<String>,
}

/// A stretch of a text; all of it `null` for a finding about no text.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Place {
    /// The path, or `stdlib/NAME.bore` for a bundled file.
    pub file: Option<String>,
    /// First line.
    pub line: Option<usize>,
    /// First column.
    pub column: Option<usize>,
    /// Line of the end.
    pub end_line: Option<usize>,
    /// Column after the last character.
    pub end_column: Option<usize>,
}

/// A second place that explains the first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Label {
    /// Where.
    #[serde(flatten)]
    pub place: Place,
    /// What is there.
    pub message: String,
}

/// What is assumed and not proved.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Assumption {
    /// A name that stays the same from version to version.
    pub id: &'static str,
    /// The sentence that headers and sheets print.
    pub text: String,
    /// Which routines and jobs assume it.
    pub routines: Vec<String>,
}

/// `check --format json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Check {
    /// [`VERSION`]
    pub version: u32,
    /// Everything found, sorted by place.
    pub diagnostics: Vec<Finding>,
    /// Every obligation with its verdict.
    pub obligations: Vec<Obligation>,
    /// What is assumed and not proved.
    pub assumptions: Vec<Assumption>,
}

/// The report of a check.
#[must_use]
pub fn check(report: &Report) -> Check {
    Check {
        version: VERSION,
        diagnostics: findings(&report.found, &report.sources),
        obligations: report.routines.iter().flat_map(|j| obligations(j, &report.sources)).collect(),
        assumptions: assumptions(report.routines.iter().filter(|j| j.asked)),
    }
}

fn obligations(judged: &Judged, sources: &SourceMap) -> Vec<Obligation> {
    let suggested = |settled| {
        borewright_proof::errors::suggested(&judged.verdicts, settled)
            .map(|suggestion| suggestion.text.clone())
    };
    let settled = judged.verdicts.settled.iter();
    settled
        .map(|s| Obligation { suggestion: suggested(s), ..obligation(s, &judged.motion, sources) })
        .collect()
}

fn obligation(settled: &Settled, motion: &Motion, sources: &SourceMap) -> Obligation {
    let Settled { obligation, verdict, steps, micros } = settled;
    let place = place(obligation.span, sources);
    Obligation {
        id: obligation.id.clone(),
        file: place.file.unwrap_or_default(),
        line: place.line.unwrap_or_default(),
        column: place.column.unwrap_or_default(),
        routine: obligation.routine.clone(),
        promise: obligation.promise.clone().unwrap_or_default(),
        kind: obligation.kind.phrases().short,
        why: obligation.why.clone(),
        verdict: match verdict {
            Verdict::Proved { .. } => "proved",
            Verdict::Refuted(_) => "refuted",
            Verdict::Unknown { .. } => "unknown",
        },
        counterexample: verdicts::values(settled, motion).into_iter().collect(),
        fault: fault(verdict, sources),
        suggestion: None,
        micros: *micros,
        steps: *steps,
    }
}

/// What was seen to go wrong at the values of a counterexample.
fn fault(verdict: &Verdict, sources: &SourceMap) -> Option<Fault> {
    match verdict {
        Verdict::Refuted(counter) => {
            counter.fault.as_ref().map(|f| Fault { text: f.text.clone(), place: place(f.span, sources) })
        }
        Verdict::Proved { .. } | Verdict::Unknown { .. } => None,
    }
}

/// What the routines assume, each thing once.
fn assumptions<'a>(judged: impl Iterator<Item = &'a Judged>) -> Vec<Assumption> {
    let mut list: Vec<Assumption> = Vec::new();
    for judged in judged {
        for assumed in &judged.verdicts.assumptions {
            match list.iter_mut().find(|known| known.id == assumed.name && known.text == assumed.text) {
                Some(known) => known.routines.push(judged.motion.name.clone()),
                None => list.push(Assumption {
                    id: assumed.name,
                    text: assumed.text.clone(),
                    routines: vec![judged.motion.name.clone()],
                }),
            }
        }
    }
    list
}

/// One formula that must hold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Obligation {
    /// A name that is unique in the report.
    pub id: String,
    /// The file in which it arises.
    pub file: String,
    /// The line in which it arises.
    pub line: usize,
    /// The column at which it arises.
    pub column: usize,
    /// Of which routine or job.
    pub routine: String,
    /// The promise it serves; empty for what is asked of every routine.
    pub promise: String,
    /// Which kind of obligation.
    pub kind: &'static str,
    /// Why it exists, in a sentence.
    pub why: String,
    /// `proved`, `refuted` or `unknown`
    pub verdict: &'static str,
    /// For a refuted one: values of the parameters at which it fails, each with its unit.
    pub counterexample: BTreeMap<String, String>,
    /// What was seen to go wrong when the motion was run at these values.
    pub fault: Option<Fault>,
    /// The weakest short requirement found that would make it hold, as a whole line of the head.
    pub suggestion: Option<String>,
    /// Microseconds it took.
    pub micros: u64,
    /// Steps of the engine it took; the same on every machine.
    pub steps: u64,
}

/// What goes wrong at the values of a counterexample.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// "the cutter passes the wall by 1.4mm"
    pub text: String,
    /// The step that does it.
    #[serde(flatten)]
    pub place: Place,
}

/// `build --format json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Build {
    /// [`VERSION`]
    pub version: u32,
    /// What was written.
    pub files: Vec<Written>,
    /// What is assumed and not proved.
    pub assumptions: Vec<Assumption>,
    /// Everything found, sorted by place.
    pub diagnostics: Vec<Finding>,
    /// Every obligation with its verdict.
    pub obligations: Vec<Obligation>,
}

/// One file that was written.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Written {
    /// Its path.
    pub path: String,
    /// The routine or job it was made from.
    pub routine: String,
    /// `macro` or `blocks`
    pub form: &'static str,
    /// The machine's name.
    pub machine: String,
    /// Its program number.
    pub program: Option<u32>,
    /// Of its bytes, in hexadecimal.
    pub sha256: String,
    /// Its length.
    pub bytes: usize,
    /// Lines that are blocks.
    pub blocks: usize,
    /// Bounds that are proved of the text, each with its unit.
    pub bounds: BTreeMap<String, String>,
}

/// The report of a build; `paths` are those to which its programs were written, in their order.
#[must_use]
pub fn build(built: &Built, paths: &[String]) -> Build {
    let assumption =
        |a: &borewright_emit::Assumption| Assumption { id: a.id, text: a.text.clone(), routines: Vec::new() };
    Build {
        version: VERSION,
        files: built.programs.iter().zip(paths).map(|(program, path)| written(program, path)).collect(),
        assumptions: built.assumptions.iter().map(assumption).collect(),
        diagnostics: findings(&built.found, &built.sources),
        obligations: built.routines.iter().flat_map(|j| obligations(j, &built.sources)).collect(),
    }
}

fn written(program: &BuiltProgram, path: &str) -> Written {
    let file = &program.file;
    // Lengths in the unit of the program, which each text states.
    let quantity = |value: &Option<Rational>, dimension: Dimension| {
        let inch = program.inch && dimension == Dimension::LENGTH;
        let quantity = value.as_ref().map(|value| Quantity { value: upwards(value, inch), dimension });
        quantity.map_or_else(|| "unknown".to_owned(), |q| q.text(program.inch))
    };
    let length = |value| quantity(value, Dimension::LENGTH);
    Written {
        path: path.to_owned(),
        routine: program.routine.clone(),
        form: match file.form {
            Form::Macro => "macro",
            Form::Blocks => "blocks",
        },
        machine: program.machine.clone(),
        program: file.program,
        sha256: Sha256::digest(&file.text).iter().map(|byte| format!("{byte:02x}")).collect(),
        bytes: file.text.len(),
        blocks: file.text.lines().filter(|line| !line.trim().is_empty()).count(),
        bounds: BTreeMap::from([
            ("arc_mismatch".to_owned(), length(&file.bounds.arc_mismatch)),
            ("end_point".to_owned(), length(&file.bounds.end_point)),
            ("floor".to_owned(), length(&file.bounds.floor)),
            ("joint".to_owned(), quantity(&file.bounds.joint, Dimension::ANGLE)),
            ("wall".to_owned(), length(&file.bounds.wall)),
        ]),
    }
}

/// A bound in short decimals of mm or inches, rounded so that it still holds.
fn upwards(value: &Rational, inch: bool) -> Rational {
    let unit = if inch { Unit::Inch.factor() } else { Unit::Millimetre.factor() };
    (value / &unit).rounded(6, Rounding::Up) * unit
}

/// `run --format json`: in the program's units.
#[derive(Debug, Clone, Serialize)]
pub struct Run<'a> {
    /// [`VERSION`]
    pub version: u32,
    /// `mm` or `in`; `null` where nothing could be run.
    pub units: Option<&'static str>,
    /// Every move, in order.
    pub moves: &'a [TracedMove],
    /// What else the controller did.
    pub events: &'a [TracedEvent],
    /// Alarms that the program raised.
    pub alarms: &'a [TracedAlarm],
    /// Faults of the text and of the run.
    pub errors: Vec<Finding>,
}

/// The report of a run.
#[must_use]
pub fn run(ran: &Ran) -> Run<'_> {
    let trace = ran.trace.as_ref();
    Run {
        version: VERSION,
        units: trace.map(|t| t.units),
        moves: trace.map_or(&[], |t| &t.moves),
        events: trace.map_or(&[], |t| &t.events),
        alarms: trace.map_or(&[], |t| &t.alarms),
        errors: findings(&ran.found, &ran.sources),
    }
}

/// `explain --format json`
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Page {
    /// [`VERSION`]
    pub version: u32,
    /// `S0103`
    pub code: &'static str,
    /// `unclosed-bracket`
    pub name: &'static str,
    /// Markdown.
    pub page: &'static str,
}

/// `machines --format json`
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Machines {
    /// [`VERSION`]
    pub version: u32,
    /// The built-in ones, or the one that was asked for.
    pub machines: Vec<Machine>,
    /// What is wrong with a machine file.
    pub diagnostics: Vec<Finding>,
}

/// One machine.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Machine {
    /// Its name, or the path of its file.
    pub name: String,
    /// What it is, in a line.
    pub summary: String,
    /// The text of its file, where one was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// A report of findings alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Findings {
    /// [`VERSION`]
    pub version: u32,
    /// Everything found, sorted by place.
    pub diagnostics: Vec<Finding>,
}

/// The page of a code.
#[must_use]
pub fn page(code: Code) -> Page {
    Page { version: VERSION, code: code.number, name: code.name, page: code.page }
}

/// The findings with every place resolved.
#[must_use]
pub fn findings(found: &[Diagnostic], sources: &SourceMap) -> Vec<Finding> {
    found.iter().map(|d| finding(d, sources)).collect()
}

fn finding(d: &Diagnostic, sources: &SourceMap) -> Finding {
    let label =
        |l: &borewright_base::Label| Label { place: place(l.span, sources), message: l.message.clone() };
    Finding {
        code: d.code.number,
        name: d.code.name,
        severity: match d.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        },
        message: d.message.clone(),
        place: d.span.map_or_else(Place::default, |span| place(span, sources)),
        labels: d.labels.iter().map(label).collect(),
        hints: d.hints.clone(),
    }
}

/// A span resolved to path, line and column.
#[must_use]
pub fn place(span: Span, sources: &SourceMap) -> Place {
    let Some((file, start, end)) = sources.locate(span) else { return Place::default() };
    Place {
        file: Some(file.to_owned()),
        line: Some(start.line),
        column: Some(start.column),
        end_line: Some(end.line),
        end_column: Some(end.column),
    }
}

/// The text of a report, one line end at its end.
#[must_use]
pub fn text(report: &impl Serialize) -> String {
    // Our reports are plain structs with text keys: there is nothing that serialising could refuse.
    serde_json::to_string_pretty(report).map_or_else(|_| String::from("{}\n"), |text| text + "\n")
}

/// `verify --format json`
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Verification {
    /// [`VERSION`]
    pub version: u32,
    /// Everything found, sorted by place.
    pub diagnostics: Vec<Finding>,
    /// Every obligation that the source gives.
    pub obligations: Vec<Confirmation>,
}

/// Whether an obligation's certificate shows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Confirmation {
    /// Its name.
    pub id: String,
    /// The file in which it arises.
    pub file: String,
    /// The line in which it arises.
    pub line: usize,
    /// Whether its certificate was rechecked and shows it.
    pub confirmed: bool,
    /// Whether that was by an easier formula that implies it.
    pub easier: bool,
}

/// The report of a verification.
#[must_use]
pub fn verification(verified: &crate::Verified) -> Verification {
    let confirmation = |o: &crate::VerifiedObligation| {
        let place = place(o.span, &verified.sources);
        let (file, line) = (place.file.unwrap_or_default(), place.line.unwrap_or_default());
        Confirmation { id: o.id.clone(), file, line, confirmed: o.confirmed, easier: o.easier }
    };
    Verification {
        version: VERSION,
        diagnostics: findings(&verified.found, &verified.sources),
        obligations: verified.obligations.iter().map(confirmation).collect(),
    }
}
