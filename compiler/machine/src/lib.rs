//! Reading machine files: from TOML text to a [`Machine`], which says what a controller accepts.
//!
//! Machine files are checked against a JSON schema that is published with them ([`schema`]). A few generic
//! ones are built in, named by what they are; no brand is: users keep files of their own.
//!
//! ```
//! use borewright_machine::Machine;
//! let machine = Machine::builtin("hash-mm").unwrap();
//! assert_eq!(machine.letter_variable('D'), Some(7));
//! assert!(Machine::builtin("my-mill").is_none());
//! ```

mod builtin;
mod compensation;
mod decimal;
mod default;
pub mod errors;
mod fields;
mod judge;
mod machine;
mod read;
mod validate;

pub use builtin::BUILTIN;
pub use compensation::{Compensation, Entry, OutsideCorners};
pub use decimal::Decimal;
pub use machine::{
    Alarms, Arcs, Axes, BlockNumbers, Calls, Centre, Expressions, Flow, Machine, MissingPoint, Modes,
    Numbers, Programs, Range, Text, Travel, Units, Variables, Wear, Words,
};
pub use read::parse;
pub use validate::schema;
