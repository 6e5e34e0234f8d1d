//! Compares a machine file with the published schema, field by field, so that every wrong one is named.

use borewright_base::{Diagnostic, Diagnostics};
use schemars::generate::SchemaSettings;
use serde_json::{Map, Value as Json};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::fields::{Fields, join};
use crate::{Machine, errors};

/// The JSON schema of machine files.
#[must_use]
pub fn schema() -> Json {
    let settings = SchemaSettings::draft2020_12().with(|s| s.inline_subschemas = true);
    settings.into_generator().into_root_schema_for::<Machine>().to_value()
}

pub(crate) fn against_schema(tree: &Spanned<DeTable<'_>>, fields: &Fields, diagnostics: &mut Diagnostics) {
    let mut validator = Validator { fields, diagnostics };
    validator.table("", &schema(), tree.get_ref());
}

struct Validator<'a> {
    fields: &'a Fields,
    diagnostics: &'a mut Diagnostics,
}

impl Validator<'_> {
    fn table(&mut self, path: &str, schema: &Json, table: &DeTable<'_>) {
        let none = Map::new();
        let known = schema.get("properties").and_then(Json::as_object).unwrap_or(&none);
        let others = schema.get("additionalProperties").filter(|s| s.is_object());
        let patterns = schema.get("patternProperties").and_then(Json::as_object);
        for (key, value) in table {
            let name = key.get_ref().as_ref();
            let inner = known.get(name).or(others).or_else(|| matching(patterns, name));
            match inner {
                Some(schema) => self.value(&join(path, name), schema, value),
                None => self.unknown(path, name, known, key.span()),
            }
        }
    }

    fn unknown(&mut self, path: &str, name: &str, known: &Map<String, Json>, range: std::ops::Range<usize>) {
        let place = if path.is_empty() { "a machine file".to_owned() } else { format!("`[{path}]`") };
        let message = format!("{place} has no field `{}`", clean(name));
        let mut diagnostic = Diagnostic::error(errors::UNKNOWN_FIELD, self.fields.at(range), message);
        if let Some(near) = nearest(name, known.keys().map(String::as_str)) {
            diagnostic = diagnostic.hint(format!("did you mean `{near}`?"));
        }
        self.diagnostics.report(diagnostic);
    }

    fn value(&mut self, path: &str, schema: &Json, value: &Spanned<DeValue<'_>>) {
        // An optional field is a choice between its kind and null; TOML has no null.
        let schema = present(schema);
        match (value.get_ref(), kind(schema)) {
            (DeValue::Table(table), "object") => self.table(path, schema, table),
            (DeValue::Array(items), "array") => self.array(path, schema, items, value),
            (DeValue::Integer(number), "integer") => {
                let number = i64::from_str_radix(number.as_str(), number.radix());
                self.bounds(path, schema, number.ok(), value);
            }
            (DeValue::Integer(_) | DeValue::Float(_), "number") | (DeValue::Boolean(_), "boolean") => {}
            (DeValue::String(text), "string") => self.text(path, schema, text, value),
            (DeValue::String(text), "choice") if words(schema).contains(&text.as_ref()) => {}
            _ => self.wrong(path, &expected(schema), value),
        }
    }

    fn array(
        &mut self,
        path: &str,
        schema: &Json,
        items: &toml::de::DeArray<'_>,
        whole: &Spanned<DeValue<'_>>,
    ) {
        let heads = schema.get("prefixItems").and_then(Json::as_array);
        let size = heads.map_or(items.len(), Vec::len);
        if items.len() != size {
            self.wrong(path, &format!("a list of {size} values"), whole);
            return;
        }
        for (i, item) in items.iter().enumerate() {
            let of = heads.and_then(|h| h.get(i)).or_else(|| schema.get("items"));
            if let Some(schema) = of {
                self.value(path, schema, item);
            }
        }
    }

    fn bounds(&mut self, path: &str, schema: &Json, number: Option<i64>, value: &Spanned<DeValue<'_>>) {
        let bound = |name| schema.get(name).and_then(Json::as_i64);
        let (least, greatest) = (bound("minimum"), bound("maximum"));
        let inside = number.is_some_and(|n| {
            least.is_none_or(|low| n >= low)
                && greatest.is_none_or(|high| n <= high)
                && n <= i64::from(u32::MAX)
        });
        if !inside {
            let range = match (least, greatest) {
                (Some(low), Some(high)) => format!("a whole number from {low} to {high}"),
                (Some(low), None) => format!("a whole number, {low} or more"),
                (None, Some(high)) => format!("a whole number up to {high}"),
                (None, None) => "a whole number".to_owned(),
            };
            self.wrong(path, &range, value);
        }
    }

    fn text(&mut self, path: &str, schema: &Json, text: &str, value: &Spanned<DeValue<'_>>) {
        let one = schema.get("maxLength").and_then(Json::as_u64) == Some(1);
        if one && text.chars().count() != 1 {
            self.wrong(path, "one character in quotation marks", value);
        }
    }

    fn wrong(&mut self, path: &str, expected: &str, value: &Spanned<DeValue<'_>>) {
        let message = format!("`{path}` takes {expected}, found {}", found(value.get_ref()));
        let span = self.fields.at(value.span());
        self.diagnostics.report(Diagnostic::error(errors::WRONG_VALUE, span, message));
    }
}

