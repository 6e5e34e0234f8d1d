//! From typed routines and jobs to motions: **lower** writes every value as a symbolic expression and every
//! statement as an action, and decides nothing.
//!
//! A feed holds to its brace: each move gets the one that its own block states, or none, which no proof
//! accepts. Points become two coordinates, words and rows become the numbers by which a macro knows them.

mod body;
pub mod codes;
mod direction;
mod expr;
mod inherit;
mod names;
mod routine;

use std::collections::BTreeMap;
use std::sync::Arc;

use borewright_base::Diagnostics;
use borewright_check::typed::{Checked, RoutineId};
use borewright_motion::Motion;

/// The motions of the file's own sound routines and jobs, in source order. Each routine is lowered once:
/// callers share it, and the routines of used files are reached through the calls.
#[must_use]
pub fn lower(checked: &Checked) -> (Vec<Arc<Motion>>, Diagnostics) {
    let mut lowering = Lowering { checked, done: BTreeMap::new(), diagnostics: Diagnostics::default() };
    let motions = checked.own.iter().filter_map(|id| lowering.routine(*id)).collect();
    (motions, lowering.diagnostics)
}

/// Every motion that these call, directly or not, each once: callees before their callers.
#[must_use]
pub fn called(motions: &[Arc<Motion>]) -> Vec<Arc<Motion>> {
    fn visit(steps: &[borewright_motion::Step], found: &mut Vec<Arc<Motion>>) {
        for (call, _) in borewright_motion::calls(steps) {
            if !found.iter().any(|m| Arc::ptr_eq(m, &call.routine)) {
                visit(&call.routine.body, found);
                found.push(call.routine.clone());
            }
        }
    }
    let mut found = Vec::new();
    for motion in motions {
        visit(&motion.body, &mut found);
    }
    found
}

/// One run: what has been lowered so far.
struct Lowering<'a> {
    checked: &'a Checked,
    done: BTreeMap<RoutineId, Option<Arc<Motion>>>,
    diagnostics: Diagnostics,
}

impl Lowering<'_> {
    /// The motion of a routine; `None` where an error was reported in it or in one that it calls.
    fn routine(&mut self, id: RoutineId) -> Option<Arc<Motion>> {
        if let Some(done) = self.done.get(&id) {
            return done.clone();
        }
        let checked = self.checked;
        let routine = checked.routine(id).filter(|r| r.sound)?;
        // Sound routines never need themselves, so this ends.
        let settled = |mut motion: Motion| {
            direction::settle(&mut motion);
            Arc::new(motion)
        };
        let motion = routine::Lower::new(self, routine).run().map(settled);
        self.done.insert(id, motion.clone());
        motion
    }
}
