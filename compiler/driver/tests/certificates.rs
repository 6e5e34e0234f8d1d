//! Certificates go round: what a check writes, `verify` confirms, and nothing else.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests fail by panicking")]

use std::sync::OnceLock;

use borewright_driver::certificates::{File, MANIFEST, Manifest, Shown, certificates, of_build};
use borewright_driver::{BuildOrder, Form, MemoryHost, Verified, build, check, smt2, verify};
use pretty_assertions::assert_eq;
use sha2::{Digest as _, Sha256};

fn source() -> &'static str {
    borewright_stdlib::FILES.iter().find(|(name, _)| *name == "bores").unwrap().1
}

/// One routine of the bundled library with its certificates.
fn written() -> &'static (String, Vec<File>) {
    static WRITTEN: OnceLock<(String, Vec<File>)> = OnceLock::new();
    WRITTEN.get_or_init(|| {
        let text = first_routine();
        let report = check(&MemoryHost::new([("one.bore", text.as_str())]), &["one.bore".to_owned()]);
        let files = certificates(&report);
        (text, files)
    })
}

/// The first routine of the bundled bores.
fn first_routine() -> String {
    let text = source();
    let start = text.find("routine ").unwrap();
    let end = start + text[start..].find("\n}").unwrap() + 3;
    text[start..end].to_owned()
}

fn verified(text: &str, files: &[File]) -> Verified {
    let beside = files.iter().map(|(name, bytes)| (format!("proofs/{name}"), bytes.clone()));
    let host = MemoryHost::new(beside.chain([("one.bore".to_owned(), text.as_bytes().to_vec())]));
    verify(&host, "proofs", &["one.bore".to_owned()])
}

fn codes(verified: &Verified) -> Vec<&'static str> {
    let mut codes: Vec<_> = verified.found.iter().map(|d| d.code.number).collect();
    codes.sort_unstable();
    codes.dedup();
    codes
}

/// The files with the manifest changed.
fn with_manifest(files: &[File], change: impl FnOnce(&mut Manifest)) -> Vec<File> {
    let mut files = files.to_vec();
    let (_, bytes) = files.iter_mut().find(|(name, _)| name == MANIFEST).unwrap();
    let mut manifest: Manifest = serde_json::from_slice(bytes).unwrap();
    change(&mut manifest);
    *bytes = serde_json::to_vec(&manifest).unwrap();
    files
}

fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn what_a_check_writes_is_confirmed() {
    let (text, files) = written();
    let verified = verified(text, files);
    assert_eq!(verified.found, Vec::new());
    assert!(verified.obligations.len() > 20);
    assert!(verified.obligations.iter().all(|o| o.confirmed));
}

#[test]
fn missing_left_over_and_differing_obligations_are_errors() {
    let (text, files) = written();
    let missing = with_manifest(files, |m| drop(m.obligations.pop()));
    let verified_missing = verified(text, &missing);
    // The file of the one that is missing lies about.
    assert_eq!(codes(&verified_missing), ["D0818", "D0819"]);
    let extra = with_manifest(files, |m| m.obligations.push(m.obligations[0].clone()));
    assert_eq!(codes(&verified(text, &extra)), ["D0819"]);
    let changed = text.replacen("0.9 * wall", "0.95 * wall", 1);
    assert_ne!(*text, changed);
    assert!(codes(&verified(&changed, files)).contains(&"D0820"));
}

#[test]
fn a_changed_or_missing_file_is_an_error() {
    let (text, files) = written();
    let mut changed = files.clone();
    changed[0].1.push(b'\n');
    assert!(codes(&verified(text, &changed)).contains(&"D0817"));
    assert!(codes(&verified(text, &files[1..])).contains(&"D0817"));
    let outside = with_manifest(files, |m| {
        m.obligations[0].certificate.as_mut().unwrap().file = "../one.bore".to_owned();
    });
    assert!(codes(&verified(text, &outside)).contains(&"D0817"));
}

