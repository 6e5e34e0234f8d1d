//! From the manifest of a build, the source and the texts that were written to everything that must hold of the texts.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use borewright_base::{Diagnostic, Diagnostics};
use borewright_emit::interfaces;
use borewright_machine::Machine;
use borewright_motion::Motion;
use borewright_proof::{Limits, Obligation, agree};

use crate::agreement::{Written, is_by_itself, lifted, not_followed, with};
use crate::build::{emission, needed, settings};
use crate::certificates::{Order, Text, of_text, sha256};
use crate::host::{Host, Place};
use crate::load::Loaded;
use crate::{errors, machines, setting};

/// A build as its manifest tells it, with the texts as they are now.
pub(crate) struct Rebuilt<'a> {
    order: &'a Order,
    /// The routines and jobs that were built.
    chosen: Vec<Arc<Motion>>,
    machine: Option<Machine>,
    values: setting::Values,
    /// By file name.
    texts: BTreeMap<&'a str, String>,
}

/// Whether a path is that of a text rather than of a source.
pub(crate) fn is_text(path: &str) -> bool {
    last(path).rsplit_once('.').is_some_and(|(_, extension)| extension == "nc")
}

/// The last part of a path.
fn last(path: &str) -> &str {
    path.rsplit('/').next().unwrap_or(path)
}

impl<'a> Rebuilt<'a> {
    /// Finds the machine, the routines and the texts of a build at and below the paths.
    pub(crate) fn read(
        host: &dyn Host,
        order: &'a Order,
        paths: &[String],
        motions: &[Arc<Motion>],
        loaded: &mut Loaded,
        found: &mut Diagnostics,
    ) -> Self {
        let file = paths.iter().find(|path| last(path) == last(&order.file)).unwrap_or(&order.file);
        let machine = machines::find_beside(host, &order.machine, file, &mut loaded.sources, found);
        let is_chosen = |motion: &&Arc<Motion>| {
            let source = loaded.sources.file(motion.span.file).map_or("", |source| source.name.as_str());
            let own = loaded.asked.contains(&motion.span.file) && last(source) == last(&order.file);
            own && (order.routines.is_empty() || order.routines.contains(&motion.name))
        };
        let chosen: Vec<Arc<Motion>> = motions.iter().filter(is_chosen).cloned().collect();
        let whole: Vec<&Motion> = chosen.iter().map(|motion| &**motion).collect();
        let values = setting::read(&order.set, &whole).unwrap_or_else(|faults| {
            for fault in faults {
                let _said = found.report(fault);
            }
            setting::Values::new()
        });
        let mut texts = BTreeMap::new();
        for text in &order.texts {
            match fetch(host, text, paths) {
                Ok(now) => drop(texts.insert(text.file.as_str(), now)),
                Err(fault) => {
                    let _said = found.report(*fault);
                }
            }
        }
        Self { order, chosen, machine, values, texts }
    }

    /// What was built and all that it calls.
    pub(crate) fn motions(&self) -> Vec<Arc<Motion>> {
        needed(&self.chosen)
    }

    /// The limits under which the motions were proved.
    pub(crate) fn limits(&self) -> Limits {
        settings(self.machine.as_ref(), self.order.form.into()).limits
    }

    /// Every obligation of agreement of every text, by the names that they have in the manifest.
    pub(crate) fn obligations(&self, motions: &[Arc<Motion>], found: &mut Diagnostics) -> Vec<Obligation> {
        let Some(machine) = &self.machine else { return Vec::new() };
        let mut done = BTreeSet::new();
        let mut obligations = Vec::new();
        for motion in self.chosen.iter().filter(|chosen| motions.iter().any(|m| m.span == chosen.span)) {
            let settings = emission(motion, &self.values);
            let files = match interfaces(motion, machine, self.order.form.into(), &settings) {
                Ok(files) => files,
                Err(faults) => {
                    found.append(faults);
                    continue;
                }
            };
            let mut written = Vec::new();
            for (name, interface) in &files {
                match self.texts.get(name.as_str()) {
                    Some(text) => written.push(Written { name, text, interface }),
                    None if self.order.texts.iter().any(|text| text.file == *name) => {}
                    None => {
                        let why = "the manifest does not name it";
                        let _said = found.report(errors::text_not_as_built(name, why));
                    }
                }
            }
            // Without one of its programs a job cannot be followed; which one it is has been said.
            if written.len() == files.len() {
                for (file, with) in
                    each(&written).into_iter().filter(|(file, _)| done.insert(file.name.to_owned()))
                {
                    match of_one(motions, file, with, machine) {
                        Ok(all) => obligations.extend(all),
                        Err(fault) => {
                            let _said = found.report(*fault);
                        }
                    }
                }
            }
        }
        obligations
    }
}

/// The texts of a motion that have obligations, each with those that it runs together with.
fn each<'w>(written: &[Written<'w>]) -> Vec<(Written<'w>, Vec<String>)> {
    let Some((main, others)) = written.split_first() else { return Vec::new() };
    let own = others.iter().filter(|file| is_by_itself(**file)).map(|file| (*file, Vec::new()));
    std::iter::once((*main, with(others))).chain(own).collect()
}

fn of_one(
    motions: &[Arc<Motion>],
    file: Written<'_>,
    with: Vec<String>,
    machine: &Machine,
) -> Result<Vec<Obligation>, Box<Diagnostic>> {
    let Some(motion) = motions.iter().find(|motion| motion.span == file.interface.of) else {
        return Err(Box::new(errors::text_not_as_built(file.name, "the routine that it is of is not here")));
    };
    let lifted = lifted(motion, file, with, machine)
        .map_err(|reason| Box::new(errors::text_not_as_built(file.name, &not_followed(file, &reason))))?;
    let named = |o: Obligation| Obligation { id: of_text(file.name, &o.id), ..o };
    Ok(agree(motion, &lifted, machine, file.interface).into_iter().map(named).collect())
}

/// The text as it is now: at one of the paths or in one of the directories. It must be the one that was written.
fn fetch(host: &dyn Host, text: &Text, paths: &[String]) -> Result<String, Box<Diagnostic>> {
    let fault = |why: &str| Box::new(errors::text_not_as_built(&text.file, why));
    if text.file.contains(['/', '\\']) {
        return Err(fault("its name leads elsewhere"));
    }
    let candidate = |path: &String| match host.look(path) {
        Ok(Place::File) => (last(path) == text.file).then(|| path.clone()),
        Ok(Place::Directory(names)) => {
            names.contains(&text.file).then(|| format!("{}/{}", path.trim_end_matches('/'), text.file))
        }
        Err(_) => None,
    };
    let path = paths.iter().find_map(candidate).ok_or_else(|| fault("it is at none of the paths"))?;
    let bytes = host.read(&path).map_err(|_| fault("it cannot be read"))?;
    if sha256(&bytes) != text.sha256 {
        return Err(fault("its bytes are not those that were written"));
    }
    String::from_utf8(bytes).map_err(|_| fault("it is not UTF-8"))
}
