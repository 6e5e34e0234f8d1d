//! From paths to trees: finds the files, reads each once, parses it, and follows every `use`.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use borewright_base::{Diagnostics, FileId, SourceMap, Span};
use borewright_syntax::ast;

use crate::errors;
use crate::host::{Host, Place};

/// Everything that was read.
#[derive(Debug, Default)]
pub struct Loaded {
    /// The texts.
    pub sources: SourceMap,
    /// The files that were asked for, in the order of the paths, each directory sorted.
    pub asked: Vec<FileId>,
    files: BTreeMap<FileId, File>,
    ids: BTreeMap<Key, Option<FileId>>,
}

/// One parsed file.
#[derive(Debug)]
struct File {
    tree: Arc<ast::File>,
    /// In which directory a `use` looks; `None` for a bundled file, which uses bundled ones only.
    directory: Option<String>,
}

/// What a file is known by.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Bundled(&'static str),
    Path(String),
}

impl Loaded {
    /// The tree of a file.
    #[must_use]
    pub fn tree(&self, file: FileId) -> Option<&Arc<ast::File>> {
        self.files.get(&file).map(|f| &f.tree)
    }

    /// What a file sees of the others: for the checker.
    #[must_use]
    pub fn beside(&self, file: FileId) -> Beside<'_> {
        Beside { loaded: self, file }
    }

    /// The file that `use NAME` means in a file.
    fn used(&self, from: FileId, name: &str) -> Option<FileId> {
        let key = match bundled(name) {
            Some((name, _)) => Key::Bundled(name),
            None => Key::Path(beside(self.files.get(&from)?.directory.as_deref()?, name)),
        };
        self.ids.get(&key).copied().flatten()
    }
}

/// The files as one of them sees them.
#[derive(Debug, Clone, Copy)]
pub struct Beside<'a> {
    loaded: &'a Loaded,
    file: FileId,
}

impl borewright_check::Loader for Beside<'_> {
    fn load(&self, name: &str) -> Option<Arc<ast::File>> {
        self.loaded.used(self.file, name).and_then(|id| self.loaded.tree(id).cloned())
    }
}

/// Reads and parses all files at and below the paths and all that they use.
pub fn load(host: &dyn Host, paths: &[String], found: &mut Diagnostics) -> Loaded {
    let mut loaded = Loaded::default();
    let files = search(host, paths, found);
    for path in &files {
        if let Some(id) = read(host, path, &mut loaded, found) {
            loaded.asked.push(id);
        }
    }
    let mut done = BTreeSet::new();
    for id in loaded.asked.clone() {
        follow(host, id, &mut vec![id], &mut done, &mut loaded, found);
    }
    loaded
}

/// The `.bore` files at and below the paths, each once.
pub(crate) fn search(host: &dyn Host, paths: &[String], found: &mut Diagnostics) -> Vec<String> {
    let mut files = Vec::new();
    let before = found.has_errors();
    for path in paths {
        let path = path.strip_prefix("./").unwrap_or(path);
        match host.look(path) {
            Ok(Place::File) => files.push(path.to_owned()),
            Ok(Place::Directory(names)) => descend(host, path, names, &mut files, found),
            Err(trouble) => drop(found.report(errors::trouble(path, &trouble))),
        }
    }
    let mut seen = BTreeSet::new();
    files.retain(|path| seen.insert(path.clone()));
    if files.is_empty() && found.has_errors() == before {
        let _said = found.report(errors::nothing_to_check(paths));
    }
    files
}

fn descend(
    host: &dyn Host,
    path: &str,
    mut names: Vec<String>,
    files: &mut Vec<String>,
    found: &mut Diagnostics,
) {
    names.sort();
    for name in names.iter().filter(|name| !name.starts_with('.')) {
        let inner = join(path, name);
        match host.look(&inner) {
            Ok(Place::File) if is_source(name) => files.push(inner),
            Ok(Place::File) => {}
            Ok(Place::Directory(names)) => descend(host, &inner, names, files, found),
            Err(trouble) if is_source(name) => drop(found.report(errors::trouble(&inner, &trouble))),
            // Sockets, dangling links and the like are nobody's source text.
            Err(_) => {}
        }
    }
}

fn is_source(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|e| e == "bore")
}

