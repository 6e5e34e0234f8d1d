//! Edits of emitted macros, one token each: whatever changes what the virtual controller does at any of many
//! argument sets must be caught by agreement, and little else.

mod common;

use std::collections::BTreeSet;
use std::fmt::Write;

use borewright_base::FileId;
use borewright_emit::{EmittedFile, Form};
use borewright_machine::Machine;
use borewright_motion::Motion;
use borewright_proof::Formula;
use borewright_runtime::step::{Feed, Path};
use borewright_runtime::{Controller, Program, RunOptions, conform, execute, read};

/// Numbers that look random, the same in every run (SplitMix64, from memory).
struct Random(u64);

impl Random {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.bits() % u64::try_from(end.max(1)).unwrap()).unwrap()
    }

    /// Thousandths between two numbers.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        let part = f64::from(u32::try_from(self.bits() % 1_000_001).unwrap()) / 1e6;
        ((low + (high - low) * part) * 1e3).round() / 1e3
    }

    fn one<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        list.get(self.below(list.len()))
    }
}

/// One call of a macro, with the modes before it.
type Call = String;

/// Sizes in mm that are admitted more often than not.
fn sizes(random: &mut Random) -> Vec<(&'static str, f64)> {
    let tool = random.between(2.0, 50.0);
    let pilot = tool + random.between(0.2, 30.0);
    let bore = pilot + random.between(0.01, (2.0 * tool).min(40.0));
    let wall = (bore - tool) / 2.0;
    let depth = random.between(0.1, 120.0);
    let cut = random.between(10.0, 5000.0);
    vec![
        ("bore", bore),
        ("pilot", pilot),
        ("tool", tool),
        ("depth", depth),
        ("stepdown", random.between((depth / 9.0).max(0.1), 120.0)),
        ("start", random.between(-360.0, 360.0)),
        ("lead", random.between(0.2, (0.9 * wall).max(0.21))),
        ("clearance", random.between(1.0, 50.0)),
        ("cut", cut),
        ("plunge", random.between(2.0, 2000.0)),
    ]
}

/// Calls of a macro: admitted, at limits, past them, with arguments left out, under other modes.
fn calls(motion: &Motion, count: usize, random: &mut Random) -> Vec<Call> {
    (0..count).map(|i| call(motion, i % 2 == 0, random)).collect()
}

fn call(motion: &Motion, plain: bool, random: &mut Random) -> Call {
    let mut known = sizes(random);
    if !plain {
        strain(motion, &mut known, random);
    }
    let mut arguments = String::new();
    for parameter in &motion.parameters {
        let Some(letter) = parameter.letter else { continue };
        let found = known.iter().find(|(name, _)| *name == parameter.symbol.name());
        let drawn = random.between(parameter.least.to_f64(), parameter.greatest.to_f64());
        let value = found.map_or(drawn, |(_, v)| *v);
        let left_out = parameter.default.is_some() && random.below(3) == 0;
        let lost = !plain && random.below(40) == 0;
        if value.is_finite() && !left_out && !lost {
            write!(arguments, " {letter}{value:.3}").unwrap();
        }
    }
    for letter in ['X', 'Y'] {
        if random.below(2) == 0 {
            // Now and then at the end of the reach, or past it.
            let far = if random.below(8) == 0 { 800.0 } else { 0.0 };
            let side = if random.below(2) == 0 { 1.0 } else { -1.0 };
            write!(arguments, " {letter}{:.3}", side * (far + random.between(0.0, 1000.0))).unwrap();
        }
    }
    let mut modes = ["G21", "G17", "G90", "G94", "G43 H1"];
    let others = [(0, "G20"), (1, "G18"), (1, "G19"), (2, "G91"), (3, "G93"), (4, "G49")];
    if random.below(if plain { 6 } else { 3 }) == 0
        && let Some((at, other)) = random.one(&others)
        && let Some(mode) = modes.get_mut(*at)
    {
        *mode = other;
    }
    format!("O1\n{}\nG65 P1100{arguments}\n", modes.join(" "))
}

