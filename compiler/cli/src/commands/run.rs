//! `run FILE.nc`: what the virtual controller does with a program.

use borewright_driver::render::{human, json};
use borewright_driver::{RunOrder, run as run_program};

use crate::args::{Run, TraceFormat};
use crate::disk::Disk;
use crate::terminal::Terminal;

pub fn run(options: Run, terminal: Terminal) -> u8 {
    let Run { file, machine, call, set, offset, with, format } = options;
    let ran = run_program(&Disk::new(), &RunOrder { file, machine, call, set, offset, with });
    if format != TraceFormat::Json {
        terminal.tell(&human::findings(&ran.found, &ran.sources, terminal.look()));
    }
    let text = match (format, &ran.trace) {
        (TraceFormat::Json, _) => json::text(&json::run(&ran)),
        (TraceFormat::Human, Some(trace)) => trace.to_table(),
        (TraceFormat::Csv, Some(trace)) => trace.to_csv(),
        (TraceFormat::Human | TraceFormat::Csv, None) => String::new(),
    };
    terminal.result(&text);
    ran.status()
}
