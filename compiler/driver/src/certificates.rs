//! From verdicts to files: a certificate for each obligation, and a manifest of them all.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use borewright_base::SourceMap;
use borewright_proof::{
    Budget, Certified, Formula, Oracle, Settings, Settled, Valuation, Verdict, certify, certify_proof,
    certify_witness, formula_text, oblige,
};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use crate::{BuildOrder, Built, BuiltProgram, Judged, Report};

/// The version of the manifest.
pub const VERSION: u32 = 1;

/// The manifest's file name.
pub const MANIFEST: &str = "manifest.json";

/// The list of everything that was to be shown.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// [`VERSION`]
    pub version: u32,
    /// Every obligation, in the order of the files.
    pub obligations: Vec<Entry>,
    /// What the rules asked of the engine, and it affirmed: without these answers they write other formulas.
    pub answers: Vec<Shown>,
    /// The build whose texts are among the obligations; none where a check was all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub build: Option<Order>,
}

/// What was built: formulas about texts are written from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Order {
    /// The source text.
    pub file: String,
    /// `macro` or `blocks`
    pub form: Form,
    /// A built-in machine, or the path of a machine file.
    pub machine: String,
    /// The routines and jobs that were named.
    pub routines: Vec<String>,
    /// Values of parameters.
    pub set: Vec<String>,
    /// The texts that were written.
    pub texts: Vec<Text>,
}

/// Numbered variables or plain blocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// Numbered variables.
    Macro,
    /// Plain blocks.
    Blocks,
}

/// A text that was written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Text {
    /// Its file.
    pub file: String,
    /// Of its bytes, in hexadecimal.
    pub sha256: String,
}

/// One obligation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Its name.
    pub id: String,
    /// The source text in which it arises.
    pub file: String,
    /// `proved`, `refuted` or `unknown`
    pub verdict: String,
    /// Of the text of the obligation's own formula, in hexadecimal.
    pub formula_sha256: String,
    /// What shows it.
    pub certificate: Option<Shown>,
}

/// A certificate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shown {
    /// Its file.
    pub file: String,
    /// Of the bytes of the file, in hexadecimal.
    pub sha256: String,
    /// Of the text of the formula that was shown: the obligation's own, or an easier one that implies it.
    pub formula_sha256: String,
}

/// A file's name and bytes.
pub type File = (String, Vec<u8>);

/// In hexadecimal.
pub(crate) fn sha256(bytes: impl AsRef<[u8]>) -> String {
    Sha256::digest(bytes.as_ref()).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// All certificates of a check, and the manifest as the last file.
#[must_use]
pub fn certificates(report: &Report) -> Vec<File> {
    Writer::default().finish(&report.routines, &report.sources, &Settings::default(), None)
}

/// All certificates of a build: of what was proved of its motions under the limits of the machine, and of what was
/// proved of its texts. The manifest is the last file.
#[must_use]
pub fn of_build(built: &Built, order: &BuildOrder) -> Vec<File> {
    let mut writer = Writer::default();
    let settings = Settings { limits: built.limits.clone(), ..Settings::default() };
    for program in &built.programs {
        for settled in &program.settled {
            writer.entry(
                &of_text(&program.file.name, &settled.obligation.id),
                settled,
                &built.sources,
                &settings,
            );
        }
    }
    let text = |p: &BuiltProgram| Text { file: p.file.name.clone(), sha256: sha256(p.text.get()) };
    let order = Order {
        file: order.file.clone(),
        form: order.form.into(),
        machine: order.machine.clone(),
        routines: order.routines.clone(),
        set: order.set.clone(),
        texts: built.programs.iter().map(text).collect(),
    };
    writer.finish(&built.routines, &built.sources, &settings, Some(order))
}

/// The name of an obligation of a text: the same routine may have several.
pub(crate) fn of_text(file: &str, id: &str) -> String {
    format!("{file}/{id}")
}

impl From<crate::Form> for Form {
    fn from(form: crate::Form) -> Self {
        match form {
            crate::Form::Macro => Self::Macro,
            crate::Form::Blocks => Self::Blocks,
        }
    }
}

impl From<Form> for crate::Form {
    fn from(form: Form) -> Self {
        match form {
            Form::Macro => Self::Macro,
            Form::Blocks => Self::Blocks,
        }
    }
}

/// The word for a verdict.
pub(crate) fn word(verdict: &Verdict) -> &'static str {
    match verdict {
        Verdict::Proved { .. } => "proved",
        Verdict::Refuted(_) => "refuted",
        Verdict::Unknown { .. } => "unknown",
    }
}

