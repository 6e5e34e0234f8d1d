//! Reads texts and shows motions as an outline of a few lines.

use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

use borewright_base::{Diagnostics, FileId, SourceMap};
use borewright_check::{Loader, check};
use borewright_lower::lower;
use borewright_motion::{Action, Clause, Condition, Expr, Feature, Motion, Point, Shape, Step};
use borewright_syntax::{ast, parse};

/// Reads `NAME.bore` from the library's folder.
pub struct Library;

impl Loader for Library {
    fn load(&self, name: &str) -> Option<Arc<ast::File>> {
        let text = read(&format!("stdlib/{name}.bore"));
        Some(Arc::new(parse(FileId(1), &text).0))
    }
}

/// A file of the repository.
pub fn read(path: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    #[allow(clippy::disallowed_methods, reason = "a test reads the repository's own files")]
    std::fs::read_to_string(root.join(path)).unwrap_or_default()
}

/// What a text becomes, and what is said about it.
pub fn lowered(text: &str) -> (Vec<Arc<Motion>>, Vec<String>) {
    let (file, mut found) = parse(FileId(0), text);
    let (checked, more) = check(&file, FileId(0), &Library);
    found.append(more);
    let (motions, more) = lower(&checked);
    found.append(more);
    (motions, said(text, found))
}

/// The motions of a text in which nothing is wrong.
pub fn motions(text: &str) -> Vec<Arc<Motion>> {
    let (motions, said) = lowered(text);
    assert_eq!(said, Vec::<String>::new());
    motions
}

fn said(text: &str, found: Diagnostics) -> Vec<String> {
    let mut map = SourceMap::default();
    map.add("text", text);
    let line = |d: &borewright_base::Diagnostic| {
        let at = d.span.and_then(|s| map.locate(s)).map(|(_, start, _)| (start.line, start.column));
        format!("{} {:?} {}", d.code.number, at.unwrap_or_default(), d.message)
    };
    found.into_sorted().iter().map(line).collect()
}

/// A motion in a few lines.
pub fn outline(motion: &Motion) -> String {
    let mut out = format!("{}{}\n", motion.name, if motion.inch { " (inch)" } else { "" });
    for p in &motion.parameters {
        let default = p.default.as_ref().map_or(String::new(), |d| format!(" = {d}"));
        let whole = if p.whole { "whole " } else { "" };
        let _ =
            writeln!(out, "  {}: {whole}{} in {}..{}{default}", p.symbol, p.dimension, p.least, p.greatest);
    }
    if let Some(program) = &motion.program {
        let _ = writeln!(out, "  program {program}");
    }
    for clause in &motion.head {
        let _ = match clause {
            Clause::Let(l) => writeln!(out, "  let {} = {}", l.symbol, l.value),
            Clause::Require(r) => writeln!(out, "  requires {} else {:?}", r.condition, r.alarm),
        };
    }
    if let Some(demands) = &motion.demands {
        let rules: Vec<Condition> = demands.rules.iter().map(borewright_motion::Demand::condition).collect();
        let rules: Vec<String> = rules.iter().map(ToString::to_string).collect();
        let _ = writeln!(out, "  cutter {:?}: {}", demands.kind, rules.join(", "));
    }
    if let Some(job) = &motion.job {
        let _ = writeln!(out, "  work {} travel {}", job.work, job.travel);
        for tool in &job.tools {
            let fields: Vec<String> = tool.fields.iter().map(|(f, e)| format!("{} {e}", f.name())).collect();
            let _ = writeln!(out, "  tool {} {:?}: {}", tool.name, tool.kind, fields.join(", "));
        }
    }
    for feature in &motion.given {
        let _ = writeln!(out, "  given {}", of_feature(feature));
    }
    for made in &motion.made {
        let promises: Vec<String> = made.promises.iter().map(|(p, _)| p.to_string()).collect();
        let _ = writeln!(out, "  makes {} promises {}", of_feature(&made.feature), promises.join(", "));
    }
    steps(&mut out, &motion.body, 1);
    out
}

