//! Attaches `///` comments to what they document.
//!
//! A comment on a line of its own documents the item, parameter or row that begins next. One at the end of a
//! line documents the parameter or row (or the `use`, `let` or `function`) that ends right before it, a comma between
//! them or not. So it is the tokens beside a comment that decide, and formatting changes nothing.

use borewright_base::{Diagnostics, Span};

use crate::ast::{File, Item, ItemKind};
use crate::errors;
use crate::lex::{Comment, Lexed};
use crate::token::{Sign, Token};

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
    /// It ends with the token that ends here.
    Ends(u32),
}

fn place(comment: &Comment<'_>, text: &str, lexed: &Lexed<'_>) -> Option<Place> {
    let next = lexed.tokens.partition_point(|&(_, span)| span.start < comment.span.start);
    let mut before = lexed.tokens.get(..next)?.iter().rev().peekable();
    let last = before.peek().map_or(0, |(_, span)| span.range().end);
    let gap = text.get(last..comment.span.range().start)?;
    if next == 0 || gap.contains('\n') {
        return lexed.tokens.get(next).map(|&(_, span)| Place::Begins(span.start));
    }
    before.next_if(|(token, _)| *token == Token::Sign(Sign::Comma));
    before.next().map(|(_, span)| Place::Ends(span.end))
}

/// The lines of the target there. Targets stand in the order of their beginnings; those with a comment beside
/// them do not hold each other, so their ends are in order too.
fn find<'a>(targets: &'a mut [Target<'_>], place: Place) -> Option<&'a mut Vec<String>> {
    let found = match place {
        Place::Begins(start) => {
            let at = targets.partition_point(|target| target.span.start < start);
            targets.get_mut(at).filter(|target| target.span.start == start)
        }
        Place::Ends(end) => {
            let at = targets.partition_point(|target| target.span.start < end).checked_sub(1)?;
            targets.get_mut(at).filter(|target| target.trailing && target.span.end == end)
        }
    };
    found.map(|target| &mut *target.lines)
}
