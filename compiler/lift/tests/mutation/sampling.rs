//! Calls of a macro, and what the virtual controller does at each.

use std::collections::BTreeSet;
use std::fmt::Write;

use borewright_base::FileId;
use borewright_machine::Machine;
use borewright_motion::{Motion, Parameter};
use borewright_number::Dimension;
use borewright_runtime::controller::Controller;
use borewright_runtime::step::{Feed, Move, Path};
use borewright_runtime::{Program, RunOptions, execute, read};

use crate::random::Random;

/// One call: the modes before it, and a value for each letter that is supplied.
#[derive(Debug, Clone, PartialEq)]
pub struct Call {
    modes: [&'static str; 5],
    /// The code of cutter compensation that is active.
    compensation: u32,
    values: Vec<(char, f64)>,
}

const USUAL: [&str; 5] = ["G21", "G17", "G90", "G94", "G43 H1"];

impl Call {
    /// As text: a program that calls.
    pub fn text(&self) -> String {
        let mut text = format!("O1\n{}\nG65 P1100", self.modes.join(" "));
        for (letter, value) in &self.values {
            let digits = format!("{value:.7}");
            let short = digits.trim_end_matches('0');
            write!(text, " {letter}{short}").unwrap();
        }
        text + "\n"
    }

    pub fn shown(&self) -> String {
        let text = self.text();
        format!("G{} {}", self.compensation, text.lines().skip(1).collect::<Vec<_>>().join(" "))
    }

    fn with(&self, letter: char, value: Option<f64>) -> Self {
        let mut call = self.clone();
        call.values.retain(|(l, _)| *l != letter);
        call.values.extend(value.map(|v| (letter, v)));
        call
    }

    /// Every letter is supplied.
    pub fn is_whole(&self, motion: &Motion) -> bool {
        letters(motion).iter().all(|letter| self.get(*letter).is_some())
    }

    /// All values are whole thousandths of the text's unit.
    pub fn is_coarse(&self) -> bool {
        self.values.iter().all(|(_, v)| (v * 1e3 - (v * 1e3).round()).abs() < 1e-6)
    }

    fn get(&self, letter: char) -> Option<f64> {
        self.values.iter().find(|(l, _)| *l == letter).map(|(_, v)| *v)
    }
}

/// Sizes by name, in mm, degrees and mm/min.
pub type Sizes = Vec<(&'static str, f64)>;

/// What calls are drawn for.
#[derive(Debug, Clone, Copy)]
pub struct Field<'a> {
    pub motion: &'a Motion,
    /// Its text is in inches.
    pub inch: bool,
    /// Draws sizes that are admitted more often than not.
    pub sizes: fn(&mut Random) -> Sizes,
}

impl Field<'_> {
    /// How many mm the text's unit is.
    fn unit(&self) -> f64 {
        if self.inch { 25.4 } else { 1.0 }
    }

    /// A value of a parameter as the text takes it.
    fn in_text(&self, parameter: &Parameter, value: f64) -> f64 {
        let scaled = matches!(parameter.dimension, Dimension::LENGTH | Dimension::FEED);
        if scaled { value / self.unit() } else { value }
    }

    fn parameter(&self, letter: char) -> Option<&Parameter> {
        self.motion.parameters.iter().find(|p| p.letter == Some(letter))
    }
}

/// Letters of a macro: those of its parameters, and the place.
fn letters(motion: &Motion) -> Vec<char> {
    motion.parameters.iter().filter_map(|p| p.letter).chain(['X', 'Y']).collect()
}

/// Of a thread in a hole.
pub fn thread(random: &mut Random) -> Sizes {
    let major = random.between(8.0, 60.0);
    let minor = major - random.between(0.3, 2.0);
    let (pitch, depth) = (random.between(0.5, 3.0), random.between(1.0, 15.0));
    let nose = random.between(0.2, 2.0);
    vec![
        ("major", major),
        ("minor", minor),
        ("pitch", pitch),
        ("hand", random.between(1.0, 2.0).round()),
        ("tool", random.between(1.5, (0.75 * major).min(minor - 0.2))),
        ("rows", random.between(1.0, 6.0).round()),
        ("nose", nose),
        ("depth", depth),
        ("drilled", depth + nose + pitch / 4.0 + random.between(0.0, 5.0)),
    ]
}

