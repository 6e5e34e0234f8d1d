//! The symbols of one motion, each different from all others.

use std::collections::BTreeMap;

use borewright_check::typed::{Checked, Local};
use borewright_motion::{Point, Symbol};

/// Makes symbols, and remembers which points have names.
#[derive(Debug)]
pub(crate) struct Names {
    /// Names of routines: `finish_bore.wall` belongs to a called one.
    routines: Vec<String>,
    pub(crate) points: BTreeMap<Local, Point>,
}

impl Names {
    pub(crate) fn new(checked: &Checked) -> Self {
        Self { routines: checked.routines.iter().map(|r| r.name.clone()).collect(), points: BTreeMap::new() }
    }

    /// The symbol of a name.
    pub(crate) fn symbol(name: &Local) -> Symbol {
        Symbol::new(name)
    }

    /// `pivot.x`, `level.index`, `screw.seat`; `level.own.index` where a routine is called `level`, since
    /// `level.index` would be that routine's.
    pub(crate) fn part(&self, name: &str, part: &str) -> Symbol {
        let base = name.split('.').next().unwrap_or(name);
        if self.routines.iter().any(|r| r == base) {
            let rest = name.strip_prefix(base).unwrap_or("");
            return Symbol::new(format!("{base}.own{rest}.{part}"));
        }
        Symbol::new(format!("{name}.{part}"))
    }
}
