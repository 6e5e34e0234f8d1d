//! The bundled routines and the sample jobs are proved whole.

mod written;

use borewright_proof::{Verdict, errors};

fn proved(text: &str) {
    for (motion, verdicts) in written::settled(text) {
        let found = errors::findings(&motion, &verdicts);
        let messages: Vec<String> =
            found.iter().map(|d| format!("{} {}", d.code.number, d.message)).collect();
        let open: Vec<String> = verdicts
            .settled
            .iter()
            .filter(|s| !matches!(s.verdict, Verdict::Proved { .. }))
            .map(|s| format!("{} goal {}", s.obligation.id, s.obligation.formula.goal))
            .collect();
        assert!(verdicts.proved.is_some(), "{}: {messages:#?}\n{open:#?}", motion.name);
        assert_eq!(messages, Vec::<String>::new(), "{}", motion.name);
    }
}

#[test]
fn bundled_routines_are_proved() {
    for (_, text) in borewright_stdlib::FILES {
        proved(text);
    }
}

#[test]
fn sample_jobs_are_proved() {
    proved(include_str!("../../../samples/gearbox_seats.bore"));
    proved(include_str!("../../../samples/guide_bush.bore"));
}
