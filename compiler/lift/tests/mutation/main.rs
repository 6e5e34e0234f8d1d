//! Edits of emitted macros, one token each: whatever changes what the virtual controller does at any of many
//! argument sets must be caught by agreement, and little else.

#[path = "../common/mod.rs"]
mod common;
mod edits;
mod random;
mod sampling;

use std::collections::BTreeSet;
use std::sync::Arc;

use borewright_base::FileId;
use borewright_emit::{EmittedFile, Form};
use borewright_machine::Machine;
use borewright_motion::Motion;
use borewright_proof::Formula;
use borewright_runtime::{Controller, Program, conform, read};
use random::Random;
use sampling::{Call, Field, Sizes, behaviour, bore, calls, controllers, edges, pattern, thread};

/// A macro, and what it does at many calls.
struct Subject {
    name: &'static str,
    motion: Arc<Motion>,
    machine: Machine,
    controllers: [(u32, Controller); 3],
    file: EmittedFile,
    program: Program,
    proved: Vec<Formula>,
    calls: Vec<Call>,
    normal: Vec<String>,
    /// Admitted calls with every letter.
    bases: Vec<Call>,
    /// Calls at the edges of the text as it was written, and what it does there.
    edges: Vec<(Call, String)>,
}

fn subject((name, machine): (&'static str, &str), sizes: fn(&mut Random) -> Sizes, sets: usize) -> Subject {
    let (motion, machine) = (common::routine(name), common::machine(machine));
    let file = common::emitted(&motion, &machine, Form::Macro, &common::settings(1100)).remove(0);
    let proved = common::disagreement(&file.text, &motion, &machine, &file.interface, &[]).unwrap();
    let field = Field { motion: &motion, inch: machine.inch(), sizes };
    let calls = calls(field, sets, &mut Random(0x5eed));
    let controllers = controllers(&machine);
    let (program, found) = read(FileId(1), &file.text);
    assert!(!found.has_errors());
    let normal: Vec<String> = calls.iter().map(|c| behaviour(&program, &controllers, c)).collect();
    let moves = |b: &str| !b.contains("alarm") && !b.contains("error");
    let moving = normal.iter().filter(|b| moves(b)).count();
    let whole = |(call, b): &(&Call, &String)| moves(b) && call.is_whole(&motion);
    let bases: Vec<Call> = calls.iter().zip(&normal).filter(whole).map(|(c, _)| c.clone()).take(2).collect();
    let edges = edges(&file.text, &motion, &machine, &bases).into_iter();
    let edges: Vec<_> = edges.map(|call| (call.clone(), behaviour(&program, &controllers, &call))).collect();
    println!("{name}: {moving} of {sets} argument sets are admitted; {} more at edges", edges.len());
    Subject { name, motion, machine, controllers, file, program, proved, calls, normal, bases, edges }
}

/// What an edited text does.
enum Change {
    /// Something else at a call.
    At(String),
    /// Something else only within a hair of an edge, which guards may decide either way.
    Hair(String),
    None,
}

impl Subject {
    /// Whether an edited text does something else at any call.
    fn change(&self, text: &str) -> Change {
        let (program, found) = read(FileId(1), text);
        let (_, plain) = &self.controllers[0];
        if found.has_errors() || conform(&program, plain).has_errors() {
            return Change::At("cannot be read".to_owned());
        }
        let mut both = self.calls.iter().zip(&self.normal);
        let found = both.find(|(call, normal)| behaviour(&program, &self.controllers, call) != **normal);
        if let Some((call, _)) = found {
            return Change::At(call.shown());
        }
        let normal = |call: Call| {
            let normal = behaviour(&self.program, &self.controllers, &call);
            (call, normal)
        };
        let more = edges(text, &self.motion, &self.machine, &self.bases).into_iter();
        let more: Vec<_> = more.filter(|c| !self.edges.iter().any(|(e, _)| e == c)).map(normal).collect();
        let both = self.edges.iter().chain(&more);
        let both = both.filter(|(call, normal)| behaviour(&program, &self.controllers, call) != *normal);
        let found: Vec<&Call> = both.map(|(call, _)| call).collect();
        match (found.iter().find(|call| call.is_coarse()), found.first()) {
            (Some(call), _) => Change::At(call.shown()),
            (None, Some(call)) => Change::Hair(call.shown()),
            (None, None) => Change::None,
        }
    }

    fn caught(&self, text: &str) -> Option<String> {
        let Self { motion, machine, file, proved, .. } = self;
        common::disagreement(text, motion, machine, &file.interface, proved).err()
    }
}

/// What became of edits.
#[derive(Default)]
struct Tally {
    edits: usize,
    changing: usize,
    caught: usize,
    /// Changes within a hair of an edge, and how many of them were caught.
    hair: (usize, usize),
    silent: usize,
    missed: Vec<String>,
    flagged: Vec<String>,
}

impl Tally {
    fn add(&mut self, subject: &Subject, (text, what): &edits::Edit) {
        let found = subject.caught(text);
        self.edits += 1;
        let name = subject.name;
        match (subject.change(text), found) {
            (Change::At(_), Some(_)) => (self.changing, self.caught) = (self.changing + 1, self.caught + 1),
            (Change::At(call), None) => {
                self.changing += 1;
                self.missed.push(format!("{name}: {what}\n    at {call}"));
            }
            (Change::Hair(call), found) => {
                println!("a hair: {name}: {what}: {}\n    at {call}", found.is_some());
                self.hair = (self.hair.0 + 1, self.hair.1 + usize::from(found.is_some()));
            }
            (Change::None, Some(why)) => {
                self.silent += 1;
                self.flagged.push(format!("{name}: {what}\n    {why}"));
            }
            (Change::None, None) => self.silent += 1,
        }
    }

    fn show(&self, what: &str) {
        let Self { edits, changing, caught, hair, silent, missed, flagged } = self;
        println!("{what}: {edits} edits: {changing} change something, {caught} of them caught");
        println!("{} change something within a hair of an edge only, {} of them caught", hair.0, hair.1);
        println!("{silent} change nothing, {} of them flagged", flagged.len());
        println!("missed:\n{}\nflagged:\n{}", missed.join("\n"), flagged.join("\n"));
    }
}

/// Edits of one macro: whatever changes anything is caught, and at most one in twenty of the others is flagged.
fn held(of: (&'static str, &str), sizes: fn(&mut Random) -> Sizes) {
    let full = std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1");
    let (tokens, quiet) = if full { (200, 48) } else { (17, 12) };
    let mut random = Random(20_261_125);
    let (mut random_edits, mut quiet_edits) = (Tally::default(), Tally::default());
    let subject = subject(of, sizes, 1000);
    let mut done = BTreeSet::new();
    while done.len() < tokens {
        let Some(edit) = edits::token(&subject.file.text, &mut random) else { continue };
        if done.insert(edit.1.clone()) {
            random_edits.add(&subject, &edit);
        }
    }
    for kind in 0..quiet {
        if let Some(edit) = edits::quiet(&subject.file.text, kind % edits::QUIET, &mut random) {
            quiet_edits.add(&subject, &edit);
        }
    }
    random_edits.show("random edits of one token");
    quiet_edits.show("edits that should change nothing");
    assert!(random_edits.missed.is_empty(), "{:#?}", random_edits.missed);
    assert_eq!(quiet_edits.changing, 0, "an edit that should change nothing changes something");
    let flagged = random_edits.flagged.len() + quiet_edits.flagged.len();
    let silent = random_edits.silent + quiet_edits.silent;
    assert!(flagged <= silent.div_ceil(20), "{flagged} of {silent} that change nothing are flagged");
}

#[test]
fn edits_of_a_bore_with_quarter_circles_are_caught_where_they_change_anything() {
    held(("finish_bore", "hash-mm"), bore);
}

#[test]
fn edits_of_a_bore_with_half_circles_are_caught_where_they_change_anything() {
    held(("finish_bore_half", "hash-mm"), bore);
}

#[test]
fn edits_of_a_bore_with_straight_ways_are_caught_where_they_change_anything() {
    held(("finish_bore_straight", "hash-mm"), bore);
}

#[test]
fn edits_of_a_bore_in_inches_are_caught_where_they_change_anything() {
    held(("finish_bore", "hash-inch"), bore);
}

#[test]
fn edits_of_a_thread_are_caught_where_they_change_anything() {
    held(("thread_hole", "hash-mm"), thread);
}

#[test]
fn edits_of_a_thread_in_inches_are_caught_where_they_change_anything() {
    held(("thread_hole", "hash-inch"), thread);
}

#[test]
fn edits_of_a_pattern_are_caught_where_they_change_anything() {
    held(("hole_arc", "hash-mm"), pattern);
}
