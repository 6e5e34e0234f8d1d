//! Where each field of a machine file stands in its text.

use std::collections::BTreeMap;

use borewright_base::{FileId, Span};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Spans by path: `arcs.tolerance`.
pub(crate) struct Fields {
    file: FileId,
    spans: BTreeMap<String, Span>,
}

impl Fields {
    pub(crate) fn of(file: FileId, tree: &Spanned<DeTable<'_>>) -> Self {
        let mut fields = Self { file, spans: BTreeMap::new() };
        fields.collect("", tree.get_ref());
        fields
    }

    fn collect(&mut self, path: &str, table: &DeTable<'_>) {
        for (key, value) in table {
            let path = join(path, key.get_ref());
            if let DeValue::Table(inner) = value.get_ref() {
                self.collect(&path, inner);
            }
            self.spans.insert(path, Span::new(self.file, value.span()));
        }
    }

    /// Where a field stands; where it is not stated, the start of the file.
    pub(crate) fn span(&self, path: &str) -> Span {
        self.spans.get(path).copied().unwrap_or(Span::new(self.file, 0..0))
    }

    /// A stretch of the same file.
    pub(crate) fn at(&self, range: std::ops::Range<usize>) -> Span {
        Span::new(self.file, range)
    }
}

pub(crate) fn join(path: &str, name: &str) -> String {
    if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") }
}
