//! What stands between two tokens of a line.

use borewright_number::Unit;

use crate::token::{Sign, Token};

/// The token as it is printed.
pub(super) fn spelling(token: Token<'_>) -> String {
    match token {
        Token::Name(name) => name.to_owned(),
        Token::Word(word) => word.text().to_owned(),
        Token::Sign(sign) => sign.text().to_owned(),
        Token::Number(digits, unit) => format!("{digits}{}", unit.map_or("", Unit::name)),
        Token::Text(text) => format!("\"{text}\""),
        // A text with these is not formatted.
        Token::BadNumber | Token::Stray => String::new(),
    }
}

/// True for a minus sign after this token that takes one value away from another, false for one that negates.
pub(super) fn ends_operand(before: Token<'_>) -> bool {
    match before {
        Token::Name(_) | Token::Number(..) | Token::BadNumber => true,
        Token::Sign(sign) => sign.closes(),
        Token::Word(_) | Token::Text(_) | Token::Stray => false,
    }
}

/// True when a blank stands between the two; `negates` when the first is a minus sign with one side.
pub(super) fn blank_between(before: Token<'_>, negates: bool, after: Token<'_>) -> bool {
    if let Token::Sign(sign) = before
        && (negates || matches!(sign, Sign::OpenRound | Sign::OpenSquare | Sign::Range | Sign::Dot))
    {
        return false;
    }
    let Token::Sign(sign) = after else { return true };
    match sign {
        Sign::CloseRound | Sign::CloseSquare | Sign::Comma | Sign::Colon | Sign::Range | Sign::Dot => false,
        Sign::OpenRound => !matches!(before, Token::Name(_)),
        Sign::OpenSquare
        | Sign::OpenBrace
        | Sign::CloseBrace
        | Sign::Equals
        | Sign::Equal
        | Sign::NotEqual
        | Sign::Less
        | Sign::LessEqual
        | Sign::Greater
        | Sign::GreaterEqual
        | Sign::Plus
        | Sign::Minus
        | Sign::Star
        | Sign::Slash => true,
    }
}
