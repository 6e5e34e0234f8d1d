//! The virtual controller: from controller text to what the machine does.
//!
//! Three steps, one verb each: [`read`] turns text into blocks, [`step`](step::step) tells what one block does,
//! [`run`] runs a whole program to a [`Trace`]. It shares no code with the compiler, so that a text which the
//! compiler wrote and a run of it are two witnesses, not one.

pub mod checks;
pub mod code;
mod conform;
pub mod controller;
pub mod errors;
mod read;
mod run;
pub mod state;
pub mod step;
pub mod text;
pub mod trace;
pub mod value;

pub use conform::conform;
pub use controller::Controller;
pub use errors::Fault;
pub use read::{decode, read};
pub use run::{
    Alarm, CutterOffset, Event, EventKind, Execution, Request, RunOptions, Setting, Store, execute, idle,
    parse_block, parse_call, parse_offset, parse_set, power_up,
};
pub use text::Program;
pub use trace::{Trace, run};
