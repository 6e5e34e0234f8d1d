//! From the command line to an exit status: the only place with files, a clock and a terminal.
//!
//! Exit status: 0 good; 1 something was found in the content; 2 bad option, unreadable or unwritable path;
//! 3 our own fault.

mod args;
mod commands;
mod disk;
mod terminal;

use std::process::ExitCode;
use std::sync::{Arc, Mutex};

use clap::Parser;

use crate::args::{Arguments, Verb};
use crate::terminal::Terminal;

/// Deep nesting in a source text costs stack; this much is only taken where it is used.
const STACK: usize = 512 * 1024 * 1024;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let terminal = Terminal::new();
    let (status, said) = settled(guarded(move || perform(arguments.verb, terminal)), terminal);
    terminal.tell(&said);
    ExitCode::from(status)
}

/// The exit status, and what is said of a fault of our own.
fn settled(outcome: Result<u8, String>, terminal: Terminal) -> (u8, String) {
    match outcome {
        Ok(status) => (status, String::new()),
        Err(fault) => {
            let found = [borewright_driver::errors::internal(&fault)];
            (borewright_driver::errors::status(&found), commands::findings_text(&found, terminal))
        }
    }
}

fn perform(verb: Verb, terminal: Terminal) -> u8 {
    match verb {
        Verb::Explain(options) => commands::explain::explain(&options, terminal),
        Verb::Completions { shell } => commands::completions(shell, terminal),
        Verb::Machines(options) => commands::machines::machines(&options, terminal),
        Verb::Run(options) => commands::run::run(options, terminal),
        Verb::Verify(options) => commands::verify::verify(&options, terminal),
        Verb::Check(options) => commands::check::check(&options, terminal),
        Verb::Build(options) => commands::build::build(options, terminal),
        Verb::Fmt(options) => commands::fmt::fmt(&options, terminal),
    }
}

/// Runs on a thread with room, and turns a panic into its message and place.
fn guarded(work: impl FnOnce() -> u8 + Send + 'static) -> Result<u8, String> {
    let place = Arc::new(Mutex::new(String::new()));
    let noted = Arc::clone(&place);
    std::panic::set_hook(Box::new(move |panic| {
        if let (Ok(mut noted), Some(at)) = (noted.lock(), panic.location()) {
            *noted = format!("{} ({}:{})", message(panic.payload()), at.file(), at.line());
        }
    }));
    let thread = std::thread::Builder::new().stack_size(STACK).spawn(work).map_err(|e| e.to_string())?;
    thread.join().map_err(|panic| match place.lock() {
        Ok(noted) if !noted.is_empty() => noted.clone(),
        _ => message(panic.as_ref()).to_owned(),
    })
}

fn message(payload: &(dyn std::any::Any + Send)) -> &str {
    let text = payload.downcast_ref::<&str>().copied();
    text.or_else(|| payload.downcast_ref::<String>().map(String::as_str)).unwrap_or("no message")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One test, since the place of a panic is noted for the whole process.
    #[test]
    fn a_panic_becomes_a_finding_and_what_ends_by_itself_says_its_own_status() {
        let outcome = guarded(|| panic!("the tables do not fit"));
        let (status, said) = settled(outcome, Terminal::new());
        assert_eq!(status, 3);
        assert!(said.contains("D0814") && said.contains("the tables do not fit"), "{said}");
        assert!(said.contains("main.rs:"), "the place of the fault is told: {said}");
        assert_eq!(settled(guarded(|| 1), Terminal::new()), (1, String::new()));
    }
}