/// The schema of the value itself, without the possibility of null.
fn present(schema: &Json) -> &Json {
    let not_null = |s: &&Json| s.get("type").and_then(Json::as_str) != Some("null");
    schema.get("anyOf").and_then(Json::as_array).and_then(|all| all.iter().find(not_null)).unwrap_or(schema)
}

/// `object`, `array`, `string`...; `choice` for one word of several.
fn kind(schema: &Json) -> &str {
    if !words(schema).is_empty() {
        return "choice";
    }
    match schema.get("type") {
        Some(Json::String(one)) => one,
        Some(Json::Array(several)) => several.first().and_then(Json::as_str).unwrap_or(""),
        _ => "",
    }
}

fn words(schema: &Json) -> Vec<&str> {
    let listed = schema.get("enum").and_then(Json::as_array);
    let described = schema.get("oneOf").and_then(Json::as_array);
    let list = listed.into_iter().flatten().filter_map(Json::as_str);
    let one = described.into_iter().flatten().filter_map(|s| s.get("const").and_then(Json::as_str));
    list.chain(one).collect()
}

fn matching<'s>(patterns: Option<&'s Map<String, Json>>, name: &str) -> Option<&'s Json> {
    // The only pattern in the schema is that of one-character names.
    patterns.filter(|_| name.chars().count() == 1).and_then(|p| p.values().next())
}

fn expected(schema: &Json) -> String {
    match kind(schema) {
        "object" => "a table".to_owned(),
        "array" => "a list".to_owned(),
        "integer" => "a whole number".to_owned(),
        "number" => "a number".to_owned(),
        "boolean" => "true or false".to_owned(),
        "choice" => words(schema).iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(" or "),
        _ => "text in quotation marks".to_owned(),
    }
}

fn found(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("\"{}\"", clean(text)),
        DeValue::Integer(number) => number.to_string(),
        DeValue::Float(number) => number.to_string(),
        DeValue::Boolean(truth) => truth.to_string(),
        DeValue::Datetime(_) => "a date".to_owned(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}

/// A name from the file, short and printable.
fn clean(name: &str) -> String {
    name.chars().take(40).map(|c| if c.is_control() { '?' } else { c }).collect()
}

/// The nearest of the known names, where one is near enough to be meant.
fn nearest<'n>(name: &str, known: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    let allowed = name.chars().count() / 3 + 1;
    let scored = known.map(|k| (distance(name, k), k)).filter(|(d, _)| *d <= allowed);
    scored.min().map(|(_, k)| k)
}

/// Edits (one character put in, left out or changed) between two names.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().take(64).collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().take(64).enumerate() {
        let mut next = vec![i + 1];
        for ((y, above), diagonal) in b.iter().zip(row.iter().skip(1)).zip(&row) {
            let left = next.last().copied().unwrap_or(0);
            next.push((left + 1).min(above + 1).min(diagonal + usize::from(x != *y)));
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}
