//! Macros, plain blocks and the exact motion at sizes drawn at random, boundaries among them: on every machine
//! that can be had without a file of one's own, each text follows the motion within the bounds that it prints.

#![expect(clippy::unwrap_used, reason = "test helpers fail by panicking")]

use std::collections::BTreeMap;

use borewright_emit::{EmittedFile, Form};
use borewright_machine::Machine;
use borewright_motion::{Motion, Symbol};
use borewright_number::Rational;
use borewright_tests::forms::{Outcome, compared, exact, typed, written};
use borewright_tests::random::Random;
use borewright_tests::sizes::{Walk, shown};
use borewright_tests::source;

fn full() -> bool {
    std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1")
}

/// Texts of one routine that serve any size.
type Macros = BTreeMap<&'static str, Result<Vec<EmittedFile>, String>>;

/// How many runs came to what.
#[derive(Debug, Default)]
struct Tally {
    agree: usize,
    refused: usize,
    long: usize,
    narrowed: usize,
    unwritten: BTreeMap<String, usize>,
}

#[derive(Default)]
struct Runs {
    by_form: BTreeMap<(String, &'static str), Tally>,
    wrong: Vec<String>,
}

impl Runs {
    fn one(
        &mut self,
        motion: &Motion,
        name: &'static str,
        form: Form,
        walk: &mut Walk<'_>,
        macros: &mut Macros,
    ) {
        let machine = Machine::builtin(name).unwrap();
        let sizes = typed(motion, &machine, &walk.step());
        let any = form == Form::Macro && machine.flow.if_goto;
        let outcome = exact(motion, &sizes).map(|exact| {
            let made;
            let files = if any {
                macros.entry(name).or_insert_with(|| written(motion, &machine, form, &BTreeMap::new()))
            } else {
                made = written(motion, &machine, form, &sizes);
                &made
            };
            match files {
                Ok(files) => compared(motion, &machine, files, &sizes, &exact),
                Err(codes) => Outcome::NotWritten(codes.clone()),
            }
        });
        let form = if form == Form::Macro { "macro" } else { "blocks" };
        let tally = self.by_form.entry((name.to_owned(), form)).or_default();
        match outcome.unwrap_or_else(|outcome| outcome) {
            Outcome::Agrees => tally.agree += 1,
            Outcome::NotAdmitted => tally.refused += 1,
            Outcome::TooLong => tally.long += 1,
            Outcome::Narrowed => tally.narrowed += 1,
            Outcome::NotWritten(codes) => *tally.unwritten.entry(codes).or_default() += 1,
            Outcome::Differs(why) => {
                self.wrong.push(format!(
                    "{} as {form} for {name}: {why}\n    at {}",
                    motion.name,
                    shown(&sizes)
                ));
            }
        }
    }

    fn agree(&self) -> usize {
        self.by_form.values().map(|t| t.agree).sum()
    }
}

#[test]
fn every_form_follows_the_exact_motion_within_the_bounds_it_prints() {
    let wanted = if full() { 10_000 } else { 1000 };
    let names: Vec<&'static str> = Machine::builtin_names().collect();
    let motions: Vec<_> = source::all().iter().filter_map(source::motion).collect();
    let mut walks: Vec<(Walk<'_>, Macros)> = Vec::new();
    let mut runs = Runs::default();
    for motion in &motions {
        walks.extend(Walk::new(motion, 7).map(|walk| (walk, Macros::new())));
    }
    println!("{} routines and jobs, {} with sizes", motions.len(), walks.len());
    let mut random = Random::seeded(7, "forms");
    let mut draws = 0;
    while runs.agree() + runs.wrong.len() < wanted && draws < 4 * wanted {
        draws += 1;
        let at = random.below(walks.len());
        let form = if random.once_in(2) { Form::Macro } else { Form::Blocks };
        let Some(name) = random.choose(&names).copied() else { break };
        let Some((walk, macros)) = walks.get_mut(at) else { break };
        let motion = walk.motion();
        runs.one(motion, name, form, walk, macros);
    }
    for ((name, form), tally) in &runs.by_form {
        println!("{name} {form}: {tally:?}");
    }
    println!("{} runs agree of {draws} draws over {} routines and jobs", runs.agree(), walks.len());
    assert!(runs.wrong.is_empty(), "{} of them differ:\n{}", runs.wrong.len(), runs.wrong.join("\n"));
    assert!(runs.agree() >= wanted, "too few draws can be run");
}

/// Its pivot is another one in each of two passes, which a machine without loops has written out.
#[test]
fn a_name_in_a_loop_that_is_written_out_has_a_value_each_time_round() {
    let source = source::all().into_iter().find(|s| s.name == "thread_hole_passes").unwrap();
    let motion = source::motion(&source).unwrap();
    let machine = Machine::builtin("rs274ngc").unwrap();
    let sizes = |step: i32| -> BTreeMap<Symbol, Rational> {
        let given = [
            ("major", 20),
            ("minor", 17),
            ("pitch", 2),
            ("tool", 12),
            ("depth", 15),
            ("drilled", 25),
            ("step", step),
            ("cut", 300),
        ];
        given.iter().map(|(name, value)| (Symbol::new(*name), Rational::from(*value))).collect()
    };
    for step in [1, 2] {
        let sizes = typed(&motion, &machine, &sizes(step));
        let files = written(&motion, &machine, Form::Macro, &sizes).unwrap();
        let outcome = compared(&motion, &machine, &files, &sizes, &exact(&motion, &sizes).unwrap());
        assert!(matches!(outcome, Outcome::Agrees), "{step} mm: {outcome:?}");
    }
}
