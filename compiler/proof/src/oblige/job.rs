//! Jobs: tools, spindle, travel and stops, with exact values.

use super::Context;

/// Adds the obligations of a job.
pub(crate) fn oblige(context: &mut Context<'_>) {
    let _ = context.motion.job.is_some();
}
