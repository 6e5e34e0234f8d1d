//! Findings as text: one line that says it all, the place in the source, advice.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use ariadne::{CharSet, Color, Config, IndexType, Label, LabelAttach, Report, ReportKind, Source};
use borewright_base::{Diagnostic, FileId, Severity, SourceFile, SourceMap, Span};

use super::Look;

/// Lines longer than this (bytes) are not drawn whole; a short stretch around the place is shown instead.
const LONGEST_LINE: usize = 300;
/// How much of such a line is shown, before the place and after it, in characters.
const STRETCH: usize = 40;

/// How many findings people are shown: whoever has more begins with the first.
const MOST: usize = 50;

/// The findings, each followed by an empty line.
#[must_use]
pub fn findings(found: &[Diagnostic], sources: &SourceMap, look: Look) -> String {
    let mut drawn = Drawn { sources, cache: BTreeMap::new() };
    let mut text: String = found.iter().take(MOST).map(|d| finding(d, &mut drawn, look)).collect();
    if found.len() > MOST {
        let _ = writeln!(text, "and {} more findings; `--format json` lists them all\n", found.len() - MOST);
    }
    text
}

fn finding(d: &Diagnostic, drawn: &mut Drawn<'_>, look: Look) -> String {
    let places: Vec<(Span, Option<&str>)> = d
        .span
        .into_iter()
        .map(|span| (span, None))
        .chain(d.labels.iter().map(|label| (label.span, Some(label.message.as_str()))))
        .collect();
    let mut text = match places.first() {
        None => headline(d, look),
        Some(_) if places.iter().any(|(span, _)| drawn.is_unwieldy(*span)) => {
            headline(d, look) + &stretches(&places, drawn.sources)
        }
        Some((first, _)) => drawing(d, *first, &places, drawn, look),
    };
    for hint in &d.hints {
        text += &advice(hint, look);
    }
    text.push('\n');
    text
}

/// `error S0103 unclosed-bracket: the bracket is never closed`
fn headline(d: &Diagnostic, look: Look) -> String {
    let title = title(d);
    let title =
        if look.colour { format!("\u{1b}[{}m{title}:\u{1b}[0m", ansi(d.severity)) } else { title + ":" };
    format!("{title} {}\n", d.message)
}

fn title(d: &Diagnostic) -> String {
    let severity = match d.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    };
    format!("{severity} {} {}", d.code.number, d.code.name)
}

fn ansi(severity: Severity) -> u8 {
    match severity {
        Severity::Error => 31,
        Severity::Warning => 33,
    }
}

fn colour(severity: Severity) -> Color {
    match severity {
        Severity::Error => Color::Red,
        Severity::Warning => Color::Yellow,
    }
}

fn drawing(
    d: &Diagnostic,
    first: Span,
    places: &[(Span, Option<&str>)],
    drawn: &mut Drawn<'_>,
    look: Look,
) -> String {
    let config = Config::new()
        .with_index_type(IndexType::Byte)
        .with_char_set(CharSet::Ascii)
        .with_label_attach(LabelAttach::Start)
        .with_color(look.colour);
    let title = title(d);
    let mut report = Report::build(ReportKind::Custom(&title, colour(d.severity)), drawn.key(first))
        .with_config(config)
        .with_message(&d.message);
    for (order, (span, message)) in (0_i32..).zip(places) {
        let label = Label::new(drawn.key(*span)).with_order(order).with_priority(-order);
        match message {
            Some(message) => report.add_label(label.with_message(message).with_color(Color::Cyan)),
            // Labels inside the place say more than "here" does.
            None if d.labels.iter().any(|label| lies_within(label.span, first)) => {}
            None => report.add_label(label.with_message("here").with_color(colour(d.severity))),
        }
    }
    let mut out = Vec::new();
    // Writing into memory cannot fail; were it to, the headline alone must still be said.
    if report.finish().write(&mut *drawn, &mut out).is_err() {
        return headline(d, look);
    }
    let text = String::from_utf8_lossy(&out).into_owned();
    // The colour of a title is not subject to the library's switch.
    let text = if look.colour { text } else { anstream::adapter::strip_str(&text).to_string() };
    text.lines().map(|line| line.trim_end().to_owned() + "\n").collect()
}

fn lies_within(inner: Span, outer: Span) -> bool {
    inner.file == outer.file && outer.start <= inner.start && inner.end <= outer.end
}

/// Place and a short stretch of the text, for lines too long to draw.
fn stretches(places: &[(Span, Option<&str>)], sources: &SourceMap) -> String {
    let mut text = String::new();
    for (span, message) in places {
        let Some((name, start, _)) = sources.locate(*span) else { continue };
        let _ = writeln!(text, "  at {name}:{}:{}: {}", start.line, start.column, message.unwrap_or("here"));
        let whole = sources.file(span.file).map_or("", |f| f.text.as_str());
        let at = floor_boundary(whole, span.range().start);
        let (before, after) = whole.split_at(at);
        let before = before.rsplit('\n').next().unwrap_or_default();
        let after = after.lines().next().unwrap_or_default();
        let left: Vec<char> = before.chars().rev().take(STRETCH).collect();
        let left: String = left.into_iter().rev().map(printable).collect();
        let right: String = after.chars().take(STRETCH).map(printable).collect();
        let _ = writeln!(text, "    ...{left}{right}...\n       {}^", " ".repeat(left.chars().count()));
    }
    text
}

