//! What the pipeline may ask of the world: bytes of a path, names in a directory, and how late it is.
//!
//! The command answers from the file system; tests and other programs answer from memory.

use std::collections::BTreeMap;

/// The world as the pipeline sees it. Paths are as the user wrote them, with `/` between names.
pub trait Host: Sync {
    /// All bytes of a file.
    ///
    /// # Errors
    /// Why there are none.
    fn read(&self, path: &str) -> Result<Vec<u8>, Trouble>;

    /// What stands at a path.
    ///
    /// # Errors
    /// Why nobody can tell.
    fn look(&self, path: &str) -> Result<Place, Trouble>;

    /// A clock in microseconds from any beginning; it never decides anything, it is only printed.
    fn micros(&self) -> u64;
}

/// What stands at a path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A file that can be read.
    File,
    /// A directory: the names in it, in any order.
    Directory(Vec<String>),
}

/// Why a path is of no use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trouble {
    /// Nothing is there.
    Missing,
    /// Something is there, but it cannot be read (or written), for this reason.
    Refused(String),
}

/// A world in memory, for tests and for programs that hold their texts themselves. Its clock stands still.
#[derive(Debug, Clone, Default)]
pub struct MemoryHost {
    files: BTreeMap<String, Vec<u8>>,
}

impl MemoryHost {
    /// A world with these files.
    pub fn new<P: Into<String>, B: Into<Vec<u8>>>(files: impl IntoIterator<Item = (P, B)>) -> Self {
        Self { files: files.into_iter().map(|(path, bytes)| (path.into(), bytes.into())).collect() }
    }
}

impl Host for MemoryHost {
    fn read(&self, path: &str) -> Result<Vec<u8>, Trouble> {
        self.files.get(path).cloned().ok_or(Trouble::Missing)
    }

    fn look(&self, path: &str) -> Result<Place, Trouble> {
        if self.files.contains_key(path) {
            return Ok(Place::File);
        }
        let prefix = format!("{path}/");
        let mut names: Vec<String> = self
            .files
            .keys()
            .filter_map(|file| file.strip_prefix(&prefix))
            .map(|rest| rest.split('/').next().unwrap_or(rest).to_owned())
            .collect();
        names.dedup();
        if names.is_empty() { Err(Trouble::Missing) } else { Ok(Place::Directory(names)) }
    }

    fn micros(&self) -> u64 {
        0
    }
}