/// Reads one file that was asked for. A copy of a bundled file is that bundled file.
fn read(host: &dyn Host, path: &str, loaded: &mut Loaded, found: &mut Diagnostics) -> Option<FileId> {
    let text = text(host, path, loaded, found)?;
    let id = add(path, &text, Some(directory(path)), loaded, found);
    loaded.ids.insert(Key::Path(path.to_owned()), Some(id));
    let stem = Path::new(path).file_stem().and_then(|s| s.to_str()).unwrap_or_default();
    if let Some((name, _)) = bundled(stem).filter(|(_, bundled)| *bundled == text) {
        loaded.ids.insert(Key::Bundled(name), Some(id));
    }
    Some(id)
}

/// The text of a file, without a byte order mark. Bytes that are no text are reported where they stand.
fn text(host: &dyn Host, path: &str, loaded: &mut Loaded, found: &mut Diagnostics) -> Option<String> {
    let bytes = match host.read(path) {
        Ok(bytes) => bytes,
        Err(trouble) => {
            let _said = found.report(errors::trouble(path, &trouble));
            return None;
        }
    };
    decode(path, &bytes, &mut loaded.sources, found)
}

/// The same for bytes that are at hand.
pub(crate) fn decode(
    path: &str,
    bytes: &[u8],
    sources: &mut SourceMap,
    found: &mut Diagnostics,
) -> Option<String> {
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => Some(text.to_owned()),
        Err(fault) => {
            let at = fault.valid_up_to();
            let file = sources.add(path, String::from_utf8_lossy(bytes));
            let span = Span::new(file, at..at + char::REPLACEMENT_CHARACTER.len_utf8());
            let byte = bytes.get(at).copied().unwrap_or_default();
            let _said = found.report(errors::not_utf8(path, byte, span));
            None
        }
    }
}

/// Parses a text and keeps it.
fn add(
    name: &str,
    text: &str,
    directory: Option<String>,
    loaded: &mut Loaded,
    found: &mut Diagnostics,
) -> FileId {
    let id = loaded.sources.add(name, text);
    let (tree, faults) = borewright_syntax::parse(id, text);
    if tree.items.is_empty() && !faults.has_errors() {
        let _said = found.report(errors::empty(name, Span::new(id, 0..0)));
    }
    found.append(faults);
    loaded.files.insert(id, File { tree: Arc::new(tree), directory });
    id
}

/// Loads what a file uses, and what that uses; `chain` is the way here.
fn follow(
    host: &dyn Host,
    file: FileId,
    chain: &mut Vec<FileId>,
    done: &mut BTreeSet<FileId>,
    loaded: &mut Loaded,
    found: &mut Diagnostics,
) {
    if !done.insert(file) {
        return;
    }
    let Some(tree) = loaded.tree(file).cloned() else { return };
    let uses = tree.items.iter().filter_map(|item| match &item.kind {
        ast::ItemKind::Use(name) => Some(name),
        ast::ItemKind::Let(_)
        | ast::ItemKind::Function(_)
        | ast::ItemKind::Table(_)
        | ast::ItemKind::Routine(_)
        | ast::ItemKind::Job(_)
        | ast::ItemKind::Invalid => None,
    });
    for name in uses {
        let Some(next) = fetch(host, file, name, loaded, found) else { continue };
        if chain.contains(&next) {
            let _said = found.report(circle(chain, next, name.span, &loaded.sources));
            continue;
        }
        chain.push(next);
        follow(host, next, chain, done, loaded, found);
        chain.pop();
    }
}

/// The file that `use NAME` means, read when it is first met; the checker reports the missing ones.
fn fetch(
    host: &dyn Host,
    from: FileId,
    name: &ast::Name,
    loaded: &mut Loaded,
    found: &mut Diagnostics,
) -> Option<FileId> {
    let directory = loaded.files.get(&from)?.directory.clone();
    if let Some((bundled, text)) = bundled(&name.text) {
        if let Some(path) = directory.map(|d| beside(&d, bundled)).filter(|p| hides(host, p, text)) {
            found.warn(errors::hidden_file(bundled, &path, name.span));
        }
        if let Some(known) = loaded.ids.get(&Key::Bundled(bundled)) {
            return *known;
        }
        let id = add(&format!("stdlib/{bundled}.bore"), text, None, loaded, found);
        loaded.ids.insert(Key::Bundled(bundled), Some(id));
        return Some(id);
    }
    let path = beside(&directory?, &name.text);
    if let Some(known) = loaded.ids.get(&Key::Path(path.clone())) {
        return *known;
    }
    let id = match host.look(&path) {
        Ok(Place::File) => read(host, &path, loaded, found),
        Ok(Place::Directory(_)) | Err(_) => None,
    };
    loaded.ids.insert(Key::Path(path), id);
    id
}

