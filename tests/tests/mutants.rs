//! Routines with one thing changed at random: whatever is still called proved is tried at many sizes, and what
//! is refuted must fail at the values that are given as the reason.

#![expect(clippy::unwrap_used, clippy::panic, reason = "test helpers fail by panicking")]

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use borewright_base::{Diagnostics, SourceMap};
use borewright_driver::{Judged, MemoryHost, machines};
use borewright_machine::Machine;
use borewright_proof::{Kind, Verdict};
use borewright_tests::measure::{Rule, Tolerance};
use borewright_tests::mutate::{Mutant, mutate};
use borewright_tests::random::Random;
use borewright_tests::sizes::{Sizes, Walk, filled, shown};
use borewright_tests::source::{self, Class, Source};
use borewright_tests::trial::{self, Trial};
use borewright_tests::witness::arguments;

const STACK: usize = 64 * 1024 * 1024;

/// How much is tried.
struct Plan {
    mutants: usize,
    sizes: usize,
    texts: usize,
}

fn plan() -> Plan {
    let number = |name: &str| std::env::var(name).ok().and_then(|v| v.parse().ok());
    let full = std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1");
    let (mutants, sizes, texts) = if full { (2000, 1000, 20) } else { (200, 100, 4) };
    Plan {
        mutants: number("BOREWRIGHT_MUTANTS").unwrap_or(mutants),
        sizes: number("BOREWRIGHT_SIZES").unwrap_or(sizes),
        texts,
    }
}

fn seed() -> u64 {
    std::env::var("BOREWRIGHT_SEED").ok().and_then(|v| v.parse().ok()).unwrap_or(1)
}

fn machine(name: &str) -> Machine {
    let host = MemoryHost::default();
    machines::find(&host, name, &mut SourceMap::default(), &mut Diagnostics::default()).unwrap()
}

/// So many different mutants of all sources, each source as often as any other.
fn mutants(sources: &[Source], count: usize) -> Vec<(Source, Mutant)> {
    let mut random = Random::seeded(seed(), "mutants");
    let mut seen: BTreeSet<String> = sources.iter().map(|s| s.text.clone()).collect();
    let mut list = Vec::new();
    let mut tries = 0;
    while list.len() < count && tries < 50 * count {
        let source = &sources[tries % sources.len()];
        tries += 1;
        let own = source.text.find(&format!("routine {}(", source.name)).unwrap_or(0);
        let (before, text) = source.text.split_at(own);
        let Some(mut mutant) = mutate(text, &mut random) else { continue };
        mutant.text = format!("{before}{}", mutant.text);
        if seen.insert(mutant.text.clone()) {
            list.push((source.clone(), mutant));
        }
    }
    list
}

/// What came of one mutant.
struct Outcome {
    class: Class,
    micros: u64,
    tried: usize,
    contradictions: Vec<String>,
    counterexamples: Vec<(Kind, Seen, String)>,
}

/// What the measure saw at the values of a counterexample.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Seen {
    /// The same fault.
    Agrees,
    /// Another fault than the one that is claimed.
    Other,
    /// No fault.
    Disagrees,
    /// The values are not admitted as a whole, or lead to too long a motion.
    NotTried,
    /// A fault of a kind that no trace can show.
    Beyond,
}

fn outcome(source: &Source, mutant: &Mutant, plan: &Plan, blocks: &Machine) -> Outcome {
    let report = source::checked(&mutant.text);
    let judged = source::judged(&report, &source.name);
    let mut outcome = Outcome {
        class: source::class(judged),
        micros: judged.map_or(0, |j| j.micros),
        tried: 0,
        contradictions: Vec::new(),
        counterexamples: Vec::new(),
    };
    match (outcome.class, judged) {
        (Class::Proved, Some(judged)) => try_sizes(source, mutant, judged, plan, blocks, &mut outcome),
        (Class::Refuted, Some(judged)) => outcome.counterexamples = replay(judged),
        (Class::Proved | Class::Refuted | Class::Unknown | Class::Rejected, _) => {}
    }
    outcome
}

