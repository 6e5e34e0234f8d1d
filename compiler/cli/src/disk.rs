//! The file system and the clock: the only place that touches them.
#![allow(clippy::disallowed_methods)] // it is what the rule is for: here and nowhere else

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::time::Instant;

use borewright_base::Diagnostic;
use borewright_driver::{Host, Place, Trouble, errors};

/// The world as it is.
#[derive(Debug)]
pub struct Disk {
    start: Instant,
}

impl Disk {
    pub fn new() -> Self {
        Self { start: Instant::now() }
    }
}

impl Host for Disk {
    fn read(&self, path: &str) -> Result<Vec<u8>, Trouble> {
        // Reading a pipe or a device could wait for ever.
        if !fs::metadata(path).map_err(trouble)?.is_file() {
            return Err(Trouble::Refused(String::from("it is not a plain file")));
        }
        fs::read(path).map_err(trouble)
    }

    fn look(&self, path: &str) -> Result<Place, Trouble> {
        let kind = fs::metadata(path).map_err(trouble)?;
        if !kind.is_dir() {
            return Ok(Place::File);
        }
        let mut names = Vec::new();
        for entry in fs::read_dir(path).map_err(trouble)? {
            let entry = entry.map_err(trouble)?;
            // A link to a directory could lead round in a circle.
            let link_to_directory = entry.file_type().map_err(trouble)?.is_symlink() && entry.path().is_dir();
            if let (false, Ok(name)) = (link_to_directory, entry.file_name().into_string()) {
                names.push(name);
            }
        }
        Ok(Place::Directory(names))
    }

    fn micros(&self) -> u64 {
        u64::try_from(self.start.elapsed().as_micros()).unwrap_or(u64::MAX)
    }
}

fn trouble(fault: io::Error) -> Trouble {
    if matches!(fault.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) {
        Trouble::Missing
    } else {
        Trouble::Refused(fault.to_string())
    }
}

/// Replaces one file by a new text, whole or not at all.
pub fn replace(path: &str, bytes: &[u8]) -> Result<(), Box<Diagnostic>> {
    let path = Path::new(path);
    let directory = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let name = path.file_name().and_then(|n| n.to_str()).unwrap_or_default();
    write_all(directory, &[(name.to_owned(), bytes.to_owned())])
}

/// Writes a set of files into a directory: all of them or none.
///
/// Each is first written whole beside its place and then moved into it; what stood there before is kept
/// under another name until all are in place, and put back if one cannot be.
pub fn write_all(directory: &Path, files: &[(String, Vec<u8>)]) -> Result<(), Box<Diagnostic>> {
    let made = make_directory(directory).map_err(|e| fault(directory, &e))?;
    let mut set = Set::default();
    let result = files
        .iter()
        .try_for_each(|(name, bytes)| set.prepare(&directory.join(name), bytes))
        .and_then(|()| set.move_in());
    if result.is_err() {
        set.undo();
        for made in made.iter().rev() {
            // Not empty means that somebody else uses it by now.
            let _ = fs::remove_dir(made);
        }
    } else {
        set.clean();
    }
    result
}

/// Makes a directory and those above it; tells which were new, outermost first.
fn make_directory(directory: &Path) -> io::Result<Vec<PathBuf>> {
    let missing: Vec<PathBuf> = directory
        .ancestors()
        .take_while(|d| !d.as_os_str().is_empty() && !d.exists())
        .map(Path::to_owned)
        .collect();
    fs::create_dir_all(directory)?;
    Ok(missing.into_iter().rev().collect())
}

/// Files on their way into place.
#[derive(Debug, Default)]
struct Set {
    waiting: Vec<Waiting>,
}

#[derive(Debug)]
struct Waiting {
    target: PathBuf,
    new: PathBuf,
    old: Option<PathBuf>,
    moved: bool,
}

impl Set {
    fn prepare(&mut self, target: &Path, bytes: &[u8]) -> Result<(), Box<Diagnostic>> {
        if target.is_dir() {
            return Err(Box::new(errors::unwritable(&target.to_string_lossy(), "a directory stands there")));
        }
        let new = beside(target, "new");
        self.waiting.push(Waiting { target: target.to_owned(), new: new.clone(), old: None, moved: false });
        let mut file = fs::File::create(&new).map_err(|e| fault(target, &e))?;
        file.write_all(bytes).and_then(|()| file.sync_all()).map_err(|e| fault(target, &e))
    }

