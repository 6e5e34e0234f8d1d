//! Items of a file.

use chumsky::prelude::*;

use super::expression::{any_bracket, expression};
use super::fault::Expected;
use super::head::head_line;
use super::recover::{any_group, listed, to_leading_word};
use super::statement::{block, let_line, statement};
use super::{Rule, name, name_before, sign, span_of, word};
use crate::ast::{Block, Expr, Function, Head, Item, ItemKind, Name, Parameter, Routine, Row, Table, Type};
use crate::token::{Place, Sign, Token, Word};

/// All items.
pub(super) fn file<'t>() -> Rule<'t, Vec<Item>> {
    let expr = expression();
    let block = block(&expr);
    let head_line = head_line(&expr);
    let line = any_line(&expr, &head_line, &block);
    // A body that is not there is reported, and what stands in its place is read for what is wrong in it.
    let lost_body =
        line.clone().repeated().map_with(|(), e| Block { statements: Vec::new(), span: span_of(e.span()) });
    let body = block.recover_with(via_parser(lost_body)).boxed();
    let kind = choice((
        word(Word::Use).ignore_then(name()).map(ItemKind::Use),
        let_line(&expr).map(ItemKind::Let),
        function(&expr),
        table(&expr),
        routine(&expr, &head_line, &body),
        job(&expr, &head_line, &body),
    ));
    kind.labelled(Expected::Item)
        .recover_with(via_parser(lost(&expr, line).map(|()| ItemKind::Invalid)))
        .map_with(|kind, e| Item { documentation: Vec::new(), kind, span: span_of(e.span()) })
        .repeated()
        .collect()
        .then_ignore(end())
        .boxed()
}

/// What is skipped after an error: up to the next leading word, and on through all that could belong to the
/// item, for what is wrong in it.
fn lost<'t>(expr: &Rule<'t, Expr>, line: Rule<'t, ()>) -> Rule<'t, ()> {
    let short = to_leading_word(is_short_item, any_group());
    let long = to_leading_word(|token| !is_short_item(token), any_group());
    let rest = rows(expr).or_not().then(line.clone().repeated()).ignored();
    short.or(long.ignore_then(rest)).or(line).boxed()
}

/// A line of the head or a statement, but no item.
fn any_line<'t>(expr: &Rule<'t, Expr>, head_line: &Rule<'t, Head>, block: &Rule<'t, Block>) -> Rule<'t, ()> {
    let of_head = select! { Token::Word(word) if word.leads() == [Place::Head] => () }.rewind();
    let of_item = |word: Word| word.leads().first() == Some(&Place::Item);
    let of_block = select! { token if !matches!(token, Token::Word(word) if of_item(word)) => () }.rewind();
    let head_line = of_head.ignore_then(head_line.clone()).ignored();
    let statement = of_block.ignore_then(statement(expr, block.clone())).ignored();
    head_line.or(statement).boxed()
}

/// True for the first word of an item that has neither head nor braces.
fn is_short_item(token: Token<'_>) -> bool {
    matches!(token, Token::Word(Word::Use | Word::Let | Word::Function))
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
    row.recover_with(via_parser(to_leading_word(|_| true, any_bracket(expr)).map(|()| None)))
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
        Token::Name(text) = e if is_letter(text) => Name { text: text.to_owned(), span: span_of(e.span()) }
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

/// LETTER: an address of the controller.
fn is_letter(text: &str) -> bool {
    matches!(text.as_bytes(), [letter] if letter.is_ascii_uppercase())
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
