//! From verdicts to suggestions: for what is refuted or unknown, the weakest short requirement found with which it
//! is proved; and from proofs to remarks on requirements that could be dropped or weaker.
//!
//! - **words**: what a requirement may speak of; **source**: how it is written;
//! - **goals** and **family**: requirements that come into question; **short**: the numbers in them;
//! - **trial** and **search**: which of them are proved, the weakest first;
//! - **takeover**: `requires all` for what a call asks for; **lint**: requirements that say too much.
//!
//! A suggestion is checked by proving: the motion with it is obliged and decided anew. The search is counted in
//! steps, never in time.

mod family;
mod goals;
mod lint;
mod search;
mod short;
mod source;
mod takeover;
mod trial;
mod words;

use std::collections::BTreeSet;

use borewright_motion::{Clause, Condition, CutterKind, Demands, Motion, Requirement, decide as holds};

use crate::engine::violations;
use crate::{
    Engine, Formula, Hypothesis, HypothesisKind, Kind, Settings, Settled, Valuation, Verdict, Verdicts,
    decide, oblige,
};
use family::Said;
pub use lint::{Remark, could_be_weaker, never_taken, not_needed};
use search::{Ground, Search};
use trial::{Target, Work};
use words::Words;

/// One line that the author may add, checked by proof.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Suggestion {
    /// The whole line: `requires lead <= wall else "LEAD TOO LARGE"`.
    pub text: String,
    /// What it does.
    pub manner: Manner,
    /// What then holds.
    pub condition: Condition,
    /// Ids of the obligations that are proved with it.
    pub settles: Vec<String>,
}

/// What a suggested line does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// A requirement is added at the end of the head.
    Require,
    /// A requirement is added above the line that needs it.
    RequireAbove,
    /// The cutter line takes the place of the present one.
    Demand,
    /// What a called routine asks for is taken over.
    TakeOver,
}

/// How much one routine's suggestions may cost, in steps of the engine.
const ALL_STEPS: u64 = 400_000;
const TRIAL_STEPS: u64 = 6_000;
const MOST_OPEN: u32 = 24;
const MOST_TRIES: u32 = 400;
const SAMPLES: u64 = 240;
const MOST_SEARCHES: usize = 6;
/// A line that leaves less of the admitted sizes is held against lines for each finding by itself.
const MILD: f64 = 0.5;
/// How many requirements may be given up because they exclude the defaults.
const MOST_REFUSED: usize = 6;

/// Which remarks are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Lints {
    /// Requirements that could be weaker: each costs a search of its own.
    pub weaker: bool,
    /// Verdicts alone: no suggestion is looked for, and nothing is remarked.
    pub none: bool,
}

/// Adds to verdicts what may help their reader: suggestions where something is not proved, else remarks.
pub fn review(motion: &Motion, verdicts: &mut Verdicts, settings: &Settings) {
    if settings.lints.none {
        return;
    }
    verdicts.suggestions = suggest(motion, verdicts, settings);
    verdicts.remarks = never_taken(motion, verdicts);
    verdicts.remarks.extend(not_needed(motion, verdicts, settings));
    if settings.lints.weaker {
        let weaker = could_be_weaker(motion, verdicts, settings);
        verdicts.remarks.extend(weaker);
    }
}

/// The weakest short requirements found that would make what is not proved hold. Empty where all is proved.
#[must_use]
pub fn suggest(motion: &Motion, verdicts: &Verdicts, settings: &Settings) -> Vec<Suggestion> {
    let Some(everything) = everything(verdicts) else { return Vec::new() };
    let open: Vec<&Settled> = verdicts.settled.iter().filter(|s| can_be_helped(s)).collect();
    if motion.parameters.is_empty() || open.is_empty() {
        return Vec::new();
    }
    let admitted = violations(everything, SAMPLES);
    let ground = Ground { motion, everything, admitted: &admitted };
    let mut work = Work { left: ALL_STEPS, trial: TRIAL_STEPS, open: MOST_OPEN, tries: MOST_TRIES };
    let found = takeover::suggest(motion, &open, verdicts, settings);
    let rest: Vec<&Settled> = open.iter().copied().filter(|s| is_open(&found, s)).collect();
    let mut found_for = |open: &[&Settled]| for_all(&ground, open, verdicts, settings, &mut work);
    let joint = found_for(&rest);
    let mild = joint.as_ref().is_some_and(|j| kept(&ground, std::slice::from_ref(j)) >= MILD);
    let mut single: Vec<Suggestion> = Vec::new();
    if !mild && rest.len() > 1 {
        for settled in rest.iter().copied().take(MOST_SEARCHES) {
            if is_open(&single, settled) {
                single.extend(found_for(&[settled]));
            }
        }
    }
    // One line is easier to take over than several, but not at the price of sizes that need not be given up.
    let all = rest.iter().all(|s| !is_open(&single, s));
    let better = match joint {
        Some(joint) if !all || kept(&ground, std::slice::from_ref(&joint)) >= kept(&ground, &single) => {
            vec![joint]
        }
        Some(_) | None => single,
    };
    found.into_iter().chain(better).collect()
}

/// Whether none of these settles it.
fn is_open(found: &[Suggestion], settled: &Settled) -> bool {
    !found.iter().any(|f| f.settles.contains(&settled.obligation.id))
}