#[derive(Debug, Default)]
struct Writer {
    obligations: Vec<Entry>,
    files: Vec<File>,
    names: BTreeSet<String>,
}

impl Writer {
    /// What is shown of motions, after what was shown already, and the manifest of it all.
    fn finish(
        mut self,
        routines: &[Judged],
        sources: &SourceMap,
        settings: &Settings,
        build: Option<Order>,
    ) -> Vec<File> {
        let mut answers = Vec::new();
        for judged in routines {
            answers.extend(self.answers(judged, settings));
            for settled in &judged.verdicts.settled {
                self.entry(&settled.obligation.id, settled, sources, settings);
            }
        }
        let manifest = Manifest { version: VERSION, obligations: self.obligations, answers, build };
        self.files.push((MANIFEST.to_owned(), crate::render::json::text(&manifest).into_bytes()));
        self.files
    }

    fn entry(&mut self, id: &str, settled: &Settled, sources: &SourceMap, settings: &Settings) {
        let certified = certify(settled, settings);
        let place = crate::render::json::place(settled.obligation.span, sources);
        let entry = Entry {
            id: id.to_owned(),
            file: place.file.unwrap_or_default(),
            verdict: word(&settled.verdict).to_owned(),
            formula_sha256: sha256(formula_text(&settled.obligation.formula)),
            certificate: certified.map(|c| self.write(id, id, &c)),
        };
        self.obligations.push(entry);
    }

    /// The engine's answers to the rules of one motion, each question once.
    fn answers(&mut self, judged: &Judged, settings: &Settings) -> Vec<Shown> {
        let recorder = Recorder { budget: &settings.trial, yes: RefCell::default() };
        drop(oblige(&judged.motion, &settings.limits, &recorder));
        let mut shown = Vec::new();
        for (text, certified) in recorder.yes.into_inner() {
            let id = format!("answer/{}", judged.motion.name);
            shown.push(self.write(&id, &(id.clone() + &text), &certified));
        }
        shown
    }

    fn write(&mut self, id: &str, unique: &str, certified: &Certified) -> Shown {
        let text = certified.to_json(id);
        let stem = stem(id, unique);
        let mut file = format!("{stem}.json");
        for n in 2.. {
            if self.names.insert(file.clone()) {
                break;
            }
            file = format!("{stem}-{n}.json");
        }
        let formula_sha256 = sha256(certified.formula.to_string());
        let shown = Shown { file: file.clone(), sha256: sha256(&text), formula_sha256 };
        self.files.push((file, text.into_bytes()));
        shown
    }
}

/// A file name for an obligation: what is safe of its id on every file system, and some digits of a hash, for
/// ids that differ only in what is not safe.
pub(crate) fn stem(id: &str, unique: &str) -> String {
    let safe = |c: char| if c.is_ascii_alphanumeric() || c == '-' || c == '_' { c } else { '.' };
    let short: String = id.chars().map(safe).take(80).collect();
    let digits: String = sha256(unique).chars().take(8).collect();
    format!("{}-{digits}", short.trim_matches('.'))
}

/// Answers as the engine does, and keeps what shows each affirmed question.
struct Recorder<'a> {
    budget: &'a Budget,
    yes: RefCell<BTreeMap<String, Certified>>,
}

impl Recorder<'_> {
    fn note(&self, formula: &Formula, certified: Option<Certified>) -> bool {
        let Some(certified) = certified else { return false };
        self.yes.borrow_mut().insert(formula_text(formula), certified);
        true
    }
}

impl Oracle for Recorder<'_> {
    fn holds(&self, formula: &Formula) -> bool {
        self.note(formula, certify_proof(formula, self.budget))
    }

    fn witness(&self, formula: &Formula) -> Option<Valuation> {
        self.note(formula, certify_witness(formula));
        borewright_proof::witness(formula)
    }
}
