//! Expressions: NISTIR 6556, sections 3.3.2.1 to 3.3.2.4. Comparisons, and a sign before something that is not a
//! number, are common practice of macro dialects, no source.

use borewright_base::Span;

use super::cursor::Cursor;
use super::{Feature, Note};
use crate::errors::{self, Fault};
use crate::text::{Binary, Expression, Function, Instruction, MAX_DIGITS, Number, Operation, Relation};

/// Brackets, signs and `#` in one another that we follow; controllers allow far fewer.
const MAX_DEPTH: u32 = 200;

/// Reads one value as a word takes it: a number, a variable, a bracket or a function.
pub(super) fn value(cursor: &mut Cursor<'_>, notes: &mut Vec<Note>) -> Result<Expression, Fault> {
    let mut parser = Parser::new(cursor, notes);
    parser.operand()?;
    Ok(parser.finish())
}

/// Reads the right side of an assignment, where operators may stand without brackets.
pub(super) fn sum(cursor: &mut Cursor<'_>, notes: &mut Vec<Note>) -> Result<Expression, Fault> {
    let mark = cursor.mark();
    let mut parser = Parser::new(cursor, notes);
    if parser.chain()? > 0 {
        let span = parser.cursor.span_from(mark);
        parser.notes.push(Note { feature: Feature::BareOperator, span });
    }
    Ok(parser.finish())
}

/// Reads the number of a variable, after its `#`.
pub(super) fn variable_number(cursor: &mut Cursor<'_>, notes: &mut Vec<Note>) -> Result<Expression, Fault> {
    let mut parser = Parser::new(cursor, notes);
    parser.index()?;
    Ok(parser.finish())
}

/// Reads an unsigned whole number, as after N, O, DO and END: value and count of digits.
pub(super) fn whole(cursor: &mut Cursor<'_>, after: &str) -> Result<(u32, u32), Fault> {
    let mark = cursor.mark();
    let mut digits = String::new();
    while let Some(c) = cursor.peek().filter(char::is_ascii_digit) {
        digits.push(c);
        cursor.take();
    }
    if digits.is_empty() {
        return Err(missing(cursor, &format!("{after} needs a whole number")));
    }
    let count = u32::try_from(digits.len()).unwrap_or(u32::MAX);
    let number = digits.parse().map_err(|_| {
        Fault::new(
            errors::WORD_VALUE,
            cursor.span_from(mark),
            format!("the number after {after} is too large"),
        )
        .hint("use at most 9 digits")
    })?;
    Ok((number, count))
}

struct Parser<'c, 't> {
    cursor: &'c mut Cursor<'t>,
    notes: &'c mut Vec<Note>,
    code: Vec<Instruction>,
    /// Everything that is open: brackets, signs, `#`.
    depth: u32,
    /// Brackets that are open, and the most that were.
    brackets: u32,
    deepest: u32,
    /// Any bracket was written.
    bracketed: bool,
}

/// An operator that waits for its right operand.
struct Waiting {
    operator: Binary,
    span: Span,
}

impl<'c, 't> Parser<'c, 't> {
    fn new(cursor: &'c mut Cursor<'t>, notes: &'c mut Vec<Note>) -> Self {
        Self { cursor, notes, code: Vec::new(), depth: 0, brackets: 0, deepest: 0, bracketed: false }
    }

    fn finish(self) -> Expression {
        match self.code.as_slice() {
            // A number in brackets is computed: it needs no decimal point.
            [Instruction { operation: Operation::Number(number), .. }] if !self.bracketed => {
                Expression::Literal(*number)
            }
            _ => Expression::Code(self.code),
        }
    }

    fn emit(&mut self, operation: Operation, span: Span) {
        self.code.push(Instruction { operation, span });
    }

    /// Operands with operators between them; the count of operators.
    fn chain(&mut self) -> Result<usize, Fault> {
        let mark = self.cursor.mark();
        let mut waiting: Vec<Waiting> = Vec::new();
        let (mut count, mut logic, mut other) = (0, 0, 0);
        self.operand()?;
        while let Some(next) = self.operator() {
            if let (Binary::Compare(_), Some(_)) =
                (next.operator, waiting.iter().find(|w| rank(w.operator) == 0))
            {
                return Err(Fault::new(
                    errors::AMBIGUOUS_EXPRESSION,
                    next.span,
                    "one comparison after another",
                )
                .hint("put each comparison in brackets of its own and join them with AND"));
            }
            while let Some(before) = waiting.pop_if(|w| rank(w.operator) >= rank(next.operator)) {
                self.emit(Operation::Binary(before.operator), before.span);
            }
            count += 1;
            if is_logic(next.operator) {
                logic += 1
            } else {
                other += 1
            }
            waiting.push(next);
            self.operand()?;
        }
        while let Some(before) = waiting.pop() {
            self.emit(Operation::Binary(before.operator), before.span);
        }
        if logic > 0 && other > 0 {
            self.notes.push(Note { feature: Feature::MixedLogic, span: self.cursor.span_from(mark) });
        }
        Ok(count)
    }

