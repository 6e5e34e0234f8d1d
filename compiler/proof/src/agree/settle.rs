//! From obligations of agreement to a text that may be written.

use borewright_machine::Machine;
use borewright_motion::{Lifted, Motion};

use super::{Interface, agree};
use crate::{Obligation, Proved, Settings, Settled, Verdict, decide};

/// A text that is proved to agree with its motion. Only [`settle_text`] makes one.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreed<T>(T);

impl<T> Agreed<T> {
    /// The text.
    #[must_use]
    pub fn get(&self) -> &T {
        &self.0
    }
}

impl Agreed<Lifted> {
    /// The text by itself.
    #[must_use]
    pub fn text(&self) -> Agreed<String> {
        Agreed(self.0.text.clone())
    }

    /// The programs that it calls: together with it they do what the motion does.
    #[must_use]
    pub fn others(&self) -> Vec<Agreed<String>> {
        self.0.others.iter().cloned().map(Agreed).collect()
    }
}

/// All that was found about one text.
#[derive(Debug, Clone, PartialEq)]
pub struct TextVerdicts {
    /// Every obligation with its verdict.
    pub settled: Vec<Settled>,
    /// The text, when all is proved.
    pub agreed: Option<Agreed<Lifted>>,
}

/// Decides whether a text agrees with the motion that was proved.
#[must_use]
pub fn settle_text(
    motion: &Proved<Motion>,
    lifted: Lifted,
    machine: &Machine,
    interface: &Interface,
    settings: &Settings,
) -> TextVerdicts {
    let (settled, agrees) = settle_unproved(motion.get(), &lifted, machine, interface, settings);
    TextVerdicts { settled, agreed: agrees.then_some(Agreed(lifted)) }
}

/// The verdicts on a text against a motion that need not be proved: for tests. It gives nothing that could be
/// written.
#[doc(hidden)]
#[must_use]
pub fn settle_unproved(
    motion: &Motion,
    lifted: &Lifted,
    machine: &Machine,
    interface: &Interface,
    settings: &Settings,
) -> (Vec<Settled>, bool) {
    let decide = |obligation: Obligation| decide(motion, obligation, settings);
    let settled: Vec<Settled> = agree(motion, lifted, machine, interface).into_iter().map(decide).collect();
    let agrees = settled.iter().all(|s| matches!(s.verdict, Verdict::Proved { .. }));
    (settled, agrees)
}
