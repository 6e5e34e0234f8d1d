//! Functions and tables of the library give the values that standards and handbooks publish: each expression is
//! worked out by the language itself.

#![expect(clippy::unwrap_used, clippy::panic, reason = "test helpers fail by panicking")]

use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::Path;

use borewright_driver::Report;
use borewright_tests::float::{self, Floats};
use borewright_tests::source;
use serde::Deserialize;

/// A file of published values.
#[derive(Debug, Deserialize)]
struct Published {
    uses: Vec<String>,
    group: Vec<Group>,
}

/// Values from one source.
#[derive(Debug, Deserialize)]
struct Group {
    source: String,
    unit: String,
    within: f64,
    values: Vec<(String, f64)>,
}

fn files() -> Vec<(String, Published)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("values");
    let entries = std::fs::read_dir(folder).unwrap();
    let mut paths: Vec<_> = entries.map(|e| e.unwrap().path()).collect();
    paths.sort();
    let read = |path: &std::path::PathBuf| {
        let text = std::fs::read_to_string(path).unwrap();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        (name, toml::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display())))
    };
    paths.iter().map(read).collect()
}

/// A routine whose head names each value, so many at a time that none is too large to be understood.
fn text(uses: &[String], unit: &str, values: &[(String, f64)]) -> String {
    let mut text: String = uses.iter().map(|name| format!("use {name}\n")).collect();
    text.push_str("routine values(width: length in 1mm..2mm)\n");
    for (index, (expression, _)) in values.iter().enumerate() {
        writeln!(text, "let value_{index} = ({expression}) / ({unit})").unwrap();
    }
    text.push_str("{\n    retract\n}\n");
    text
}

/// The names of the head, at any admitted size.
fn worked_out(report: &Report) -> Floats {
    let Some(judged) = source::judged(report, "values") else { panic!("{:?}", source::errors(report)) };
    let widest = |p: &borewright_motion::Parameter| (p.symbol.clone(), p.least.to_f64());
    let given: Floats = judged.motion.parameters.iter().map(widest).collect();
    float::head(&judged.motion, &given).unwrap()
}

/// What differs from its source, by group.
fn differing(uses: &[String], group: &Group) -> Vec<String> {
    let report = source::checked(&text(uses, &group.unit, &group.values));
    let known = worked_out(&report);
    let values = group.values.iter().enumerate();
    let wrong = values.filter_map(|(index, (expression, published))| {
        let name = format!("value_{index}");
        let ours = known.iter().find(|(s, _)| s.name() == name).map_or(f64::NAN, |(_, v)| *v);
        let near = (ours - published).abs() <= group.within + 1e-12 * published.abs();
        (!near).then(|| format!("{expression} = {ours} {}, {published} in {}", group.unit, group.source))
    });
    wrong.collect()
}

#[test]
fn published_values_are_what_the_library_gives() {
    let mut wrong = Vec::new();
    let mut count = 0;
    for (name, file) in files() {
        let own: usize = file.group.iter().map(|g| g.values.len()).sum();
        println!("{name}: {own} values from {} sources", file.group.len());
        count += own;
        wrong.extend(file.group.iter().flat_map(|group| differing(&file.uses, group)));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(count >= 150, "only {count} values");
}

#[test]
fn a_wrong_value_is_seen() {
    let off = Group {
        source: "nowhere".to_owned(),
        unit: "1mm".to_owned(),
        within: 1e-9,
        values: vec![("iso_metric.M10.minor".to_owned(), 8.377)],
    };
    assert_eq!(differing(&["threads".to_owned()], &off).len(), 1);
}

#[test]
fn every_table_of_the_library_says_its_source() {
    let mut silent = BTreeSet::new();
    for (file, text) in borewright_stdlib::FILES {
        let lines: Vec<&str> = text.lines().collect();
        for (at, line) in lines.iter().enumerate().filter(|(_, l)| l.starts_with("table ")) {
            let above = lines.iter().take(at).rev().take_while(|l| l.starts_with("///"));
            let documentation: String = above.copied().collect();
            if !documentation.contains("Source") && !documentation.contains("source") {
                silent.insert(format!("{file}: {line}"));
            }
        }
    }
    assert_eq!(silent, BTreeSet::new());
}