    fn operator(&mut self) -> Option<Waiting> {
        let mark = self.cursor.mark();
        let operator = match self.cursor.peek()? {
            '*' => {
                self.cursor.take();
                if self.cursor.accept('*') { Binary::Power } else { Binary::Multiply }
            }
            '/' => self.symbol(Binary::Divide),
            '+' => self.symbol(Binary::Add),
            '-' => self.symbol(Binary::Subtract),
            c if c.is_ascii_alphabetic() => self.named_operator()?,
            _ => return None,
        };
        Some(Waiting { operator, span: self.cursor.span_from(mark) })
    }

    fn symbol(&mut self, operator: Binary) -> Binary {
        self.cursor.take();
        operator
    }

    fn named_operator(&mut self) -> Option<Binary> {
        const NAMED: [(&str, Binary); 10] = [
            ("MOD", Binary::Modulo),
            ("AND", Binary::And),
            ("OR", Binary::Or),
            ("XOR", Binary::Xor),
            ("EQ", Binary::Compare(Relation::Equal)),
            ("NE", Binary::Compare(Relation::NotEqual)),
            ("LT", Binary::Compare(Relation::Less)),
            ("LE", Binary::Compare(Relation::LessOrEqual)),
            ("GT", Binary::Compare(Relation::Greater)),
            ("GE", Binary::Compare(Relation::GreaterOrEqual)),
        ];
        let (_, operator) = NAMED.into_iter().find(|(name, _)| self.cursor.accept_word(name))?;
        Some(operator)
    }

    /// One operand, with any signs before it.
    fn operand(&mut self) -> Result<(), Fault> {
        let mark = self.cursor.mark();
        let Some(sign) = self.cursor.peek().filter(|c| matches!(c, '+' | '-')) else {
            return self.primary();
        };
        self.enter()?;
        self.cursor.take();
        if self.cursor.peek().is_some_and(starts_number) {
            let number = self.number(mark, sign == '-')?;
            self.emit(Operation::Number(number), self.cursor.span_from(mark));
        } else {
            self.operand()?;
            let span = self.cursor.span_from(mark);
            self.notes.push(Note { feature: Feature::SignedValue, span });
            if sign == '-' {
                self.emit(Operation::Negate, span);
            }
        }
        self.depth -= 1;
        Ok(())
    }

    fn primary(&mut self) -> Result<(), Fault> {
        let mark = self.cursor.mark();
        match self.cursor.peek() {
            Some(c) if starts_number(c) => {
                let number = self.number(mark, false)?;
                self.emit(Operation::Number(number), self.cursor.span_from(mark));
                Ok(())
            }
            Some('#') => {
                self.cursor.take();
                self.index()?;
                self.emit(Operation::Variable, self.cursor.span_from(mark));
                Ok(())
            }
            Some('[') => self.bracket(),
            Some(c) if c.is_ascii_alphabetic() => self.function(),
            _ => Err(missing(self.cursor, "a value is missing here")),
        }
    }

    /// What follows a `#`: a number, another variable or a bracket.
    fn index(&mut self) -> Result<(), Fault> {
        self.enter()?;
        match self.cursor.peek() {
            Some(c) if starts_number(c) || matches!(c, '#' | '[') => self.primary()?,
            _ => return Err(missing(self.cursor, "the number of the variable is missing after #")),
        }
        self.depth -= 1;
        Ok(())
    }

    fn bracket(&mut self) -> Result<(), Fault> {
        self.enter()?;
        let mark = self.cursor.mark();
        self.cursor.take();
        self.brackets += 1;
        self.bracketed = true;
        self.deepest = self.deepest.max(self.brackets);
        self.chain()?;
        if !self.cursor.accept(']') {
            return Err(self.unclosed(mark));
        }
        self.brackets -= 1;
        self.depth -= 1;
        if self.brackets == 0 && self.deepest > 1 {
            let span = self.cursor.span_from(mark);
            self.notes.push(Note { feature: Feature::Brackets(self.deepest), span });
            self.deepest = 0;
        }
        Ok(())
    }

    /// A bracket is open and no operator follows: the line ends, or what follows looks like the next word.
    fn unclosed(&self, mark: usize) -> Fault {
        let next_word = self.cursor.letters_ahead().len() == 1;
        match self.cursor.peek() {
            Some(c) if c.is_ascii_alphabetic() && !next_word => unknown_name(self.cursor, "an operator or ]"),
            Some(c) if !c.is_ascii_alphabetic() && c != '(' => unexpected(self.cursor, "an operator or ]"),
            None | Some(_) => {
                let span = self.cursor.span_from(mark);
                Fault::new(errors::UNCLOSED_BRACKET, span, "the bracket [ is never closed")
                    .hint("add the ] that belongs to it on the same line")
            }
        }
    }

    fn function(&mut self) -> Result<(), Fault> {
        let mark = self.cursor.mark();
        let name = self.cursor.letters_ahead();
        if name == "ATAN" {
            self.cursor.accept_word(&name);
            return self.arc_tangent(mark);
        }
        let Some(function) = FUNCTIONS.into_iter().find(|f| f.name() == name) else {
            return Err(match name.len() {
                // A single letter is the next word.
                1 => missing(self.cursor, "a value is missing here"),
                _ => unknown_name(self.cursor, "a value"),
            });
        };
        self.cursor.accept_word(&name);
        self.argument(function.name())?;
        self.emit(Operation::Function(function), self.cursor.span_from(mark));
        Ok(())
    }

