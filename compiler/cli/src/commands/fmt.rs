//! `fmt PATH…`: brings source texts into their canonical form, in place.

use borewright_driver::render::human;
use borewright_driver::{errors, format};

use crate::args::Fmt;
use crate::disk::{Disk, replace};
use crate::terminal::Terminal;

pub fn fmt(options: &Fmt, terminal: Terminal) -> u8 {
    let mut formatted = format(&Disk::new(), &options.paths);
    let mut unformatted = false;
    for (path, text) in &formatted.changed {
        if options.check {
            unformatted = true;
            terminal.result(&format!("not formatted: {path}\n"));
        } else {
            match replace(path, text.as_bytes()) {
                Ok(()) => terminal.result(&format!("formatted {path}\n")),
                Err(fault) => formatted.found.push(*fault),
            }
        }
    }
    terminal.tell(&human::findings(&formatted.found, &formatted.sources, terminal.look()));
    errors::status(&formatted.found).max(u8::from(unformatted))
}
