//! Controller text after reading: programs of blocks, blocks of words, assignments and statements.
//!
//! An expression is kept in postfix order (operands first), so that neither evaluating nor dropping one recurses,
//! however long the line was.

use borewright_base::{FileId, Span};

/// A whole text: one or several programs.
#[derive(Debug, Clone, PartialEq)]
pub struct Program {
    /// The file it was read from.
    pub file: FileId,
    /// In the order of the text; at least one, the first is the main program.
    pub bodies: Vec<Body>,
    /// What the text looked like as a file.
    pub layout: Layout,
    /// Things that only some dialects have.
    pub(crate) notes: Vec<crate::read::Note>,
}

/// Facts about the file as such, which some dialects have rules for.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Layout {
    /// The first line with `%` alone.
    pub opened: Option<Span>,
    /// The second line with `%` alone; what follows it is not read.
    pub closed: Option<Span>,
    /// Places of lines longer than 256 characters.
    pub long_lines: Vec<Span>,
}

/// One program of a text: what stands between two O numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// The O number; `None` where the text began without one.
    pub number: Option<u32>,
    /// Where its number stands, or its first block.
    pub span: Span,
    /// Its blocks, without blank lines.
    pub blocks: Vec<Block>,
}

/// One line of controller text.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Line in the file, from 1.
    pub line: u32,
    /// The whole line.
    pub span: Span,
    /// Begins with `/`: left out when block skip is on.
    pub skip: bool,
    /// The N number.
    pub sequence: Option<Sequence>,
    /// What it orders.
    pub content: Content,
    /// The comments, in order; a controller shows the last.
    pub comments: Vec<Comment>,
}

/// An N number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sequence {
    /// Its value.
    pub number: u32,
    /// How many digits were written.
    pub digits: u32,
    /// Where.
    pub span: Span,
}

/// `( … )`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comment {
    /// What stands between the brackets, without the `MSG,` of a message.
    pub text: String,
    /// Begins with `MSG,`: to be shown to the operator.
    pub message: bool,
    /// With its brackets.
    pub span: Span,
}

/// What a block orders.
#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    /// Words and assignments, in any order: all values are read first, assignments take effect last.
    Items(Items),
    /// `IF [condition] GOTO n` or `IF [condition] THEN #i = e`.
    If {
        /// The condition.
        condition: Expression,
        /// What happens when it holds.
        then: Then,
    },
    /// `WHILE [condition] DO m`.
    While {
        /// The condition.
        condition: Expression,
        /// Loop number.
        id: u32,
        /// Index of the block with its `END`.
        end: usize,
    },
    /// `END m`.
    End {
        /// Loop number.
        id: u32,
        /// Index of the block with its `WHILE`.
        start: usize,
    },
    /// `GOTO n`.
    Goto(Expression),
    /// Could not be read; the reader has said why. A run stops here.
    Unreadable,
}

/// The words and assignments of a block.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Items {
    /// In the order of the text.
    pub words: Vec<Word>,
    /// In the order of the text.
    pub assignments: Vec<Assignment>,
}

/// The second half of an `IF`.
#[derive(Debug, Clone, PartialEq)]
pub enum Then {
    /// Jump to a sequence number.
    Goto(Expression),
    /// Assign.
    Assign(Vec<Assignment>),
}

/// A letter and its value.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// Upper case.
    pub letter: char,
    /// Its value.
    pub value: Expression,
    /// Letter and value.
    pub span: Span,
}

/// `#i = e`.
#[derive(Debug, Clone, PartialEq)]
pub struct Assignment {
    /// Number of the variable.
    pub variable: Expression,
    /// The value.
    pub value: Expression,
    /// All of it.
    pub span: Span,
}

/// A value as written.
#[derive(Debug, Clone, PartialEq)]
pub enum Expression {
    /// A number alone, the common case.
    Literal(Number),
    /// Postfix code: runs on a stack and leaves one operand.
    Code(Vec<Instruction>),
}

/// One step of postfix code.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instruction {
    /// What to do.
    pub operation: Operation,
    /// Where it is written.
    pub span: Span,
}