/// Part of the admitted points that these leave, taken together.
fn kept(ground: &Ground<'_>, found: &[Suggestion]) -> f64 {
    let words = Words::of(ground.motion, ground.motion.head.len());
    let conditions: Vec<Condition> = found.iter().map(|f| words.inline_condition(&f.condition)).collect();
    let meets = |p: &&Valuation| conditions.iter().all(|c| holds(c, p) == Some(true));
    let count = |n: usize| f64::from(u32::try_from(n).unwrap_or(u32::MAX));
    count(ground.admitted.iter().filter(meets).count()) / count(ground.admitted.len().max(1))
}

/// A formula that no requirement can save is left out: it is plainly false.
fn can_be_helped(settled: &Settled) -> bool {
    !matches!(settled.verdict, Verdict::Proved { .. })
        && settled.obligation.kind != Kind::Witness
        && settled.obligation.formula.goal != Condition::False
}

/// All that the head says, with a goal that never holds.
fn everything(verdicts: &Verdicts) -> Option<&Formula> {
    let witness = verdicts.settled.iter().find(|s| s.obligation.kind == Kind::Witness)?;
    matches!(witness.verdict, Verdict::Proved { .. }).then_some(&witness.obligation.formula)
}

/// One line for all of them, if there is one.
fn for_all(
    ground: &Ground<'_>,
    open: &[&Settled],
    verdicts: &Verdicts,
    settings: &Settings,
    work: &mut Work,
) -> Option<Suggestion> {
    if open.is_empty() {
        return None;
    }
    let targets: Vec<Target<'_>> = open.iter().map(|s| Target::of(ground.motion, s)).collect();
    let lines = targets.iter().map(|t| t.lines).min()?;
    let mut search = Search::new(ground, &targets);
    let defaults = keeps_defaults(ground, &Condition::True);
    let mut refused: Option<Suggestion> = None;
    for _ in 0..MOST_REFUSED {
        let Some(said) = search.next(work) else { break };
        let with = extended(ground.motion, &said, lines);
        let Some(settles) = settled_by(&with, verdicts, settings) else { continue };
        if open.iter().any(|s| !settles.contains(&s.obligation.id)) {
            continue;
        }
        let Some(suggestion) = written(search.words(), ground.motion, &said, lines, settles) else {
            continue;
        };
        if !defaults || keeps_defaults(ground, &said.condition()) {
            return Some(suggestion);
        }
        refused = refused.or(Some(suggestion));
    }
    refused
}

/// The line as text.
fn written(
    words: &Words,
    motion: &Motion,
    said: &Said,
    lines: usize,
    settles: Vec<String>,
) -> Option<Suggestion> {
    Some(match said {
        Said::Require(condition) => {
            let text = source::condition(words, condition)?;
            let alarm = source::alarm(words, condition);
            let manner = if lines < motion.head.len() { Manner::RequireAbove } else { Manner::Require };
            let text = format!("requires {text} else \"{alarm}\"");
            Suggestion { text, manner, condition: condition.clone(), settles }
        }
        Said::Demand(rule) => Suggestion {
            text: source::cutter_line(words, motion.demands.as_ref(), rule)?,
            manner: Manner::Demand,
            condition: rule.condition(),
            settles,
        },
    })
}

/// The motion with one more requirement above that line of the head, or one more demand.
fn extended(motion: &Motion, said: &Said, lines: usize) -> Motion {
    let mut motion = motion.clone();
    match said {
        Said::Require(condition) => {
            let requirement = Requirement {
                condition: condition.clone(),
                alarm: String::new(),
                practice: false,
                span: motion.span,
            };
            motion.head.insert(lines.min(motion.head.len()), Clause::Require(requirement));
        }
        Said::Demand(rule) => {
            let none = || Demands { kind: CutterKind::Flat, rules: Vec::new(), span: rule.span };
            motion.demands.get_or_insert_with(none).rules.push(rule.clone());
        }
    }
    motion
}

/// Which obligations that were open are proved for the changed motion; `None` if something new now fails. What was
/// proved stays so with one more hypothesis, and is not proved again; that some values meet them all is.
fn settled_by(with: &Motion, before: &Verdicts, settings: &Settings) -> Option<Vec<String>> {
    let was = |id: &str, open: bool| {
        let is_it = |s: &&Settled| s.obligation.id == id && s.obligation.kind != Kind::Witness;
        before.settled.iter().find(is_it).is_some_and(|s| matches!(s.verdict, Verdict::Proved { .. }) != open)
    };
    let engine = Engine { budget: settings.trial.clone() };
    let mut open = BTreeSet::new();
    for obligation in oblige(with, &settings.limits, &engine) {
        if was(&obligation.id, false) {
            continue;
        }
        let settled = decide(with, obligation, settings);
        if !matches!(settled.verdict, Verdict::Proved { .. }) {
            if !was(&settled.obligation.id, true) {
                return None;
            }
            open.insert(settled.obligation.id);
        }
    }
    let all = before.settled.iter().map(|s| s.obligation.id.as_str()).filter(|id| was(id, true));
    Some(all.filter(|id| !open.contains(*id)).map(str::to_owned).collect())
}

/// Whether some values meet the head and the requirement with each default in its place.
fn keeps_defaults(ground: &Ground<'_>, requirement: &Condition) -> bool {
    let mut formula = trial::extended(ground.everything, ground.everything, requirement);
    for parameter in &ground.motion.parameters {
        let Some(default) = &parameter.default else { continue };
        let condition = Condition::equal(borewright_motion::Expr::symbol(&parameter.symbol), default.clone());
        formula.hypotheses.push(Hypothesis { condition, kind: HypothesisKind::Requirement, span: None });
    }
    !violations(&formula, 24).is_empty()
}