fn try_sizes(
    source: &Source,
    mutant: &Mutant,
    judged: &Judged,
    plan: &Plan,
    blocks: &Machine,
    outcome: &mut Outcome,
) {
    let Some(mut walk) = Walk::new(&judged.motion, seed()) else { return };
    let every = (plan.sizes / plan.texts.max(1)).max(1);
    for i in 0..plan.sizes {
        let sizes = walk.step();
        let grid = if i.is_multiple_of(10) { 24 } else { 9 };
        let tolerance = Tolerance { grid, ..Tolerance::EXACT };
        let mut trials = vec![("motion", trial::exact(&judged.motion, &sizes, tolerance))];
        if i.is_multiple_of(every) && trials.iter().all(|(_, t)| *t == Trial::Kept) {
            trials.push(("text", trial::text(&judged.motion, &sizes, blocks)));
        }
        for (how, trial) in trials {
            outcome.tried += usize::from(trial == Trial::Kept || trial.contradicts());
            if trial.contradicts() && outcome.contradictions.len() < 2 {
                outcome.contradictions.push(format!(
                    "{} {how}: {}\n    {trial:?}\n    at {}",
                    source.name,
                    mutant.change,
                    shown(&sizes)
                ));
            }
        }
    }
}

/// What the measure says of each counterexample.
fn replay(judged: &Judged) -> Vec<(Kind, Seen, String)> {
    let mut list = Vec::new();
    for settled in &judged.verdicts.settled {
        let Verdict::Refuted(counter) = &settled.verdict else { continue };
        let kind = settled.obligation.kind;
        let said: Sizes = arguments(&judged.motion, &counter.values);
        let sizes = filled(&judged.motion, &said, seed()).unwrap_or(said);
        let trial = trial::exact(&judged.motion, &sizes, Tolerance::EXACT);
        let seen = seen(kind, &trial);
        list.push((kind, seen, format!("{}: {trial:?} at {}", settled.obligation.id, shown(&sizes))));
    }
    list
}

fn seen(kind: Kind, trial: &Trial) -> Seen {
    let rules = match kind {
        Kind::Default | Kind::Divisor | Kind::Domain | Kind::Ends => &[][..],
        Kind::Argument | Kind::Requirement | Kind::Cutter => &[],
        Kind::ArcRadii => &[Rule::Arc],
        Kind::ArcSize => &[Rule::ArcSize],
        Kind::Feed => &[Rule::Feed],
        Kind::Entry => &[Rule::Position],
        Kind::Rapid => &[Rule::Rapid],
        Kind::Plunge => &[Rule::Plunge],
        Kind::Ramp => &[Rule::Ramp],
        Kind::Flutes => &[Rule::Flutes],
        Kind::Shank => &[Rule::Shank],
        Kind::Wall => &[Rule::Wall],
        Kind::Floor => &[Rule::Floor],
        Kind::Contact | Kind::Landing | Kind::Meeting => &[Rule::Sized, Rule::Meeting],
        Kind::Standing | Kind::Pin => &[Rule::Cleared],
        Kind::Joint | Kind::Dwell => &[Rule::Smooth],
        Kind::Side => &[Rule::Side],
        Kind::Web => &[Rule::Apart],
        Kind::Spindle => &[Rule::Spindle, Rule::Side],
        // What is owed by a text, not by a motion.
        _ => return Seen::Beyond,
    };
    match trial {
        Trial::Faults(faults) if faults.iter().any(|f| rules.contains(&f.rule)) => Seen::Agrees,
        Trial::Broken(_) => Seen::Agrees,
        Trial::Faults(_) => Seen::Other,
        Trial::TooLong if kind == Kind::Ends => Seen::Agrees,
        Trial::NotAdmitted | Trial::TooLong | Trial::NotWritten(_) => Seen::NotTried,
        Trial::Kept => Seen::Disagrees,
    }
}

#[test]
fn what_is_proved_of_a_changed_routine_holds_at_every_size_tried() {
    let plan = plan();
    let list = mutants(&source::all(), plan.mutants);
    assert_eq!(list.len(), plan.mutants, "so many different mutants");
    let blocks = machine("blocks-mm");
    let outcomes = side_by_side(&list, |(source, mutant)| outcome(source, mutant, &plan, &blocks));
    table(&list, &outcomes);
    slowest(&list, &outcomes);
    let wrong: Vec<&String> = outcomes.iter().flat_map(|o| &o.contradictions).collect();
    let wrong: Vec<&str> = wrong.iter().map(|s| s.as_str()).collect();
    assert!(wrong.is_empty(), "{} contradictions\n{}", wrong.len(), wrong.join("\n"));
    let proved = outcomes.iter().filter(|o| o.class == Class::Proved).count();
    let refuted = outcomes.iter().filter(|o| o.class == Class::Refuted).count();
    assert!(20 * proved > plan.mutants && 4 * refuted > plan.mutants, "the changes are worth trying");
}

