//! From tokens to tokens whose brackets match and whose nesting is bounded.
//!
//! Brackets are repaired before parsing, because lines and indentation, which the grammar ignores, tell best
//! where a forgotten one belongs. Every repair is reported; an invented bracket has a span of no width.

use borewright_base::{Diagnostics, Span};

use crate::errors;
use crate::token::{Place, Sign, Token, Word};

/// So many unclosed brackets in one place are reported one by one; of more, only one.
const REPORTED_TOGETHER: usize = 4;

/// Closes what was left open, opens what was forgotten, drops what closes nothing.
pub(crate) fn balance<'s>(
    text: &str,
    tokens: &[(Token<'s>, Span)],
    diagnostics: &mut Diagnostics,
) -> Vec<(Token<'s>, Span)> {
    let mut balancer = Balancer {
        output: Vec::with_capacity(tokens.len()),
        diagnostics,
        open: Vec::new(),
        suspect: None,
        indent: 0,
        body_due: false,
    };
    let mut before = Neighbour::default();
    for (i, &(token, span)) in tokens.iter().enumerate() {
        let after = tokens.get(i + 1).map(|&(token, _)| token);
        let gap = text.get(before.end..span.range().start).unwrap_or("");
        let column = gap.rfind('\n').map(|line| gap.len() - line - 1);
        let first = column.is_some() || i == 0;
        if first {
            balancer.indent = column.unwrap_or(gap.len());
        }
        balancer.token(token, span, &Surroundings { before: before.token, after, first_on_line: first });
        before = Neighbour { token: Some(token), end: span.range().end };
    }
    balancer.close_all(None);
    balancer.output
}

#[derive(Default)]
struct Neighbour<'s> {
    token: Option<Token<'s>>,
    end: usize,
}

/// What stands around a token.
struct Surroundings<'s> {
    before: Option<Token<'s>>,
    after: Option<Token<'s>>,
    first_on_line: bool,
}

impl Surroundings<'_> {
    /// True where a leading word is meant as such: not `feed` in `cut: feed`, not `travel` in `travel: length`.
    fn word_leads(&self) -> bool {
        let colon = Some(Token::Sign(Sign::Colon));
        self.before != colon && self.after != colon
    }
}

#[derive(Clone, Copy)]
struct Open {
    sign: Sign,
    span: Span,
    indent: usize,
}

struct Balancer<'s, 'd> {
    output: Vec<(Token<'s>, Span)>,
    diagnostics: &'d mut Diagnostics,
    open: Vec<Open>,
    /// The first `{` that was closed by a `}` standing further left: perhaps the one that is not closed.
    suspect: Option<Span>,
    /// The column of the first token of the line.
    indent: usize,
    /// True between the name of a routine or job and its `{`.
    body_due: bool,
}

impl<'s> Balancer<'s, '_> {
    fn token(&mut self, token: Token<'s>, span: Span, around: &Surroundings<'_>) {
        if let Token::Word(word) = token
            && around.word_leads()
        {
            self.word(word, span, around);
        }
        if let Token::Sign(sign) = token {
            if sign.closing().is_some() {
                self.body_due &= sign != Sign::OpenBrace;
                self.open.push(Open { sign, span, indent: self.indent });
            } else if sign.closes() && !self.closes(sign, span, around.first_on_line) {
                return;
            }
        }
        self.output.push((token, span));
    }

    /// A leading word ends what only it can end.
    fn word(&mut self, word: Word, span: Span, around: &Surroundings<'_>) {
        let item = matches!(word, Word::Function | Word::Table | Word::Routine | Word::Job);
        let named = matches!(around.after, Some(Token::Name(_)));
        if around.first_on_line && word.is_leading() {
            if item && named {
                self.close_all(Some(span));
            } else {
                self.close_while(span, |open| open.sign != Sign::OpenBrace);
            }
        }
        if item {
            self.body_due = matches!(word, Word::Routine | Word::Job);
        } else if self.body_due && self.open.is_empty() && begins_body(word, around) {
            self.diagnostics.report(errors::missing_open_brace(span, word));
            let before = Span { end: span.start, ..span };
            self.output.push((Token::Sign(Sign::OpenBrace), before));
            self.open.push(Open { sign: Sign::OpenBrace, span: before, indent: self.indent });
            self.body_due = false;
        }
    }

