//! `machines [NAME]`: the built-in machines, or the text of one; the path of a machine file has it judged.
//! `machines --schema`: what a machine file may say, as a JSON schema.

use borewright_base::Diagnostics;
use borewright_driver::render::{human, json};
use borewright_driver::{SourceMap, errors, machines as known};

use crate::args::{Format, Machines};
use crate::disk::Disk;
use crate::terminal::Terminal;

pub fn machines(options: &Machines, terminal: Terminal) -> u8 {
    if options.schema {
        terminal.result(&known::schema());
        return 0;
    }
    match &options.name {
        None => list(options.format, terminal),
        Some(name) => one(name, options.format, terminal),
    }
}

fn list(format: Format, terminal: Terminal) -> u8 {
    let machines = known::built_in();
    terminal.result(&match format {
        Format::Human => machines.iter().map(|(name, summary)| format!("{name:<12}  {summary}\n")).collect(),
        Format::Json => {
            let machine = |(name, summary): (&str, String)| json::Machine {
                name: name.to_owned(),
                summary,
                text: None,
            };
            report(machines.into_iter().map(machine).collect(), Vec::new())
        }
    });
    0
}

fn one(name: &str, format: Format, terminal: Terminal) -> u8 {
    let (mut sources, mut found) = (SourceMap::default(), Diagnostics::default());
    let text = known::text(&Disk::new(), name, &mut sources, &mut found);
    let found = found.into_sorted();
    match format {
        Format::Human => {
            terminal.tell(&human::findings(&found, &sources, terminal.look()));
            terminal.result(&text.unwrap_or_default());
        }
        Format::Json => {
            let machine =
                |text| json::Machine { name: name.to_owned(), summary: String::new(), text: Some(text) };
            terminal
                .result(&report(text.map(machine).into_iter().collect(), json::findings(&found, &sources)));
        }
    }
    errors::status(&found)
}

fn report(machines: Vec<json::Machine>, diagnostics: Vec<json::Finding>) -> String {
    json::text(&json::Machines { version: json::VERSION, machines, diagnostics })
}