/// Of holes on an arc.
pub fn pattern(random: &mut Random) -> Sizes {
    let bore = random.between(8.0, 30.0);
    vec![
        ("holes", random.between(1.0, 5.0).round()),
        ("across", random.between(120.0, 500.0)),
        ("step", random.between(20.0, 70.0)),
        ("bore", bore),
        ("tool", random.between(0.6, 0.85) * bore),
        ("depth", random.between(0.5, 12.0)),
        ("web", random.between(0.5, 3.0)),
        ("ramp", random.between(1.0, 6.0)),
    ]
}

/// Of a bore that is finished.
pub fn bore(random: &mut Random) -> Sizes {
    let tool = random.between(2.0, 50.0);
    // Now and then hardly more room than the cutter takes.
    let tight = random.below(8) == 0;
    let pilot = tool + random.between(0.2, if tight { 0.4 } else { 30.0 });
    let bore = pilot + random.between(0.01, if tight { 0.3 } else { (2.0 * tool).min(40.0) });
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

/// A call with every letter, at sizes that are admitted more often than not.
fn whole(field: Field<'_>, random: &mut Random) -> Call {
    let known = (field.sizes)(random);
    let mut values = Vec::new();
    for parameter in &field.motion.parameters {
        let Some(letter) = parameter.letter else { continue };
        let found = known.iter().find(|(name, _)| *name == parameter.symbol.name());
        let drawn = random.between(parameter.least.to_f64(), parameter.greatest.to_f64());
        values.push((letter, field.in_text(parameter, found.map_or(drawn, |(_, v)| *v))));
    }
    let reach = 1000.0 / field.unit();
    values.extend(['X', 'Y'].map(|letter| (letter, random.between(-reach, reach))));
    let mut modes = USUAL;
    modes[0] = if field.inch { "G20" } else { "G21" };
    Call { modes, compensation: 40, values }
}

/// Calls of a macro: half of them admitted more often than not, the others with one thing strained: a size at a
/// limit or a hair beyond it, an argument left out, zero or negative, a letter that nobody declared, other modes.
pub fn calls(field: Field<'_>, count: usize, random: &mut Random) -> Vec<Call> {
    let mut calls = modes(&whole(field, random));
    while calls.len() < count {
        let mut call = whole(field, random);
        for parameter in &field.motion.parameters {
            if parameter.default.is_some() && random.below(3) == 0 {
                call.values.retain(|(l, _)| Some(*l) != parameter.letter);
            }
        }
        for letter in ['X', 'Y'] {
            if random.below(2) == 0 {
                call = call.with(letter, None);
            }
        }
        if calls.len().is_multiple_of(2) {
            call = strained(field, &call, random);
        }
        calls.push(call);
    }
    calls
}

/// One call under all modes that a caller can leave.
fn modes(call: &Call) -> Vec<Call> {
    let mut all = vec![call.clone()];
    let others: [&[&'static str]; 5] =
        [&["G21", "G20"], &["G17", "G18", "G19"], &["G90", "G91"], &["G94", "G93"], &["G43 H1", "G49"]];
    for (at, codes) in others.iter().enumerate() {
        let with = |call: &Call, code: &'static str| {
            let mut call = call.clone();
            call.modes[at] = code;
            call
        };
        all = all.iter().flat_map(|call| codes.iter().map(|code| with(call, code))).collect();
    }
    let sides = |call: &Call| [40, 41, 42].map(|compensation| Call { compensation, ..call.clone() });
    all.iter().flat_map(sides).collect()
}

/// The call with one thing strained.
fn strained(field: Field<'_>, call: &Call, random: &mut Random) -> Call {
    let letters = letters(field.motion);
    let letter = *random.one(&letters).unwrap();
    let declared: BTreeSet<char> = letters.iter().copied().collect();
    let hairs = [0.0, 0.001, -0.001, 0.0005, -0.0005, 0.01, -0.01, 0.2, -0.2, 3.0, -3.0];
    let off = *random.one(&hairs).unwrap();
    match random.below(12) {
        0 => call.with(letter, None),
        1 => call.with(letter, Some(0.0)),
        2 => call.with(letter, call.get(letter).map(|v| -v)),
        3 => strange(call, &declared, random),
        // One that should be there is left out, and one that nobody declared may fill its variable.
        9 => strange(&call.with(letter, None), &declared, random),
        10 => all_strange(&call.with(letter, None), &declared, random),
        // Every letter, and two sizes each brought to where it just meets another.
        11 => {
            let whole = whole(field, random);
            // A depth that a counter of passes comes to as well.
            let whole = if random.below(2) == 0 {
                whole
            } else {
                let depth = f64::from(u32::try_from(1 + random.below(3)).unwrap());
                with_size(field, &with_size(field, &whole, "depth", depth), "stepdown", depth / 7.5)
            };
            related(field, &related(field, &whole, off, random), 0.0, random)
        }
        4 | 5 => {
            let reach = 1000.0 / field.unit();
            let ends = field.parameter(letter).map_or([-reach, reach], |p| {
                [&p.least, &p.greatest].map(|end| field.in_text(p, end.to_f64()))
            });
            call.with(letter, Some(*random.one(&ends).unwrap() + off))
        }
        6 | 7 => related(field, call, off, random),
        _ => random.one(&modes(call)).cloned().unwrap_or_else(|| call.clone()),
    }
}

/// Letters that a macro does not declare.
fn undeclared(declared: &BTreeSet<char>) -> Vec<char> {
    ('A'..='Z').filter(|l| !declared.contains(l) && !matches!(l, 'G' | 'L' | 'N' | 'O' | 'P')).collect()
}

/// The call with a letter that the macro does not declare.
fn strange(call: &Call, declared: &BTreeSet<char>, random: &mut Random) -> Call {
    call.with(*random.one(&undeclared(declared)).unwrap(), Some(random.between(-9.0, 99.0)))
}

/// The call with all of them.
fn all_strange(call: &Call, declared: &BTreeSet<char>, random: &mut Random) -> Call {
    let all = undeclared(declared).into_iter();
    all.fold(call.clone(), |call, letter| call.with(letter, Some(random.between(-9.0, 99.0))))
}

/// The call with a parameter at this size.
fn with_size(field: Field<'_>, call: &Call, name: &str, size: f64) -> Call {
    let letter = field.motion.parameters.iter().find(|p| p.symbol.name() == name).and_then(|p| p.letter);
    letter.map_or_else(|| call.clone(), |letter| call.with(letter, Some(size)))
}

/// A size brought to where it just meets another.
fn related(field: Field<'_>, call: &Call, off: f64, random: &mut Random) -> Call {
    let letter = |name: &str| field.motion.parameters.iter().find(|p| p.symbol.name() == name)?.letter;
    let get = |name: &str| letter(name).and_then(|l| call.get(l)).unwrap_or(0.0);
    let mm = 1.0 / field.unit();
    let (bore, tool, pilot, depth) = (get("bore"), get("tool"), get("pilot"), get("depth"));
    // Left out, it is 2 mm.
    let web = letter("web").and_then(|l| call.get(l)).unwrap_or(2.0 * mm);
    let limits = [
        ("pilot", tool + 0.2 * mm),
        ("pilot", bore),
        ("bore", tool + 0.8 * mm),
        ("lead", 0.45 * (bore - tool)),
        ("bore", pilot + 2.0 * tool),
        ("stepdown", depth),
        ("stepdown", depth / 3.0),
        ("minor", tool + 0.2 * mm),
        ("minor", get("major")),
        ("drilled", depth + get("nose") + get("pitch") / 4.0),
        ("depth", 2.5 * get("pitch")),
        ("tool", 0.75 * get("major")),
        ("across", (bore + web) / (get("step") / 2.0).to_radians().sin().max(0.01)),
        ("step", 360.0 / get("holes").max(1.0)),
    ];
    let own: Vec<_> = limits.iter().filter(|(name, _)| letter(name).is_some()).collect();
    let Some((name, limit)) = random.one(&own) else { return call.clone() };
    letter(name).map_or_else(|| call.clone(), |letter| call.with(letter, Some(limit + off)))
}

/// The controller as a call finds it, with the given code of cutter compensation: it models none itself.
pub fn controllers(machine: &Machine) -> [(u32, Controller); 3] {
    [40, 41, 42].map(|code: u32| {
        let mut controller = Controller::from(machine);
        if let Some(variable) = machine.modes.compensation.filter(|_| code != 40) {
            let value = borewright_runtime::text::Number::whole(i32::try_from(code).unwrap());
            controller.variables.system.remove(&variable);
            controller.variables.readable.push(variable..=variable);
            controller.variables.presets.insert(variable, value);
        }
        (code, controller)
    })
}

/// Everything that a call makes the controller do, as text.
pub fn behaviour(macro_: &Program, controllers: &[(u32, Controller)], call: &Call) -> String {
    let (_, controller) = controllers.iter().find(|(code, _)| *code == call.compensation).unwrap();
    let (main, _) = read(FileId(0), &call.text());
    let options = RunOptions {
        with: vec![macro_],
        start: Some([3.0, 4.0, 100.0]),
        budget: 20_000,
        ..RunOptions::default()
    };
    let run = execute(&main, controller, &options, |x| x);
    let mut out = String::new();
    let tidy = |v: f64| (v * 1e5).round() / 1e5 + 0.0;
    // A rapid move to where the cutter is moves nothing.
    let moving = |m: &&Move<f64>| m.from != m.to || !matches!(m.path, Path::Rapid);
    for m in run.moves.iter().filter(moving) {
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

/// Calls at the edges of a text: for each comparison in it, and each count of steps, the values at which its two
/// sides meet, and a hair to both sides.
pub fn edges(text: &str, motion: &Motion, machine: &Machine, bases: &[Call]) -> Vec<Call> {
    let controller = Controller::from(machine);
    let mut found = Vec::new();
    for probe in probes(text) {
        let (program, errors) = read(FileId(1), &probe);
        if errors.has_errors() {
            continue;
        }
        for base in bases {
            for letter in letters(motion) {
                found.extend(meeting(&program, &controller, base, letter));
            }
        }
    }
    found
}

/// For each test in a text: a text that leaves the difference of its sides in #149.
fn probes(text: &str) -> Vec<String> {
    let mut before = String::new();
    let mut probes = Vec::new();
    for line in text.lines() {
        let code = line.split('(').next().unwrap_or_default();
        let test = code.starts_with("IF ") || code.starts_with("WHILE ");
        let sides = if test { sides(code) } else { None };
        if let Some((a, b)) = sides {
            probes.push(format!("{before}#149=[{a}]-[{b}]\nM99\n"));
        }
        if let Some(at) = code.find("FUP[") {
            let inner = inside(&code[at + 3..]);
            for n in 1..4 {
                probes.push(format!("{before}#149=[{inner}]-{n}.\nM99\n"));
            }
        }
        if code.starts_with("G17") {
            break;
        }
        if !(test && code.contains("GOTO")) {
            before = before + line + "\n";
        }
    }
    probes
}

/// What the first bracket holds.
fn inside(text: &str) -> &str {
    let mut depth = 0;
    for (at, c) in text.char_indices() {
        match c {
            '[' => depth += 1,
            ']' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return &text[1..at];
        }
    }
    text
}

/// The two sides of the comparison in the first bracket.
fn sides(code: &str) -> Option<(&str, &str)> {
    let inner = inside(&code[code.find('[')?..]);
    let words = [" LT ", " LE ", " GT ", " GE ", " EQ ", " NE "];
    words.iter().find_map(|word| inner.split_once(word)).filter(|(_, b)| *b != "#0")
}

/// Values of one letter for which a probe gives 0, found along straight lines, and their neighbours.
fn meeting(probe: &Program, controller: &Controller, base: &Call, letter: char) -> Vec<Call> {
    let Some(first) = base.get(letter) else { return Vec::new() };
    let difference = |value: f64| {
        let (main, _) = read(FileId(0), &base.with(letter, Some(value)).text());
        let options = RunOptions { with: vec![probe], budget: 2000, ..RunOptions::default() };
        execute(&main, controller, &options, |x| x).store.get(149).copied()
    };
    let (mut a, mut b) = (first, first + 0.37);
    let (Some(mut at_a), Some(mut at_b)) = (difference(a), difference(b)) else { return Vec::new() };
    for _ in 0..4 {
        if (at_b - at_a).abs() < 1e-9 || at_b.abs() < 1e-9 {
            break;
        }
        let next = b - at_b * (b - a) / (at_b - at_a);
        let Some(value) = difference(next) else { return Vec::new() };
        (a, at_a, b, at_b) = (b, at_b, next, value);
    }
    if at_b.abs() > 1e-6 || !b.is_finite() || b.abs() > 9999.0 {
        return Vec::new();
    }
    let hairs = [0.0, 1e-3, -1e-3, 3e-4, -3e-4, 1e-4, -1e-4, 3e-5, -3e-5];
    hairs.iter().map(|hair| base.with(letter, Some(b + hair))).collect()
}
