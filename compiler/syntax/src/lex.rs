//! From source text to tokens and comments. It cannot fail: what means nothing is reported and becomes
//! a token that the parser knows to be reported already.

use borewright_base::{Diagnostics, FileId, Span};
use borewright_number::{Dimension, Unit};
use logos::{Lexer, Logos};

use crate::errors;
use crate::token::{Sign, Token, Word};

/// The longest number, in characters: more digits than any length on earth needs.
const LONGEST_NUMBER: usize = 60;

/// What a text consists of.
#[derive(Debug)]
pub struct Lexed<'s> {
    /// Everything that has meaning, in order.
    pub tokens: Vec<(Token<'s>, Span)>,
    /// Everything that is for people only, in order.
    pub comments: Vec<Comment<'s>>,
    /// What could not be read.
    pub diagnostics: Diagnostics,
}

/// A comment, up to the end of its line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Comment<'s> {
    /// As written, with its slashes, without blanks at its end.
    pub text: &'s str,
    /// Where.
    pub span: Span,
}

impl<'s> Comment<'s> {
    /// What a `///` comment says; `None` for a plain comment (`//`, or four slashes and more).
    #[must_use]
    pub fn documentation(&self) -> Option<&'s str> {
        self.text.strip_prefix("///").filter(|rest| !rest.starts_with('/')).map(str::trim)
    }
}

/// Cuts a text into tokens and comments.
#[must_use]
pub fn lex(file: FileId, text: &str) -> Lexed<'_> {
    let mut reader = Reader {
        file,
        raw: Raw::lexer(text),
        lexed: Lexed { tokens: Vec::new(), comments: Vec::new(), diagnostics: Diagnostics::default() },
        nul_seen: false,
    };
    while let Some(piece) = reader.raw.next() {
        reader.piece(piece);
    }
    reader.lexed
}

/// The pieces that logos cuts; [`Reader`] judges them.
#[derive(Logos, Debug, Clone, Copy, PartialEq, Eq)]
#[logos(skip r"[ \t\r\n]+")]
enum Raw {
    #[regex(r"[A-Za-z_][A-Za-z0-9_]*")]
    Word,
    #[regex(r"[0-9]+(\.[0-9]+)?")]
    Number,
    #[regex(r"\.[0-9]+")]
    Fraction,
    #[token("\"")]
    Quote,
    #[regex(r"//[^\n]*", allow_greedy = true)]
    Comment,
    #[token("(", |_| Sign::OpenRound)]
    #[token(")", |_| Sign::CloseRound)]
    #[token("[", |_| Sign::OpenSquare)]
    #[token("]", |_| Sign::CloseSquare)]
    #[token("{", |_| Sign::OpenBrace)]
    #[token("}", |_| Sign::CloseBrace)]
    #[token(",", |_| Sign::Comma)]
    #[token(":", |_| Sign::Colon)]
    #[token("..", |_| Sign::Range)]
    #[token(".", |_| Sign::Dot)]
    #[token("=", |_| Sign::Equals)]
    #[token("==", |_| Sign::Equal)]
    #[token("!=", |_| Sign::NotEqual)]
    #[token("<", |_| Sign::Less)]
    #[token("<=", |_| Sign::LessEqual)]
    #[token(">", |_| Sign::Greater)]
    #[token(">=", |_| Sign::GreaterEqual)]
    #[token("+", |_| Sign::Plus)]
    #[token("-", |_| Sign::Minus)]
    #[token("*", |_| Sign::Star)]
    #[token("/", |_| Sign::Slash)]
    Sign(Sign),
}

/// Reads pieces one after the other.
struct Reader<'s> {
    file: FileId,
    raw: Lexer<'s, Raw>,
    lexed: Lexed<'s>,
    nul_seen: bool,
}

impl<'s> Reader<'s> {
    fn piece(&mut self, piece: Result<Raw, ()>) {
        match piece {
            Ok(Raw::Word) => self.word(),
            Ok(Raw::Number) => self.number(),
            Ok(Raw::Fraction) => self.fraction(),
            Ok(Raw::Quote) => self.text(),
            Ok(Raw::Comment) => {
                let comment = Comment { text: self.raw.slice().trim_end(), span: self.span() };
                self.lexed.comments.push(comment);
            }
            Ok(Raw::Sign(sign)) => self.push(Token::Sign(sign)),
            Err(()) => self.stray(),
        }
    }

    /// The place of the piece read last.
    fn span(&self) -> Span {
        Span::new(self.file, self.raw.span())
    }

    fn push(&mut self, token: Token<'s>) {
        let span = self.span();
        self.lexed.tokens.push((token, span));
    }

