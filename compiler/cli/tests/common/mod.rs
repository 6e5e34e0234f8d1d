//! A directory of its own for each test, with the bundled library and the samples in it, and the command run there.
#![allow(dead_code, clippy::disallowed_methods)] // each test file uses a part; tests may touch files

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

pub struct Place {
    pub path: PathBuf,
}

pub struct Outcome {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl Place {
    /// An empty directory but for `stdlib` and `samples`.
    pub fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        for directory in ["stdlib", "samples"] {
            fs::create_dir(path.join(directory)).unwrap();
            for entry in fs::read_dir(root.join(directory)).unwrap() {
                let from = entry.unwrap().path();
                if from.extension().is_some_and(|e| e == "bore") {
                    fs::copy(&from, path.join(directory).join(from.file_name().unwrap())).unwrap();
                }
            }
        }
        Self { path }
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> &Self {
        let path = self.path.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
        self
    }

    pub fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path.join(name)).unwrap()
    }

    /// Names of all files below, sorted, but for `stdlib` and `samples`.
    pub fn files(&self) -> Vec<String> {
        let mut found = Vec::new();
        let mut open = vec![self.path.clone()];
        while let Some(directory) = open.pop() {
            for entry in fs::read_dir(directory).unwrap() {
                let path = entry.unwrap().path();
                let name = path.strip_prefix(&self.path).unwrap().to_str().unwrap().to_owned();
                if path.is_dir() {
                    open.push(path);
                } else if !name.starts_with("stdlib/") && !name.starts_with("samples/") {
                    found.push(name);
                }
            }
        }
        found.sort();
        found
    }

    pub fn run(&self, arguments: &[&str]) -> Outcome {
        let output = Command::new(env!("CARGO_BIN_EXE_borewright"))
            .args(arguments)
            .current_dir(&self.path)
            .env("NO_COLOR", "1")
            .output()
            .unwrap();
        Outcome {
            status: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Runs a command line as a page shows it: words apart by blanks, a quoted one whole.
    pub fn run_line(&self, line: &str, more: &[&str]) -> Outcome {
        let mut words: Vec<String> = vec![String::new()];
        let mut quoted = false;
        for c in line.trim().chars() {
            match c {
                '"' => quoted = !quoted,
                ' ' if !quoted => words.push(String::new()),
                c => words.last_mut().unwrap().push(c),
            }
        }
        assert_eq!(words[0], "borewright", "{line}");
        let mut words: Vec<&str> = words[1..].iter().map(String::as_str).collect();
        words.extend(more);
        self.run(&words)
    }
}

impl Outcome {
    /// Standard output as JSON; standard error must be empty.
    pub fn json(&self) -> Value {
        assert_eq!(self.err, "", "nothing but JSON on standard output, nothing on standard error");
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {}", self.out))
    }

    /// The codes in a JSON report, in order.
    pub fn codes(&self) -> Vec<String> {
        let report = self.json();
        let found = report["diagnostics"].as_array().or_else(|| report["errors"].as_array()).unwrap().clone();
        found.iter().map(|d| d["code"].as_str().unwrap().to_owned()).collect()
    }
}
