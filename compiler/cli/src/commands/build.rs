//! `build FILE`: writes programs for a machine, only when all is proved, and all of them or none.

use std::path::Path;

use borewright_driver::render::{human, json, summary};
use borewright_driver::{BuildOrder, Built, certificates, errors};

use crate::args::{Build, Form, Format};
use crate::disk::{Disk, write_all};
use crate::terminal::Terminal;

pub fn build(options: Build, terminal: Terminal) -> u8 {
    let form = match options.form {
        Form::Macro => borewright_driver::Form::Macro,
        Form::Blocks => borewright_driver::Form::Blocks,
    };
    let Build { file, machine, routine: routines, set, out, certificate, format, .. } = options;
    let order = BuildOrder { file, form, machine, routines, set };
    let mut built = borewright_driver::build(&Disk::new(), &order);
    certify(&mut built, &order, certificate.as_deref());
    let paths = write(&mut built, &out);
    match format {
        Format::Json => terminal.result(&json::text(&json::build(&built, &paths))),
        Format::Human => {
            terminal.tell(&human::findings(&built.found, &built.sources, terminal.look()));
            terminal.result(&summary::build(&built, &paths, terminal.look()));
        }
    }
    errors::status(&built.found)
}

/// Writes the certificates, where they are asked for; where that fails, the build has no programs.
fn certify(built: &mut Built, order: &BuildOrder, directory: Option<&str>) {
    let Some(directory) = directory.filter(|_| !built.programs.is_empty()) else { return };
    if let Err(fault) = write_all(Path::new(directory), &certificates::of_build(built, order)) {
        built.programs.clear();
        built.found.push(*fault);
    }
}

/// Writes the programs; where that fails, the build has none. The paths, in their order.
fn write(built: &mut Built, out: &str) -> Vec<String> {
    if built.programs.is_empty() {
        return Vec::new();
    }
    let files: Vec<(String, Vec<u8>)> =
        built.programs.iter().map(|p| (p.file.name.clone(), p.text.get().clone().into_bytes())).collect();
    match write_all(Path::new(out), &files) {
        Ok(()) => {
            files.iter().map(|(name, _)| Path::new(out).join(name).to_string_lossy().into_owned()).collect()
        }
        Err(fault) => {
            built.programs.clear();
            built.found.push(*fault);
            Vec::new()
        }
    }
}