/// What an instruction does to the stack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Operation {
    /// Puts a number.
    Number(Number),
    /// Takes a number `n` and puts the value of variable `#n`.
    Variable,
    /// Takes one operand.
    Negate,
    /// Takes one operand.
    Function(Function),
    /// Takes `y`, then `x` above it: `ATAN[y]/[x]`.
    ArcTangent,
    /// Takes two operands, the right one on top.
    Binary(Binary),
}

/// Functions of one argument; angles are in degrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names are those of the text")]
pub enum Function {
    Abs,
    Acos,
    Asin,
    Cos,
    Exp,
    Fix,
    Fup,
    Ln,
    Round,
    Sin,
    Sqrt,
    Tan,
}

impl Function {
    /// As written in a text.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Abs => "ABS",
            Self::Acos => "ACOS",
            Self::Asin => "ASIN",
            Self::Cos => "COS",
            Self::Exp => "EXP",
            Self::Fix => "FIX",
            Self::Fup => "FUP",
            Self::Ln => "LN",
            Self::Round => "ROUND",
            Self::Sin => "SIN",
            Self::Sqrt => "SQRT",
            Self::Tan => "TAN",
        }
    }
}

/// Operators of two operands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Binary {
    Add,
    Subtract,
    Multiply,
    Divide,
    Modulo,
    Power,
    And,
    Or,
    Xor,
    Compare(Relation),
}

/// A comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relation {
    /// `EQ`
    Equal,
    /// `NE`
    NotEqual,
    /// `LT`
    Less,
    /// `LE`
    LessOrEqual,
    /// `GT`
    Greater,
    /// `GE`
    GreaterOrEqual,
}

/// Digits that a number may have: more than any controller keeps.
pub(crate) const MAX_DIGITS: usize = 18;

/// A decimal number exactly as written: `mantissa / 10^decimals`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number {
    /// All digits as a whole number, with the sign.
    pub mantissa: i64,
    /// Digits after the point.
    pub decimals: u32,
    /// True when a decimal point was written.
    pub point: bool,
    /// The nearest float.
    pub float: f64,
}

impl Number {
    /// A whole number, as if written without a point.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "only small constants are made this way")]
    pub const fn whole(value: i32) -> Self {
        Self { mantissa: value as i64, decimals: 0, point: false, float: value as f64 }
    }

    /// Reads digits with at most one point and a sign before them; `None` when there are none, or more than 18 that
    /// matter.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let part = part.trim_end_matches('0');
        let digits = format!("{whole}{part}");
        let matter = digits.trim_start_matches(['-', '0']).len();
        if matter > MAX_DIGITS || part.len() > 2 * MAX_DIGITS {
            return None;
        }
        let mantissa = match digits.as_str() {
            "" | "-" => 0,
            digits => digits.parse().ok()?,
        };
        let decimals = u32::try_from(part.len()).ok()?;
        Some(Self { mantissa, decimals, point: text.contains('.'), float: text.parse().ok()? })
    }

    /// Exact decimal text: `-0.125`.
    #[must_use]
    pub fn text(self) -> String {
        let sign = if self.mantissa < 0 { "-" } else { "" };
        let places = self.decimals as usize;
        let digits = format!("{:0>width$}", self.mantissa.unsigned_abs(), width = places + 1);
        let (left, right) = digits.split_at(digits.len() - places);
        let point = if self.point || places > 0 { "." } else { "" };
        format!("{sign}{left}{point}{right}")
    }

    /// The same digits with the point moved left: a count of increments becomes a length.
    #[must_use]
    pub fn as_increments(self, decimals: u32) -> Self {
        let moved = Self { decimals: self.decimals + decimals, ..self };
        Self { float: moved.text().parse().unwrap_or(self.float), ..moved }
    }
}

impl Expression {
    /// The number, when it is nothing but a number.
    #[must_use]
    pub fn literal(&self) -> Option<Number> {
        match self {
            Self::Literal(number) => Some(*number),
            Self::Code(_) => None,
        }
    }
}
