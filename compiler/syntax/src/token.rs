//! Tokens: the words, numbers and signs of a source text.

use borewright_number::Unit;

/// One token. Blanks and comments are none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Token<'s> {
    /// `bore`
    Name(&'s str),
    /// `requires`: a reserved word, made from a name by the lexer
    Word(Word),
    /// `12`, `12.5mm`, `24in/min`: the digits as written, and the unit that touches them
    Number(&'s str, Option<Unit>),
    /// A number that could not be understood; the lexer has said why.
    BadNumber,
    /// `"TOO BIG"`: what stands between the quotes
    Text(&'s str),
    /// `(`, `<=`
    Sign(Sign),
    /// A character that means nothing; the lexer has said so.
    Stray,
}

/// A reserved word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "each variant is the word itself")]
pub enum Word {
    Use,
    Let,
    Function,
    Table,
    Row,
    Routine,
    Job,
    Program,
    Requires,
    Practice,
    Cutter,
    Makes,
    Given,
    Work,
    Travel,
    Feed,
    Retract,
    Rapid,
    Line,
    Arc,
    Turn,
    Passes,
    Repeat,
    Call,
    Dwell,
    With,
    Spindle,
    Coolant,
    Stop,
    Promises,
    To,
    From,
    By,
    About,
    At,
    Z,
    As,
    In,
    Ccw,
    Cw,
    If,
    Then,
    Else,
    And,
    Or,
    Not,
}

/// Where a leading word may stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// At the top of a file.
    Item,
    /// Between the name of a routine or job and its brace.
    Head,
    /// Inside braces.
    Block,
    /// In a table.
    Table,
}

impl Word {
    /// Every reserved word.
    pub const ALL: [Self; 46] = [
        Self::Use,
        Self::Let,
        Self::Function,
        Self::Table,
        Self::Row,
        Self::Routine,
        Self::Job,
        Self::Program,
        Self::Requires,
        Self::Practice,
        Self::Cutter,
        Self::Makes,
        Self::Given,
        Self::Work,
        Self::Travel,
        Self::Feed,
        Self::Retract,
        Self::Rapid,
        Self::Line,
        Self::Arc,
        Self::Turn,
        Self::Passes,
        Self::Repeat,
        Self::Call,
        Self::Dwell,
        Self::With,
        Self::Spindle,
        Self::Coolant,
        Self::Stop,
        Self::Promises,
        Self::To,
        Self::From,
        Self::By,
        Self::About,
        Self::At,
        Self::Z,
        Self::As,
        Self::In,
        Self::Ccw,
        Self::Cw,
        Self::If,
        Self::Then,
        Self::Else,
        Self::And,
        Self::Or,
        Self::Not,
    ];

    /// The spelling.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Use => "use",
            Self::Let => "let",
            Self::Function => "function",
            Self::Table => "table",
            Self::Row => "row",
            Self::Routine => "routine",
            Self::Job => "job",
            Self::Program => "program",
            Self::Requires => "requires",
            Self::Practice => "practice",
            Self::Cutter => "cutter",
            Self::Makes => "makes",
            Self::Given => "given",
            Self::Work => "work",
            Self::Travel => "travel",
            Self::Feed => "feed",
            Self::Retract => "retract",
            Self::Rapid => "rapid",
            Self::Line => "line",
            Self::Arc => "arc",
            Self::Turn => "turn",
            Self::Passes => "passes",
            Self::Repeat => "repeat",
            Self::Call => "call",
            Self::Dwell => "dwell",
            Self::With => "with",
            Self::Spindle => "spindle",
            Self::Coolant => "coolant",
            Self::Stop => "stop",
            Self::Promises => "promises",
            Self::To => "to",
            Self::From => "from",
            Self::By => "by",
            Self::About => "about",
            Self::At => "at",
            Self::Z => "z",
            Self::As => "as",
            Self::In => "in",
            Self::Ccw => "ccw",
            Self::Cw => "cw",
            Self::If => "if",
            Self::Then => "then",
            Self::Else => "else",
            Self::And => "and",
            Self::Or => "or",
            Self::Not => "not",
        }
    }

    /// The reserved word of that spelling.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        // No reserved word is longer than `function`.
        if text.len() > 8 {
            return None;
        }
        Self::ALL.into_iter().find(|word| word.text() == text)
    }

    /// Where the word begins an item, a line of the head, a statement or a row; empty for the words that
    /// begin nothing. `with` also stands inside a `cutter` line, and `feed` also names a type.
    #[must_use]
    pub const fn leads(self) -> &'static [Place] {
        use Place::{Block, Head, Item, Table};
        match self {
            Self::Use | Self::Function | Self::Table | Self::Routine | Self::Job => &[Item],
            Self::Let => &[Item, Head, Block],
            Self::Row => &[Table],
            Self::Program
            | Self::Requires
            | Self::Practice
            | Self::Cutter
            | Self::Makes
            | Self::Given
            | Self::Work
            | Self::Travel => &[Head],
            Self::Feed
            | Self::Retract
            | Self::Rapid
            | Self::Line
            | Self::Arc
            | Self::Turn
            | Self::Passes
            | Self::Repeat
            | Self::Call
            | Self::Dwell
            | Self::With
            | Self::Spindle
            | Self::Coolant
            | Self::Stop => &[Block],
            Self::Promises
            | Self::To
            | Self::From
            | Self::By
            | Self::About
            | Self::At
            | Self::Z
            | Self::As
            | Self::In
            | Self::Ccw
            | Self::Cw
            | Self::If
            | Self::Then
            | Self::Else
            | Self::And
            | Self::Or
            | Self::Not => &[],
        }
    }

    /// True for a word at which a parser that lost its way resumes.
    #[must_use]
    pub const fn is_leading(self) -> bool {
        !self.leads().is_empty()
    }

    /// True for a word that begins a thing of this place.
    #[must_use]
    pub fn leads_in(self, place: Place) -> bool {
        self.leads().contains(&place)
    }
}

