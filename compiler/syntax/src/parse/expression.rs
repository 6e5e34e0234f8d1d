//! Expressions, from the loosest binding to the tightest.

use borewright_number::Rational;
use chumsky::pratt::{infix, left};
use chumsky::prelude::*;

use super::fault::{Expected, Fault, Kind};
use super::recover::{listed, to_close};
use super::{Rule, TokenSpan, name, name_before, sign, span_of, word};
use crate::ast::{Argument, Binary, Compare, Expr, ExprKind, Name};
use crate::token::{Sign, Token, Word};

/// `if c then a else b`, or what [`logic`] reads.
pub(super) fn expression<'t>() -> Rule<'t, Expr> {
    recursive(|expr| {
        let expr: Rule<'t, Expr> = expr.boxed();
        let choice = word(Word::If)
            .ignore_then(expr.clone())
            .then_ignore(word(Word::Then))
            .then(expr.clone())
            .then_ignore(word(Word::Else))
            .then(expr.clone())
            .map_with(|((condition, then), other), e| node(ExprKind::If(condition, then, other), e.span()));
        choice.or(logic(expr)).labelled(Expected::Expression)
    })
    .boxed()
}

/// `a and b or not c`
fn logic<'t>(expr: Rule<'t, Expr>) -> Rule<'t, Expr> {
    let negated = word(Word::Not)
        .ignore_then(comparison(expr.clone()))
        .map_with(|inner, e| node(ExprKind::Not(inner), e.span()));
    let and = select! { Token::Word(Word::And) => Binary::And }.labelled(Expected::Continuation);
    let or = select! { Token::Word(Word::Or) => Binary::Or }.labelled(Expected::Continuation);
    negated
        .or(comparison(expr))
        .pratt((
            infix(left(2), and, |a, op, b, e| node(ExprKind::Binary(op, a, b), e.span())),
            infix(left(1), or, |a, op, b, e| node(ExprKind::Binary(op, a, b), e.span())),
        ))
        .boxed()
}

/// `a <= b`: two sides and no more.
fn comparison<'t>(expr: Rule<'t, Expr>) -> Rule<'t, Expr> {
    let side = arithmetic(expr);
    let more = relation()
        .labelled(Expected::Continuation)
        .map_with(|relation, e| (relation, e.span()))
        .then(side.clone());
    side.then(more.repeated().collect::<Vec<_>>())
        .validate(|(first, more), e, emitter| {
            let mut more = more.into_iter();
            let Some(((relation, _), second)) = more.next() else { return first };
            let compared = node(ExprKind::Compare(relation, first, second), e.span());
            let Some(((_, span), _)) = more.next() else { return compared };
            emitter.emit(Fault::new(span, Kind::ChainedComparison));
            node(ExprKind::Invalid, e.span())
        })
        .boxed()
}

/// `==`, `<=`
pub(super) fn relation<'t>() -> Rule<'t, Compare> {
    select! {
        Token::Sign(Sign::Equal) => Compare::Equal,
        Token::Sign(Sign::NotEqual) => Compare::NotEqual,
        Token::Sign(Sign::Less) => Compare::Less,
        Token::Sign(Sign::LessEqual) => Compare::LessEqual,
        Token::Sign(Sign::Greater) => Compare::Greater,
        Token::Sign(Sign::GreaterEqual) => Compare::GreaterEqual,
    }
    .labelled(Expected::Relation)
    .boxed()
}

/// `a + b * -c`
fn arithmetic<'t>(expr: Rule<'t, Expr>) -> Rule<'t, Expr> {
    let times = select! { Token::Sign(Sign::Star) => Binary::Mul, Token::Sign(Sign::Slash) => Binary::Div };
    let plus = select! { Token::Sign(Sign::Plus) => Binary::Add, Token::Sign(Sign::Minus) => Binary::Sub };
    let negated = sign(Sign::Minus)
        .ignore_then(operand(expr.clone()))
        .map_with(|inner, e| node(ExprKind::Negate(inner), e.span()));
    negated
        .or(operand(expr))
        .labelled(Expected::Expression)
        .pratt((
            infix(left(2), times.labelled(Expected::Continuation), |a, op, b, e| {
                node(ExprKind::Binary(op, a, b), e.span())
            }),
            infix(left(1), plus.labelled(Expected::Continuation), |a, op, b, e| {
                node(ExprKind::Binary(op, a, b), e.span())
            }),
        ))
        .boxed()
}

/// A number, or something that may have fields: `screw.seat`
fn operand<'t>(expr: Rule<'t, Expr>) -> Rule<'t, Expr> {
    let dot = sign(Sign::Dot).labelled(Expected::Continuation);
    let field = dot.ignore_then(name());
    let primary = name_or_call(expr.clone()).or(round(expr.clone())).or(square(expr));
    let fields = primary.foldl(field.repeated(), |record, field| {
        let span = record.span.to(field.span);
        Expr { kind: Box::new(ExprKind::Field(record, field)), span }
    });
    number().or(fields).boxed()
}

