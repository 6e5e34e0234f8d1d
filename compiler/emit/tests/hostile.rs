//! No text from a source or a machine file becomes a block: what stands outside comments is the same, whatever
//! the texts hold.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may stop at what it did not expect")]

mod common;

use borewright_emit::Form;
use borewright_machine::Machine;
use borewright_motion::{Action, Clause, Motion, Step};
use common::running::{Sizes, files};
use common::{finish_bore, gearbox, values};

const HOSTILE: [&str; 13] = [
    ")\nM3 S9999\n(",
    "a) G0 Z-50. (b",
    "%\r\n%\r\nO9999",
    "x\u{0}y\u{1b}[2J\u{8}",
    "((()))][}{",
    "a;G0 Z-5",
    "\u{202e}evil\u{2028}M30",
    "[#100=1] #3000=1",
    "\u{85}\u{a0}\u{b}\u{c}G91",
    "ＭＳＧ，Ｇ０ （Z－５）",
    "\"quoted\" \\n \\x28",
    "MSG, all is well, keep going MSG, all is well, keep going MSG, all is well, keep going, MSG, go on",
    "",
];

fn poison_steps(steps: &mut [Step], text: &str) {
    for step in steps {
        match &mut step.action {
            Action::Stop(said) => text.clone_into(said),
            Action::With { body, .. } => poison_steps(body, text),
            Action::Call(call) => call.routine = std::sync::Arc::new(poisoned((*call.routine).clone(), text)),
            _ => {}
        }
    }
}

fn poisoned(mut motion: Motion, text: &str) -> Motion {
    text.clone_into(&mut motion.name);
    motion.documentation = vec![text.to_owned(), format!("{text}{text}")];
    for parameter in &mut motion.parameters {
        text.clone_into(&mut parameter.meaning);
    }
    for clause in &mut motion.head {
        if let Clause::Require(r) = clause {
            text.clone_into(&mut r.alarm);
        }
    }
    for made in &mut motion.made {
        text.clone_into(&mut made.feature.name);
    }
    for feature in &mut motion.given {
        text.clone_into(&mut feature.name);
    }
    if let Some(job) = &mut motion.job {
        for tool in &mut job.tools {
            text.clone_into(&mut tool.name);
        }
    }
    poison_steps(&mut motion.body, text);
    motion
}

/// The lines without comments and labels of alarms, those that are empty left out. A comment may not hold a
/// bracket.
fn blocks(text: &str) -> Vec<String> {
    assert!(text.is_ascii() && !text.contains('\r') && !text.contains("(MSG"), "{text:?}");
    let bare = |line: &str| {
        let mut bare = String::new();
        let mut comment = false;
        for c in line.chars() {
            match (c, comment) {
                ('(', false) => comment = true,
                (')', true) => comment = false,
                ('(' | ')', _) => panic!("brackets in `{line}`"),
                (_, true) => assert!(!c.is_control() && !"%;\"[]{}".contains(c), "`{line}`"),
                (_, false) => bare.push(c),
            }
        }
        assert!(!comment, "an open comment in `{line}`");
        bare.trim().to_owned()
    };
    let is_alarm = |line: &String| line.contains("#3000") || line.contains("GOTO 1");
    text.lines().map(bare).filter(|line| !line.is_empty() && !is_alarm(line)).collect()
}

#[test]
fn what_stands_outside_comments_does_not_depend_on_texts() {
    let sizes = values(&[
        ("bore", "50mm"),
        ("pilot", "47mm"),
        ("tool", "12mm"),
        ("depth", "9mm"),
        ("cut", "400mm/min"),
    ]);
    let mut machine = Machine::builtin("hash-mm").unwrap();
    let of = |motion: &Motion, machine: &Machine| {
        let bore = if motion.job.is_some() { Sizes::new() } else { sizes.clone() };
        let mut all = files(motion, machine, Form::Macro, &Sizes::new());
        all.extend(files(motion, machine, Form::Blocks, &bore));
        all.into_iter().map(|f| blocks(&f.text)).collect::<Vec<_>>()
    };
    for motion in [finish_bore(), gearbox()] {
        let plain = of(&motion, &machine);
        for text in HOSTILE {
            assert_eq!(of(&poisoned(motion.clone(), text), &machine), plain, "{text:?}");
        }
        for text in HOSTILE {
            let mut named = machine.clone();
            text.clone_into(&mut named.name);
            named.text.punctuation = format!("{text}()%;[]\n");
            assert_eq!(of(&poisoned(motion.clone(), text), &named), plain, "{text:?} in the machine file");
        }
    }
    machine.text.punctuation.clear();
    assert!(!of(&finish_bore(), &machine).is_empty());
}

#[test]
fn a_file_name_holds_no_path() {
    let machine = Machine::builtin("rs274ngc").unwrap();
    for text in ["../../etc/passwd", "a/b\\c", "con:", "\u{0}", ""] {
        let named = poisoned(gearbox(), text);
        let file = files(&named, &machine, Form::Blocks, &Sizes::new()).remove(0);
        assert!(file.name.chars().all(|c| c.is_ascii_alphanumeric() || "_-.".contains(c)), "{}", file.name);
        assert!(!file.name.starts_with('.') && file.name.len() > 3, "`{}`", file.name);
    }
}
