//! From tokens and comments to lines.

use borewright_base::Span;

use super::breaks::{Edge, INDENT, Shape, shapes};
use super::spacing::{blank_between, ends_operand, spelling};
use crate::lex::{Comment, Lexed};
use crate::token::{Sign, Token, Word};

/// One line of the canonical form.
#[derive(Debug, Default)]
pub(super) struct Line {
    pub(super) indent: usize,
    pub(super) kind: LineKind,
    /// The code, cut where columns may be lined up; empty for a comment alone.
    pub(super) cells: Vec<String>,
    /// The comment at its end, or all of it.
    pub(super) comment: Option<String>,
    /// An empty line stands above it.
    pub(super) blank_above: bool,
    /// It begins a routine, job or table, or ends one.
    edge: Edge,
}

/// Lines of the same kind, one below the other, have their columns lined up.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(super) enum LineKind {
    #[default]
    Plain,
    /// `requires a <= b | else "TEXT"`, and `practice`
    Requires,
    /// `cutter mill | = flat(...)`
    Tool,
    /// `row M5 | = 5mm, | 8.5mm`
    Row,
}

/// Breaks a text without errors into lines.
pub(super) fn lay_out(text: &str, lexed: &Lexed<'_>) -> Vec<Line> {
    let mut printer = Printer { text, ..Printer::default() };
    let mut comments = lexed.comments.iter().peekable();
    for (&(token, span), shape) in lexed.tokens.iter().zip(shapes(lexed)) {
        while let Some(comment) = comments.next_if(|comment| comment.span.start < span.start) {
            printer.comment(comment, shape, Some(token));
        }
        printer.token(token, span, shape);
    }
    let at_end = Shape { new_line: Some(0), ..Shape::default() };
    for comment in comments {
        printer.comment(comment, at_end, None);
    }
    printer.finish();
    separate_items(&mut printer.lines);
    printer.lines
}

/// Prints tokens and comments, one after the other.
#[derive(Default)]
struct Printer<'s> {
    text: &'s str,
    /// The lines that are complete.
    lines: Vec<Line>,
    /// The line that is being printed, once something stands in it.
    line: Option<Line>,
    /// The token before, and whether it is a minus sign that negates.
    before: Option<(Token<'s>, bool)>,
    /// Where the token or comment before ends in the text.
    end: usize,
    /// How far the statement is indented.
    indent: usize,
    /// Round and square brackets that are open.
    nesting: usize,
    /// The leading word of the statement.
    leader: Option<Word>,
}

impl<'s> Printer<'s> {
    fn finish(&mut self) {
        self.lines.extend(self.line.take());
    }