/// `25mm`, or `25mm H7`: the size to aim at in a tolerance zone, which is `fit(25mm, zone.H7)`.
fn number<'t>() -> Rule<'t, Expr> {
    let zone = select! { Token::Name(name) = e if is_zone(name) => (name.to_owned(), span_of(e.span())) };
    let zone = zone.labelled(Expected::Continuation).or_not();
    literal()
        .then(zone)
        .map_with(|(size, zone), e| {
            let Some((class, span)) = zone else { return size };
            let named = |text: &str| Name { text: text.to_owned(), span };
            let table = Expr { kind: Box::new(ExprKind::Name(named("zone"))), span };
            let row = Expr { kind: Box::new(ExprKind::Field(table, named(&class))), span };
            node(ExprKind::Call(named("fit"), vec![size, row]), e.span())
        })
        .boxed()
}

/// `H7`, `JS7`, `H11`: one or two capital letters, one or two digits.
fn is_zone(name: &str) -> bool {
    let digits = name.trim_start_matches(|c: char| c.is_ascii_uppercase());
    let letters = name.len() - digits.len();
    (1..=2).contains(&letters)
        && (1..=2).contains(&digits.len())
        && digits.chars().all(|c| c.is_ascii_digit())
}

fn literal<'t>() -> Rule<'t, Expr> {
    select! {
        Token::Number(digits, unit) = e => match Rational::from_decimal(digits) {
            Some(value) => node(ExprKind::Number(value, unit), e.span()),
            None => node(ExprKind::Invalid, e.span()),
        },
        Token::BadNumber = e => node(ExprKind::Invalid, e.span()),
    }
    .boxed()
}

/// `bore`, `min(a, b)`, `circle(count: 6, diameter: d)`
fn name_or_call<'t>(expr: Rule<'t, Expr>) -> Rule<'t, Expr> {
    let label = name_before(&[Sign::Colon]).then_ignore(sign(Sign::Colon));
    let argument = label.or_not().then(expr).boxed();
    let arguments = listed(Sign::OpenRound, Sign::CloseRound, argument).labelled(Expected::Continuation);
    name()
        .then(arguments.or_not())
        .validate(|(name, arguments), e, emitter| match arguments {
            None => node(ExprKind::Name(name), e.span()),
            Some(arguments) => {
                let kind = call(name, arguments).unwrap_or_else(|| {
                    emitter.emit(Fault::new(e.span(), Kind::MixedArguments));
                    ExprKind::Invalid
                });
                node(kind, e.span())
            }
        })
        .boxed()
}

/// A call by name when an argument has a name, else one in order. `None` when a nameless argument stands among
/// named ones; a bare name means itself.
fn call(name: Name, arguments: Vec<(Option<Name>, Expr)>) -> Option<ExprKind> {
    if arguments.iter().all(|(label, _)| label.is_none()) {
        return Some(ExprKind::Call(name, arguments.into_iter().map(|(_, value)| value).collect()));
    }
    let named = |(label, value): (Option<Name>, Expr)| match (label, *value.kind) {
        (Some(name), kind) => {
            Some(Argument { name, value: Some(Expr { kind: Box::new(kind), span: value.span }) })
        }
        (None, ExprKind::Name(name)) => Some(Argument { name, value: None }),
        (None, _) => None,
    };
    let arguments: Option<Vec<_>> = arguments.into_iter().map(named).collect();
    Some(ExprKind::CallNamed(name, arguments?))
}

/// `(e)`, `(x, y)`, `(radius at angle)`
fn round<'t>(expr: Rule<'t, Expr>) -> Rule<'t, Expr> {
    let close = || sign(Sign::CloseRound);
    let point = sign(Sign::Comma).ignore_then(expr.clone()).map(|y| (y, false));
    let polar = word(Word::At).ignore_then(expr.clone()).map(|angle| (angle, true));
    expr.then(point.or(polar).or_not())
        .map(|(first, second)| match second {
            None => ExprKind::Group(first),
            Some((y, false)) => ExprKind::Point(first, y),
            Some((angle, true)) => ExprKind::Polar(first, angle),
        })
        .then_ignore(close().rewind())
        .recover_with(via_parser(to_close().map(|()| ExprKind::Invalid)))
        .delimited_by(sign(Sign::OpenRound), close())
        .map_with(|kind, e| node(kind, e.span()))
        .boxed()
}

/// `[p, q]`
fn square<'t>(expr: Rule<'t, Expr>) -> Rule<'t, Expr> {
    listed(Sign::OpenSquare, Sign::CloseSquare, expr)
        .map_with(|items, e| node(ExprKind::List(items), e.span()))
        .boxed()
}

/// `(name: e, name)`: arguments by name.
pub(super) fn arguments<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Vec<Argument>> {
    let value = sign(Sign::Colon).ignore_then(expr.clone());
    let argument = name_before(&[Sign::Colon, Sign::Comma, Sign::CloseRound])
        .then(value.or_not())
        .map(|(name, value)| Argument { name, value });
    listed(Sign::OpenRound, Sign::CloseRound, argument.boxed())
}

/// A bracket in a statement that is skipped: whatever it is, expressions stand in it.
pub(super) fn any_bracket<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, ()> {
    let label = name_before(&[Sign::Colon]).then_ignore(sign(Sign::Colon));
    let angle = word(Word::At).ignore_then(expr.clone());
    let inside = label.or_not().then(expr.clone()).then(angle.or_not()).ignored().boxed();
    let round = listed(Sign::OpenRound, Sign::CloseRound, inside).ignored();
    round.or(square(expr.clone()).ignored()).labelled(Expected::Continuation).boxed()
}

fn node(kind: ExprKind, span: TokenSpan) -> Expr {
    Expr { kind: Box::new(kind), span: span_of(span) }
}
