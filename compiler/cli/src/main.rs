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
    match guarded(move || perform(arguments.verb, terminal)) {
        Ok(status) => ExitCode::from(status),
        Err(fault) => {
            let found = [borewright_driver::errors::internal(&fault)];
            terminal.tell(&commands::findings_text(&found, terminal));
            ExitCode::from(3)
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
