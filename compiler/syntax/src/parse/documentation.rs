//! Attaches `///` comments to what they document.
//!
//! A comment on a line of its own documents the item, parameter or row that begins next. One at the end of a
//! line documents the parameter or row (or the item of one line) that stands before it on that line, a comma
//! between them or not.

use borewright_base::{Diagnostics, Span};

use crate::ast::{File, Item, ItemKind};
use crate::errors;
use crate::lex::{Comment, Lexed};

/// Hands each `///` comment to the thing that it documents; one that documents nothing earns a warning.
pub(super) fn attach(tree: &mut File, text: &str, lexed: &Lexed<'_>, diagnostics: &mut Diagnostics) {
    let mut targets: Vec<Target<'_>> = tree.items.iter_mut().flat_map(targets).collect();
    targets.sort_by_key(|target| target.span.start);
    for comment in &lexed.comments {
        let Some(line) = comment.documentation() else { continue };
        match place(comment, text, lexed).and_then(|place| find(&mut targets, place)) {
            Some(lines) => lines.push(line.to_owned()),
            None => diagnostics.warn(errors::loose_documentation(comment.span)),
        }
    }
}

/// Something that can be documented.
struct Target<'a> {
    span: Span,
    lines: &'a mut Vec<String>,
    /// A comment at the end of the line can belong to it.
    trailing: bool,
}

fn targets(item: &mut Item) -> Vec<Target<'_>> {
    let mut inner: Vec<Target<'_>> = Vec::new();
    let trailing = match &mut item.kind {
        ItemKind::Table(table) => {
            inner.extend(table.rows.iter_mut().map(|row| Target {
                span: row.span,
                lines: &mut row.documentation,
                trailing: true,
            }));
            false
        }
        ItemKind::Routine(routine) | ItemKind::Job(routine) => {
            inner.extend(routine.parameters.iter_mut().map(|parameter| Target {
                span: parameter.span,
                lines: &mut parameter.documentation,
                trailing: true,
            }));
            false
        }
        ItemKind::Use(_) | ItemKind::Let(_) | ItemKind::Function(_) => true,
        ItemKind::Invalid => false,
    };
    inner.push(Target { span: item.span, lines: &mut item.documentation, trailing });
    inner
}

/// Where the documented thing is to be sought.
enum Place {
    /// It begins with the token that begins here.
    Begins(u32),
    /// It is the last one that begins before here, and ends on this line.
    Ends { before: u32, line: u32 },
}

fn place(comment: &Comment<'_>, text: &str, lexed: &Lexed<'_>) -> Option<Place> {
    let next = lexed.tokens.partition_point(|&(_, span)| span.start < comment.span.start);
    let before = next.checked_sub(1).and_then(|i| lexed.tokens.get(i)).map_or(0, |&(_, span)| span.end);
    let gap = text.get(before as usize..comment.span.range().start)?;
    if next == 0 || gap.contains('\n') {
        return lexed.tokens.get(next).map(|&(_, span)| Place::Begins(span.start));
    }
    let line = text.get(..before as usize)?.rfind('\n').map_or(0, |end| end + 1);
    Some(Place::Ends { before, line: u32::try_from(line).unwrap_or(u32::MAX) })
}

fn find<'a>(targets: &'a mut [Target<'_>], place: Place) -> Option<&'a mut Vec<String>> {
    match place {
        Place::Begins(start) => {
            let at = targets.partition_point(|target| target.span.start < start);
            targets.get_mut(at).filter(|target| target.span.start == start).map(|target| &mut *target.lines)
        }
        Place::Ends { before, line } => {
            let at = targets.partition_point(|target| target.span.start < before).checked_sub(1)?;
            let target = targets.get_mut(at)?;
            (target.trailing && target.span.end > line && target.span.end <= before)
                .then_some(&mut *target.lines)
        }
    }
}
