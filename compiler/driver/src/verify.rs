//! From a directory of certificates and the source texts to what is wrong with them: every formula is written
//! anew from the source, and from the programs that a build has written, every certificate is rechecked, and the prover searches nothing.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::{Diagnostic, Diagnostics, SourceMap, Span};
use borewright_motion::Symbol;
use borewright_number::Rational;
use borewright_proof::{Formula, Kind, Obligation, Oracle, Settings, Valuation, formula_text, oblige};
use borewright_proof_checker::{Evidence, recheck};

use crate::certificates::{Entry, MANIFEST, Manifest, Shown, VERSION, sha256};
use crate::errors;
use crate::host::{Host, Place};
use crate::load::load;
use crate::pipeline::{hold_back, side_by_side, understand};
use crate::texts::{Rebuilt, is_text};

/// What came of it.
#[derive(Debug)]
pub struct Verified {
    /// The texts.
    pub sources: SourceMap,
    /// Everything found, sorted by place.
    pub found: Vec<Diagnostic>,
    /// Every obligation that the source gives.
    pub obligations: Vec<VerifiedObligation>,
}

/// One obligation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifiedObligation {
    /// Its name.
    pub id: String,
    /// Where it arises.
    pub span: Span,
    /// Whether its certificate shows it.
    pub confirmed: bool,
    /// Whether that was by an easier formula that implies it.
    pub easier: bool,
}

/// Holds the certificates in a directory against the sources at and below the paths, and, where a build has written
/// them, against its texts, which are at those paths too.
#[must_use]
pub fn verify(host: &dyn Host, directory: &str, paths: &[String]) -> Verified {
    let mut found = Diagnostics::default();
    let sources: Vec<String> = paths.iter().filter(|path| !is_text(path)).cloned().collect();
    let mut loaded = load(host, &sources, &mut found); // paths to trees
    let motions = understand(&loaded, &mut found); // trees to motions
    let mut verified = Vec::new();
    if let Some(store) = Store::read(host, directory, &mut found) {
        let order = store.manifest.build.as_ref();
        let rebuilt = order.map(|order| Rebuilt::read(host, order, paths, &motions, &mut loaded, &mut found));
        let motions = rebuilt.as_ref().map_or(motions, Rebuilt::motions);
        let (motions, _) = hold_back(motions, &found);
        let limits = rebuilt.as_ref().map_or_else(|| Settings::default().limits, Rebuilt::limits);
        let per_motion = side_by_side(&motions, |motion| oblige(motion, &limits, &store)); // motions to formulas
        let texts = rebuilt.map(|rebuilt| rebuilt.obligations(&motions, &mut found)); // texts to formulas
        let all: Vec<Obligation> =
            per_motion.into_iter().flatten().chain(texts.into_iter().flatten()).collect();
        verified = store.confirm_all(&all, &mut found);
        store.report_stray_files(host, &mut found);
        for answer in &store.manifest.answers {
            if let Some(Err(fault)) = store.certificates.get(&answer.file) {
                let _said = found.report((**fault).clone());
            }
        }
    }
    Verified { sources: loaded.sources, found: found.into_sorted(), obligations: verified }
}

/// The manifest, and all its certificates as far as they are in order.
struct Store {
    directory: String,
    manifest: Manifest,
    /// By file.
    certificates: BTreeMap<String, Result<Certificate, Box<Diagnostic>>>,
}

/// A certificate that the checker has accepted.
struct Certificate {
    formula: String,
    evidence: Evidence,
}

/// What a certificate may be wanted to show of its formula.
#[derive(Clone, Copy, PartialEq, Eq)]
enum What {
    Holds,
    CanBeMet,
}

impl Certificate {
    fn shows(&self, what: What) -> bool {
        match self.evidence {
            Evidence::Proof(_) => what == What::Holds,
            Evidence::Witness(..) => what == What::CanBeMet,
        }
    }
}

impl Store {
    fn read(host: &dyn Host, directory: &str, found: &mut Diagnostics) -> Option<Self> {
        let directory = directory.trim_end_matches('/').to_owned();
        let path = format!("{directory}/{MANIFEST}");
        let manifest = match host.read(&path) {
            Ok(bytes) => serde_json::from_slice::<Manifest>(&bytes).map_err(|fault| fault.to_string()),
            Err(trouble) => {
                let _said = found.report(errors::trouble(&path, &trouble));
                return None;
            }
        };
        let manifest = match manifest {
            Ok(manifest) if manifest.version == VERSION => manifest,
            Ok(manifest) => {
                let why = format!("its version is {}, not {VERSION}", manifest.version);
                let _said = found.report(errors::bad_manifest(&path, &why));
                return None;
            }
            Err(why) => {
                let _said = found.report(errors::bad_manifest(&path, &why));
                return None;
            }
        };
        let own = manifest.obligations.iter().filter_map(|entry| entry.certificate.as_ref());
        let all: Vec<&Shown> = own.chain(&manifest.answers).collect();
        let read = side_by_side(&all, |shown| fetch(host, &directory, shown));
        let certificates = all.iter().map(|shown| shown.file.clone()).zip(read).collect();
        Some(Self { directory, manifest, certificates })
    }

