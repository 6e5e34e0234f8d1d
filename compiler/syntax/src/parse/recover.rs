//! Where to go on after an error. These rules expect nothing, so that they add nothing to later messages.

use chumsky::prelude::*;

use super::{Rule, sign};
use crate::token::{Place, Sign, Token, Word};

/// `open item, item, close`, with a comma after the last item or without. An item that is wrong is skipped up
/// to the next comma or the closing bracket, and left out.
pub(super) fn listed<'t, O: 't>(open: Sign, close: Sign, item: Rule<'t, O>) -> Rule<'t, Vec<O>> {
    let comma = || sign(Sign::Comma);
    let ends = comma().or(sign(close)).rewind();
    item.then_ignore(ends)
        .map(Some)
        .recover_with(via_parser(to_comma().map(|()| None)))
        .separated_by(comma())
        .allow_trailing()
        .collect::<Vec<_>>()
        .delimited_by(sign(open), sign(close))
        .map(|items| items.into_iter().flatten().collect())
        .boxed()
}

/// Everything up to the bracket that closes the one we are in.
pub(super) fn to_close<'t>() -> Rule<'t, ()> {
    tree(|_| true).repeated().boxed()
}

/// Everything up to the next comma of the bracket we are in, or its end: something, unless the comma is next.
fn to_comma<'t>() -> Rule<'t, ()> {
    let comma = select! { Token::Sign(Sign::Comma) => () }.rewind();
    let other = tree(|token| token != Token::Sign(Sign::Comma));
    other.repeated().at_least(1).or(comma).boxed()
}

/// One token and everything after it up to the next leading word or brace; brackets are read by `group`, for
/// what is wrong in them. `first` says what may be skipped first.
pub(super) fn to_leading_word<'t>(first: fn(Token<'t>) -> bool, group: Rule<'t, ()>) -> Rule<'t, ()> {
    skip(first, |token| !leads(token), group)
}

/// The same for a line of the head, where `with` leads nothing.
pub(super) fn to_head_word<'t>(group: Rule<'t, ()>) -> Rule<'t, ()> {
    skip(is_in_head, |token| !leads(token) || token == Token::Word(Word::With), group)
}

fn skip<'t>(first: fn(Token<'t>) -> bool, more: fn(Token<'t>) -> bool, group: Rule<'t, ()>) -> Rule<'t, ()> {
    let start = select! { token if first(token) && !is_bracket(token) => () }.or(group.clone());
    let rest = select! { token if more(token) && !is_bracket(token) => () }.or(group);
    start.then(rest.repeated()).ignored().boxed()
}

/// A round or square bracket with all that it holds, whatever it is.
pub(super) fn any_group<'t>() -> Rule<'t, ()> {
    tree(|token| matches!(token, Token::Sign(Sign::OpenRound | Sign::OpenSquare)))
}

/// True for a token at which a parser that lost its way resumes.
fn leads(token: Token<'_>) -> bool {
    matches!(token, Token::Word(word) if word.is_leading())
}

/// True for a token that may be a misspelt line of the head: anything but what follows the head.
fn is_in_head(token: Token<'_>) -> bool {
    !matches!(token, Token::Word(word) if word.is_leading() && !word.leads_in(Place::Head))
}

/// One token, or a bracket with all that it holds. `first` says which tokens may begin it.
fn tree<'t>(first: impl Fn(Token<'t>) -> bool + Clone + 't) -> Rule<'t, ()> {
    let any_tree = recursive(|tree| {
        let plain = select! { token if !is_bracket(token) => () };
        plain.or(group(tree.boxed()))
    });
    // Looked at first: a bracket that is walked through in vain would leave its far end as the place of the error.
    let is_first = select! { token if first(token) => () }.rewind();
    is_first.ignore_then(any_tree).boxed()
}

fn group<'t>(tree: Rule<'t, ()>) -> Rule<'t, ()> {
    let open = select! { Token::Sign(sign) if sign.closing().is_some() => () };
    let close = select! { Token::Sign(sign) if sign.closes() => () };
    tree.repeated().delimited_by(open, close).boxed()
}

fn is_bracket(token: Token<'_>) -> bool {
    matches!(token, Token::Sign(sign) if sign.closes() || sign.closing().is_some())
}
