//! What the parser found wrong: plain data, cheap to make and to merge, since a parser that looks for the
//! longest match makes many that nobody will see. [`explain`] turns the others into diagnostics.

use borewright_base::{Diagnostic, Span};
use borewright_number::{Dimension, Unit};
use chumsky::DefaultExpected;
use chumsky::error::{Error, LabelError};
use chumsky::util::MaybeRef;

use super::{Input, TokenSpan, span_of};
use crate::errors;
use crate::token::{Place, Sign, Token, Word};

/// Something that could have stood at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Expected {
    Word(Word),
    Sign(Sign),
    Name,
    Type,
    Text,
    Letter,
    Expression,
    Relation,
    Way,
    Item,
    HeadLine,
    Statement,
    /// `+`, `.`, `<`: what could go on with an expression; worth a word only when nothing else is expected.
    Continuation,
}

/// The kinds of [`Expected`] that are no word and no sign.
const KINDS: [Expected; 11] = [
    Expected::Name,
    Expected::Type,
    Expected::Text,
    Expected::Letter,
    Expected::Expression,
    Expected::Relation,
    Expected::Way,
    Expected::Item,
    Expected::HeadLine,
    Expected::Statement,
    Expected::Continuation,
];

/// A set of [`Expected`], one bit each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct ExpectedSet(u128);

impl ExpectedSet {
    fn bit(expected: Expected) -> u128 {
        let words = Word::ALL.len();
        let signs = Sign::ALL.len();
        let index = match expected {
            Expected::Word(word) => word as usize,
            Expected::Sign(sign) => words + sign as usize,
            Expected::Name => words + signs,
            Expected::Type => words + signs + 1,
            Expected::Text => words + signs + 2,
            Expected::Letter => words + signs + 3,
            Expected::Expression => words + signs + 4,
            Expected::Relation => words + signs + 5,
            Expected::Way => words + signs + 6,
            Expected::Item => words + signs + 7,
            Expected::HeadLine => words + signs + 8,
            Expected::Statement => words + signs + 9,
            Expected::Continuation => words + signs + 10,
        };
        1 << index
    }

    pub(super) fn has(self, expected: Expected) -> bool {
        self.0 & Self::bit(expected) != 0
    }

    /// How messages list the set, things before signs and words.
    fn names(self) -> Vec<String> {
        let kinds = KINDS.into_iter();
        let signs = Sign::ALL.into_iter().map(Expected::Sign);
        let words = Word::ALL.into_iter().map(Expected::Word);
        let all: Vec<_> = kinds.chain(signs).chain(words).filter(|&e| self.has(e)).collect();
        let telling = |e: &Expected| *e != Expected::Continuation || all.len() == 1;
        all.iter().filter(|e| telling(e)).map(|&e| describe(e)).collect()
    }
}

fn describe(expected: Expected) -> String {
    let text = match expected {
        Expected::Word(word) => return format!("`{}`", word.text()),
        Expected::Sign(sign) => return format!("`{}`", sign.text()),
        Expected::Name => "a name",
        Expected::Type => "a type",
        Expected::Text => "a text in quotes",
        Expected::Letter => "a capital letter",
        Expected::Expression => "an expression",
        Expected::Relation => "a comparison (`==`, `<=` ...)",
        Expected::Way => "`ccw` or `cw`",
        Expected::Item => "an item",
        Expected::HeadLine => "a line of the head",
        Expected::Statement => "a statement",
        Expected::Continuation => "an operator",
    };
    text.to_owned()
}

/// What is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Another token should have stood there.
    Unexpected,
    /// A reserved word stands where, going by what follows, a name was meant.
    ReservedWord(Word),
    /// `a < b < c`
    ChainedComparison,
    /// `circle(6, diameter: d)`
    MixedArguments,
}

/// Something wrong at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fault<'t> {
    pub(super) span: TokenSpan,
    pub(super) found: Option<Token<'t>>,
    pub(super) expected: ExpectedSet,
    pub(super) kind: Kind,
}