    /// Each obligation against the manifest, and what the manifest has besides.
    fn confirm_all(&self, obligations: &[Obligation], found: &mut Diagnostics) -> Vec<VerifiedObligation> {
        let mut verified = Vec::new();
        let mut entries = self.by_id();
        for obligation in obligations {
            let entry = entries.get_mut(obligation.id.as_str()).and_then(|list| list.pop());
            let confirmed = match entry {
                Some(entry) => self.confirm(obligation, &formula_text(&obligation.formula), entry),
                None => Err(Box::new(errors::obligation_missing(&obligation.id, obligation.span))),
            };
            verified.push(VerifiedObligation {
                id: obligation.id.clone(),
                span: obligation.span,
                confirmed: confirmed.is_ok(),
                easier: confirmed.as_ref().is_ok_and(|easier| *easier),
            });
            if let Err(fault) = confirmed {
                let _said = found.report(*fault);
            }
        }
        for left in entries.into_values().flatten() {
            let _said = found.report(errors::obligation_extra(&left.id));
        }
        verified
    }

    fn by_id(&self) -> BTreeMap<&str, Vec<&Entry>> {
        let mut entries: BTreeMap<&str, Vec<&Entry>> = BTreeMap::new();
        // The last first: they are taken from the end.
        for entry in self.manifest.obligations.iter().rev() {
            entries.entry(&entry.id).or_default().push(entry);
        }
        entries
    }

    /// Whether the entry shows the obligation; true for "by an easier formula".
    fn confirm(
        &self,
        obligation: &Obligation,
        formula: &str,
        entry: &Entry,
    ) -> Result<bool, Box<Diagnostic>> {
        let (id, span) = (obligation.id.as_str(), obligation.span);
        if entry.formula_sha256 != sha256(formula) {
            return Err(Box::new(errors::formula_differs(id, span)));
        }
        let not_proved = || Box::new(errors::not_proved(id, &entry.verdict, span));
        let shown = entry.certificate.as_ref().ok_or_else(not_proved)?;
        let certificate = match self.certificates.get(&shown.file) {
            Some(Ok(certificate)) => certificate,
            Some(Err(fault)) => return Err(fault.clone()),
            None => return Err(Box::new(errors::certificate_altered(&shown.file, "it was not read"))),
        };
        if entry.verdict != "proved" {
            return Err(not_proved());
        }
        let wanted = if obligation.kind == Kind::Witness { What::CanBeMet } else { What::Holds };
        if !certificate.shows(wanted) {
            return Err(Box::new(errors::rejected(&shown.file, "it shows something else of the formula")));
        }
        let easier = obligation.easier.iter().any(|easier| formula_text(easier) == certificate.formula);
        match certificate.formula == formula {
            true => Ok(false),
            false if easier && wanted == What::Holds => Ok(true),
            false => Err(Box::new(errors::rejected(&shown.file, "it is about another formula"))),
        }
    }

    /// Files beside the manifest that it does not list.
    fn report_stray_files(&self, host: &dyn Host, found: &mut Diagnostics) {
        let Ok(Place::Directory(names)) = host.look(&self.directory) else { return };
        let names: BTreeSet<String> = names.into_iter().filter(|name| name.ends_with(".json")).collect();
        for name in names {
            if name != MANIFEST && !self.certificates.contains_key(&name) {
                let _said = found.report(errors::obligation_extra(&format!("{}/{name}", self.directory)));
            }
        }
    }
}

/// Reads one certificate, holds it against the manifest, and has it rechecked.
fn fetch(host: &dyn Host, directory: &str, shown: &Shown) -> Result<Certificate, Box<Diagnostic>> {
    let altered = |why: &str| Box::new(errors::certificate_altered(&shown.file, why));
    if shown.file.contains(['/', '\\']) {
        return Err(altered("its name leads elsewhere"));
    }
    let bytes =
        host.read(&format!("{directory}/{}", shown.file)).map_err(|_| altered("it cannot be read"))?;
    if sha256(&bytes) != shown.sha256 {
        return Err(altered("its bytes are not those that the manifest was made with"));
    }
    let text = String::from_utf8_lossy(&bytes);
    let accepted = recheck(&text).map_err(|why| Box::new(errors::rejected(&shown.file, &why)))?;
    let formula = serde_json::json!(accepted.formula).to_string();
    if sha256(&formula) != shown.formula_sha256 {
        return Err(altered("its formula is not the one that the manifest names"));
    }
    Ok(Certificate { formula, evidence: accepted.evidence })
}

/// Answers the rules from certificates alone: "yes" only where the checker has accepted a proof of the very
/// formula that is asked about. "No" is always safe: the rules then write what holds either way.
impl Oracle for Store {
    fn holds(&self, formula: &Formula) -> bool {
        self.answer(formula, What::Holds).is_some()
    }

    fn witness(&self, formula: &Formula) -> Option<Valuation> {
        let certificate = self.answer(formula, What::CanBeMet)?;
        let symbol = |name: &str| {
            let declared = formula.variables.iter().find(|v| borewright_proof::name_text(&v.symbol) == name);
            declared.map_or_else(|| Symbol::new(name), |v| v.symbol.clone())
        };
        let Evidence::Witness(known, _) = &certificate.evidence else { return None };
        Some(
            known
                .iter()
                .filter_map(|(name, value)| Some((symbol(name), Rational::from_fraction(value.as_str()?)?)))
                .collect(),
        )
    }
}

impl Store {
    fn answer(&self, formula: &Formula, shown: What) -> Option<&Certificate> {
        let text = formula_text(formula);
        let hash = sha256(&text);
        let mut asked = self.manifest.answers.iter().filter(|answer| answer.formula_sha256 == hash);
        asked.find_map(|answer| {
            let certificate = self.certificates.get(&answer.file)?.as_ref().ok()?;
            let fits = certificate.formula == text && certificate.shows(shown);
            fits.then_some(certificate)
        })
    }
}
