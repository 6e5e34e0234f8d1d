//! `check PATH…`: types and proves everything at and below the paths.

use borewright_driver::render::{human, json, summary};
use borewright_driver::{dump, errors};

use crate::args::{Check, Dump, Format};
use crate::disk::Disk;
use crate::terminal::Terminal;

pub fn check(options: &Check, terminal: Terminal) -> u8 {
    if let Some(step) = options.dump {
        return show(options, step, terminal);
    }
    let report = borewright_driver::check(&Disk::new(), &options.paths);
    match options.format {
        Format::Human => {
            terminal.tell(&human::findings(&report.found, &report.sources, terminal.look()));
            terminal.result(&summary::check(&report, terminal.look()));
        }
        Format::Json => terminal.result(&json::text(&json::check(&report))),
    }
    errors::status(&report.found)
}

fn show(options: &Check, step: Dump, terminal: Terminal) -> u8 {
    let step = match step {
        Dump::Tokens => dump::Step::Tokens,
        Dump::Ast => dump::Step::Ast,
        Dump::Routine => dump::Step::Routine,
        Dump::Motion => dump::Step::Motion,
        Dump::Goals => dump::Step::Goals,
    };
    let (text, found, sources) = dump::dump(&Disk::new(), &options.paths, step);
    terminal.tell(&human::findings(&found, &sources, terminal.look()));
    terminal.result(&text);
    errors::status(&found)
}
