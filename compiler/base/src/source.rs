//! Source files, places in them, and the way from a byte offset to a line and a column.

use std::ops::Range;

/// A file in a [`SourceMap`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct FileId(pub u32);

/// A stretch of bytes in one file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The bytes `start..end` of `file`.
    #[must_use]
    pub fn new(file: FileId, range: Range<usize>) -> Self {
        let narrow = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Self { file, start: narrow(range.start), end: narrow(range.end) }
    }

    /// The smallest span that holds both; the first one's file wins.
    #[must_use]
    pub fn to(self, other: Self) -> Self {
        Self { file: self.file, start: self.start.min(other.start), end: self.end.max(other.end) }
    }

    /// The byte range.
    #[must_use]
    pub fn range(self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// A line and a column, both counted from 1; columns count characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Position {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// One source text with its name.
#[derive(Debug, Clone)]
pub struct SourceFile {
    /// The path as the user gave it, or `stdlib/NAME.bore` for a bundled file.
    pub name: String,
    /// The whole text.
    pub text: String,
    line_starts: Vec<usize>,
}

impl SourceFile {
    fn new(name: String, text: String) -> Self {
        let line_starts = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1)).collect();
        Self { name, text, line_starts }
    }

    /// Line and column of a byte offset (offsets past the end give the end; inside a character, its start).
    #[must_use]
    pub fn position(&self, offset: usize) -> Position {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.line_starts.partition_point(|&start| start <= offset).max(1);
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let column = self.text.get(start..offset).map_or(0, |t| t.chars().count()) + 1;
        Position { line, column }
    }
}

/// All source files of one run.
#[derive(Debug, Clone, Default)]
pub struct SourceMap {
    files: Vec<SourceFile>,
}

impl SourceMap {
    /// Adds a file and names it by an id.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        let id = FileId(u32::try_from(self.files.len()).unwrap_or(u32::MAX));
        self.files.push(SourceFile::new(name.into(), text.into()));
        id
    }

    /// The file of that id.
    #[must_use]
    pub fn file(&self, id: FileId) -> Option<&SourceFile> {
        self.files.get(id.0 as usize)
    }

    /// All files in the order they were added.
    pub fn files(&self) -> impl Iterator<Item = (FileId, &SourceFile)> {
        (0u32..).map(FileId).zip(self.files.iter())
    }

    /// The text under a span; empty where there is none.
    #[must_use]
    pub fn text(&self, span: Span) -> &str {
        self.file(span.file).and_then(|f| f.text.get(span.range())).unwrap_or("")
    }

    /// File name, first and last position of a span.
    #[must_use]
    pub fn locate(&self, span: Span) -> Option<(&str, Position, Position)> {
        let file = self.file(span.file)?;
        let range = span.range();
        Some((&file.name, file.position(range.start), file.position(range.end)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_and_lines_count_from_one() {
        let mut map = SourceMap::default();
        let id = map.add("a.bore", "x\n// é µ\nlet y\n");
        let file = map.file(id).unwrap();
        assert_eq!(file.position(0), Position { line: 1, column: 1 });
        assert_eq!(file.position(file.text.find("let").unwrap()), Position { line: 3, column: 1 });
        assert_eq!(file.position(file.text.find('µ').unwrap()), Position { line: 2, column: 6 });
        assert_eq!(file.position(9_999), Position { line: 4, column: 1 });
    }
}
