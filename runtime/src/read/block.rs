//! One line: skip mark, N number, then words, assignments and comments in any order, or one statement.

use borewright_base::{FileId, Span};

use super::cursor::Cursor;
use super::{Note, expression};
use crate::errors::{self, Fault};
use crate::text::{Assignment, Block, Comment, Content, Items, Sequence, Then, Word};

/// What one line is.
pub(super) enum Line {
    /// A block of the program.
    Block(Block),
    /// `O1234`: the program begins; there may be more on the line.
    Head { number: u32, span: Span, rest: Option<Block> },
}

/// Reads one line that is not blank.
pub(super) fn read_block(
    file: FileId,
    base: usize,
    line: &str,
    number: u32,
    notes: &mut Vec<Note>,
) -> Result<Line, Fault> {
    let mut parser = Parser { cursor: Cursor::new(file, base, line), notes, comments: Vec::new() };
    let skip = parser.cursor.accept('/');
    let head = parser.program_number()?;
    let sequence = parser.sequence()?;
    let content = parser.content()?;
    let comments = parser.comments;
    let span = Span::new(file, base..base + line.trim_end().len());
    let block = Block { line: number, span, skip, sequence, content, comments };
    Ok(match head {
        None => Line::Block(block),
        Some((number, span)) => {
            let empty = block.content == Content::Items(Items::default()) && block.sequence.is_none();
            Line::Head { number, span, rest: (!empty).then_some(block) }
        }
    })
}

/// Stands in for a line that could not be read, so that a run stops there.
pub(super) fn unreadable(file: FileId, base: usize, line: &str, number: u32) -> Block {
    let span = Span::new(file, base..base + line.trim_end().len());
    let content = Content::Unreadable;
    Block { line: number, span, skip: false, sequence: None, content, comments: Vec::new() }
}

struct Parser<'t, 'n> {
    cursor: Cursor<'t>,
    notes: &'n mut Vec<Note>,
    comments: Vec<Comment>,
}

impl Parser<'_, '_> {
    fn program_number(&mut self) -> Result<Option<(u32, Span)>, Fault> {
        let mark = self.cursor.mark();
        if self.cursor.peek() != Some('O') || !self.cursor.peek_second().is_some_and(|c| c.is_ascii_digit()) {
            return Ok(None);
        }
        self.cursor.take();
        let (number, _) = expression::whole(&mut self.cursor, "O")?;
        Ok(Some((number, self.cursor.span_from(mark))))
    }

    fn sequence(&mut self) -> Result<Option<Sequence>, Fault> {
        let mark = self.cursor.mark();
        if !self.cursor.accept('N') {
            return Ok(None);
        }
        let (number, digits) = expression::whole(&mut self.cursor, "N")?;
        Ok(Some(Sequence { number, digits, span: self.cursor.span_from(mark) }))
    }

    fn content(&mut self) -> Result<Content, Fault> {
        self.comments()?;
        if let Some(statement) = self.statement()? {
            self.comments()?;
            return match self.cursor.peek() {
                None => Ok(statement),
                Some(_) => Err(expression::unexpected(&self.cursor, "the end of the line")),
            };
        }
        let mut items = Items::default();
        while let Some(c) = self.cursor.peek() {
            match c {
                '(' => self.comments()?,
                '#' => items.assignments.push(self.assignment()?),
                c if c.is_ascii_alphabetic() => items.words.push(self.word()?),
                _ => return Err(expression::unexpected(&self.cursor, "a word")),
            }
        }
        Ok(Content::Items(items))
    }

    /// A statement with a name of its own, if one stands here.
    fn statement(&mut self) -> Result<Option<Content>, Fault> {
        if self.before_bracket("IF") {
            return self.if_statement().map(Some);
        }
        if self.cursor.accept_word("WHILE") {
            return self.while_statement().map(Some);
        }
        if self.cursor.accept_word("END") {
            let (id, _) = expression::whole(&mut self.cursor, "END")?;
            return Ok(Some(Content::End { id, start: 0 }));
        }
        if self.cursor.accept_word("GOTO") {
            return self.value().map(Content::Goto).map(Some);
        }
        Ok(None)
    }