#[test]
fn a_certificate_for_one_formula_is_not_accepted_for_another() {
    let (text, files) = written();
    let swapped = with_manifest(files, |m| {
        let proved: Vec<usize> =
            (0..m.obligations.len()).filter(|i| m.obligations[*i].certificate.is_some()).collect();
        let (a, b) = (proved[3], proved[4]);
        let first = m.obligations[a].certificate.clone();
        m.obligations[a].certificate = std::mem::replace(&mut m.obligations[b].certificate, first);
    });
    assert_eq!(codes(&verified(text, &swapped)), ["P0450"]);
}

#[test]
fn a_proof_with_one_step_less_is_rejected_though_all_hashes_fit() {
    let (text, files) = written();
    let mut files = files.clone();
    let mut manifest: Manifest = serde_json::from_slice(&files.last().unwrap().1).unwrap();
    let shown: &mut Shown = manifest.obligations[5].certificate.as_mut().unwrap();
    let (_, bytes) = files.iter_mut().find(|(name, _)| *name == shown.file).unwrap();
    let mut document: serde_json::Value = serde_json::from_slice(bytes).unwrap();
    document.pointer_mut("/evidence/proof").unwrap().as_array_mut().unwrap().pop();
    *bytes = serde_json::to_vec(&document).unwrap();
    shown.sha256 = sha256(bytes);
    files.last_mut().unwrap().1 = serde_json::to_vec(&manifest).unwrap();
    assert_eq!(codes(&verified(text, &files)), ["P0450"]);
}

/// What the rules ask the engine is rechecked as well: without those answers other formulas are written.
#[test]
fn without_the_answers_to_the_rules_formulas_differ() {
    let (text, files) = written();
    let silent = with_manifest(files, |m| m.answers.clear());
    let codes = codes(&verified(text, &silent));
    assert!(
        codes.iter().all(|code| ["D0818", "D0819", "D0820"].contains(code)) && !codes.is_empty(),
        "{codes:?}"
    );
}

#[test]
fn names_of_files_are_safe_and_stand_for_one_obligation_each() {
    let (_, files) = written();
    let safe = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_');
    assert!(files.iter().all(|(name, _)| name.chars().all(safe) && !name.starts_with('.')));
    let mut names: Vec<String> = files.iter().map(|(name, _)| name.to_lowercase()).collect();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), files.len());
}

#[test]
fn every_obligation_is_written_for_other_solvers_with_its_meaning() {
    let (text, _) = written();
    let report = check(&MemoryHost::new([("one.bore", text.as_str())]), &["one.bore".to_owned()]);
    let files = smt2(&report);
    let count: usize = report.routines.iter().map(|r| r.verdicts.settled.len()).sum();
    assert_eq!(files.iter().filter(|(name, _)| !name.ends_with(".easier.smt2")).count(), count);
    for (name, bytes) in &files {
        let text = String::from_utf8_lossy(bytes);
        assert!(text.contains("; Meaning.") && text.contains("expected answer: "), "{name}");
        assert!(text.trim_end().ends_with("(check-sat)"), "{name}");
    }
}

/// A macro of that routine with the certificates of its build.
fn built() -> &'static (String, Vec<File>, Vec<File>) {
    static BUILT: OnceLock<(String, Vec<File>, Vec<File>)> = OnceLock::new();
    BUILT.get_or_init(|| {
        let text = first_routine();
        let (files, programs) = build_of(&text, Form::Macro, "hash-inch", &[]);
        (text, files, programs)
    })
}

/// The certificates and the programs.
fn build_of(text: &str, form: Form, machine: &str, routines: &[&str]) -> (Vec<File>, Vec<File>) {
    let order = BuildOrder {
        file: "one.bore".to_owned(),
        form,
        machine: machine.to_owned(),
        routines: routines.iter().map(|&name| name.to_owned()).collect(),
        set: Vec::new(),
    };
    let built = build(&MemoryHost::new([("one.bore", text)]), &order);
    assert_eq!(built.found, Vec::new());
    let programs = built.programs.iter().map(|p| (p.file.name.clone(), p.text.get().clone().into_bytes()));
    (of_build(&built, &order), programs.collect())
}

fn verified_with(text: &str, files: &[File], programs: &[File]) -> Verified {
    let beside = files.iter().map(|(name, bytes)| (format!("proofs/{name}"), bytes.clone()));
    let programs = programs.iter().map(|(name, bytes)| (format!("nc/{name}"), bytes.clone()));
    let source = ("one.bore".to_owned(), text.as_bytes().to_vec());
    let host = MemoryHost::new(beside.chain(programs).chain([source]));
    verify(&host, "proofs", &["one.bore".to_owned(), "nc".to_owned()])
}

