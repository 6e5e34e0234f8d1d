//! From obligations to verdicts, and from verdicts to a motion that may be emitted.

use std::sync::Arc;

use borewright_motion::{Motion, Step, calls};

use crate::certificate::Certificate;
use crate::engine::{Budget, prove, witness};
use crate::{
    Answer, Assumption, Formula, Kind, Limits, Lints, Obligation, Oracle, Remark, Suggestion, Valuation,
    assume, oblige,
};

/// A motion of which every obligation is proved. Only [`settle`] makes one.
#[derive(Debug, Clone, PartialEq)]
pub struct Proved<M>(M);

impl<M> Proved<M> {
    /// The motion.
    #[must_use]
    pub fn get(&self) -> &M {
        &self.0
    }
}

/// What is known of an obligation.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// It holds for all values.
    Proved {
        /// The formula that was proved: the obligation's own, or an easier one that implies it.
        formula: Formula,
        /// Positions of the hypotheses that the proof used.
        used: Vec<usize>,
        /// The proof, from which a certificate is written; `None` for values that meet all requirements.
        proof: Option<Arc<Certificate>>,
    },
    /// It fails for these values.
    Refuted(Counterexample),
    /// Neither was shown.
    Unknown {
        /// Why, in one line.
        why: String,
    },
}

/// Values for which an obligation fails.
#[derive(Debug, Clone, PartialEq)]
pub struct Counterexample {
    /// Values of parameters, facts of the cutter and counters.
    pub values: Valuation,
    /// What happens then, in words, where it was seen by running the motion.
    pub fault: Option<Fault>,
}

/// What goes wrong at concrete values, seen by running the motion.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// "the cutter passes the wall by 1.4mm"
    pub text: String,
    /// The step that does it.
    pub span: borewright_base::Span,
}

/// An obligation with its verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// What must hold.
    pub obligation: Obligation,
    /// Whether it does.
    pub verdict: Verdict,
    /// Steps that the engine took.
    pub steps: u64,
    /// Microseconds by the caller's clock; 0 where there is none.
    pub micros: u64,
}

/// All that was found about one motion.
#[derive(Debug, Clone)]
pub struct Verdicts {
    /// Every obligation with its verdict, in the order of the text.
    pub settled: Vec<Settled>,
    /// Called routines that are not proved.
    pub unproved: Vec<String>,
    /// The motion, when all is proved.
    pub proved: Option<Proved<Motion>>,
    /// What is assumed and not proved.
    pub assumptions: Vec<Assumption>,
    /// Lines that would make what is not proved hold; see [`crate::review`].
    pub suggestions: Vec<Suggestion>,
    /// What is worth a look; see [`crate::review`].
    pub remarks: Vec<Remark>,
}

/// What a verdict may cost.
#[derive(Debug, Clone)]
pub struct Settings {
    /// For each formula.
    pub budget: Budget,
    /// For each easier formula that is tried before.
    pub trial: Budget,
    /// What the machine sets as limits.
    pub limits: Limits,
    /// Which remarks are wanted.
    pub lints: Lints,
}

impl Default for Settings {
    fn default() -> Self {
        let trial = Budget { steps: 20_000 };
        Self { budget: Budget::default(), trial, limits: Limits::default(), lints: Lints::default() }
    }
}

/// The engine, as far as the rules may ask it.
#[derive(Debug, Clone)]
pub struct Engine {
    /// For each question.
    pub budget: Budget,
}

impl Oracle for Engine {
    fn holds(&self, formula: &Formula) -> bool {
        matches!(prove(formula, &self.budget).answer, Answer::Proved { .. })
    }

    fn witness(&self, formula: &Formula) -> Option<Valuation> {
        witness(formula)
    }
}

/// Writes down the obligations of a motion and decides each of them.
///
/// `callees` are the routines that are proved already; a motion that calls any other is not proved.
#[must_use]
pub fn settle(motion: &Motion, callees: &[&Proved<Motion>], settings: &Settings) -> Verdicts {
    settle_timed(motion, callees, settings, &|| 0)
}

/// The same, with a clock in microseconds, which decides nothing: it is only noted what each obligation took.
#[must_use]
pub fn settle_timed(
    motion: &Motion,
    callees: &[&Proved<Motion>],
    settings: &Settings,
    clock: &dyn Fn() -> u64,
) -> Verdicts {
    let engine = Engine { budget: settings.trial.clone() };
    let obligations = oblige(motion, &settings.limits, &engine);
    let timed = |obligation| {
        let start = clock();
        let settled = decide(motion, obligation, settings);
        Settled { micros: clock().saturating_sub(start), ..settled }
    };
    let settled: Vec<Settled> = obligations.into_iter().map(timed).collect();
    let mut unproved = Vec::new();
    for routine in called(&motion.body) {
        let known = callees.iter().any(|p| *p.get() == *routine);
        if !known && !unproved.contains(&routine.name) {
            unproved.push(routine.name.clone());
        }
    }
    let all = settled.iter().all(|s| matches!(s.verdict, Verdict::Proved { .. }));
    let proved = (all && unproved.is_empty()).then(|| Proved(motion.clone()));
    Verdicts {
        settled,
        unproved,
        proved,
        assumptions: assume(motion),
        suggestions: Vec::new(),
        remarks: Vec::new(),
    }
}

/// Decides one obligation.
#[must_use]
pub fn decide(motion: &Motion, obligation: Obligation, settings: &Settings) -> Settled {
    if obligation.kind == Kind::Witness {
        return decide_witness(obligation, settings);
    }
    let mut steps = 0;
    for formula in &obligation.easier {
        let outcome = prove(formula, &settings.trial);
        steps += outcome.steps;
        if let Answer::Proved { used } = outcome.answer {
            let proof = outcome.certificate.map(Arc::new);
            let verdict = Verdict::Proved { formula: formula.clone(), used, proof };
            return Settled { obligation, verdict, steps, micros: 0 };
        }
    }
    let outcome = prove(&obligation.formula, &settings.budget);
    steps += outcome.steps;
    let verdict = match outcome.answer {
        Answer::Proved { used } => {
            let proof = outcome.certificate.map(Arc::new);
            Verdict::Proved { formula: obligation.formula.clone(), used, proof }
        }
        Answer::Refuted(values) => crate::replay::confirm(motion, &obligation, values),
        Answer::Unknown { why } => Verdict::Unknown { why },
    };
    Settled { obligation, verdict, steps, micros: 0 }
}

/// Some values meet all requirements; if that is refuted, nobody could ever use the motion.
fn decide_witness(obligation: Obligation, settings: &Settings) -> Settled {
    let formula = obligation.formula.clone();
    if witness(&formula).is_some() {
        let verdict = Verdict::Proved { formula, used: Vec::new(), proof: None };
        return Settled { obligation, verdict, steps: 0, micros: 0 };
    }
    let outcome = prove(&formula, &settings.budget);
    let verdict = match outcome.answer {
        // That nothing follows from them is proved: they contradict each other.
        Answer::Proved { .. } => Verdict::Refuted(Counterexample { values: Valuation::new(), fault: None }),
        Answer::Refuted(_) => Verdict::Proved { formula, used: Vec::new(), proof: None },
        Answer::Unknown { .. } => {
            Verdict::Unknown { why: "no values were found that meet all requirements".to_owned() }
        }
    };
    Settled { obligation, verdict, steps: outcome.steps, micros: 0 }
}

/// Every routine that is called, in order.
pub(crate) fn called(steps: &[Step]) -> Vec<Arc<Motion>> {
    calls(steps).into_iter().map(|(call, _)| call.routine.clone()).collect()
}