    /// Takes the characters that follow for as long as `take` holds, and says how they read.
    fn take_while(&mut self, take: impl Fn(char) -> bool) -> &'s str {
        let rest = self.raw.remainder();
        let length = rest.find(|c| !take(c)).unwrap_or(rest.len());
        self.raw.bump(length);
        rest.get(..length).unwrap_or("")
    }

    fn word(&mut self) {
        let foreign = self.take_while(is_word_part);
        let text = self.raw.slice();
        if !foreign.is_empty() {
            self.lexed.diagnostics.report(errors::letter_in_name(self.span(), text));
        }
        self.push(Word::from_text(text).map_or(Token::Name(text), Token::Word));
    }

    /// A number, and the unit that touches it.
    fn number(&mut self) {
        let digits = self.raw.slice();
        let rest = self.raw.remainder();
        if rest.starts_with('.') && !rest.starts_with("..") {
            self.raw.bump(1);
            self.take_while(is_word_part);
            self.lexed.diagnostics.report(errors::number_ends_with_point(self.span(), digits));
            return self.push(Token::BadNumber);
        }
        let word = self.unit_word();
        if digits.len() > LONGEST_NUMBER {
            self.lexed.diagnostics.report(errors::number_too_long(self.span(), LONGEST_NUMBER));
            return self.push(Token::BadNumber);
        }
        if word.is_empty() {
            return self.push(Token::Number(digits, None));
        }
        match Unit::from_name(word) {
            Some(unit) => self.push(Token::Number(digits, Some(unit))),
            None => {
                self.lexed.diagnostics.report(errors::unknown_unit(self.span(), digits, word));
                self.push(Token::BadNumber);
            }
        }
    }

    /// The word that touches a number; a feed's `/min` belongs to it when it touches too and ends there.
    fn unit_word(&mut self) -> &'s str {
        let rest = self.raw.remainder();
        let word = self.take_while(|c| is_word_part(c) || matches!(c, '°' | '′' | '″'));
        let is_length = Unit::from_name(word).is_some_and(|u| u.dimension() == Dimension::LENGTH);
        let after = self.raw.remainder().strip_prefix("/min");
        if is_length && after.is_some_and(|text| !text.starts_with(is_word_part)) {
            self.raw.bump("/min".len());
            return rest.get(..word.len() + "/min".len()).unwrap_or(word);
        }
        word
    }

    /// `.5`: refused, because a point that is easily lost must not make 0.5 a 5.
    fn fraction(&mut self) {
        let digits = self.raw.slice();
        self.unit_word();
        self.lexed.diagnostics.report(errors::number_begins_with_point(self.span(), digits));
        self.push(Token::BadNumber);
    }

    /// A text in quotes, from the quote on.
    fn text(&mut self) {
        let rest = self.raw.remainder();
        let line_end = rest.find('\n').unwrap_or(rest.len());
        let (line, below) = rest.split_at(line_end);
        let Some(length) = line.find('"') else {
            return self.text_past_line(line, below);
        };
        let (inside, _) = line.split_at(length);
        self.raw.bump(length + 1);
        if let Some(bad) = inside.chars().find(|c| c.is_control()) {
            self.lexed.diagnostics.report(errors::control_character_in_text(self.span(), bad));
        }
        self.push(Token::Text(inside));
    }

    /// A text that does not end on its line. When the next line has an odd number of quotes and begins like no
    /// other line, the text was meant to end there; else its last quote is missing, and only this line is lost.
    fn text_past_line(&mut self, line: &'s str, below: &str) {
        let next = below.trim_start_matches('\n').split('\n').next().unwrap_or("");
        let begins = next.split_whitespace().next().unwrap_or("");
        let ends_below = next.matches('"').count() % 2 == 1 && Word::from_text(begins).is_none();
        if ends_below {
            let skipped = below.find('"').map_or(0, |quote| quote + 1);
            self.raw.bump(line.len() + skipped);
            self.lexed.diagnostics.report(errors::line_end_in_text(self.span()));
        } else {
            self.raw.bump(line.trim_end().len());
            self.lexed.diagnostics.report(errors::unterminated_text(self.span()));
        }
        self.push(Token::Text(line.trim_end()));
    }

    /// A character that begins nothing. Those that cannot have stood for an operator are left out, so that
    /// the parser does not stumble over them a second time.
    fn stray(&mut self) {
        let start = self.raw.span().start;
        let text = self.raw.source();
        let character = text.get(start..).and_then(|t| t.chars().next()).unwrap_or('\0');
        match character {
            '\u{feff}' if start == 0 => {}
            '\0' => self.nul(),
            c if c.is_alphabetic() => {
                self.take_while(is_word_part);
                let word = text.get(start..self.raw.span().end).unwrap_or("");
                self.lexed.diagnostics.report(errors::letter_in_name(self.span(), word));
                self.push(Token::Name(word));
            }
            c => {
                self.take_while(|other| other == c);
                self.lexed.diagnostics.report(errors::stray_character(self.span(), c));
                if c != ';' && !c.is_control() && !c.is_whitespace() {
                    self.push(Token::Stray);
                }
            }
        }
    }

    /// A file saved in the wrong encoding has a NUL beside every letter: said once.
    fn nul(&mut self) {
        self.take_while(|c| c == '\0');
        if !self.nul_seen {
            self.nul_seen = true;
            self.lexed.diagnostics.report(errors::nul_character(self.span()));
        }
    }
}

fn is_word_part(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}
