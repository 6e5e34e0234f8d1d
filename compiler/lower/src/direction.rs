//! Which way the whole steps of `passes ... remainder last` go, where ranges alone tell it.

use std::collections::BTreeMap;

use borewright_motion::{
    Action, Clause, Environment, Expr, Motion, Passes, Step, Symbol, Value, evaluate_with,
};
use borewright_number::Interval;

/// Puts 1 or -1 for every direction that the ranges of the parameters tell.
pub(crate) fn settle(motion: &mut Motion) {
    let enclosed = |p: &borewright_motion::Parameter| {
        let (least, greatest) = (Interval::from_rational(&p.least), Interval::from_rational(&p.greatest));
        (p.symbol.clone(), Value::Near(least.hull(greatest)))
    };
    let mut known = Known { ranges: motion.parameters.iter().map(enclosed).collect(), lets: BTreeMap::new() };
    for clause in &motion.head {
        if let Clause::Let(l) = clause {
            known.lets.insert(l.symbol.clone(), l.value.clone());
        }
    }
    known.steps(&mut motion.body);
}

struct Known {
    ranges: Environment,
    lets: BTreeMap<Symbol, Expr>,
}

impl Known {
    fn steps(&mut self, steps: &mut [Step]) {
        for step in steps {
            match &mut step.action {
                Action::Let(l) => {
                    self.lets.insert(l.symbol.clone(), l.value.clone());
                }
                Action::Passes(passes) => {
                    self.direct(passes);
                    self.steps(&mut passes.body);
                }
                Action::Repeat { body, .. } | Action::With { body, .. } => self.steps(body),
                Action::Retract
                | Action::RapidTo(_)
                | Action::RapidZ(_)
                | Action::Line { .. }
                | Action::Arc { .. }
                | Action::Turn { .. }
                | Action::Call(_)
                | Action::Dwell(_)
                | Action::Spindle { .. }
                | Action::Coolant(_)
                | Action::Stop(_) => {}
            }
        }
    }

    fn direct(&self, passes: &mut Passes) {
        let Some(whole) = &mut passes.whole else { return };
        let Some(way) = self.enclosure(&(passes.to.clone() - passes.from.clone())) else { return };
        if way.lo >= 0.0 {
            *whole = Expr::from(1);
        } else if way.hi <= 0.0 {
            *whole = Expr::from(-1);
        }
    }

    fn enclosure(&self, e: &Expr) -> Option<Interval> {
        let look_up = |s: &Symbol| {
            let named = || Some(Value::Near(self.enclosure(self.lets.get(s)?)?));
            self.ranges.get(s).cloned().or_else(named)
        };
        Some(evaluate_with(e, &look_up).ok()?.interval())
    }
}
