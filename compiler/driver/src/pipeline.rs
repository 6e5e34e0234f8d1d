//! The way of a routine, top to bottom.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use borewright_base::{Diagnostic, Diagnostics, FileId, Severity, SourceMap, Span};
use borewright_motion::Motion;
use borewright_proof::{Proved, Settings, Verdicts};

use crate::host::Host;
use crate::load::{Loaded, load};
use crate::verdicts;

/// What `check` found.
#[derive(Debug)]
pub struct Report {
    /// The texts.
    pub sources: SourceMap,
    /// Everything found, sorted by place.
    pub found: Vec<Diagnostic>,
    /// Every routine and job that could be understood, in the order of the files; those that are only called
    /// from them come first.
    pub routines: Vec<Judged>,
    /// Routines and jobs that were not judged: errors stand in their files, or in those of routines they call.
    pub held: Vec<String>,
}

/// A motion with all that was found about it.
#[derive(Debug)]
pub struct Judged {
    /// The motion.
    pub motion: Arc<Motion>,
    /// Verdicts on its obligations.
    pub verdicts: Verdicts,
    /// Whether it stands in a file that was asked for.
    pub asked: bool,
    /// How long it took.
    pub micros: u64,
}

/// Types and proves everything at and below the paths.
#[must_use]
pub fn check(host: &dyn Host, paths: &[String]) -> Report {
    check_with(host, paths, &Settings::default())
}

/// The same with other settings: further lints, another budget.
#[must_use]
pub fn check_with(host: &dyn Host, paths: &[String], settings: &Settings) -> Report {
    let mut found = Diagnostics::default();
    let loaded = load(host, paths, &mut found); // paths to trees
    let motions = understand(&loaded, &mut found); // trees to motions
    let (motions, held) = hold_back(motions, &found); // what has errors in its text is not worth a proof yet
    let routines = judge(host, &motions, settings, &loaded.asked); // motions to verdicts
    for routine in &routines {
        found.append(verdicts::findings(routine)); // verdicts to findings
    }
    Report { sources: loaded.sources, found: found.into_sorted(), routines, held }
}

/// The motions of all files that were asked for and all that these call, each once, callees before callers.
pub(crate) fn understand(loaded: &Loaded, found: &mut Diagnostics) -> Vec<Arc<Motion>> {
    let mut motions: Vec<Arc<Motion>> = Vec::new();
    for file in &loaded.asked {
        let Some(tree) = loaded.tree(*file) else { continue };
        let (checked, faults) = borewright_check::check(tree, *file, &loaded.beside(*file));
        found.append(faults);
        let (own, faults) = borewright_lower::lower(&checked);
        found.append(faults);
        for motion in borewright_lower::called(&own).into_iter().chain(own) {
            if !motions.iter().any(|known| known.span == motion.span) {
                motions.push(motion);
            }
        }
    }
    motions
}

/// Parts off the motions of files that have errors, and what calls those: a proof of half a text would say too
/// little, or complain of what the text does not mean to say. Their names come second.
pub(crate) fn hold_back(motions: Vec<Arc<Motion>>, found: &Diagnostics) -> (Vec<Arc<Motion>>, Vec<String>) {
    let is_error = |d: &&Diagnostic| d.severity == Severity::Error;
    let faulty: BTreeSet<FileId> = found.iter().filter(is_error).filter_map(|d| Some(d.span?.file)).collect();
    let is_clean = |motion: &Arc<Motion>| {
        let called = borewright_lower::called(std::slice::from_ref(motion));
        called.iter().chain([motion]).all(|m| !faulty.contains(&m.span.file))
    };
    let (clean, held): (Vec<_>, Vec<_>) = motions.into_iter().partition(is_clean);
    (clean, held.iter().map(|motion| motion.name.clone()).collect())
}

/// Verdicts on motions, in their order. What calls another waits for it; else they are proved side by side.
pub(crate) fn judge(
    host: &dyn Host,
    motions: &[Arc<Motion>],
    settings: &Settings,
    asked: &[FileId],
) -> Vec<Judged> {
    let mut done: Vec<Judged> = Vec::new();
    let mut waiting: Vec<&Arc<Motion>> = motions.iter().collect();
    while !waiting.is_empty() {
        let is_ready = |motion: &&Arc<Motion>| {
            let called = borewright_lower::called(std::slice::from_ref(*motion));
            !called.iter().any(|callee| waiting.iter().any(|w| w.span == callee.span))
        };
        let (ready, rest): (Vec<_>, Vec<_>) = waiting.iter().copied().partition(is_ready);
        // Routines never call each other in a circle: the checker has seen to that.
        let (ready, rest) = if ready.is_empty() { (rest, ready) } else { (ready, rest) };
        let proved: Vec<&Proved<Motion>> = done.iter().filter_map(|j| j.verdicts.proved.as_ref()).collect();
        let judged = side_by_side(&ready, |motion| {
            let start = host.micros();
            let asked = asked.contains(&motion.span.file);
            let mut verdicts = borewright_proof::settle_timed(motion, &proved, settings, &|| host.micros());
            let micros = host.micros().saturating_sub(start);
            if asked || verdicts.proved.is_none() {
                borewright_proof::review(motion, &mut verdicts, settings); // verdicts to suggestions and remarks
            }
            Judged { motion: Arc::clone(motion), verdicts, asked, micros }
        });
        done.extend(judged);
        waiting = rest;
    }
    done.sort_by_key(|judged| place(motions, judged.motion.span));
    done
}

fn place(motions: &[Arc<Motion>], span: Span) -> Option<usize> {
    motions.iter().position(|motion| motion.span == span)
}

/// A proof walks deep expressions.
const STACK: usize = 64 * 1024 * 1024;

/// Does the work on each item, on as many threads as the machine has cores; the results are in the items' order.
pub(crate) fn side_by_side<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let results = Mutex::new(Vec::with_capacity(items.len()));
    let take_turns = || {
        while let Some((index, item)) = numbered(items, next.fetch_add(1, Ordering::Relaxed)) {
            let result = work(item);
            results.lock().unwrap_or_else(PoisonError::into_inner).push((index, result));
        }
    };
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 1..cores.min(items.len()) {
            // Where no thread is to be had, this one does the work alone.
            drop(std::thread::Builder::new().stack_size(STACK).spawn_scoped(scope, take_turns));
        }
        take_turns();
    });
    let mut results = results.into_inner().unwrap_or_else(PoisonError::into_inner);
    results.sort_by_key(|(index, _)| *index);
    results.into_iter().map(|(_, result)| result).collect()
}

fn numbered<T>(items: &[T], index: usize) -> Option<(usize, &T)> {
    items.get(index).map(|item| (index, item))
}
