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
        Step::Routine => {
            let Some(tree) = loaded.tree(file) else { return String::new() };
            let (checked, faults) = borewright_check::check(tree, file, &loaded.beside(file));
            found.append(faults);
            let own = checked.own.iter().filter_map(|id| checked.routine(*id));
            own.map(|routine| format!("{routine:#?}\n")).collect()
        }
    }
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