/// Advice, wrapped and set in under the finding.
fn advice(hint: &str, look: Look) -> String {
    wrapped("  advice: ", hint, look)
}

/// Text broken at blanks to the width, its further lines set in as deep as the first.
pub(crate) fn wrapped(head: &str, text: &str, look: Look) -> String {
    let indent = " ".repeat(head.chars().count());
    let options = textwrap::Options::new(look.width.max(40)).initial_indent(head).subsequent_indent(&indent);
    textwrap::fill(text, options.break_words(false)) + "\n"
}

/// The sources as the drawing library wants them: the same byte positions, but one kind of line end only,
/// and no character that would move the cursor.
struct Drawn<'a> {
    sources: &'a SourceMap,
    cache: BTreeMap<FileId, Source<String>>,
}

impl Drawn<'_> {
    /// The place within the text and on whole characters, whatever the span says.
    fn key(&self, span: Span) -> (FileId, std::ops::Range<usize>) {
        let text = self.sources.file(span.file).map_or("", |f| f.text.as_str());
        let start = floor_boundary(text, span.range().start);
        let end = floor_boundary(text, span.range().end).max(start);
        // A trailing line end is no part of what is meant.
        let meant = text.get(start..end).map_or(0, |t| t.trim_end_matches(['\r', '\n']).len());
        (span.file, start..start + meant)
    }

    fn is_unwieldy(&self, span: Span) -> bool {
        let Some(file) = self.sources.file(span.file) else { return true };
        let (_, range) = self.key(span);
        let begin = file.text.get(..range.start).and_then(|t| t.rfind('\n')).map_or(0, |i| i + 1);
        let finish =
            file.text.get(range.end..).and_then(|t| t.find('\n')).map_or(file.text.len(), |i| range.end + i);
        file.text
            .get(begin..finish)
            .is_none_or(|lines| lines.split('\n').any(|line| line.len() > LONGEST_LINE))
    }
}

impl ariadne::Cache<FileId> for Drawn<'_> {
    type Storage = String;

    fn fetch(&mut self, id: &FileId) -> Result<&Source<String>, impl std::fmt::Debug> {
        let text = |file: &SourceFile| file.text.chars().flat_map(quiet).collect::<String>();
        match self.sources.file(*id) {
            Some(file) => Ok(self.cache.entry(*id).or_insert_with(|| Source::from(text(file)))),
            None => Err("no such file"),
        }
    }

    fn display<'a>(&self, id: &'a FileId) -> Option<impl std::fmt::Display + 'a> {
        self.sources.file(*id).map(|f| f.name.clone())
    }
}

/// As many blanks as the character has bytes, for a character that cannot be drawn; else itself.
fn quiet(c: char) -> impl Iterator<Item = char> {
    let (c, count) = if is_drawable(c) || c == '\t' || c == '\n' { (c, 1) } else { (' ', c.len_utf8()) };
    std::iter::repeat_n(c, count)
}

fn printable(c: char) -> char {
    if is_drawable(c) { c } else { ' ' }
}

fn is_drawable(c: char) -> bool {
    let turns_direction =
        matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    !c.is_control() && !turns_direction && !matches!(c, '\u{2028}' | '\u{2029}' | '\u{feff}')
}

fn floor_boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::errors;

    fn shown(text: &str, range: std::ops::Range<usize>) -> String {
        let mut sources = SourceMap::default();
        let file = sources.add("plan.bore", text);
        let d = Diagnostic::error(errors::CIRCULAR_USE, Span::new(file, range), "no such thing")
            .hint("look again");
        findings(&[d], &sources, Look::PLAIN)
    }

    #[test]
    fn a_finding_has_code_name_message_place_and_advice() {
        insta::assert_snapshot!(shown("// é µ\nuse gears\n", 13..18), @r"
        error D0807 circular-use: no such thing
           ,-[ plan.bore:2:5 ]
           |
         2 | use gears
           |     |^^^^
           |     `------ here
        ---'
          advice: look again
        ");
    }

    #[test]
    fn a_line_of_a_megabyte_is_not_drawn_whole() {
        let text = format!("{}use gears{}", "a ".repeat(500_000), " b".repeat(500_000));
        insta::assert_snapshot!(shown(&text, 1_000_004..1_000_009), @r"
        error D0807 circular-use: no such thing
          at plan.bore:1:1000005: here
            ...a a a a a a a a a a a a a a a a a a use gears b b b b b b b b b b b b b b b b b ...
                                                       ^
          advice: look again
        ");
    }

    #[test]
    fn no_place_makes_the_drawing_fail() {
        let text = "a\u{0}b\r\nµ\u{2028}\u{b}µ\tc\n\n";
        for start in 0..text.len() + 3 {
            for end in start..text.len() + 3 {
                assert!(shown(text, start..end).contains("plan.bore:"), "{start}..{end}");
            }
        }
        assert!(shown("", 0..0).contains("plan.bore:1:1"));
    }
}
