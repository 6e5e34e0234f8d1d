//! Every file of `tests/obligations` is decided as its `:status` says; every proof is rechecked.
#![allow(clippy::disallowed_methods, clippy::indexing_slicing, reason = "a test reads its own files")]

use borewright_proof::{Answer, Budget, Certified, evaluate, from_smt2, prove};
use borewright_proof_checker::recheck;

#[test]
fn all_obligations_are_decided_as_expected() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/obligations");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let mut problems = Vec::new();
    for path in &files {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let text = std::fs::read_to_string(path).unwrap();
        let holds = text.contains(":status unsat");
        let formula = from_smt2(&text).unwrap();
        let outcome = prove(&formula, &Budget::default());
        match outcome.answer {
            Answer::Proved { .. } if holds => {
                let certificate = outcome.certificate.unwrap();
                if let Err(why) = recheck(&Certified::of_proof(&formula, &certificate).to_json(&name)) {
                    problems.push(format!("{name}: {why}"));
                }
            }
            Answer::Refuted(point) if !holds => {
                for hypothesis in &formula.hypotheses {
                    assert_eq!(evaluate(&hypothesis.condition, &formula.variables, &point), Some(true));
                }
                assert_eq!(evaluate(&formula.goal, &formula.variables, &point), Some(false));
            }
            other => problems.push(format!("{name}: {other:?}")),
        }
    }
    assert!(problems.is_empty(), "{problems:#?}");
}
