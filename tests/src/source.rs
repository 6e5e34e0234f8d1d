//! The routines and jobs that the tests draw from, each with a text of its own; and what a check says of one.

use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use borewright_base::{FileId, Severity};
use borewright_check::Loader;
use borewright_driver::{Host, Judged, Lints, MemoryHost, Place, Report, Settings, Trouble, check_with};
use borewright_motion::Motion;
use borewright_proof::Verdict;
use borewright_syntax::{ast, parse};

/// One routine or job with what it needs.
#[derive(Debug, Clone)]
pub struct Source {
    /// Where it comes from: `stdlib/bores.bore`.
    pub file: String,
    /// Its name.
    pub name: String,
    /// A text in which it stands, with all that it calls.
    pub text: String,
}

/// Every routine and job of the library, of `tests/proofs/pass` and of the samples.
#[must_use]
pub fn all() -> Vec<Source> {
    let mut files: Vec<(String, String)> = borewright_stdlib::FILES
        .iter()
        .map(|(name, text)| (format!("stdlib/{name}.bore"), (*text).to_owned()))
        .collect();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    for folder in ["tests/proofs/pass", "samples"] {
        files.extend(bore_files(&root, folder));
    }
    let mut all: Vec<Source> = files.iter().flat_map(|(file, text)| split(file, text)).collect();
    // `ONLY=name,name` draws from these alone, while one is at work on them.
    if let Ok(only) = std::env::var("ONLY") {
        all.retain(|source| only.split(',').any(|name| name == source.name));
    }
    all
}

fn bore_files(root: &Path, folder: &str) -> Vec<(String, String)> {
    let Ok(entries) = std::fs::read_dir(root.join(folder)) else { return Vec::new() };
    let mut names: Vec<String> = entries
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter(|n| n.ends_with(".bore"))
        .collect();
    names.sort();
    let read = |name: String| {
        let text = std::fs::read_to_string(root.join(folder).join(&name)).ok()?;
        Some((format!("{folder}/{name}"), text))
    };
    names.into_iter().filter_map(read).collect()
}

/// Each routine or job of a file, with what else stands there; with the whole file where it calls another.
fn split(file: &str, text: &str) -> Vec<Source> {
    let (others, items) = parts(text);
    let source = |(name, item): &(String, String)| {
        let alone = format!("{others}{item}");
        // Its own text suffices unless it calls a routine beside it.
        let calls = items.iter().any(|(other, _)| item.contains(&format!(" {other}(")) && other != name);
        let text = if calls { text.to_owned() } else { alone };
        Source { file: file.to_owned(), name: name.clone(), text }
    };
    items.iter().map(source).collect()
}

fn parts(text: &str) -> (String, Vec<(String, String)>) {
    let (mut others, mut items) = (String::new(), Vec::new());
    let mut open: Option<(String, String)> = None;
    for line in text.lines() {
        if open.is_none() {
            let rest = line.strip_prefix("routine ").or_else(|| line.strip_prefix("job "));
            let name = rest.map(|r| r.split(['(', ' ', '{']).next().unwrap_or("").to_owned());
            open = name.map(|name| (name, String::new()));
        }
        match &mut open {
            Some((_, item)) => item.extend([line, "\n"]),
            None if line.starts_with("//") => {}
            None => others.extend([line, "\n"]),
        }
        if line == "}" {
            items.extend(open.take());
        }
    }
    (others, items)
}

/// The motion of a source, without any proof; none where its text has errors.
#[must_use]
pub fn motion(source: &Source) -> Option<Arc<Motion>> {
    let (file, _) = parse(FileId(0), &source.text);
    let (checked, _) = borewright_check::check(&file, FileId(0), &Library);
    let (motions, found) = borewright_lower::lower(&checked);
    motions.into_iter().find(|m| m.name == source.name).filter(|_| !found.has_errors())
}

struct Library;

impl Loader for Library {
    fn load(&self, name: &str) -> Option<Arc<ast::File>> {
        let (_, text) = borewright_stdlib::FILES.iter().find(|(n, _)| *n == name)?;
        Some(Arc::new(parse(FileId(1), text).0))
    }
}

/// What a check says of one routine as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Every obligation is proved.
    Proved,
    /// Some obligation is refuted.
    Refuted,
    /// Some obligation is undecided, none refuted.
    Unknown,
    /// The text is refused before any proof.
    Rejected,
}

/// Checks a text; what might help its author is not looked for.
#[must_use]
pub fn checked(text: &str) -> Report {
    let host = Clocked { host: MemoryHost::new([("case.bore", text)]), start: Instant::now() };
    check_with(&host, &["case.bore".to_owned()], &verdicts_alone())
}

/// Settings for verdicts alone: the search for a suggestion takes longer than many a proof.
#[must_use]
pub fn verdicts_alone() -> Settings {
    Settings { lints: Lints { none: true, ..Lints::default() }, ..Settings::default() }
}

/// The routine in a report; none where errors in the text kept it from being judged.
#[must_use]
pub fn judged<'a>(report: &'a Report, name: &str) -> Option<&'a Judged> {
    report.routines.iter().find(|j| j.asked && j.motion.name == name)
}

/// The class of a routine.
#[must_use]
pub fn class(judged: Option<&Judged>) -> Class {
    let Some(judged) = judged else { return Class::Rejected };
    let is = |wanted: fn(&Verdict) -> bool| judged.verdicts.settled.iter().any(|s| wanted(&s.verdict));
    if judged.verdicts.proved.is_some() {
        Class::Proved
    } else if is(|v| matches!(v, Verdict::Refuted(_))) {
        Class::Refuted
    } else {
        Class::Unknown
    }
}

/// The class of a routine in a text.
#[must_use]
pub fn said(text: &str, name: &str) -> Class {
    let report = checked(text);
    class(judged(&report, name))
}

/// Errors of a report, for messages.
#[must_use]
pub fn errors(report: &Report) -> Vec<String> {
    let errors = report.found.iter().filter(|d| d.severity == Severity::Error);
    errors.map(|d| format!("{} {}", d.code.number, d.message)).collect()
}

/// A world in memory with a clock, to see what proofs take.
struct Clocked {
    host: MemoryHost,
    start: Instant,
}

impl Host for Clocked {
    fn read(&self, path: &str) -> Result<Vec<u8>, Trouble> {
        self.host.read(path)
    }

    fn look(&self, path: &str) -> Result<Place, Trouble> {
        self.host.look(path)
    }

    fn micros(&self) -> u64 {
        u64::try_from(self.start.elapsed().as_micros()).unwrap_or(u64::MAX)
    }
}
