//! Blocks read and run per second: `cargo bench -p borewright-runtime`.

use std::fmt::Write as _;

use borewright_base::FileId;
use borewright_number::Interval;
use borewright_runtime::state::Units;
use borewright_runtime::step::{Effect, step};
use borewright_runtime::{Controller, Program, RunOptions, execute, idle, read, run};
use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};

fn main() {
    divan::main();
}

/// A bore in plain blocks, many passes deep.
fn blocks(passes: u32) -> String {
    let mut text = String::from("O1200\nG21 G17 G40 G49 G80 G90 G94\nG0 X0. Y0.\nG0 Z5. (CLEARANCE)\n");
    for pass in 1..=passes {
        let z = f64::from(pass) * 0.125;
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "G1 Z-{z:.3} F120.\nG1 X9.5 Y-9.5 F480.\nG3 X19. Y0. I0. J9.5\nG3 X19. Y0. I-19. J0."
        );
        let _ = writeln!(text, "G3 X9.5 Y9.5 I-9.5 J0.\nG1 X0. Y0.");
    }
    text.push_str("M30\n");
    text
}

/// The same as a macro with a loop and computed depths.
const MACRO: &str = "\
#1=2000 #2=0 #7=50. #30=19.
G21 G17 G90 G94
WHILE [#2 LT #1] DO1
#2=#2+1
#33=-[#7*#2/#1]
IF [#2 EQ #1] THEN #33=-#7
G1 Z#33 F120.
G1 X[#30/2] Y[-[#30/2]] F480.
G3 X#30 Y0. J[#30/2]
G3 X#30 Y0. I[-#30]
G1 X0. Y0.
END1
M30
";

fn program(text: &str) -> Program {
    read(FileId(0), text).0
}

#[divan::bench]
fn read_blocks(bencher: Bencher) {
    let text = blocks(2000);
    bencher
        .counter(ItemsCount::new(text.lines().count()))
        .counter(BytesCount::of_str(&text))
        .bench(|| read(FileId(0), divan::black_box(&text)));
}

#[divan::bench]
fn run_blocks_to_a_trace(bencher: Bencher) {
    let text = blocks(2000);
    let (program, controller) = (program(&text), Controller::generic(Units::Millimetre));
    bencher
        .counter(ItemsCount::new(text.lines().count()))
        .bench(|| run(divan::black_box(&program), &controller, &RunOptions::default()));
}

#[divan::bench]
fn run_macro_on_floats(bencher: Bencher) {
    let (program, controller) = (program(MACRO), Controller::generic(Units::Millimetre));
    let blocks = execute(&program, &controller, &RunOptions::default(), |x| x).blocks;
    bencher
        .counter(ItemsCount::new(blocks))
        .bench(|| execute(divan::black_box(&program), &controller, &RunOptions::default(), |x: f64| x));
}

#[divan::bench]
fn run_macro_on_intervals(bencher: Bencher) {
    let (program, controller) = (program(MACRO), Controller::generic(Units::Millimetre));
    let blocks = execute(&program, &controller, &RunOptions::default(), |x| x).blocks;
    bencher
        .counter(ItemsCount::new(blocks))
        .bench(|| execute(divan::black_box(&program), &controller, &RunOptions::default(), Interval::point));
}

#[divan::bench]
fn step_one_arc(bencher: Bencher) {
    let (program, controller) =
        (program("G21 F100.\nG3 X19. Y0. I-19. J0.\n"), Controller::generic(Units::Millimetre));
    let start = idle(&program, &controller, &RunOptions::default(), |x: f64| x);
    let blocks = program.bodies.first().map(|b| b.blocks.as_slice()).unwrap_or_default();
    let mut registers = start.registers;
    registers.feed = Some(100.0);
    bencher.bench(|| {
        let step = blocks.last().map(|block| step(block, &registers, &controller, &start.store));
        step.map(|s| s.is_ok_and(|s| s.effects.iter().any(|e| matches!(e, Effect::Move(_)))))
    });
}
