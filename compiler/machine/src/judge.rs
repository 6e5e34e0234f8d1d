//! Whether the fields of a machine file go together.

use borewright_base::{Diagnostic, Diagnostics};
use borewright_number::Rational;

use crate::fields::Fields;
use crate::machine::{Machine, Range, Travel};
use crate::{Decimal, errors};

pub(crate) fn judge(machine: &Machine, fields: &Fields, diagnostics: &mut Diagnostics) {
    let mut findings = Vec::new();
    judge_ranges(machine, &mut findings);
    judge_amounts(machine, &mut findings);
    judge_calls(machine, &mut findings);
    judge_words(machine, &mut findings);
    judge_compensation(machine, &mut findings);
    for (path, message) in findings {
        let message = format!("`{path}`: {message}");
        diagnostics.report(Diagnostic::error(errors::IMPOSSIBLE_MACHINE, fields.span(path), message));
    }
}

/// A field and what is wrong with it.
type Finding = (&'static str, String);

fn judge_ranges(machine: &Machine, findings: &mut Vec<Finding>) {
    let (v, p) = (&machine.variables, &machine.programs);
    let lists = [
        ("variables.local", &v.local),
        ("variables.common", &v.common),
        ("variables.retained", &v.retained),
        ("variables.writable", &v.writable),
        ("programs.allowed", &p.allowed),
        ("programs.reserved", &p.reserved),
    ];
    for (path, ranges) in lists {
        for Range(first, last) in ranges.iter().filter(|r| r.0 > r.1) {
            findings.push((path, format!("the range from {first} to {last} ends before it begins")));
        }
    }
    let Range(first, last) = machine.alarms.numbers;
    if first > last {
        findings.push(("alarms.numbers", format!("the range from {first} to {last} ends before it begins")));
    }
    let writable = |n: u32| v.writable.iter().any(|r| r.contains(n));
    for (path, ranges) in [("variables.common", &v.common), ("variables.retained", &v.retained)] {
        if let Some(Range(first, last)) = ranges.iter().find(|r| !writable(r.0) || !writable(r.1)) {
            findings.push((path, format!("#{first} to #{last} are not all in `writable`")));
        }
    }
    let retained = |n: u32| v.retained.iter().any(|r| r.contains(n));
    if let Some(Range(first, last)) = v.wear.filter(|r| r.0 > r.1 || !r.numbers().all(retained)) {
        findings.push(("variables.wear", format!("#{first} to #{last} are not all in `retained`")));
    }
    let axes = &machine.axes;
    for (path, travel) in [("axes.x", &axes.x), ("axes.y", &axes.y), ("axes.z", &axes.z)] {
        if let Some(Travel(least, greatest)) = travel.as_ref().filter(|t| t.0 >= t.1) {
            let (least, greatest) = (least.decimal_text(4), greatest.decimal_text(4));
            findings.push((path, format!("travel from {least} to {greatest} is none")));
        }
    }
}

fn judge_amounts(machine: &Machine, findings: &mut Vec<Finding>) {
    let (a, x, n) = (&machine.arcs, &machine.axes, &machine.numbers);
    let positive: [(&str, &Decimal); 7] = [
        ("arcs.tolerance", &a.tolerance),
        ("arcs.smallest_radius", &a.smallest_radius),
        ("numbers.greatest", &n.greatest),
        ("axes.greatest_feed", &x.greatest_feed),
        ("axes.rapid", &x.rapid),
        ("axes.greatest_speed", &x.greatest_speed),
        ("axes.acceleration", &x.acceleration),
    ];
    for (path, _) in positive.iter().filter(|(_, value)| value.signum() <= 0) {
        findings.push((path, "must be greater than 0".to_owned()));
    }
    if x.least_speed.signum() < 0 || *x.least_speed > *x.greatest_speed {
        findings.push(("axes.least_speed", "must lie between 0 and `greatest_speed`".to_owned()));
    }
    // Rounded end points alone put the two radii up to one and a half steps apart.
    let step = Rational::ONE / Rational::from(10).pow(n.decimals as usize);
    if *a.tolerance < step {
        let message = format!("is finer than the last of {} decimals: no rounded arc would pass", n.decimals);
        findings.push(("arcs.tolerance", message));
    }
}

fn judge_calls(machine: &Machine, findings: &mut Vec<Finding>) {
    let local = |n: u32| machine.variables.local.iter().any(|r| r.contains(n));
    let calls = &machine.calls;
    for letter in calls.letters.keys() {
        if !letter.is_ascii_uppercase() {
            findings.push(("calls.letters", format!("`{letter}` is not a capital letter")));
        }
    }
    if let Some((letter, variable)) = calls.letters.iter().find(|(_, v)| !local(**v)) {
        findings.push(("calls.letters", format!("{letter} fills #{variable}, which is not local")));
    }
    let mut variables: Vec<_> = calls.letters.values().collect();
    variables.sort_unstable();
    if variables.windows(2).any(|pair| pair.first() == pair.last()) {
        findings.push(("calls.letters", "two letters fill the same variable".to_owned()));
    }
    if let Some(letter) = calls.order.iter().find(|l| !calls.letters.contains_key(l)) {
        findings.push(("calls.order", format!("`{letter}` fills no variable")));
    }
}

fn judge_compensation(machine: &Machine, findings: &mut Vec<Finding>) {
    let Some(c) = &machine.compensation else { return };
    if c.greatest.signum() < 0 {
        findings.push(("compensation.greatest", "must not be negative".to_owned()));
    }
    if !c.letter.is_ascii_uppercase() || "GMNOXYZIJKRFST".contains(c.letter) {
        findings.push(("compensation.letter", format!("`{}` cannot name an offset", c.letter)));
    }
    let writable = |n: u32| machine.variables.writable.iter().any(|r| r.contains(n));
    if let Some(Range(first, last)) = c.values.filter(|r| r.0 > r.1 || r.numbers().any(writable)) {
        let message = format!("#{first} to #{last} must be variables that no program writes");
        findings.push(("compensation.values", message));
    }
    let words =
        [("compensation.left", &c.left), ("compensation.right", &c.right), ("compensation.off", &c.off)];
    for (path, word) in words {
        let number = word.strip_prefix('G').unwrap_or_default();
        if number.is_empty() || number.len() > 3 || !number.bytes().all(|b| b.is_ascii_digit()) {
            findings.push((path, "must be one G word such as `G41`".to_owned()));
        }
    }
    if c.left == c.right || c.left == c.off || c.right == c.off {
        findings.push(("compensation.left", "left, right and off must be three words".to_owned()));
    }
}

/// Texts of a machine file go into programs as they are: they must be blocks, and nothing else.
fn judge_words(machine: &Machine, findings: &mut Vec<Finding>) {
    let (w, p) = (&machine.words, &machine.programs);
    let one = |text: &String| vec![text.clone()];
    let texts = [
        ("words.metric", one(&w.metric)),
        ("words.inch", one(&w.inch)),
        ("words.safe_start", one(&w.safe_start)),
        ("words.routine_start", one(&w.routine_start)),
        ("words.home", w.home.clone()),
        ("words.tool_change", one(&w.tool_change)),
        ("words.length_on", one(&w.length_on)),
        ("words.work_offsets", w.work_offsets.clone()),
        ("words.mist", one(&w.mist)),
        ("programs.head", p.head.clone()),
        ("programs.tail", p.tail.clone()),
    ];
    for (path, list) in texts {
        if let Some(text) =
            list.iter().find(|t| t.chars().any(|c| c.is_control() || !c.is_ascii() || c == '%'))
        {
            let shown: String = text.chars().take(40).map(|c| if c.is_control() { '?' } else { c }).collect();
            findings.push((path, format!("`{shown}` is more than one block of plain characters")));
        }
        let longest = list.iter().map(|t| t.chars().count()).max().unwrap_or(0);
        if longest > machine.text.line_length {
            findings
                .push((path, format!("is longer than a line of {} characters", machine.text.line_length)));
        }
    }
    if w.home.is_empty() {
        findings.push(("words.home", "without it no program can retract from an unknown height".to_owned()));
    }
}