/// Brings one size, or two, to a limit or past it.
fn strain(motion: &Motion, known: &mut [(&'static str, f64)], random: &mut Random) {
    let near = [0.0, 0.001, -0.001, 0.01, -0.01, 0.2, -0.2, 3.0, -3.0];
    let off = *random.one(&near).unwrap();
    let values: Vec<f64> = known.iter().map(|(_, v)| *v).collect();
    let get = |name: &str| known.iter().find(|(n, _)| *n == name).map_or(0.0, |(_, v)| *v);
    let (bore, tool, pilot) = (get("bore"), get("tool"), get("pilot"));
    let limits = [
        ("pilot", tool + 0.2),
        ("pilot", bore),
        ("bore", tool + 0.8),
        ("lead", 0.45 * (bore - tool)),
        ("bore", pilot + 2.0 * tool),
        ("stepdown", get("depth") / 3.0),
    ];
    if random.below(2) == 0 {
        let (name, limit) = *random.one(&limits).unwrap();
        known.iter_mut().filter(|(n, _)| *n == name).for_each(|(_, v)| *v = limit + off);
        return;
    }
    let Some(parameter) = random.one(&motion.parameters) else { return };
    let choices =
        [parameter.least.to_f64() + off, parameter.greatest.to_f64() + off, 0.0, -values.first().unwrap()];
    let value = *random.one(&choices).unwrap();
    known.iter_mut().filter(|(n, _)| *n == parameter.symbol.name()).for_each(|(_, v)| *v = value);
}

/// Everything that a call makes the controller do, as text.
fn behaviour(macro_: &Program, controller: &Controller, call: &str) -> String {
    let (main, _) = read(FileId(0), call);
    let options = RunOptions {
        with: vec![macro_],
        start: Some([3.0, 4.0, 100.0]),
        budget: 20_000,
        ..RunOptions::default()
    };
    let run = execute(&main, controller, &options, |x| x);
    let mut out = String::new();
    let tidy = |v: f64| (v * 1e5).round() / 1e5 + 0.0;
    for m in &run.moves {
        let t = &m.to;
        write!(out, "{:?} {} {} {} ", m.units, tidy(t.x), tidy(t.y), tidy(t.z)).unwrap();
        match &m.path {
            Path::Rapid => out.push('R'),
            Path::Line => out.push('L'),
            Path::Arc(a) => {
                let c = &a.centre;
                write!(out, "A{} {} {} {:?}", a.counterclockwise, tidy(c.x), tidy(c.y), a.plane).unwrap();
            }
        }
        match &m.feed {
            Some(Feed::PerMinute(f) | Feed::InverseTime(f)) => writeln!(out, " F{}", tidy(*f)).unwrap(),
            None => out.push('\n'),
        }
    }
    for e in &run.events {
        writeln!(out, "{:?}", e.kind).unwrap();
    }
    for a in &run.alarms {
        writeln!(out, "alarm {} {}", a.number, a.text).unwrap();
    }
    for e in &run.errors {
        writeln!(out, "error {}", e.diagnostic.code.number).unwrap();
    }
    let r = &run.registers;
    let modes = (r.plane, r.distance, r.feed_mode, r.units, r.compensation, r.length_offset);
    let state = (r.work, r.spindle, r.mist, r.flood, r.return_level, r.path_control, r.overrides);
    writeln!(out, "{modes:?} {state:?}").unwrap();
    out
}

/// One edit of one token; `None` where the draw hits nothing to edit.
fn edit(text: &str, random: &mut Random) -> Option<(String, String)> {
    let lines: Vec<&str> = text.lines().collect();
    let first = lines.iter().position(|l| l.starts_with("(GUARDS"))?;
    let code = |l: &str| !l.starts_with('(') && !l.starts_with('%');
    let places: Vec<usize> =
        (first..lines.len()).filter(|i| lines.get(*i).is_some_and(|l| code(l))).collect();
    let at = *random.one(&places)?;
    let line = *lines.get(at)?;
    let end = line.find('(').unwrap_or(line.len());
    let (head, note) = line.split_at(end);
    let edited = match random.below(5) {
        0 => digit(head, random)?,
        1 => sign(head, random)?,
        2 => variable(head, random)?,
        3 => String::new(),
        _ => comparison(head, random)?,
    };
    let whole = if edited.is_empty() { String::new() } else { format!("{edited}{note}") };
    let mut changed: Vec<&str> = lines.clone();
    *changed.get_mut(at)? = &whole;
    Some((changed.join("\n") + "\n", format!("{line} -> {whole}")))
}

fn replaced(text: &str, at: usize, length: usize, by: &str) -> String {
    format!("{}{by}{}", &text[..at], &text[at + length..])
}

fn digit(head: &str, random: &mut Random) -> Option<String> {
    let digits: Vec<(usize, char)> = head.char_indices().filter(|(_, c)| c.is_ascii_digit()).collect();
    let (at, old) = *random.one(&digits)?;
    let others: Vec<char> = ('0'..='9').filter(|c| *c != old).collect();
    Some(replaced(head, at, 1, &random.one(&others)?.to_string()))
}

fn sign(head: &str, random: &mut Random) -> Option<String> {
    let signs: Vec<(usize, char)> = head.char_indices().filter(|(_, c)| matches!(c, '+' | '-')).collect();
    if let Some((at, old)) = random.one(&signs) {
        return Some(replaced(head, *at, 1, if *old == '+' { "-" } else { "+" }));
    }
    // A minus in front of a value.
    let values: Vec<usize> = head
        .char_indices()
        .filter(|(_, c)| matches!(c, 'X' | 'Y' | 'Z' | 'I' | 'J' | 'F' | '=' | '['))
        .map(|(i, _)| i + 1)
        .collect();
    Some(replaced(head, *random.one(&values)?, 0, "-"))
}

fn variable(head: &str, random: &mut Random) -> Option<String> {
    let marks: Vec<usize> = head.match_indices('#').map(|(i, _)| i + 1).collect();
    let at = *random.one(&marks)?;
    let length = head[at..].chars().take_while(char::is_ascii_digit).count();
    let old = &head[at..at + length];
    let new = (1 + random.below(33)).to_string();
    (new != old).then(|| replaced(head, at, length, &new))
}

fn comparison(head: &str, random: &mut Random) -> Option<String> {
    let words = ["LT", "LE", "GT", "GE", "EQ", "NE"];
    let found: Vec<(usize, &str)> = words
        .iter()
        .flat_map(|w| head.match_indices(&format!(" {w} ")).map(|(i, _)| (i + 1, *w)).collect::<Vec<_>>())
        .collect();
    let (at, old) = *random.one(&found)?;
    let others: Vec<&str> = words.into_iter().filter(|w| *w != old).collect();
    Some(replaced(head, at, 2, random.one(&others)?))
}

struct Subject {
    motion: std::sync::Arc<Motion>,
    machine: Machine,
    file: EmittedFile,
    proved: Vec<Formula>,
    calls: Vec<Call>,
    normal: Vec<String>,
}

fn subject(name: &str, sets: usize) -> Subject {
    let (motion, machine) = (common::routine(name), common::machine("hash-mm"));
    let file = common::emitted(&motion, &machine, Form::Macro, &common::settings(1100)).remove(0);
    let proved = common::disagreement(&file.text, &motion, &machine, &file.interface, &[]).unwrap();
    let calls = calls(&motion, sets, &mut Random(0x5eed));
    let controller = Controller::from(&machine);
    let (program, found) = read(FileId(1), &file.text);
    assert!(!found.has_errors());
    let normal: Vec<String> = calls.iter().map(|c| behaviour(&program, &controller, c)).collect();
    let moving = normal.iter().filter(|b| !b.contains("alarm") && !b.contains("error")).count();
    println!("{name}: {moving} of {sets} argument sets are admitted");
    Subject { motion, machine, file, proved, calls, normal }
}

impl Subject {
    /// The first call at which an edited text does something else.
    fn differs(&self, text: &str) -> Option<String> {
        let controller = Controller::from(&self.machine);
        let (program, found) = read(FileId(1), text);
        if found.has_errors() || conform(&program, &controller).has_errors() {
            return Some("cannot be read".to_owned());
        }
        let mut both = self.calls.iter().zip(&self.normal);
        both.find(|(call, normal)| behaviour(&program, &controller, call) != **normal).map(|(c, _)| c.clone())
    }

    fn caught(&self, text: &str) -> Option<String> {
        let Self { motion, machine, file, proved, .. } = self;
        common::disagreement(text, motion, machine, &file.interface, proved).err()
    }
}

#[test]
fn edits_that_change_anything_are_caught_and_few_others() {
    let full = std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1");
    let edits = if full { 510 } else { 51 };
    let names = ["finish_bore", "finish_bore_half", "finish_bore_straight"];
    let mut random = Random(20_261_125);
    let (mut changing, mut caught, mut silent) = (0, 0, 0);
    let (mut missed, mut flagged) = (Vec::new(), Vec::new());
    let mut done = BTreeSet::new();
    for (i, name) in names.iter().enumerate() {
        let subject = subject(name, 1000);
        while done.len() < edits * (i + 1) / names.len() {
            let Some((text, what)) = edit(&subject.file.text, &mut random) else { continue };
            if !done.insert((*name, what.clone())) {
                continue;
            }
            let found = subject.caught(&text);
            match (subject.differs(&text), found) {
                (Some(_), Some(_)) => (changing, caught) = (changing + 1, caught + 1),
                (Some(call), None) => {
                    changing += 1;
                    missed.push(format!("{name}: {what}\n    at {call}"));
                }
                (None, Some(why)) => {
                    silent += 1;
                    flagged.push(format!("{name}: {what}\n    {why}"));
                }
                (None, None) => silent += 1,
            }
        }
    }
    println!("{} edits: {changing} change something, {caught} of them caught", done.len());
    println!("{silent} change nothing at the sampled sets, {} of them flagged", flagged.len());
    println!("missed:\n{}\nflagged:\n{}", missed.join("\n"), flagged.join("\n"));
    assert!(missed.is_empty(), "{missed:#?}");
}