    /// The text between what was printed last and what begins there.
    fn gap(&self, start: usize) -> &'s str {
        self.text.get(self.end..start).unwrap_or("")
    }

    /// True when an empty line is kept above what begins there: none at the beginning of a block or a list.
    fn blank_above(&self, start: usize) -> bool {
        let opens = matches!(self.before, Some((Token::Sign(sign), _)) if sign.closing().is_some());
        let inside = opens && self.lines.last().is_some_and(|line| !line.cells.is_empty());
        !inside && self.gap(start).matches('\n').count() > 1
    }

    /// A comment, before the token `next`, which has that shape.
    fn comment(&mut self, comment: &Comment<'_>, shape: Shape, next: Option<Token<'_>>) {
        let range = comment.span.range();
        let beside = self.before.is_some() && !self.gap(range.start).contains('\n');
        if let (true, Some(line)) = (beside, self.line.as_mut().filter(|line| line.comment.is_none())) {
            line.comment = Some(comment.text.to_owned());
        } else {
            self.finish();
            let blank_above = self.blank_above(range.start);
            let closes = matches!(next, Some(Token::Sign(sign)) if sign.closes());
            let indent = match shape.new_line {
                Some(indent) if closes => indent + INDENT,
                Some(indent) => indent,
                None => self.indent + INDENT,
            };
            let text = Some(comment.text.to_owned());
            self.line = Some(Line { indent, comment: text, blank_above, ..Line::default() });
        }
        self.end = range.end;
    }

    fn token(&mut self, token: Token<'s>, span: Span, shape: Shape) {
        let start = span.range().start;
        if shape.dropped {
            self.end = span.range().end;
            return;
        }
        if let Some(indent) = shape.new_line {
            self.finish();
            let closes = matches!(token, Token::Sign(sign) if sign.closes());
            let blank_above = !closes && self.blank_above(start);
            self.indent = indent;
            self.leader = if let Token::Word(word) = token { Some(word) } else { None };
            self.line = Some(Line { indent, blank_above, edge: shape.edge, ..Line::default() });
        } else if self.line.as_ref().is_none_or(|line| line.comment.is_some()) {
            self.finish();
            let stays = matches!(token, Token::Sign(sign) if sign.closes() || sign == Sign::OpenBrace);
            let indent = if stays { self.indent } else { self.indent + INDENT };
            self.line = Some(Line { indent, ..Line::default() });
        }
        self.print(token);
        if shape.comma_after {
            self.print(Token::Sign(Sign::Comma));
        }
        self.end = span.range().end;
    }

    /// Puts a token at the end of the line, in a cell of its own where a column begins.
    fn print(&mut self, token: Token<'s>) {
        let column = self.column(token);
        let Some(line) = self.line.as_mut() else { return };
        let blank = self.before.is_some_and(|(before, negates)| blank_between(before, negates, token));
        if let Some(kind) = column {
            line.kind = kind;
            line.cells.push(String::new());
        }
        match line.cells.last_mut() {
            None => line.cells.push(spelling(token)),
            Some(cell) => {
                if blank && !cell.is_empty() {
                    cell.push(' ');
                }
                cell.push_str(&spelling(token));
            }
        }
        let operand = self.before.is_some_and(|(before, _)| ends_operand(before));
        self.before = Some((token, token == Token::Sign(Sign::Minus) && !operand));
        if matches!(token, Token::Sign(Sign::OpenRound | Sign::OpenSquare)) {
            self.nesting += 1;
        } else if matches!(token, Token::Sign(Sign::CloseRound | Sign::CloseSquare)) {
            self.nesting = self.nesting.saturating_sub(1);
        }
    }

    /// The kind of line in which this token begins a column.
    fn column(&self, token: Token<'_>) -> Option<LineKind> {
        if self.nesting > 0 {
            return None;
        }
        let alarm = token == Token::Word(Word::Else);
        let equals = token == Token::Sign(Sign::Equals);
        let after_comma = matches!(self.before, Some((Token::Sign(Sign::Comma), _)));
        let columns = [
            (Word::Requires, LineKind::Requires, alarm),
            (Word::Practice, LineKind::Requires, alarm),
            (Word::Cutter, LineKind::Tool, equals),
            (Word::Row, LineKind::Row, equals || after_comma),
        ];
        columns.into_iter().find_map(|(word, kind, here)| (here && self.leader == Some(word)).then_some(kind))
    }
}

/// An empty line above each routine, job and table, with the comments that stand right above it, and below it.
fn separate_items(lines: &mut [Line]) {
    let mut after_end = false;
    let mut comments_from = None;
    for i in 0..lines.len() {
        let Some(line) = lines.get_mut(i) else { return };
        line.blank_above |= after_end;
        after_end = line.edge == Edge::Ends;
        if line.cells.is_empty() {
            comments_from = comments_from.filter(|_| !line.blank_above).or(Some(i));
            continue;
        }
        let first = comments_from.take().filter(|_| !line.blank_above).unwrap_or(i);
        if line.edge == Edge::Begins
            && let Some(first) = lines.get_mut(first)
        {
            first.blank_above = true;
        }
    }
    if let Some(first) = lines.first_mut() {
        first.blank_above = false;
    }
}
