//! Items of a file.

use chumsky::prelude::*;

use super::expression::expression;
use super::fault::Expected;
use super::head::head_line;
use super::recover::{listed, to_leading_word};
use super::statement::{block, let_line, statement};
use super::{Rule, name, name_before, sign, span_of, word};
use crate::ast::{Block, Expr, Function, Head, Item, ItemKind, Name, Parameter, Routine, Row, Table, Type};
use crate::token::{Sign, Token, Word};

/// All items.
pub(super) fn file<'t>() -> Rule<'t, Vec<Item>> {
    let expr = expression();
    let block = block(&expr);
    let head_line = head_line(&expr);
    let kind = choice((
        word(Word::Use).ignore_then(name()).map(ItemKind::Use),
        let_line(&expr).map(ItemKind::Let),
        function(&expr),
        table(&expr),
        routine(&expr, &head_line, &block),
        job(&expr, &head_line, &block),
    ));
    let lost = lost(&expr, &head_line, &block).map(|()| ItemKind::Invalid);
    kind.labelled(Expected::Item)
        .recover_with(via_parser(lost))
        .map_with(|kind, e| Item { documentation: Vec::new(), kind, span: span_of(e.span()) })
        .repeated()
        .collect()
        .then_ignore(end())
        .boxed()
}

/// What is skipped after an error: up to the next leading word, and on through all that could belong to the
/// item, for what is wrong in it.
fn lost<'t>(expr: &Rule<'t, Expr>, head_line: &Rule<'t, Head>, block: &Rule<'t, Block>) -> Rule<'t, ()> {
    let body = rows(expr).ignored().or(block.clone().ignored());
    let lines = head_line.clone().ignored().repeated();
    let statement = statement(expr, block.clone());
    let statements = any().filter(begins_statement).rewind().ignore_then(statement).ignored().repeated();
    let rest = statements.then(lines).then(body.clone().or_not()).ignored();
    to_leading_word(|_| true).ignore_then(rest).or(body).boxed()
}

fn begins_statement(token: &Token<'_>) -> bool {
    matches!(token, Token::Word(word) if word.leads() == [crate::token::Place::Block])
}

/// `function f(a: length) = e`
fn function<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, ItemKind> {
    word(Word::Function)
        .ignore_then(name_before(&[Sign::OpenRound]))
        .then(columns())
        .then_ignore(sign(Sign::Equals))
        .then(expr.clone())
        .map(|((name, parameters), value)| ItemKind::Function(Function { name, parameters, value }))
        .boxed()
}

/// `table t(column: length) { row R = 5mm }`
fn table<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, ItemKind> {
    word(Word::Table)
        .ignore_then(name_before(&[Sign::OpenRound]))
        .then(columns())
        .then(rows(expr))
        .map(|((name, columns), rows)| ItemKind::Table(Table { name, columns, rows }))
        .boxed()
}

/// `(a: length, b: angle)`
fn columns<'t>() -> Rule<'t, Vec<(Name, Type)>> {
    let column = name_before(&[Sign::Colon]).then_ignore(sign(Sign::Colon)).then(type_name());
    listed(Sign::OpenRound, Sign::CloseRound, column.boxed())
}

fn rows<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Vec<Row>> {
    let row = word(Word::Row)
        .ignore_then(name_before(&[Sign::Equals]))
        .then_ignore(sign(Sign::Equals))
        .then(expr.clone().separated_by(sign(Sign::Comma)).at_least(1).collect::<Vec<_>>())
        .map_with(|(name, values), e| {
            Some(Row { name, values, documentation: Vec::new(), span: span_of(e.span()) })
        });
    row.recover_with(via_parser(to_leading_word(|_| true).map(|()| None)))
        .repeated()
        .collect::<Vec<_>>()
        .delimited_by(sign(Sign::OpenBrace), sign(Sign::CloseBrace))
        .map(|rows| rows.into_iter().flatten().collect())
        .boxed()
}

/// `routine r(...) head { ... }`
fn routine<'t>(
    expr: &Rule<'t, Expr>,
    head_line: &Rule<'t, Head>,
    block: &Rule<'t, Block>,
) -> Rule<'t, ItemKind> {
    word(Word::Routine)
        .ignore_then(name_before(&[Sign::OpenRound]))
        .then(parameters(expr))
        .then(head_line.clone().repeated().collect())
        .then(block.clone())
        .map(|(((name, parameters), head), body)| ItemKind::Routine(Routine { name, parameters, head, body }))
        .boxed()
}

/// `job j head { ... }`, with parameters or without
fn job<'t>(expr: &Rule<'t, Expr>, head_line: &Rule<'t, Head>, block: &Rule<'t, Block>) -> Rule<'t, ItemKind> {
    word(Word::Job)
        .ignore_then(name_before(&[Sign::OpenRound]))
        .then(parameters(expr).or_not())
        .then(head_line.clone().repeated().collect())
        .then(block.clone())
        .map(|(((name, parameters), head), body)| {
            ItemKind::Job(Routine { name, parameters: parameters.unwrap_or_default(), head, body })
        })
        .boxed()
}

/// `(bore: length as B in 6mm..300mm = 40mm, ...)`
fn parameters<'t>(expr: &Rule<'t, Expr>) -> Rule<'t, Vec<Parameter>> {
    let letter = select! {
        Token::Name(text) = e if text.len() == 1 => Name { text: text.to_owned(), span: span_of(e.span()) }
    };
    let letter = word(Word::As).ignore_then(letter.labelled(Expected::Letter));
    let range =
        word(Word::In).ignore_then(expr.clone()).then_ignore(sign(Sign::Range)).then(expr.clone()).boxed();
    let default = sign(Sign::Equals).ignore_then(expr.clone());
    let parameter = name_before(&[Sign::Colon])
        .then_ignore(sign(Sign::Colon))
        .then(type_name())
        .then(letter.or_not())
        .then(range.or_not())
        .then(default.or_not())
        .map_with(|((((name, kind), letter), range), default), e| Parameter {
            name,
            kind,
            letter,
            range,
            default,
            documentation: Vec::new(),
            span: span_of(e.span()),
        });
    listed(Sign::OpenRound, Sign::CloseRound, parameter.boxed())
}

/// `length`, `feed`, `socket_head`, `right or left`
fn type_name<'t>() -> Rule<'t, Type> {
    let feed = select! {
        Token::Word(Word::Feed) = e => Name { text: Word::Feed.text().to_owned(), span: span_of(e.span()) }
    };
    let more = word(Word::Or).ignore_then(name()).repeated().collect::<Vec<_>>();
    name()
        .then(more)
        .map(|(first, more)| {
            if more.is_empty() {
                return Type::Name(first);
            }
            Type::Choice(std::iter::once(first).chain(more).collect())
        })
        .or(feed.map(Type::Name))
        .labelled(Expected::Type)
        .boxed()
}