/// A sign: a bracket, an operator or a mark between things.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sign {
    /// `(`
    OpenRound,
    /// `)`
    CloseRound,
    /// `[`
    OpenSquare,
    /// `]`
    CloseSquare,
    /// `{`
    OpenBrace,
    /// `}`
    CloseBrace,
    /// `,`
    Comma,
    /// `:`
    Colon,
    /// `..`
    Range,
    /// `.`
    Dot,
    /// `=`
    Equals,
    /// `==`
    Equal,
    /// `!=`
    NotEqual,
    /// `<`
    Less,
    /// `<=`
    LessEqual,
    /// `>`
    Greater,
    /// `>=`
    GreaterEqual,
    /// `+`
    Plus,
    /// `-`
    Minus,
    /// `*`
    Star,
    /// `/`
    Slash,
}

impl Sign {
    /// Every sign.
    pub const ALL: [Self; 21] = [
        Self::OpenRound,
        Self::CloseRound,
        Self::OpenSquare,
        Self::CloseSquare,
        Self::OpenBrace,
        Self::CloseBrace,
        Self::Comma,
        Self::Colon,
        Self::Range,
        Self::Dot,
        Self::Equals,
        Self::Equal,
        Self::NotEqual,
        Self::Less,
        Self::LessEqual,
        Self::Greater,
        Self::GreaterEqual,
        Self::Plus,
        Self::Minus,
        Self::Star,
        Self::Slash,
    ];

    /// The spelling.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::OpenRound => "(",
            Self::CloseRound => ")",
            Self::OpenSquare => "[",
            Self::CloseSquare => "]",
            Self::OpenBrace => "{",
            Self::CloseBrace => "}",
            Self::Comma => ",",
            Self::Colon => ":",
            Self::Range => "..",
            Self::Dot => ".",
            Self::Equals => "=",
            Self::Equal => "==",
            Self::NotEqual => "!=",
            Self::Less => "<",
            Self::LessEqual => "<=",
            Self::Greater => ">",
            Self::GreaterEqual => ">=",
            Self::Plus => "+",
            Self::Minus => "-",
            Self::Star => "*",
            Self::Slash => "/",
        }
    }

    /// The bracket that closes this one; `None` for signs that open nothing.
    #[must_use]
    pub fn closing(self) -> Option<Self> {
        [
            (Self::OpenRound, Self::CloseRound),
            (Self::OpenSquare, Self::CloseSquare),
            (Self::OpenBrace, Self::CloseBrace),
        ]
        .into_iter()
        .find_map(|(open, close)| (open == self).then_some(close))
    }

    /// True for `)`, `]` and `}`.
    #[must_use]
    pub fn closes(self) -> bool {
        matches!(self, Self::CloseRound | Self::CloseSquare | Self::CloseBrace)
    }
}

impl Token<'_> {
    /// The token as messages name it: `` `retract` ``, a text.
    #[must_use]
    pub fn describe(self) -> String {
        match self {
            Self::Name(name) => format!("`{name}`"),
            Self::Word(word) => format!("`{}`", word.text()),
            Self::Sign(sign) => format!("`{}`", sign.text()),
            Self::Number(digits, unit) => format!("`{digits}{}`", unit.map_or("", Unit::name)),
            Self::Text(_) => "a text".to_owned(),
            Self::BadNumber => "a number".to_owned(),
            Self::Stray => "a stray character".to_owned(),
        }
    }
}