impl Fault<'_> {
    pub(super) fn new(span: TokenSpan, kind: Kind) -> Self {
        Self { span, found: None, expected: ExpectedSet::default(), kind }
    }
}

impl<'t> Fault<'t> {
    fn unexpected(expected: ExpectedSet, found: Option<MaybeRef<'t, Token<'t>>>, span: TokenSpan) -> Self {
        let found = found.map(MaybeRef::into_inner);
        Self { span, found, expected, kind: Kind::Unexpected }
    }
}

impl<'t> Error<'t, Input<'t>> for Fault<'t> {
    fn merge(self, other: Self) -> Self {
        let merged = ExpectedSet(self.expected.0 | other.expected.0);
        let first = if self.kind == Kind::Unexpected { other } else { self };
        Self { expected: merged, ..first }
    }
}

impl<'t> LabelError<'t, Input<'t>, Expected> for Fault<'t> {
    fn expected_found<E: IntoIterator<Item = Expected>>(
        expected: E,
        found: Option<MaybeRef<'t, Token<'t>>>,
        span: TokenSpan,
    ) -> Self {
        let set = expected.into_iter().map(ExpectedSet::bit).fold(0, |a, b| a | b);
        Self::unexpected(ExpectedSet(set), found, span)
    }

    fn label_with(&mut self, label: Expected) {
        self.expected = ExpectedSet(ExpectedSet::bit(label));
    }
}

impl<'t> LabelError<'t, Input<'t>, DefaultExpected<'t, Token<'t>>> for Fault<'t> {
    fn expected_found<E: IntoIterator<Item = DefaultExpected<'t, Token<'t>>>>(
        expected: E,
        found: Option<MaybeRef<'t, Token<'t>>>,
        span: TokenSpan,
    ) -> Self {
        let bits = |expected: DefaultExpected<'t, Token<'t>>| {
            let DefaultExpected::Token(token) = expected else { return 0 };
            match token.into_inner() {
                Token::Word(word) => ExpectedSet::bit(Expected::Word(word)),
                Token::Sign(sign) => ExpectedSet::bit(Expected::Sign(sign)),
                Token::Name(_) => ExpectedSet::bit(Expected::Name),
                Token::Text(_) => ExpectedSet::bit(Expected::Text),
                Token::Number(..) | Token::BadNumber | Token::Stray => 0,
            }
        };
        let set = expected.into_iter().map(bits).fold(0, |a, b| a | b);
        Self::unexpected(ExpectedSet(set), found, span)
    }
}

/// What stands around a fault.
pub(super) struct Surroundings<'t> {
    /// The token before it.
    pub(super) before: Option<(Token<'t>, Span)>,
    /// True when both stand on one line.
    pub(super) same_line: bool,
    /// Which braces it stands in.
    pub(super) place: Place,
}

impl Surroundings<'_> {
    /// True where nothing but a brace stands before it on its line.
    fn begins_line(&self) -> bool {
        let brace = |(token, _)| matches!(token, Token::Sign(Sign::OpenBrace | Sign::CloseBrace));
        !self.same_line || self.before.is_none_or(brace)
    }
}

/// The diagnostic for a fault; `None` where something else has been reported already.
pub(super) fn explain(fault: &Fault<'_>, around: &Surroundings<'_>) -> Option<Diagnostic> {
    let span = span_of(fault.span);
    match fault.kind {
        Kind::ReservedWord(word) => Some(errors::reserved_word(span, word)),
        Kind::ChainedComparison => Some(errors::chained_comparison(span)),
        Kind::MixedArguments => Some(errors::mixed_arguments(span)),
        Kind::Unexpected => match fault.found {
            Some(Token::Stray | Token::BadNumber) => None,
            // An invented bracket: the repair has been reported.
            Some(_) if span.start == span.end => None,
            found => Some(explain_unexpected(fault, found, span, around)),
        },
    }
}

