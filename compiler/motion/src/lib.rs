//! The motion: the middle of the compiler. A structured program of moves, arcs, loops and mode changes over
//! symbolic expressions, with the contract it is to keep.
//!
//! Source texts are lowered into it; obligations and controller texts are made from it. It knows neither
//! the language nor the prover nor any controller, and it can be written by hand:
//!
//! ```
//! use borewright_motion::{Expr, Symbol};
//! let bore = Symbol::new("bore");
//! let wall = (Expr::symbol(&bore) - Expr::from(12)) / Expr::from(2);
//! assert_eq!(wall.to_string(), "(bore - 12) / 2");
//! ```
//!
//! Values are in base units: millimetre, degree, minute. [`Expr::sin`] and its kin take and give degrees.

mod bind;
mod condition;
mod course;
mod cutter;
mod evaluate;
mod expr;
mod instantiate;
mod ir;
mod linear;
mod order;
mod print;
mod unroll;

pub use bind::{BindError, bind};
pub use condition::{Condition, Relation};
pub use course::{Act, ActKind, Course, Ending, Entry, Joined, Lifted, Need, Place, Spindle, State};
pub use cutter::{CutterKind, Demand, Demands, Field, Tool};
pub use evaluate::{Environment, EvaluateError, Value, decide, decide_with, evaluate, evaluate_with};
pub use expr::{Expr, Function, Node, Symbol};
pub use instantiate::{Bodies, Instance};
pub use ir::*;
pub use linear::Linear;
pub use order::Settling;
pub use unroll::{FlatAction, FlatStep, Limits, Position, Spot, Turn, UnrollError, unroll};