fn side_by_side<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let (next, results) = (AtomicUsize::new(0), Mutex::new(BTreeMap::new()));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..cores {
            let take_turns = || {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(i) else { break };
                    let result = work(item);
                    results.lock().unwrap().insert(i, result);
                }
            };
            std::thread::Builder::new().stack_size(STACK).spawn_scoped(scope, take_turns).unwrap();
        }
    });
    results.into_inner().unwrap_or_else(|_| panic!("a thread failed")).into_values().collect()
}

/// What took longest to judge.
fn slowest(list: &[(Source, Mutant)], outcomes: &[Outcome]) {
    let mut by_time: Vec<_> = list.iter().zip(outcomes).collect();
    by_time.sort_by_key(|(_, o)| std::cmp::Reverse(o.micros));
    println!("slowest:");
    for ((source, mutant), o) in by_time.into_iter().take(8) {
        println!("{:8} ms {:?} {} {}", o.micros / 1000, o.class, source.name, mutant.change);
    }
}

/// Figures for the reader: shown with `--nocapture`.
fn table(list: &[(Source, Mutant)], outcomes: &[Outcome]) {
    println!(
        "\n{:24}{:>9}{:>9}{:>9}{:>9}{:>12}{:>12}",
        "", "proved", "refuted", "unknown", "rejected", "median ms", "slowest ms"
    );
    let names: BTreeSet<&str> = list.iter().map(|(s, _)| s.name.as_str()).collect();
    for name in names.into_iter().chain([""]) {
        let own: Vec<&Outcome> = list
            .iter()
            .zip(outcomes)
            .filter(|((s, _), _)| name.is_empty() || s.name == name)
            .map(|(_, o)| o)
            .collect();
        let count = |class| own.iter().filter(|o| o.class == class).count();
        let mut micros: Vec<u64> =
            own.iter().filter(|o| o.class != Class::Rejected).map(|o| o.micros).collect();
        micros.sort_unstable();
        let ms = |i: usize| micros.get(i).map_or(0.0, |m| *m as f64 / 1000.0);
        println!(
            "{:24}{:>9}{:>9}{:>9}{:>9}{:>12.1}{:>12.1}",
            if name.is_empty() { "all" } else { name },
            count(Class::Proved),
            count(Class::Refuted),
            count(Class::Unknown),
            count(Class::Rejected),
            ms(micros.len() / 2),
            ms(micros.len().saturating_sub(1)),
        );
    }
    println!("sizes tried on proved ones: {}", outcomes.iter().map(|o| o.tried).sum::<usize>());
    let mut seen: BTreeMap<Seen, usize> = BTreeMap::new();
    let examples: Vec<_> =
        outcomes.iter().zip(list).flat_map(|(o, l)| o.counterexamples.iter().map(move |c| (c, l))).collect();
    for ((_, s, _), _) in &examples {
        *seen.entry(*s).or_default() += 1;
    }
    println!("counterexamples by what the measure sees: {seen:?}");
    let wrong = seen.get(&Seen::Disagrees).copied().unwrap_or(0);
    println!("of those tried, {wrong} show nothing by the measure");
    if std::env::var("BOREWRIGHT_SHOW").is_ok() {
        for (((kind, s, text), (source, mutant)), _) in examples.iter().zip(0..) {
            if matches!(s, Seen::Disagrees | Seen::Other | Seen::NotTried) {
                println!("{s:?} {kind:?} {} {}\n    {text}", source.name, mutant.change);
            }
        }
        for ((source, mutant), o) in list.iter().zip(outcomes) {
            if matches!(o.class, Class::Proved | Class::Unknown) {
                println!("{:?} {} {}", o.class, source.name, mutant.change);
            }
        }
    }
}
