//! From tokens to the tree.
//!
//! Brackets are repaired and nesting is bounded first (`brackets`), so that the grammar can be written as it reads.
//! A rule is named after what it reads. Where one fails, the nearest enclosing recovery skips: in brackets to the
//! next `,` or the closing one, elsewhere to the next leading word or `}`; what was skipped becomes an `Invalid` node.

mod documentation;
mod expression;
mod fault;
mod head;
mod item;
mod recover;
mod statement;

use std::collections::BTreeSet;

use borewright_base::{Diagnostics, FileId, Span};
use chumsky::input::{Input as _, MappedInput};
use chumsky::prelude::*;

use crate::token::{Place, Sign, Token, Word};
use crate::{ast, brackets, lex};
use fault::{Expected, Fault, Surroundings};

/// A place in the token stream: bytes, in one file.
type TokenSpan = SimpleSpan<u32, FileId>;
/// What the rules read.
type Input<'t> = MappedInput<'t, Token<'t>, TokenSpan, &'t [(Token<'t>, TokenSpan)]>;
type Extra<'t> = extra::Err<Fault<'t>>;
/// A rule of the grammar that makes an `O`.
type Rule<'t, O> = Boxed<'t, 't, Input<'t>, O, Extra<'t>>;

/// Reads a file: its tree, and everything that is wrong with its form. An empty file gives an empty tree.
#[must_use]
pub fn parse(file: FileId, text: &str) -> (ast::File, Diagnostics) {
    let lexed = lex(file, text);
    let (mut tree, mut diagnostics) = parse_tokens(file, text, &lexed.tokens);
    documentation::attach(&mut tree, text, &lexed, &mut diagnostics);
    let mut all = lexed.diagnostics;
    all.append(diagnostics);
    (tree, all)
}

fn parse_tokens(file: FileId, text: &str, tokens: &[(Token<'_>, Span)]) -> (ast::File, Diagnostics) {
    let mut diagnostics = Diagnostics::default();
    let balanced = brackets::balance(text, tokens, &mut diagnostics);
    let bounded = brackets::limit_depth(balanced, &mut diagnostics);
    let stream: Vec<(Token<'_>, TokenSpan)> =
        bounded.iter().map(|&(token, span)| (token, token_span(span))).collect();
    let length = u32::try_from(text.trim_end().len()).unwrap_or(u32::MAX);
    let end = TokenSpan { start: length, end: length, context: file };
    let (items, faults) = item::file().parse(stream.as_slice().split_token_span(end)).into_output_errors();
    // One complaint for a place: a word that was wrongly used as a name is met again where reading resumes.
    let mut seen = BTreeSet::new();
    // Of a row of brackets that touch each other, only the first.
    let rows = |at: u32| {
        let byte = |i: u32| usize::try_from(i).ok().and_then(|i| text.as_bytes().get(i)).copied();
        at > 0 && byte(at).is_some_and(|b| b"([{}])".contains(&b)) && byte(at) == byte(at - 1)
    };
    for fault in faults.iter().filter(|fault| seen.insert(fault.span.start) && !rows(fault.span.start)) {
        let around = surroundings(text, &bounded, fault.span.start);
        if let Some(diagnostic) = fault::explain(fault, &around) {
            diagnostics.report(diagnostic);
        }
    }
    (ast::File { items: items.unwrap_or_default() }, diagnostics)
}

fn surroundings<'t>(text: &str, tokens: &[(Token<'t>, Span)], offset: u32) -> Surroundings<'t> {
    let here = tokens.partition_point(|&(_, span)| span.start < offset);
    let before = tokens.get(..here).unwrap_or(tokens);
    let last = before.last().copied();
    let gap = last.and_then(|(_, span)| text.get(span.range().end..offset as usize));
    let same_line = gap.is_some_and(|gap| !gap.contains('\n'));
    Surroundings { before: last, same_line, place: place(before) }
}

/// Which braces the end of these tokens stands in.
fn place(before: &[(Token<'_>, Span)]) -> Place {
    let mut depth = 0_i32;
    for &(token, _) in before.iter().rev() {
        depth += match token {
            Token::Sign(Sign::OpenBrace) => 1,
            Token::Sign(Sign::CloseBrace) => -1,
            Token::Word(Word::Table) if depth > 0 => return Place::Table,
            Token::Word(Word::Routine | Word::Job) if depth > 0 => return Place::Block,
            Token::Word(Word::Routine | Word::Job) if depth == 0 => return Place::Head,
            Token::Word(Word::Table | Word::Routine | Word::Job) => return Place::Item,
            Token::Word(_)
            | Token::Sign(_)
            | Token::Name(_)
            | Token::Number(..)
            | Token::BadNumber
            | Token::Text(_)
            | Token::Stray => 0,
        };
    }
    Place::Item
}

fn token_span(span: Span) -> TokenSpan {
    TokenSpan { start: span.start, end: span.end, context: span.file }
}

fn span_of(span: TokenSpan) -> Span {
    Span { file: span.context, start: span.start, end: span.end }
}

/// The reserved word.
fn word<'t>(word: Word) -> Rule<'t, ()> {
    just(Token::Word(word)).ignored().boxed()
}

/// The sign.
fn sign<'t>(sign: Sign) -> Rule<'t, ()> {
    just(Token::Sign(sign)).ignored().boxed()
}

/// NAME. A reserved word followed by one of these signs was meant as a name: it is reported and taken for one.
fn name_before<'t>(follow: &'static [Sign]) -> Rule<'t, ast::Name> {
    let followed = any().then(select! { Token::Sign(sign) if follow.contains(&sign) => () });
    let reserved = select! { Token::Word(word) => word }.and_is(followed).validate(|word, e, emitter| {
        emitter.emit(Fault::new(e.span(), fault::Kind::ReservedWord(word)));
        ast::Name { text: word.text().to_owned(), span: span_of(e.span()) }
    });
    name().or(reserved).labelled(Expected::Name).boxed()
}

/// NAME
fn name<'t>() -> Rule<'t, ast::Name> {
    select! { Token::Name(text) = e => ast::Name { text: text.to_owned(), span: span_of(e.span()) } }
        .labelled(Expected::Name)
        .boxed()
}

/// A name that is a word of the language only in this place: `all`, `remainder`, `last`, `counted`.
fn name_that_reads<'t>(expected: &'static str) -> Rule<'t, ()> {
    select! { Token::Name(text) if text == expected => () }.boxed()
}

/// TEXT
fn text<'t>() -> Rule<'t, ast::Text> {
    select! { Token::Text(text) = e => ast::Text { text: text.to_owned(), span: span_of(e.span()) } }
        .labelled(Expected::Text)
        .boxed()
}