    /// Matches a closing bracket; false when it closes nothing and is dropped.
    fn closes(&mut self, sign: Sign, span: Span, first_on_line: bool) -> bool {
        let matches = |open: &Open| open.sign.closing() == Some(sign);
        // Round and square brackets end with the braces around them, never the other way round.
        let reachable = |open: &&Open| matches(open) || open.sign != Sign::OpenBrace;
        let found = self.open.iter().rev().take_while(|o| !matches(o)).all(|o| reachable(&o))
            && self.open.iter().any(matches);
        if !found {
            self.diagnostics.report(errors::unopened_bracket(span, sign));
            return false;
        }
        self.close_while(span, |open| !matches(open));
        if let Some(open) = self.open.pop()
            && sign == Sign::CloseBrace
            && first_on_line
            && self.indent < open.indent
        {
            self.suspect.get_or_insert(open.span);
        }
        true
    }

    fn close_all(&mut self, noticed: Option<Span>) {
        let end = self.output.last().map_or(Span::default(), |&(_, span)| Span { start: span.end, ..span });
        self.close(noticed, noticed.unwrap_or(end), |_| true);
        self.suspect = None;
    }

    fn close_while(&mut self, noticed: Span, which: impl Fn(&Open) -> bool) {
        self.close(Some(noticed), noticed, which);
    }

    /// Closes the innermost brackets for as long as `which` holds, before the token at `place`.
    fn close(&mut self, noticed: Option<Span>, place: Span, which: impl Fn(&Open) -> bool) {
        let place = Span { end: place.start, ..place };
        let left_open = self.open.iter().rev().take_while(|open| which(open)).count();
        // A handful may each have been forgotten; more than that is one fault, told where the last one opens.
        let most = if left_open > REPORTED_TOGETHER { 1 } else { REPORTED_TOGETHER };
        let mut reported = 0;
        while let Some(open) = self.open.pop_if(|open| which(open)) {
            let invented = open.span.start == open.span.end;
            if !invented && reported < most {
                self.report_unclosed(open, noticed);
                reported += 1;
            }
            if let Some(close) = open.sign.closing() {
                self.output.push((Token::Sign(close), place));
            }
        }
    }

    fn report_unclosed(&mut self, open: Open, noticed: Option<Span>) {
        let mut diagnostic = errors::unclosed_bracket(open.span, open.sign, noticed);
        if open.sign == Sign::OpenBrace
            && let Some(suspect) = self.suspect
        {
            diagnostic =
                diagnostic.label(suspect, "perhaps this one: its `}` stands further left than its line");
        }
        self.diagnostics.report(diagnostic);
    }
}

/// True for a word that can only stand inside the braces of a routine; `with` also stands in a cutter line.
fn begins_body(word: Word, around: &Surroundings<'_>) -> bool {
    let only_block = word.leads() == [Place::Block];
    only_block && around.first_on_line && word != Word::With
}

/// The deepest tree that the steps after the parser have to walk.
const DEEPEST: usize = 200;

/// Cuts out what is nested too deep, so that no step can run out of stack: each bracket, and each operator of a
/// chain, is one level. One report for each place.
pub(crate) fn limit_depth<'s>(
    tokens: Vec<(Token<'s>, Span)>,
    diagnostics: &mut Diagnostics,
) -> Vec<(Token<'s>, Span)> {
    let mut limiter = Limiter { output: Vec::with_capacity(tokens.len()), diagnostics, groups: Vec::new() };
    limiter.groups.push(Group::default());
    for (token, span) in tokens {
        limiter.token(token, span);
    }
    limiter.end_segment();
    limiter.output
}