    /// `ATAN[y]/[x]`; with one argument, as some dialects have it, x is 1.
    fn arc_tangent(&mut self, mark: usize) -> Result<(), Fault> {
        self.argument("ATAN")?;
        if self.cursor.peek() == Some('/') && self.cursor.peek_second() == Some('[') {
            self.cursor.take();
            self.argument("ATAN[..]/")?;
        } else {
            let span = self.cursor.span_from(mark);
            self.notes.push(Note { feature: Feature::OneArgumentAtan, span });
            self.emit(Operation::Number(Number::whole(1)), span);
        }
        self.emit(Operation::ArcTangent, self.cursor.span_from(mark));
        Ok(())
    }

    fn argument(&mut self, name: &str) -> Result<(), Fault> {
        if self.cursor.peek() == Some('[') {
            return self.bracket();
        }
        Err(missing(self.cursor, &format!("{name} needs its argument in brackets [ ]")))
    }

    /// Digits with at most one point, blanks among them allowed.
    fn number(&mut self, mark: usize, negative: bool) -> Result<Number, Fault> {
        let mut text = String::from(if negative { "-" } else { "" });
        let mut point = false;
        while let Some(c) = self.cursor.peek().filter(|c| starts_number(*c)) {
            if c == '.' && point {
                let span = self.cursor.span_here();
                return Err(Fault::new(
                    errors::UNEXPECTED_CHARACTER,
                    span,
                    "a second decimal point in one number",
                )
                .hint("delete one of the points"));
            }
            point |= c == '.';
            text.push(c);
            self.cursor.take();
        }
        let digits = text.bytes().filter(u8::is_ascii_digit).count();
        if digits == 0 {
            return Err(missing(self.cursor, "a decimal point needs digits beside it"));
        }
        Number::parse(&text).ok_or_else(|| {
            let message = format!("a number of more than {MAX_DIGITS} digits");
            Fault::new(errors::WORD_VALUE, self.cursor.span_from(mark), message)
                .hint("controllers keep 8 to 17 digits; round the number yourself")
        })
    }

    fn enter(&mut self) -> Result<(), Fault> {
        self.depth += 1;
        if self.depth <= MAX_DEPTH {
            return Ok(());
        }
        let message = format!("more than {MAX_DEPTH} brackets or signs in one another");
        Err(Fault::new(errors::TOO_DEEP, self.cursor.span_here(), message)
            .hint("compute parts of it into variables first"))
    }
}

const FUNCTIONS: [Function; 12] = [
    Function::Abs,
    Function::Acos,
    Function::Asin,
    Function::Cos,
    Function::Exp,
    Function::Fix,
    Function::Fup,
    Function::Ln,
    Function::Round,
    Function::Sin,
    Function::Sqrt,
    Function::Tan,
];

/// Higher binds tighter; equal rank goes left to right.
fn rank(operator: Binary) -> u8 {
    match operator {
        Binary::Compare(_) => 0,
        Binary::Add | Binary::Subtract | Binary::And | Binary::Or | Binary::Xor => 1,
        Binary::Multiply | Binary::Divide | Binary::Modulo => 2,
        Binary::Power => 3,
    }
}

fn is_logic(operator: Binary) -> bool {
    matches!(operator, Binary::And | Binary::Or | Binary::Xor)
}

fn starts_number(c: char) -> bool {
    c.is_ascii_digit() || c == '.'
}

fn missing(cursor: &Cursor<'_>, message: &str) -> Fault {
    Fault::new(errors::VALUE_MISSING, cursor.span_here(), message)
        .hint("write a number, a variable such as #1, or an expression in brackets [ ]")
}

/// A letter run that is no name we know.
pub(super) fn unknown_name(cursor: &Cursor<'_>, wanted: &str) -> Fault {
    let name = cursor.letters_ahead();
    Fault::new(errors::UNKNOWN_WORD, cursor.span_here(), format!("{name} is not {wanted}"))
        .hint("functions are ABS ACOS ASIN ATAN COS EXP FIX FUP LN ROUND SIN SQRT TAN, operators MOD AND OR XOR EQ NE LT LE GT GE")
}

/// A character that fits nothing.
pub(super) fn unexpected(cursor: &Cursor<'_>, wanted: &str) -> Fault {
    let message = match cursor.peek() {
        None => format!("the line ends where {wanted} should be"),
        Some('\u{FFFD}') => "a byte that is not text".to_owned(),
        Some(c) if c.is_control() => format!("a control character (code {}) in the line", u32::from(c)),
        Some(c) => format!("`{c}` where {wanted} should be"),
    };
    Fault::new(errors::UNEXPECTED_CHARACTER, cursor.span_here(), message).hint(
        "remarks belong in brackets ( ); a block has only letters with values, # assignments and remarks",
    )
}