/// Whether a file of one's own stands where a bundled one is taken instead, and says something else.
fn hides(host: &dyn Host, path: &str, bundled: &str) -> bool {
    host.look(path) == Ok(Place::File) && host.read(path).is_ok_and(|own| own != bundled.as_bytes())
}

fn circle(chain: &[FileId], next: FileId, span: Span, sources: &SourceMap) -> borewright_base::Diagnostic {
    let name = |id: &FileId| sources.file(*id).map_or_else(String::new, |f| f.name.clone());
    let names = chain.iter().skip_while(|id| **id != next).chain([&next]).map(name).collect::<Vec<_>>();
    errors::circular_use(&names, span)
}

fn bundled(name: &str) -> Option<(&'static str, &'static str)> {
    borewright_stdlib::FILES.iter().find(|(known, _)| *known == name).copied()
}

fn directory(path: &str) -> String {
    match path.rsplit_once('/') {
        Some(("", _)) => String::from("/"),
        Some((directory, _)) => directory.to_owned(),
        None => String::new(),
    }
}

fn beside(directory: &str, name: &str) -> String {
    join(directory, &format!("{name}.bore"))
}

fn join(directory: &str, name: &str) -> String {
    match directory {
        "" | "." => name.to_owned(),
        _ => format!("{}/{name}", directory.trim_end_matches('/')),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::MemoryHost;

    fn loaded(files: &[(&str, &str)], paths: &[&str]) -> (Vec<String>, Vec<&'static str>) {
        let host = MemoryHost::new(files.iter().map(|(path, text)| (*path, *text)));
        let mut found = Diagnostics::default();
        let paths: Vec<String> = paths.iter().map(|p| (*p).to_owned()).collect();
        let loaded = load(&host, &paths, &mut found);
        let names = loaded.asked.iter().map(|id| loaded.sources.file(*id).unwrap().name.clone()).collect();
        (names, found.into_sorted().iter().map(|d| d.code.number).collect())
    }

    const LET: &str = "let a = 1mm\n";

    #[test]
    fn directories_are_searched_in_order_but_for_hidden_ones() {
        let files = [
            ("d/b.bore", LET),
            ("d/a/z.bore", LET),
            ("d/.git/x.bore", LET),
            ("d/a.txt", ""),
            ("c.bore", LET),
        ];
        let (names, found) = loaded(&files, &["d", "c.bore", "d/b.bore", "./c.bore"]);
        assert_eq!(names, ["d/a/z.bore", "d/b.bore", "c.bore"]);
        assert_eq!(found, [""; 0]);
    }

    #[test]
    fn what_a_file_uses_is_read_from_beside_it_once() {
        let files =
            [("d/a.bore", "use b\nuse bores\n"), ("d/b.bore", "use bores\n let c = 1mm\n"), ("b.bore", "!")];
        let (names, found) = loaded(&files, &["d/a.bore"]);
        assert_eq!((names, found), (vec!["d/a.bore".to_owned()], vec![]));
    }

    #[test]
    fn a_circle_is_reported_once_wherever_it_is_entered() {
        let files =
            [("a.bore", "use b\n"), ("b.bore", "use c\n"), ("c.bore", "use a\n"), ("d.bore", "use d\n")];
        assert_eq!(loaded(&files, &["a.bore"]).1, ["D0807"]);
        assert_eq!(loaded(&files, &["a.bore", "b.bore", "c.bore", "d.bore"]).1, ["D0807", "D0807"]);
    }

    #[test]
    fn a_copy_of_a_bundled_file_is_that_file_and_a_changed_one_is_hidden() {
        let (_, text) = borewright_stdlib::FILES[0];
        let copy = [("stdlib/bores.bore", text), ("stdlib/a.bore", "use bores\n")];
        assert_eq!(loaded(&copy, &["stdlib/a.bore", "stdlib/bores.bore"]).1, [""; 0]);
        let changed = [("bores.bore", LET), ("a.bore", "use bores\n")];
        assert_eq!(loaded(&changed, &["a.bore"]).1, ["D0808"]);
    }

    #[test]
    fn nothing_to_check_is_no_success() {
        assert_eq!(loaded(&[("d/a.txt", "")], &["d"]).1, ["D0805"]);
        assert_eq!(loaded(&[("d/a.txt", "")], &["e"]).1, ["D0801"]);
        assert_eq!(loaded(&[("a.bore", "// nothing\n")], &["a.bore"]).1, ["D0804"]);
    }
}
