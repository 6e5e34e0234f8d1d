//! `explain CODE`: the page of a diagnostic, by code or by name.

use borewright_driver::codes;
use borewright_driver::render::json;

use crate::args::{Explain, Format};
use crate::terminal::Terminal;

pub fn explain(options: &Explain, terminal: Terminal) -> u8 {
    let Some(asked) = &options.code else { return list(options.format, terminal) };
    match codes::find(asked) {
        Ok(code) => {
            terminal.result(&match options.format {
                Format::Human => code.page.to_owned(),
                Format::Json => json::text(&json::page(code)),
            });
            0
        }
        Err(fault) => super::refused(*fault, options.format, terminal),
    }
}

fn list(format: Format, terminal: Terminal) -> u8 {
    let codes = codes::all();
    terminal.result(&match format {
        Format::Human => codes.iter().map(|c| format!("{}  {}\n", c.number, c.name)).collect(),
        Format::Json => json::text(&codes.into_iter().map(json::page).collect::<Vec<_>>()),
    });
    0
}
