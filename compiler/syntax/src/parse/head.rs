//! Lines of the head: what a routine demands and makes, what a job is made with.

use chumsky::prelude::*;

use super::expression::{any_bracket, arguments, relation};
use super::fault::Expected;
use super::recover::to_head_word;
use super::statement::{at, let_line, z};
use super::{Rule, name, name_before, name_that_reads, sign, span_of, text, word};
use crate::ast::{Argument, Expr, Feature, FieldRule, Head, HeadKind, Name, Promise, Text};
use crate::token::{Sign, Token, Word};

/// One line of the head. When it is wrong it is skipped up to the next leading word or brace.
pub(super) fn head_line<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Head> {
    let value = |leading| word(leading).ignore_then(expr.clone());
    let travel = word(Word::Travel).ignore_then(z(expr)).map(HeadKind::Travel);
    let given = word(Word::Given).ignore_then(feature(expr)).map(HeadKind::Given);
    choice((
        let_line(expr).map(HeadKind::Let),
        value(Word::Program).map(HeadKind::Program),
        requires(expr),
        practice(expr),
        cutter(expr),
        makes(expr),
        given,
        value(Word::Work).map(HeadKind::Work),
        travel,
    ))
    .labelled(Expected::HeadLine)
    .recover_with(via_parser(to_head_word(any_bracket(expr)).map(|()| HeadKind::Invalid)))
    .map_with(|kind, e| Head { kind, span: span_of(e.span()) })
    .boxed()
}

/// `requires all r`, `requires c else "TEXT"`. `all` is a name like any other when no name follows it.
fn requires<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, HeadKind> {
    let all = name_that_reads("all").ignore_then(name()).map(HeadKind::RequiresAll);
    let condition = alarmed(expr).map(|(condition, text)| HeadKind::Requires(condition, text));
    word(Word::Requires).ignore_then(all.or(condition)).boxed()
}

/// `practice c else "TEXT"`
fn practice<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, HeadKind> {
    let limit = alarmed(expr).map(|(condition, text)| HeadKind::Practice(condition, text));
    word(Word::Practice).ignore_then(limit).boxed()
}

/// `c else "TEXT"`
fn alarmed<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, (Expr, Text)> {
    expr.clone().then_ignore(word(Word::Else)).then(text()).boxed()
}

/// `cutter flat with diameter == tool`, `cutter mill = flat(pocket: 1)`
fn cutter<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, HeadKind> {
    let rule = name().then(relation()).then(expr.clone()).map(|((field, relation), value)| FieldRule {
        field,
        relation,
        value,
    });
    let rules = rule.separated_by(sign(Sign::Comma)).at_least(1).collect::<Vec<_>>();
    let demand = word(Word::With).ignore_then(rules).map(CutterLine::Demand);
    let tool = sign(Sign::Equals)
        .ignore_then(name())
        .then(arguments(expr))
        .map(|(kind, arguments)| CutterLine::Tool(kind, arguments));
    // Said outright, since a line that goes on wrongly must not be taken for one that has ended.
    let goes_on = |token| matches!(token, Token::Word(Word::With) | Token::Sign(Sign::Equals));
    let ends = select! { token if !goes_on(token) => () }.rewind().or(end());
    word(Word::Cutter)
        .ignore_then(name_before(&[Sign::Equals]))
        .then(ends.to(CutterLine::Demand(Vec::new())).or(demand).or(tool))
        .map(|(name, line)| match line {
            CutterLine::Demand(rules) => HeadKind::Demand(name, rules),
            CutterLine::Tool(kind, arguments) => HeadKind::Tool(name, kind, arguments),
        })
        .boxed()
}

#[derive(Clone)]
enum CutterLine {
    Demand(Vec<FieldRule>),
    Tool(Name, Vec<Argument>),
}

/// `makes hole seat(...) at p promises within, apart(web)`
fn makes<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, HeadKind> {
    let argument = expr.clone().delimited_by(sign(Sign::OpenRound), sign(Sign::CloseRound));
    let promise = name().then(argument.or_not()).map(|(name, argument)| Promise { name, argument });
    let promises = promise.separated_by(sign(Sign::Comma)).at_least(1).collect();
    word(Word::Makes)
        .ignore_then(feature(expr))
        .then_ignore(word(Word::Promises))
        .then(promises)
        .map(|(feature, promises)| HeadKind::Makes(feature, promises))
        .boxed()
}

/// `hole seat(diameter: bore) at p`
fn feature<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Feature> {
    name()
        .then(name_before(&[Sign::OpenRound]))
        .then(arguments(expr))
        .then(at(expr).or_not())
        .map(|(((kind, name), arguments), at)| Feature { kind, name, arguments, at })
        .boxed()
}
