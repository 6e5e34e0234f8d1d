//! Statements and blocks.

use chumsky::prelude::*;

use super::expression::{any_bracket, arguments};
use super::fault::Expected;
use super::recover::to_leading_word;
use super::{Rule, name, name_before, name_that_reads, sign, span_of, text, word};
use crate::ast::{Block, Call, Expr, Let, Passes, Statement, StatementKind, Target, Way};
use crate::token::{Sign, Token, Word};

/// `{ ... }`
pub(super) fn block<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Block> {
    recursive(|block| braces(statement(expr, block.boxed()))).boxed()
}

fn braces<'t>(statement: Rule<'t, Statement>) -> Rule<'t, Block> {
    statement
        .repeated()
        .collect()
        .delimited_by(sign(Sign::OpenBrace), sign(Sign::CloseBrace))
        .map_with(|statements, e| Block { statements, span: span_of(e.span()) })
        .boxed()
}

/// One statement. When it is wrong it is skipped up to the next leading word or brace; a block that follows
/// is still read, for what is wrong in it.
pub(super) fn statement<'t>(expr: &Rule<'t, Expr>, block: Rule<'t, Block>) -> Rule<'t, Statement> {
    let wrong = to_leading_word(|_| true, any_bracket(expr)).then(block.clone().or_not()).ignored();
    let lost = wrong.or(block.clone().ignored()).map(|()| StatementKind::Invalid);
    let kind = moves(expr).or(nests(expr, block)).or(sets(expr));
    kind.labelled(Expected::Statement)
        .recover_with(via_parser(lost))
        .map_with(|kind, e| Statement { kind, span: span_of(e.span()) })
        .boxed()
}

/// `let n = e`
pub(super) fn let_line<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Let> {
    word(Word::Let)
        .ignore_then(name_before(&[Sign::Equals]))
        .then_ignore(sign(Sign::Equals))
        .then(expr.clone())
        .map(|(name, value)| Let { name, value })
        .boxed()
}

/// Statements that move the cutter.
fn moves<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, StatementKind> {
    let retract = word(Word::Retract).map(|()| StatementKind::Retract);
    let rapid = word(Word::Rapid)
        .ignore_then(word(Word::To))
        .ignore_then(z(expr).map(StatementKind::RapidZ).or(expr.clone().map(StatementKind::RapidTo)));
    let line = word(Word::Line)
        .ignore_then(word(Word::To))
        .ignore_then(target(expr).or(z(expr).map(|z| Target { point: None, z: Some(z) })))
        .map(StatementKind::Line);
    let arc = word(Word::Arc)
        .ignore_then(way())
        .then_ignore(word(Word::To))
        .then(target(expr))
        .then(about(expr))
        .map(|((way, target), centre)| StatementKind::Arc(way, target, centre));
    let turn = word(Word::Turn)
        .ignore_then(way())
        .then(word(Word::To).ignore_then(z(expr)).or_not())
        .then(about(expr))
        .map(|((way, z), centre)| StatementKind::Turn(way, z, centre));
    let call = word(Word::Call)
        .ignore_then(name())
        .then(arguments(expr))
        .then(at(expr).then(name_that_reads("counted").or_not()).or_not())
        .map(|((name, arguments), at)| {
            let (at, counted) = at.unzip();
            StatementKind::Call(Call { name, arguments, at, counted: counted.flatten().is_some() })
        });
    choice((retract, rapid, line, arc, turn, call)).boxed()
}

/// Statements that hold a block.
fn nests<'t>(expr: &Rule<'t, Expr>, block: Rule<'t, Block>) -> Rule<'t, StatementKind> {
    let remainder = name_that_reads("remainder").then(name_that_reads("last"));
    let passes = word(Word::Passes)
        .ignore_then(name())
        .then(word(Word::From).ignore_then(expr.clone()))
        .then(word(Word::To).ignore_then(expr.clone()))
        .then(word(Word::By).ignore_then(expr.clone()))
        .then(remainder.or_not())
        .then(block.clone())
        .map(|(((((value, from), to), by), remainder), body)| {
            StatementKind::Passes(Passes { value, from, to, by, remainder_last: remainder.is_some(), body })
        });
    let repeat = word(Word::Repeat)
        .ignore_then(expr.clone())
        .then(word(Word::As).ignore_then(name()).or_not())
        .then(block.clone())
        .map(|((count, name), body)| StatementKind::Repeat(count, name, body));
    let with = word(Word::With)
        .ignore_then(name_before(&[Sign::OpenBrace]))
        .then(block)
        .map(|(cutter, body)| StatementKind::With(cutter, body));
    choice((passes, repeat, with)).boxed()
}

/// Statements that set something to the brace, or wait.
fn sets<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, StatementKind> {
    let feed = word(Word::Feed).ignore_then(expr.clone()).map(StatementKind::Feed);
    let dwell = word(Word::Dwell).ignore_then(expr.clone()).map(StatementKind::Dwell);
    let spindle = word(Word::Spindle)
        .ignore_then(way())
        .then(expr.clone())
        .map(|(way, speed)| StatementKind::Spindle(way, speed));
    let coolant = word(Word::Coolant).ignore_then(name()).map(StatementKind::Coolant);
    let stop = word(Word::Stop).ignore_then(text()).map(StatementKind::Stop);
    choice((let_line(expr).map(StatementKind::Let), feed, dwell, spindle, coolant, stop)).boxed()
}

/// `p z e`, the height being optional
fn target<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Target> {
    expr.clone().then(z(expr).or_not()).map(|(point, z)| Target { point: Some(point), z }).boxed()
}

/// `z e`
pub(super) fn z<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Expr> {
    word(Word::Z).ignore_then(expr.clone()).boxed()
}

/// `at e`
pub(super) fn at<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Expr> {
    word(Word::At).ignore_then(expr.clone()).boxed()
}

fn about<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Expr> {
    word(Word::About).ignore_then(expr.clone()).boxed()
}

fn way<'t>() -> Rule<'t, Way> {
    select! { Token::Word(Word::Ccw) => Way::Ccw, Token::Word(Word::Cw) => Way::Cw }
        .labelled(Expected::Way)
        .boxed()
}