    /// Takes `name` only if a bracket follows: `IFIX[..]` is the letter I with a function.
    fn before_bracket(&mut self, name: &str) -> bool {
        let mut ahead = self.cursor.clone();
        let here = ahead.accept_word(name) && ahead.peek() == Some('[');
        if here {
            self.cursor = ahead;
        }
        here
    }

    fn if_statement(&mut self) -> Result<Content, Fault> {
        let condition = self.value()?;
        if self.cursor.accept_word("GOTO") {
            let then = Then::Goto(self.value()?);
            return Ok(Content::If { condition, then });
        }
        if !self.cursor.accept_word("THEN") {
            return Err(self.statement_incomplete("IF [..] needs GOTO or THEN after it"));
        }
        let mut assignments = Vec::new();
        while self.cursor.peek() == Some('#') {
            assignments.push(self.assignment()?);
        }
        if assignments.is_empty() {
            return Err(self.statement_incomplete("THEN needs an assignment after it, such as #1=0"));
        }
        Ok(Content::If { condition, then: Then::Assign(assignments) })
    }

    fn while_statement(&mut self) -> Result<Content, Fault> {
        let condition = self.condition()?;
        if !self.cursor.accept_word("DO") {
            return Err(self.statement_incomplete("WHILE [..] needs DO and a loop number after it"));
        }
        let (id, _) = expression::whole(&mut self.cursor, "DO")?;
        Ok(Content::While { condition, id, end: 0 })
    }

    fn condition(&mut self) -> Result<crate::text::Expression, Fault> {
        match self.cursor.peek() {
            Some('[') => self.value(),
            _ => Err(self.statement_incomplete("the condition must stand in brackets [ ]")),
        }
    }

    fn statement_incomplete(&self, message: &str) -> Fault {
        Fault::new(errors::VALUE_MISSING, self.cursor.span_here(), message)
            .hint("forms: IF [..] GOTO n, IF [..] THEN #i=.., WHILE [..] DO n .. END n, GOTO n")
    }

    fn value(&mut self) -> Result<crate::text::Expression, Fault> {
        expression::value(&mut self.cursor, self.notes)
    }

    fn assignment(&mut self) -> Result<Assignment, Fault> {
        let mark = self.cursor.mark();
        self.cursor.take();
        let variable = expression::variable_number(&mut self.cursor, self.notes)?;
        if !self.cursor.accept('=') {
            return Err(expression::unexpected(&self.cursor, "= after the variable"));
        }
        let value = expression::sum(&mut self.cursor, self.notes)?;
        Ok(Assignment { variable, value, span: self.cursor.span_from(mark) })
    }

    fn word(&mut self) -> Result<Word, Fault> {
        let mark = self.cursor.mark();
        if let Some(name) =
            ["GOTO", "WHILE", "END", "THEN"].into_iter().find(|n| self.cursor.clone().accept_word(n))
        {
            return Err(Fault::new(
                errors::UNEXPECTED_CHARACTER,
                self.cursor.span_here(),
                format!("{name} cannot follow other words in a block"),
            )
            .hint("give the statement a line of its own"));
        }
        let letter = self.cursor.take().unwrap_or(' ');
        let value = self.value()?;
        Ok(Word { letter, value, span: self.cursor.span_from(mark) })
    }

    /// Takes all comments that stand here.
    fn comments(&mut self) -> Result<(), Fault> {
        while self.cursor.peek() == Some('(') {
            let mark = self.cursor.mark();
            let Some(text) = self.cursor.take_through(')') else {
                return Err(Fault::new(
                    errors::UNCLOSED_COMMENT,
                    Span { end: self.cursor.span_line().end, ..self.cursor.span_here() },
                    "the remark that begins with ( is never closed",
                )
                .hint("add the ) on the same line; a remark cannot go over two lines"));
            };
            let text = text.get(1..).unwrap_or("");
            self.comments.push(comment(text, self.cursor.span_from(mark)));
        }
        Ok(())
    }
}

/// A message begins with `MSG,`, blanks and letter case apart (NISTIR 6556, section 3.3.4).
fn comment(text: &str, span: Span) -> Comment {
    let mut rest = text.chars();
    let message = "MSG,".chars().all(|wanted| {
        rest.by_ref().find(|c| !matches!(c, ' ' | '\t')).is_some_and(|c| c.eq_ignore_ascii_case(&wanted))
    });
    let text = if message { rest.as_str() } else { text };
    Comment { text: text.trim().to_owned(), message, span }
}
