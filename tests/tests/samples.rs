//! The jobs of the workshop: each is proved, built in both forms, run on the virtual controller, and both forms do
//! the same.

#![expect(clippy::unwrap_used, reason = "test helpers fail by panicking")]

use std::path::Path;

use borewright_driver::{BuildOrder, Built, Form, MemoryHost, RunOrder, build, run};
use borewright_runtime::Trace;
use borewright_runtime::trace::Kind;

/// Name and text of each sample.
fn samples() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../samples");
    let mut paths: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == "bore"));
    paths.sort();
    let name = |p: &Path| p.file_stem().unwrap().to_string_lossy().into_owned();
    paths.iter().map(|p| (name(p), std::fs::read_to_string(p).unwrap())).collect()
}

/// Names of the jobs of a text.
fn jobs(text: &str) -> Vec<String> {
    let names = text.lines().filter_map(|line| line.strip_prefix("job "));
    names.map(|rest| rest.split([' ', '(', '{']).next().unwrap().to_owned()).collect()
}

fn built(text: &str, job: &str, form: Form) -> Built {
    let inch = text.contains("in/min");
    // The same machine for both forms: machines for plain blocks write a full turn as two halves.
    let machine = if inch { "hash-inch" } else { "hash-mm" };
    let order = BuildOrder {
        file: "job.bore".to_owned(),
        form,
        machine: machine.to_owned(),
        routines: vec![job.to_owned()],
        set: Vec::new(),
    };
    build(&MemoryHost::new([("job.bore", text)]), &order)
}

/// The run of a job in one form.
fn traced(text: &str, job: &str, form: Form) -> Trace {
    ran(&built(text, job, form), job)
}

/// Runs the first program; the others may be called.
fn ran(built: &Built, job: &str) -> Trace {
    let told: Vec<_> = built.found.iter().map(|d| format!("{} {}", d.code.number, d.message)).collect();
    assert!(!built.programs.is_empty(), "{job}: {told:?}");
    let names: Vec<String> = built.programs.iter().map(|p| p.file.name.clone()).collect();
    let texts = built.programs.iter().map(|p| (p.file.name.as_str(), p.file.text.as_str()));
    let (main, with) = names.split_first().unwrap();
    let order = RunOrder {
        file: main.clone(),
        machine: built.programs.first().map(|p| p.machine.clone()),
        with: with.to_vec(),
        ..RunOrder::default()
    };
    let ran = run(&MemoryHost::new(texts), &order);
    let told: Vec<_> = ran.found.iter().map(|d| format!("{} {}", d.code.number, d.message)).collect();
    assert_eq!(ran.status(), 0, "{job}: {told:?}");
    ran.trace.unwrap()
}

/// Ends of the feed moves, in order; moves that go nowhere are left out.
fn cuts(trace: &Trace) -> Vec<[f64; 3]> {
    let feeds =
        trace.moves.iter().filter(|m| m.kind != Kind::Rapid && (m.kind == Kind::Arc || m.from != m.to));
    feeds.map(|m| m.to).collect()
}

#[test]
fn every_job_is_built_in_both_forms_and_both_do_the_same() {
    let mut count = 0;
    for (name, text) in samples() {
        for job in jobs(&text) {
            let called = cuts(&traced(&text, &job, Form::Macro));
            let plain = cuts(&traced(&text, &job, Form::Blocks));
            println!("{name}: {job}, {} feed moves called, {} plain", called.len(), plain.len());
            count += 1;
            assert_eq!(called.len(), plain.len(), "{job}");
            let near = |(a, b): (&[f64; 3], &[f64; 3])| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 0.005);
            let far = called.iter().zip(&plain).position(|pair| !near(pair));
            assert_eq!(far, None, "{job}");
            assert!(plain.len() >= 4, "{job} cuts nothing");
        }
    }
    assert!(count >= 8, "only {count} jobs");
}

#[test]
fn every_sample_says_what_is_made_as_a_drawing_does() {
    let bare = |(_, text): &&(String, String)| {
        let head: Vec<&str> = text.lines().take_while(|line| line.starts_with("//")).collect();
        let says = |word: &str| head.iter().any(|line| line.contains(word));
        head.len() < 5 || !says("dia") || !says("zero")
    };
    let samples = samples();
    let bare: Vec<&String> = samples.iter().filter(bare).map(|(name, _)| name).collect();
    assert_eq!(bare, Vec::<&String>::new());
}

#[test]
fn each_bundled_routine_is_called_by_a_job_or_by_what_a_job_calls() {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("proofs/pass/examples.bore");
    let library: Vec<&str> = borewright_stdlib::FILES.iter().map(|(_, text)| *text).collect();
    let mut texts: Vec<String> = samples().into_iter().map(|(_, text)| text).collect();
    texts.push(std::fs::read_to_string(examples).unwrap());
    texts.extend(library.iter().map(|text| (*text).to_owned()));
    let names =
        library.iter().flat_map(|t| t.lines()).filter_map(|l| l.strip_prefix("routine ")?.split('(').next());
    let uncalled = |name: &&str| !texts.iter().any(|text| text.contains(&format!("call {name}(")));
    assert_eq!(names.filter(uncalled).collect::<Vec<_>>(), Vec::<&str>::new());
}
