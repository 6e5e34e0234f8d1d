//! What the tests share.

use borewright_base::{FileId, Severity, SourceMap};
use borewright_syntax::parse;

/// The text with line numbers, and below it everything that is wrong with it, as plain text.
pub fn shown(text: &str) -> String {
    let mut output = String::new();
    for (i, line) in text.lines().enumerate() {
        output.push_str(&format!(
            "{:>2} | {}\n",
            i + 1,
            line.escape_debug().to_string().replace("\\\"", "\"")
        ));
    }
    output.push_str("----\n");
    output.push_str(&complaints(text));
    output
}

/// Everything that is wrong with a text, sorted by place.
pub fn complaints(text: &str) -> String {
    let mut map = SourceMap::default();
    let file = map.add("test.bore", text);
    let (_, diagnostics) = parse(file, text);
    let mut output = String::new();
    for diagnostic in diagnostics.into_sorted() {
        let span = diagnostic.span.expect("every finding about a text has a place");
        let (_, start, end) = map.locate(span).unwrap();
        let severity = if diagnostic.severity == Severity::Error { "" } else { "warning " };
        output.push_str(&format!(
            "{}:{}..{}:{} {severity}{} {}: {}\n",
            start.line,
            start.column,
            end.line,
            end.column,
            diagnostic.code.number,
            diagnostic.code.name,
            diagnostic.message
        ));
        for label in &diagnostic.labels {
            let (_, start, _) = map.locate(label.span).unwrap();
            output.push_str(&format!("    at {}:{}: {}\n", start.line, start.column, label.message));
        }
        for hint in &diagnostic.hints {
            output.push_str(&format!("    hint: {hint}\n"));
        }
    }
    output
}

/// The numbers of the codes found, sorted by place.
pub fn codes(text: &str) -> Vec<&'static str> {
    parse(FileId(0), text).1.into_sorted().iter().map(|d| d.code.number).collect()
}

/// The tree as text, without places: equal for two texts that say the same.
pub fn tree(text: &str) -> String {
    let shown = format!("{:?}", parse(FileId(0), text).0);
    let mut parts = shown.split("Span {");
    let first = parts.next().unwrap_or("").to_owned();
    parts.fold(first, |all, part| all + part.split_once('}').expect("a span ends").1)
}
