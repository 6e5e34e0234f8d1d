//! A cursor over one line that passes over blanks: outside comments they mean nothing
//! (NISTIR 6556, section 3.3).

use borewright_base::{FileId, Span};

/// A place in one line.
#[derive(Debug, Clone)]
pub(super) struct Cursor<'t> {
    line: &'t str,
    /// Byte offset of the line in its file.
    base: usize,
    file: FileId,
    at: usize,
    /// One past the last byte taken: where a span ends, before any blanks that follow.
    taken: usize,
}

impl<'t> Cursor<'t> {
    pub(super) fn new(file: FileId, base: usize, line: &'t str) -> Self {
        let mut cursor = Self { line, base, file, at: 0, taken: 0 };
        cursor.pass_blanks();
        cursor
    }

    /// The character here, letters in upper case; `None` at the end of the line.
    pub(super) fn peek(&self) -> Option<char> {
        let rest = self.line.get(self.at..)?;
        rest.chars().next().map(|c| c.to_ascii_uppercase())
    }

    /// The character after the one here, blanks passed over.
    pub(super) fn peek_second(&self) -> Option<char> {
        let mut ahead = self.clone();
        ahead.take();
        ahead.peek()
    }

    /// Takes the character here.
    pub(super) fn take(&mut self) -> Option<char> {
        let c = self.peek()?;
        self.at += c.len_utf8();
        self.taken = self.at;
        self.pass_blanks();
        Some(c)
    }

    /// Takes `wanted` if it is here.
    pub(super) fn accept(&mut self, wanted: char) -> bool {
        let here = self.peek() == Some(wanted);
        if here {
            self.take();
        }
        here
    }

    /// Takes a whole word of letters if it is here; blanks between its letters do not matter.
    pub(super) fn accept_word(&mut self, word: &str) -> bool {
        let mut ahead = self.clone();
        let here = word.chars().all(|c| ahead.accept(c));
        if here {
            *self = ahead;
        }
        here
    }

    /// Takes everything up to and with `end`; `None`, having taken nothing, if there is no `end`.
    pub(super) fn take_through(&mut self, end: char) -> Option<&'t str> {
        let rest = self.line.get(self.at..)?;
        let length = rest.find(end)?;
        let text = rest.get(..length)?;
        self.at += length + end.len_utf8();
        self.taken = self.at;
        self.pass_blanks();
        Some(text)
    }

    /// The letters from here on, for a message: at most one name's worth.
    pub(super) fn letters_ahead(&self) -> String {
        let mut ahead = self.clone();
        let mut letters = String::new();
        while let Some(c) = ahead.peek().filter(char::is_ascii_alphabetic) {
            letters.push(c);
            ahead.take();
            if letters.len() >= 8 {
                break;
            }
        }
        letters
    }

    /// A mark to measure a span from.
    pub(super) fn mark(&self) -> usize {
        self.at
    }

    /// From `mark` to the last character taken.
    pub(super) fn span_from(&self, mark: usize) -> Span {
        Span::new(self.file, self.base + mark..self.base + self.taken.max(mark))
    }

    /// The one character here (or the end of the line).
    pub(super) fn span_here(&self) -> Span {
        let width = self.peek().map_or(0, char::len_utf8);
        Span::new(self.file, self.base + self.at..self.base + self.at + width)
    }

    /// The whole line.
    pub(super) fn span_line(&self) -> Span {
        Span::new(self.file, self.base..self.base + self.line.len())
    }

    fn pass_blanks(&mut self) {
        let rest = self.line.as_bytes().get(self.at..).unwrap_or(&[]);
        self.at += rest.iter().take_while(|b| matches!(b, b' ' | b'\t' | b'\r')).count();
    }
}