/// What is known of an open bracket. Its content is cut into segments by commas and leading words.
#[derive(Default)]
struct Group {
    /// Where it begins in the output.
    start: usize,
    /// Where the first operator of the segment stands in the output.
    first_operator: usize,
    operators: usize,
    /// The deepest bracket in this segment.
    inner: usize,
    /// The deepest segment so far.
    deepest: usize,
    /// Something inside was cut out and reported.
    cut: bool,
}

struct Limiter<'s, 'd> {
    output: Vec<(Token<'s>, Span)>,
    diagnostics: &'d mut Diagnostics,
    groups: Vec<Group>,
}

impl<'s> Limiter<'s, '_> {
    fn token(&mut self, token: Token<'s>, span: Span) {
        let here = self.output.len();
        match token {
            Token::Sign(sign) if sign.closing().is_some() => {
                self.groups.push(Group { start: here, ..Group::default() });
            }
            Token::Sign(sign) if sign.closes() => {
                self.end_segment();
                self.output.push((token, span));
                return self.end_group();
            }
            Token::Sign(Sign::Comma) => self.end_segment(),
            Token::Word(word) if word.is_leading() => {
                self.end_segment();
                if let Some(group) = self.groups.last_mut() {
                    group.cut = false;
                }
            }
            Token::Sign(_) | Token::Word(_) => self.operator(token, here),
            Token::Name(_) | Token::Number(..) | Token::BadNumber | Token::Text(_) | Token::Stray => {}
        }
        self.output.push((token, span));
    }

    fn operator(&mut self, token: Token<'_>, here: usize) {
        if is_operator(token)
            && let Some(group) = self.groups.last_mut()
        {
            if group.operators == 0 {
                group.first_operator = here;
            }
            group.operators += 1;
        }
    }

    /// Ends a segment; when it is too deep, what follows its first operator is cut out.
    fn end_segment(&mut self) {
        let Some(group) = self.groups.last_mut() else { return };
        let depth = group.operators + group.inner;
        group.deepest = group.deepest.max(depth.min(DEEPEST));
        let (too_deep, silent, from) = (depth > DEEPEST, group.cut, group.first_operator);
        group.operators = 0;
        group.inner = 0;
        if too_deep {
            self.cut(from, silent);
        }
    }

    /// Ends a bracket; when it is too deep, all of it is cut out.
    fn end_group(&mut self) {
        let Some(group) = self.groups.pop() else { return };
        let depth = group.deepest + 1;
        let too_deep = depth > DEEPEST;
        if too_deep {
            self.cut(group.start, group.cut);
        }
        if let Some(outer) = self.groups.last_mut() {
            outer.cut |= group.cut || too_deep;
            outer.inner = outer.inner.max(if too_deep { 0 } else { depth });
        }
    }

    /// Replaces the output from there on by one token that the parser knows to be reported.
    fn cut(&mut self, from: usize, silent: bool) {
        let Some(&(opener, first)) = self.output.get(from) else { return };
        let whole = self.output.last().map_or(first, |&(_, last)| first.to(last));
        self.output.truncate(from);
        let replacement = if opener == Token::Sign(Sign::OpenRound) || opener == Token::Sign(Sign::OpenSquare)
        {
            Token::BadNumber
        } else {
            Token::Stray
        };
        self.output.push((replacement, whole));
        if !silent {
            self.diagnostics.report(errors::nested_too_deep(whole, DEEPEST));
        }
        if let Some(group) = self.groups.last_mut() {
            group.cut = true;
        }
    }
}

fn is_operator(token: Token<'_>) -> bool {
    match token {
        Token::Sign(sign) => !matches!(sign, Sign::Colon | Sign::Equals | Sign::Range),
        Token::Word(word) => matches!(word, Word::And | Word::Or | Word::Not | Word::If),
        Token::Name(_) | Token::Number(..) | Token::BadNumber | Token::Text(_) | Token::Stray => false,
    }
}