#[test]
fn what_a_build_writes_is_confirmed_with_its_texts() {
    let (text, files, programs) = built();
    let verified = verified_with(text, files, programs);
    assert_eq!(verified.found, Vec::new());
    assert!(verified.obligations.iter().all(|o| o.confirmed));
    let of_text =
        verified.obligations.iter().filter(|o| o.id.starts_with("finish_bore.nc/finish_bore/text/"));
    assert!(of_text.count() > 50);
}

#[test]
fn a_program_that_is_missing_or_was_changed_is_an_error() {
    let (text, files, programs) = built();
    let missing = codes(&verified_with(text, files, &[]));
    assert!(missing.contains(&"D0822"), "{missing:?}");
    let mut changed = programs.clone();
    changed[0].1.push(b'\n');
    assert!(codes(&verified_with(text, files, &changed)).contains(&"D0822"));
}

/// Whoever changes a program can change its hash, too: the formulas are written from the text as it is.
#[test]
fn a_program_changed_with_its_hash_has_other_formulas() {
    let (text, files, programs) = built();
    let program = String::from_utf8(programs[0].1.clone()).unwrap();
    for (right, wrong) in [("FUP[0.9999", "FUP[0.9899"), ("G3 X", "G2 X"), ("(LEAD IN)", "(LEAD IN)\nG4 P1.")]
    {
        let edited = program.replacen(right, wrong, 1);
        assert_ne!(edited, program, "{right}:\n{program}");
        let hash = sha256(edited.as_bytes());
        let forged = with_manifest(files, |m| m.build.as_mut().unwrap().texts[0].sha256 = hash);
        let verified = verified_with(text, &forged, &[(programs[0].0.clone(), edited.into_bytes())]);
        assert!(verified.obligations.iter().any(|o| !o.confirmed), "{wrong} was confirmed");
    }
}

/// A job as plain blocks, and one with calls whose cutter the operator may correct: each text has its certificates, and
/// none is confirmed for another text.
#[test]
fn texts_of_jobs_are_confirmed_and_no_others() {
    let (housing, seat) = (
        include_str!("../../../samples/bearing_housing.bore"),
        include_str!("../../../tests/proofs/pass/stages.bore"),
    );
    for (text, form, routines, edits) in [
        (housing, Form::Blocks, [].as_slice(), [("G3 X", "G2 X"), ("Z-", "Z-1"), ("M3", "M4")]),
        (seat, Form::Macro, &["turbine_seat"], [("GT 0.", "GT 1."), ("G65 P", "G65 P1"), ("M3", "M4")]),
    ] {
        let (files, programs) = build_of(text, form, "hash-mm", routines);
        let verified = verified_with(text, &files, &programs);
        assert_eq!(verified.found, Vec::new());
        assert!(verified.obligations.iter().all(|o| o.confirmed));
        let program = String::from_utf8(programs[0].1.clone()).unwrap();
        for (right, wrong) in edits {
            let edited = program.replacen(right, wrong, 1);
            assert_ne!(edited, program, "{right}:\n{program}");
            let hash = sha256(edited.as_bytes());
            let forged = with_manifest(&files, |m| {
                let name = programs[0].0.clone();
                let texts = &mut m.build.as_mut().unwrap().texts;
                texts.iter_mut().find(|t| t.file == name).unwrap().sha256 = hash;
            });
            let mut others = programs.clone();
            others[0].1 = edited.into_bytes();
            let verified = verified_with(text, &forged, &others);
            let refused = !verified.found.is_empty() || verified.obligations.iter().any(|o| !o.confirmed);
            assert!(refused, "{right} -> {wrong} was confirmed");
        }
    }
}

#[test]
fn certificates_of_a_build_are_about_its_machine() {
    let (text, files, programs) = built();
    let other = with_manifest(files, |m| m.build.as_mut().unwrap().machine = "hash-mm".to_owned());
    assert!(!verified_with(text, &other, programs).found.is_empty());
}
