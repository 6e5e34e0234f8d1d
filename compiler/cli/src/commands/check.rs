//! `check PATH…`: types and proves everything at and below the paths.

use std::path::Path;

use borewright_driver::render::{human, json, summary};
use borewright_driver::{Lints, Report, Settings, certificates, dump, errors, smt2};

use crate::args::{Check, Dump, Format, Lint};
use crate::disk::{Disk, write_all};
use crate::terminal::Terminal;

pub fn check(options: &Check, terminal: Terminal) -> u8 {
    if let Some(step) = options.dump {
        return show(options, step, terminal);
    }
    let lints = Lints { weaker: options.lint.contains(&Lint::Requirements), ..Lints::default() };
    let settings = Settings { lints, ..Settings::default() };
    let mut report = borewright_driver::check_with(&Disk::new(), &options.paths, &settings);
    write(options, &mut report);
    match options.format {
        Format::Human => {
            terminal.tell(&human::findings(&report.found, &report.sources, terminal.look()));
            terminal.result(&summary::check(&report, terminal.look()));
        }
        Format::Json => terminal.result(&json::text(&json::check(&report))),
    }
    errors::status(&report.found)
}

/// Writes what was asked for besides the report; what cannot be written is one more finding.
fn write(options: &Check, report: &mut Report) {
    let certificates = options.certificate.as_ref().map(|to| (to, certificates::certificates(report)));
    let smt2 = options.smt2.as_ref().map(|to| (to, smt2(report)));
    for (directory, files) in certificates.into_iter().chain(smt2) {
        if let Err(fault) = write_all(Path::new(directory), &files) {
            report.found.push(*fault);
        }
    }
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