fn explain_unexpected(
    fault: &Fault<'_>,
    found: Option<Token<'_>>,
    span: Span,
    around: &Surroundings<'_>,
) -> Diagnostic {
    if let Some((digits, unit)) = unit_apart(found, around) {
        return errors::unit_apart(span, digits, unit);
    }
    let begins = begins_something(fault.expected);
    if let (Some(Token::Name(name)), Some(place)) = (found, begins)
        && (around.begins_line() || errors::nearest_leading(name, place).is_some())
    {
        return errors::unknown_statement(span, name, place);
    }
    if let Some(Token::Word(word)) = found {
        let nameable = fault.expected.has(Expected::Name) || fault.expected.has(Expected::Expression);
        if nameable && around.same_line && word.is_leading() {
            return errors::reserved_word(span, word);
        }
        if fault.expected.has(Expected::Name) && around.same_line {
            return errors::reserved_word(span, word);
        }
        let body_missing = word.leads_in(Place::Item) && fault.expected.has(Expected::Sign(Sign::OpenBrace));
        if word.is_leading() && begins.is_some() && !body_missing && !word.leads_in(around.place) {
            return errors::misplaced_statement(span, word);
        }
    }
    let names = fault.expected.names();
    let diagnostic = match around.before {
        // What is missing at the end of a line is shown there, and not at the next line.
        Some((before, place)) if !around.same_line => errors::missing_after(place, before, &names),
        _ => errors::unexpected(span, found, &names),
    };
    match hint(fault, found, around) {
        Some(hint) => diagnostic.hint(hint),
        None => diagnostic,
    }
}

/// `6 mm`: the number before, and the unit found.
fn unit_apart<'t>(found: Option<Token<'t>>, around: &Surroundings<'t>) -> Option<(&'t str, Unit)> {
    let (Some((Token::Number(digits, None), _)), true) = (around.before, around.same_line) else {
        return None;
    };
    let word = match found? {
        Token::Name(name) => name,
        Token::Word(Word::In) => "in",
        Token::Word(_)
        | Token::Sign(_)
        | Token::Number(..)
        | Token::BadNumber
        | Token::Text(_)
        | Token::Stray => return None,
    };
    Some((digits, Unit::from_name(word)?))
}

/// Which leading words were expected, if any.
fn begins_something(expected: ExpectedSet) -> Option<Place> {
    [
        (Expected::Statement, Place::Block),
        (Expected::HeadLine, Place::Head),
        (Expected::Item, Place::Item),
        (Expected::Word(Word::Row), Place::Table),
    ]
    .into_iter()
    .find_map(|(thing, place)| expected.has(thing).then_some(place))
}

/// Advice for what is often written by mistake.
fn hint(fault: &Fault<'_>, found: Option<Token<'_>>, around: &Surroundings<'_>) -> Option<&'static str> {
    let expected = fault.expected;
    let found_sign = |sign| found == Some(Token::Sign(sign));
    if found_sign(Sign::Equals) && expected.has(Expected::Continuation) {
        return Some("`=` gives a name to a value; two values are compared with `==`");
    }
    if found_sign(Sign::OpenRound)
        && let Some((Token::Number(_, Some(unit)), _)) = around.before
        && unit.dimension() == Dimension::FEED
    {
        return Some("a unit such as `in/min` is one word; for a quotient put blanks around `/`");
    }
    if found_sign(Sign::Equal) && expected.has(Expected::Sign(Sign::Equals)) {
        return Some("`==` compares two values; a name is given with `=`");
    }
    if expected.has(Expected::Word(Word::Else)) && found != Some(Token::Word(Word::Else)) {
        return Some("a requirement ends with the alarm text: `requires a <= b else \"TOO BIG\"`");
    }
    if let (true, Some(Token::Number(..))) = (expected.has(Expected::Name), found)
        && !expected.has(Expected::Expression)
    {
        return Some("values are given by name here: `depth: 5mm`");
    }
    if expected.has(Expected::Letter) {
        return Some("the address that calls fill in: `as B`; it may be left out");
    }
    if expected.has(Expected::Way) {
        return Some("say which way round, seen from above: `ccw` or `cw`");
    }
    if expected.has(Expected::Word(Word::To)) {
        return Some("the end of a move follows the word `to`");
    }
    None
}
