//! The order in which the head of a motion is settled: what is said of a size that breaks several rules at once.

use std::collections::BTreeSet;

use crate::{Clause, Motion, Parameter, Symbol};

/// One line of the head, when its turn comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Settling<'m> {
    /// A parameter: what is supplied or its default, then its range.
    Parameter(&'m Parameter),
    /// A let or a requirement.
    Clause(&'m Clause),
}

impl Motion {
    /// Parameters and lines of the head in the order in which they are settled.
    ///
    /// A default that is worked out from other parameters lies in its range only where the requirements hold.
    /// So such a parameter waits until a line of the head needs it: a bore too tight for a cutter is refused in
    /// the author's own words, and not for a lead that would have come out of it. No line that stands before it
    /// speaks of it, so that none can rest on its range.
    #[must_use]
    pub fn settled(&self) -> Vec<Settling<'_>> {
        let waits = |p: &&Parameter| p.default.as_ref().is_some_and(|d| d.as_number().is_none());
        let mut order: Vec<_> =
            self.parameters.iter().filter(|p| !waits(p)).map(Settling::Parameter).collect();
        let mut waiting: Vec<&Parameter> = self.parameters.iter().filter(waits).collect();
        for clause in &self.head {
            let used = match clause {
                Clause::Let(l) => l.value.symbols(),
                Clause::Require(r) => r.condition.symbols(),
            };
            let needed = behind(&waiting, used);
            let (now, later): (Vec<_>, Vec<_>) =
                waiting.into_iter().partition(|p| needed.contains(&p.symbol));
            order.extend(now.into_iter().map(Settling::Parameter));
            order.push(Settling::Clause(clause));
            waiting = later;
        }
        order.extend(waiting.into_iter().map(Settling::Parameter));
        order
    }
}

/// These names, and those that the defaults behind them use: a default uses earlier parameters only.
fn behind(waiting: &[&Parameter], mut used: BTreeSet<Symbol>) -> BTreeSet<Symbol> {
    for parameter in waiting.iter().rev() {
        if used.contains(&parameter.symbol) {
            used.extend(parameter.default.iter().flat_map(crate::Expr::symbols));
        }
    }
    used
}
