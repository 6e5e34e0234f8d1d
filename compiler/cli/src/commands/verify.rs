//! `verify DIR --against PATH…`: rechecks certificates against the source, without the prover.

use borewright_driver::errors;
use borewright_driver::render::{human, json, summary};

use crate::args::{Format, Verify};
use crate::disk::Disk;
use crate::terminal::Terminal;

pub fn verify(options: &Verify, terminal: Terminal) -> u8 {
    let verified = borewright_driver::verify(&Disk::new(), &options.directory, &options.against);
    match options.format {
        Format::Human => {
            terminal.tell(&human::findings(&verified.found, &verified.sources, terminal.look()));
            terminal.result(&summary::verification(&verified, terminal.look()));
        }
        Format::Json => terminal.result(&json::text(&json::verification(&verified))),
    }
    errors::status(&verified.found)
}