    fn move_in(&mut self) -> Result<(), Box<Diagnostic>> {
        for file in &mut self.waiting {
            if file.target.exists() {
                let old = beside(&file.target, "old");
                let _ = fs::remove_file(&old);
                fs::hard_link(&file.target, &old)
                    .or_else(|_| fs::copy(&file.target, &old).map(|_| ()))
                    .map_err(|e| fault(&file.target, &e))?;
                file.old = Some(old);
            }
            fs::rename(&file.new, &file.target).map_err(|e| fault(&file.target, &e))?;
            file.moved = true;
        }
        Ok(())
    }

    /// Puts everything back as it was, as far as the disk lets us.
    fn undo(&self) {
        for file in &self.waiting {
            let _ = fs::remove_file(&file.new);
            match (&file.old, file.moved) {
                (Some(old), true) => drop(fs::rename(old, &file.target)),
                (Some(old), false) => drop(fs::remove_file(old)),
                (None, true) => drop(fs::remove_file(&file.target)),
                (None, false) => {}
            }
        }
    }

    fn clean(&self) {
        for old in self.waiting.iter().filter_map(|file| file.old.as_ref()) {
            let _ = fs::remove_file(old);
        }
    }
}

/// A hidden name in the same directory, so that moving is one step.
fn beside(target: &Path, suffix: &str) -> PathBuf {
    let name = target.file_name().and_then(|n| n.to_str()).unwrap_or_default();
    target.with_file_name(format!(".{name}.{}.{suffix}", std::process::id()))
}

fn fault(path: &Path, fault: &io::Error) -> Box<Diagnostic> {
    Box::new(errors::unwritable(&path.to_string_lossy(), &fault.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An empty directory of its own.
    fn place(name: &str) -> PathBuf {
        let place = std::env::temp_dir().join(format!("borewright-disk-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&place);
        fs::create_dir_all(&place).unwrap();
        place
    }

    fn names(place: &Path) -> Vec<String> {
        let mut names: Vec<String> =
            fs::read_dir(place).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    fn file(name: &str, text: &str) -> (String, Vec<u8>) {
        (name.to_owned(), text.as_bytes().to_owned())
    }

    #[test]
    fn a_set_of_files_is_written_and_replaces_what_stood_there() {
        let place = place("whole");
        fs::write(place.join("a.nc"), "old").unwrap();
        write_all(&place, &[file("a.nc", "new"), file("b.nc", "b")]).unwrap();
        assert_eq!(fs::read_to_string(place.join("a.nc")).unwrap(), "new");
        assert_eq!(names(&place), ["a.nc", "b.nc"]);
    }

    #[test]
    fn when_one_file_of_a_set_cannot_be_written_nothing_is_changed() {
        let place = place("none");
        fs::write(place.join("a.nc"), "old").unwrap();
        fs::create_dir(place.join("b.nc")).unwrap();
        let fault = write_all(&place, &[file("a.nc", "new"), file("b.nc", "b")]).unwrap_err();
        assert_eq!(fault.code, errors::UNWRITABLE_PATH);
        assert_eq!(fs::read_to_string(place.join("a.nc")).unwrap(), "old");
        assert_eq!(names(&place), ["a.nc", "b.nc"]);
    }

    #[test]
    fn directories_made_for_a_set_that_fails_are_taken_away_again() {
        let place = place("made");
        let fault = write_all(&place.join("x/y"), &[file("n/one.nc", "a")]).unwrap_err();
        assert_eq!(fault.code, errors::UNWRITABLE_PATH);
        assert_eq!(names(&place), Vec::<String>::new());
    }

    #[test]
    fn a_file_moved_in_before_the_failure_is_put_back() {
        let place = place("back");
        fs::write(place.join("a.nc"), "old").unwrap();
        let mut set = Set::default();
        set.prepare(&place.join("a.nc"), b"new").unwrap();
        set.prepare(&place.join("b.nc"), b"b").unwrap();
        fs::remove_file(&set.waiting[1].new).unwrap(); // the disk loses the second
        assert!(set.move_in().is_err());
        assert_eq!(fs::read_to_string(place.join("a.nc")).unwrap(), "new");
        set.undo();
        assert_eq!(fs::read_to_string(place.join("a.nc")).unwrap(), "old");
        assert_eq!(names(&place), ["a.nc"]);
    }
}
