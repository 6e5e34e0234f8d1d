//! Twins: what must be proved, and what lies next to it and must be refuted.

#![expect(clippy::unwrap_used, clippy::panic, reason = "test helpers fail by panicking")]

use std::collections::BTreeMap;
use std::path::Path;

use borewright_tests::{Said, Twin, Twins};

fn folder() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

#[expect(clippy::disallowed_methods, reason = "test data are files")]
fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn files(below: &str, ending: &str) -> Vec<std::path::PathBuf> {
    let entries = std::fs::read_dir(folder().join(below)).unwrap();
    let mut paths: Vec<_> = entries.map(|e| e.unwrap().path()).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == ending));
    paths.sort();
    paths
}

/// A bundled file, or one of the files beside the twins.
fn changed(name: &str) -> String {
    let Some(short) = name.strip_prefix("stdlib/") else { return read(&folder().join(name)) };
    let short = short.trim_end_matches(".bore");
    borewright_stdlib::FILES.iter().find(|(n, _)| *n == short).unwrap().1.to_owned()
}

#[test]
fn every_bundled_routine_is_proved_whole() {
    for (name, text) in borewright_stdlib::FILES {
        let said = Said::of(&format!("{name}.bore"), text);
        assert_eq!(said.findings("error"), Vec::<String>::new(), "{name}");
        assert_eq!(said.ids("refuted"), Vec::<String>::new(), "{name}");
        assert_eq!(said.ids("unknown"), Vec::<String>::new(), "{name}");
        let routines = text.lines().any(|line| line.starts_with("routine "));
        assert_eq!(said.total() > 0, routines, "{name} proves nothing at all");
    }
}

#[test]
fn each_bundled_routine_has_four_twins_or_more() {
    let mut count: BTreeMap<String, usize> = BTreeMap::new();
    for (_, text) in borewright_stdlib::FILES {
        let names = text.lines().filter_map(|line| line.strip_prefix("routine ")?.split('(').next());
        count.extend(names.map(|name| (name.to_owned(), 0)));
    }
    for path in files("proofs", "toml") {
        let twins: Twins = toml::from_str(&read(&path)).unwrap();
        for twin in twins.twin.iter().filter(|_| twins.file.starts_with("stdlib/")) {
            *count.get_mut(&twin.of).unwrap() += 1;
        }
    }
    count.retain(|_, twins| *twins < 4);
    assert_eq!(count, BTreeMap::new());
}

#[test]
fn whole_routines_that_must_be_proved() {
    for path in files("proofs/pass", "bore") {
        let said = Said::of("case.bore", &read(&path));
        let faults: Vec<_> = [said.findings("error"), said.ids("refuted"), said.ids("unknown")]
            .into_iter()
            .flatten()
            .collect();
        assert_eq!(faults, Vec::<String>::new(), "{}", path.display());
        assert!(said.total() > 0, "{} proves nothing at all", path.display());
    }
}

/// A routine that was once called proved though its motion is bad, and what must be said of it: `// refuted: ramp`,
/// or `// unproved: ramp` where no values show it soon enough.
fn must_be_refuted(path: &Path, wrong: &mut Vec<String>) {
    let text = read(path);
    let says = |word: &str| text.lines().find_map(|l| l.strip_prefix(word));
    let said = Said::of("case.bore", &text);
    let (mut refuted, errors) = (said.with_verdict("refuted"), said.findings("error"));
    let line = says("// refuted: ").unwrap_or_else(|| {
        refuted.extend(said.with_verdict("unknown"));
        says("// unproved: ").unwrap()
    });
    let missing: Vec<_> = line.split(", ").filter(|r| !refuted.contains(*r)).collect();
    if !missing.is_empty() {
        wrong.push(format!("{}: missing {missing:?}, refuted {refuted:?}, {errors:?}", path.display()));
    }
}

#[test]
fn whole_routines_with_a_bad_motion_are_refuted_for_the_right_reason() {
    let mut wrong = Vec::new();
    let paths = files("proofs/fail", "bore");
    paths.iter().for_each(|path| must_be_refuted(path, &mut wrong));
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(paths.len() >= 8, "only {} routines", paths.len());
}

/// What is wrong with the verdicts on one twin; nothing, where they are as its data say.
fn judged(twin: &Twin, file: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    let said = Said::of("twin.bore", &twin.text(file).unwrap());
    let refuted = said.with_verdict("refuted");
    let missing: Vec<_> = twin.refuted.iter().filter(|r| !refuted.contains(*r)).collect();
    let mut unknown = said.kinds("unknown");
    unknown.retain(|kind| !twin.unknown.contains(kind));
    let faults = said.faults();
    let unseen = twin.fault.as_ref().filter(|part| !faults.iter().any(|f| f.contains(*part)));
    if let Some(part) = unseen {
        wrong.push(format!("{}: no fault `{part}` among {faults:?}", twin.name));
    }
    if !missing.is_empty() || !unknown.is_empty() {
        let errors = said.findings("error");
        let name = &twin.name;
        wrong.push(format!(
            "{name}: missing {missing:?}, refuted {refuted:?}, unknown {unknown:?}, {errors:?}"
        ));
    }
    wrong
}

#[test]
fn twins_with_one_thing_changed_are_refuted_for_the_right_reason() {
    let mut all: Vec<(Twin, String)> = Vec::new();
    for path in files("proofs", "toml") {
        let twins: Twins = toml::from_str(&read(&path)).unwrap();
        let file = changed(&twins.file);
        all.extend(twins.twin.into_iter().map(|twin| (twin, file.clone())));
    }
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let share = |core: usize| {
        let own = all.iter().skip(core).step_by(cores);
        own.flat_map(|(twin, file)| judged(twin, file)).collect::<Vec<String>>()
    };
    let wrong: Vec<String> = std::thread::scope(|scope| {
        let works: Vec<_> = (0..cores)
            .map(|core| {
                scope.spawn({
                    let share = &share;
                    move || share(core)
                })
            })
            .collect();
        works.into_iter().flat_map(|work| work.join().unwrap()).collect()
    });
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(all.len() >= 190, "only {} twins", all.len());
}

/// The table of rules in the proof crate names twins and texts that exist, and every kind of obligation.
#[test]
fn the_table_of_rules_names_cases_that_exist() {
    let table = read(&folder().join("../compiler/proof/RULES.md"));
    let mut cases: Vec<String> = Vec::new();
    for path in files("proofs", "toml") {
        let twins: Twins = toml::from_str(&read(&path)).unwrap();
        cases.extend(twins.twin.into_iter().map(|t| t.name));
    }
    let stems = files("proofs/fail", "bore");
    cases.extend(stems.iter().map(|p| p.file_stem().unwrap().to_string_lossy().into_owned()));
    let rows = table.lines().filter(|line| line.starts_with('|'));
    let quoted = rows.clone().flat_map(|row| row.split('`').skip(1).step_by(2));
    let missing: Vec<&str> =
        quoted.filter(|word| word.contains('-') && !cases.iter().any(|c| c == word)).collect();
    assert!(missing.is_empty(), "{missing:?}");
    let kinds: Vec<&str> =
        rows.filter_map(|row| row.split('|').nth(2)).flat_map(|cell| cell.split(", ")).collect();
    assert!(kinds.len() > 40, "{kinds:?}");
}
