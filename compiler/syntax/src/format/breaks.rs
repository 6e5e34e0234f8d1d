//! Where lines begin: the shape of every token.

use super::WIDTH;
use super::spacing::spelling;
use crate::lex::Lexed;
use crate::token::{Place, Sign, Token, Word};

pub(super) const INDENT: usize = 4;
/// A routine or job with more parameters than this has one on each line.
const ON_ONE_LINE: usize = 2;

/// Whether a line is the first or the last of a routine, job or table.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    #[default]
    None,
    Begins,
    Ends,
}

/// How a token is placed.
#[derive(Debug, Default, Clone, Copy)]
pub(super) struct Shape {
    /// It begins a line, indented so far.
    pub(super) new_line: Option<usize>,
    /// A comma at the end of a list that is on one line: left out.
    pub(super) dropped: bool,
    /// The last token of a list with one part on each line: a comma follows.
    pub(super) comma_after: bool,
    pub(super) edge: Edge,
}

/// The shape of every token of a text without errors.
pub(super) fn shapes(lexed: &Lexed<'_>) -> Vec<Shape> {
    let shapes = vec![Shape::default(); lexed.tokens.len()];
    let mut breaks = Breaks { lexed, shapes, open: Vec::new(), braces: 0, leader: None, item: None };
    for (i, &(token, _)) in lexed.tokens.iter().enumerate() {
        if let Token::Word(word) = token {
            breaks.word(i, word);
        } else if let Token::Sign(sign) = token {
            breaks.sign(i, sign);
        }
    }
    breaks.shapes
}

/// What has been seen so far.
struct Breaks<'s, 't> {
    lexed: &'t Lexed<'s>,
    shapes: Vec<Shape>,
    /// The brackets we are in: whether each has one part on a line.
    open: Vec<(Sign, bool)>,
    braces: usize,
    /// The leading word of the line.
    leader: Option<Word>,
    /// The item we are in.
    item: Option<Word>,
}

impl<'s, 't> Breaks<'s, 't> {
    fn at(&self, i: usize) -> Option<Token<'s>> {
        self.lexed.tokens.get(i).map(|&(token, _)| token)
    }

    fn shape(&mut self, i: usize, change: impl FnOnce(&mut Shape)) {
        if let Some(shape) = self.shapes.get_mut(i) {
            change(shape);
        }
    }

    fn new_line(&mut self, i: usize, indent: usize) {
        self.shape(i, |shape| shape.new_line = Some(indent));
    }

    fn word(&mut self, i: usize, word: Word) {
        // Nothing leads inside round brackets: there `feed` is a type.
        let is_type = self.open.last().is_some_and(|&(sign, _)| sign != Sign::OpenBrace);
        let of_cutter = word == Word::With && self.leader == Some(Word::Cutter);
        if !word.is_leading() || is_type || of_cutter {
            return;
        }
        self.new_line(i, self.braces * INDENT);
        self.leader = Some(word);
        if self.braces == 0 && word.leads_in(Place::Item) && word != Word::Let {
            self.item = Some(word);
            if matches!(word, Word::Routine | Word::Job | Word::Table) {
                self.shape(i, |shape| shape.edge = Edge::Begins);
            }
        }
    }

    fn sign(&mut self, i: usize, sign: Sign) {
        match sign {
            Sign::OpenBrace => {
                if self.braces == 0 && self.item != Some(Word::Table) {
                    self.new_line(i, 0);
                }
                self.open.push((sign, false));
                self.braces += 1;
                self.leader = None;
            }
            Sign::CloseBrace => {
                self.open.pop();
                self.braces = self.braces.saturating_sub(1);
                self.new_line(i, self.braces * INDENT);
                if self.braces == 0 {
                    self.shape(i, |shape| shape.edge = Edge::Ends);
                }
            }
            Sign::OpenRound | Sign::OpenSquare => self.open_list(i, sign),
            Sign::CloseRound | Sign::CloseSquare => self.close_list(i),
            Sign::Comma => {
                if self.open.last().is_some_and(|&(_, one_a_line)| one_a_line) {
                    self.new_line(i + 1, (self.braces + 1) * INDENT);
                }
            }
            Sign::Colon
            | Sign::Range
            | Sign::Dot
            | Sign::Equals
            | Sign::Equal
            | Sign::NotEqual
            | Sign::Less
            | Sign::LessEqual
            | Sign::Greater
            | Sign::GreaterEqual
            | Sign::Plus
            | Sign::Minus
            | Sign::Star
            | Sign::Slash => {}
        }
    }

    fn open_list(&mut self, i: usize, sign: Sign) {
        let declares = i.checked_sub(2).and_then(|word| self.at(word));
        let is = |words: &[Word]| matches!(declares, Some(Token::Word(word)) if words.contains(&word));
        let one_a_line = if is(&[Word::Routine, Word::Job]) {
            self.wants_lines(i, true)
        } else {
            is(&[Word::Table, Word::Function]) && self.wants_lines(i, false)
        };
        self.open.push((sign, one_a_line));
        if one_a_line {
            self.new_line(i + 1, (self.braces + 1) * INDENT);
        }
    }

    fn close_list(&mut self, i: usize) {
        let Some((_, one_a_line)) = self.open.pop() else { return };
        let Some(last) = i.checked_sub(1) else { return };
        let has_comma = self.at(last) == Some(Token::Sign(Sign::Comma));
        if one_a_line {
            self.new_line(i, self.braces * INDENT);
            if !has_comma {
                self.shape(last, |shape| shape.comma_after = true);
            }
        } else if has_comma && !self.comment_between(last, i) {
            self.shape(last, |shape| shape.dropped = true);
        }
    }

    /// True when the declaration list that opens there has one part on each line: because a comment stands in
    /// it or, where `many` may make it so, because it is long.
    fn wants_lines(&self, open: usize, many: bool) -> bool {
        let Some(close) = self.close_of(open) else { return false };
        let tokens = self.lexed.tokens.get(open + 1..close).unwrap_or(&[]);
        let comma = Token::Sign(Sign::Comma);
        let tokens = match tokens.split_last() {
            Some((&(last, _), rest)) if last == comma => rest,
            _ => tokens,
        };
        let width: usize = tokens.iter().map(|&(token, _)| spelling(token).len() + 1).sum();
        let colons = tokens.iter().filter(|&&(token, _)| token == Token::Sign(Sign::Colon)).count();
        let long = many && (colons > ON_ONE_LINE || width > WIDTH);
        !tokens.is_empty() && (long || self.comment_between(open, close))
    }

    fn close_of(&self, open: usize) -> Option<usize> {
        let mut depth = 0_usize;
        for (i, &(token, _)) in self.lexed.tokens.iter().enumerate().skip(open) {
            if token == Token::Sign(Sign::OpenRound) {
                depth += 1;
            } else if token == Token::Sign(Sign::CloseRound) {
                depth = depth.checked_sub(1)?;
                if depth == 0 {
                    return Some(i);
                }
            }
        }
        None
    }

    /// True when a comment stands between the two tokens.
    fn comment_between(&self, first: usize, last: usize) -> bool {
        let place = |i: usize| self.lexed.tokens.get(i).map_or(0, |&(_, span)| span.start);
        let (from, to) = (place(first), place(last));
        let next = self.lexed.comments.partition_point(|comment| comment.span.start < from);
        self.lexed.comments.get(next).is_some_and(|comment| comment.span.start < to)
    }
}
