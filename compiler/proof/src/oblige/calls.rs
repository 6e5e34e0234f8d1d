//! Calls: what the called routine asks for, and what its promises are worth to the caller.

use borewright_motion::Promise;

use super::{Context, Event};

/// Adds the obligations of every call.
pub(crate) fn oblige(context: &mut Context<'_>) {
    let _ = context;
}

/// Whether the promise is kept by calls, and obliged with them.
pub(crate) fn keeps_by_calls(context: &Context<'_>, _promise: &Promise) -> bool {
    context.events.iter().any(|e| matches!(e, Event::Call(..)))
}
