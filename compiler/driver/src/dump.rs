//! What each step of the compiler makes of the files: for those who develop it. The form may change at any time.

use std::fmt::Write as _;

use borewright_base::{Diagnostic, Diagnostics, FileId, SourceMap};

use crate::host::Host;
use crate::load::{Loaded, load};

/// After which step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Tokens, one a line.
    Tokens,
    /// The untyped tree.
    Ast,
    /// Typed routines.
    Routine,
    /// Motions.
    Motion,
    /// Obligations, with their formulas.
    Goals,
}

/// What the step made of the files that were asked for, and what was found on the way.
#[must_use]
pub fn dump(host: &dyn Host, paths: &[String], step: Step) -> (String, Vec<Diagnostic>, SourceMap) {
    let mut found = Diagnostics::default();
    let loaded = load(host, paths, &mut found);
    let mut text = String::new();
    for file in &loaded.asked {
        let name = loaded.sources.file(*file).map_or("", |f| f.name.as_str());
        let _ = writeln!(text, "== {name}\n{}", one(&loaded, *file, step, &mut found));
    }
    (text, found.into_sorted(), loaded.sources)
}

fn one(loaded: &Loaded, file: FileId, step: Step, found: &mut Diagnostics) -> String {
    match step {
        Step::Tokens => tokens(&loaded.sources, file),
        Step::Ast => format!("{:#?}", loaded.tree(file)),
        Step::Routine => typed(loaded, file, found, |checked| {
            let own = checked.own.iter().filter_map(|id| checked.routine(*id));
            own.map(|routine| format!("{routine:#?}\n")).collect()
        }),
        Step::Motion => typed(loaded, file, found, |checked| {
            let (motions, _) = borewright_lower::lower(checked);
            motions.iter().map(|motion| format!("{motion:#?}\n")).collect()
        }),
        Step::Goals => typed(loaded, file, found, |checked| {
            let (motions, _) = borewright_lower::lower(checked);
            motions.iter().map(|motion| goals(motion)).collect()
        }),
    }
}

fn typed(
    loaded: &Loaded,
    file: FileId,
    found: &mut Diagnostics,
    show: impl Fn(&borewright_check::Checked) -> String,
) -> String {
    let Some(tree) = loaded.tree(file) else { return String::new() };
    let (checked, faults) = borewright_check::check(tree, file, &loaded.beside(file));
    found.append(faults);
    show(&checked)
}

fn goals(motion: &borewright_motion::Motion) -> String {
    let settings = borewright_proof::Settings::default();
    let engine = borewright_proof::Engine { budget: settings.trial };
    let obligations = borewright_proof::oblige(motion, &settings.limits, &engine);
    obligations.iter().map(goal).collect()
}

/// The obligation, its hypotheses and what must follow.
fn goal(obligation: &borewright_proof::Obligation) -> String {
    let mut text = format!("{}: {}\n", obligation.id, obligation.why);
    for hypothesis in &obligation.formula.hypotheses {
        let _ = writeln!(text, "    {}", hypothesis.condition);
    }
    let _ = writeln!(text, "  |- {}\n", obligation.formula.goal);
    text
}

/// `3:5  Word(Let)  let`
fn tokens(sources: &SourceMap, file: FileId) -> String {
    let Some(source) = sources.file(file) else { return String::new() };
    let line = |(token, span): (borewright_syntax::Token<'_>, borewright_base::Span)| {
        let at = source.position(span.range().start);
        format!("{}:{}  {token:?}  {}\n", at.line, at.column, sources.text(span))
    };
    borewright_syntax::lex(file, &source.text).tokens.into_iter().map(line).collect()
}