fn of_feature(feature: &Feature) -> String {
    let optional = |e: &Option<Expr>| e.as_ref().map_or("-".to_owned(), ToString::to_string);
    let shape = match &feature.shape {
        Shape::Hole { diameter, floor, top, pilot } => {
            format!("hole {} {diameter} floor {floor} top {top} pilot {}", feature.name, optional(pilot))
        }
        Shape::Boss { diameter, blank, floor, top } => {
            format!("boss {} {diameter} blank {blank} floor {floor} top {top}", feature.name)
        }
        Shape::Thread { inside, major, minor, pitch, hand, floor, bottom, top, .. } => format!(
            "thread {} inside {inside} {major} minor {minor} pitch {pitch} hand {hand} floor {floor} bottom {bottom} top {top}",
            feature.name
        ),
        Shape::Face { diameter, floor, top } => {
            format!("face {} {diameter} floor {floor} top {top}", feature.name)
        }
        Shape::Chamfer { inside, diameter, width, angle, floor, top } => format!(
            "chamfer {} inside {inside} {diameter} width {width} angle {angle} floor {floor} top {top}",
            feature.name
        ),
        Shape::Undercut { diameter, bore, floor, roof, bottom, top } => format!(
            "undercut {} {diameter} bore {bore} floor {floor} roof {roof} bottom {bottom} top {top}",
            feature.name
        ),
        Shape::Ring { outer, inner, floor, top } => {
            format!("ring {} {outer} inner {inner} floor {floor} top {top}", feature.name)
        }
    };
    format!("{shape} at {}", points(&feature.at))
}

fn points(points: &[Point]) -> String {
    points.iter().map(|p| format!("({}, {})", p.x, p.y)).collect::<Vec<_>>().join(" ")
}

fn steps(out: &mut String, body: &[Step], depth: usize) {
    let indent = "  ".repeat(depth);
    for step in body {
        let part =
            |word: &str, e: &Option<Expr>| e.as_ref().map_or(String::new(), |e| format!(" {word} {e}"));
        let xy = |p: &Point| points(std::slice::from_ref(p));
        let (line, inner): (String, Option<&[Step]>) = match &step.action {
            Action::Let(l) => (format!("let {} = {}", l.symbol, l.value), None),
            Action::Retract => ("retract".to_owned(), None),
            Action::RapidTo(p) => (format!("rapid {}", xy(p)), None),
            Action::RapidZ(z) => (format!("rapid z {z}"), None),
            Action::Line { to, z, feed } => {
                let to = to.as_ref().map_or(String::new(), |p| format!(" {}", xy(p)));
                (format!("line{to}{}{}", part("z", z), part("feed", feed)), None)
            }
            Action::Arc { way, to, z, about, feed } => {
                let (z, feed) = (part("z", z), part("feed", feed));
                (format!("arc {} {}{z} about {}{feed}", way.name(), xy(to), xy(about)), None)
            }
            Action::Turn { way, z, about, feed } => {
                let (z, feed) = (part("z", z), part("feed", feed));
                (format!("turn {}{z} about {}{feed}", way.name(), xy(about)), None)
            }
            Action::Passes(p) => {
                let names = format!("{} ({} of {})", p.value, p.index, p.count);
                (format!("passes {names} from {} to {} by {}", p.from, p.to, p.by), Some(&p.body))
            }
            Action::Repeat { index, count, body } => (format!("repeat {count} as {index}"), Some(body)),
            Action::Call(call) => {
                let arguments: Vec<String> =
                    call.arguments.iter().map(|(s, e)| format!("{s}: {e}")).collect();
                (
                    format!("call {}({}) at {}", call.routine.name, arguments.join(", "), points(&call.at)),
                    None,
                )
            }
            Action::Dwell(e) => (format!("dwell {e}"), None),
            Action::With { tool, body } => (format!("with tool {tool}"), Some(body)),
            Action::Spindle { way, speed } => (format!("spindle {} {speed}", way.name()), None),
            Action::Coolant(coolant) => (format!("coolant {coolant:?}"), None),
            Action::Stop(text) => (format!("stop {text:?}"), None),
        };
        let _ = writeln!(out, "{indent}{line}");
        if let Some(inner) = inner {
            steps(out, inner, depth + 1);
        }
    }
}
