//! One file for each verb: options in, exit status out.

pub mod build;
pub mod check;
pub mod explain;
pub mod fmt;
pub mod machines;
pub mod run;
pub mod verify;

use borewright_base::Diagnostic;
use borewright_driver::render::{human, json};
use borewright_driver::{SourceMap, errors};
use clap::CommandFactory as _;

use crate::args::{Arguments, Format};
use crate::terminal::Terminal;

/// Says why nothing was done: on standard error for people, as a report for programs.
pub fn refused(fault: Diagnostic, format: Format, terminal: Terminal) -> u8 {
    let found = [fault];
    match format {
        Format::Human => terminal.tell(&findings_text(&found, terminal)),
        Format::Json => {
            let diagnostics = json::findings(&found, &SourceMap::default());
            terminal.result(&json::text(&json::Findings { version: json::VERSION, diagnostics }));
        }
    }
    errors::status(&found)
}

/// Findings about no text, as people read them.
pub fn findings_text(found: &[Diagnostic], terminal: Terminal) -> String {
    human::findings(found, &SourceMap::default(), terminal.look())
}

/// `completions SHELL`
pub fn completions(shell: clap_complete::Shell, terminal: Terminal) -> u8 {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "borewright", &mut script);
    terminal.result(&String::from_utf8_lossy(&script));
    0
}
