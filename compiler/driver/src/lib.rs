//! From paths to reports: the whole pipeline in one place, without files, clock or terminal. What it needs of
//! the world it asks of a [`Host`]; what it has to say it returns.

mod agreement;
mod build;
pub mod certificates;
pub mod codes;
pub mod dump;
pub mod errors;
mod format;
mod host;
mod load;
pub mod machines;
mod pipeline;
pub mod render;
mod run;
mod setting;
mod smt2;
mod texts;
mod verdicts;
mod verify;

pub use borewright_base::SourceMap;
pub use borewright_emit::Form;
pub use borewright_proof::{Lints, Settings};
pub use build::{BuildOrder, Built, BuiltProgram, build};
pub use format::{Formatted, format};
pub use host::{Host, MemoryHost, Place, Trouble};
pub use load::{Beside, Loaded, load};
pub use pipeline::{Judged, Report, check, check_with};
pub use run::{Ran, RunOrder, run};
pub use smt2::smt2;
pub use verify::{Verified, VerifiedObligation, verify};
