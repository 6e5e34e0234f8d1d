//! What every check looks at, and what it may find.

use borewright_motion::{Environment, Expr, Motion, Value, evaluate_with};
use borewright_number::Interval;

use super::scene::{Body, Motile, Scene};
use super::words;
use crate::proved::Fault;
use crate::{Obligation, Valuation};

/// One obligation at concrete values.
pub(super) struct Look<'a> {
    pub motion: &'a Motion,
    pub obligation: &'a Obligation,
    pub values: &'a Valuation,
    /// Every name of the formula and of the head.
    pub env: &'a Environment,
    /// The motion run there, where it can be run.
    pub scene: Option<&'a Scene>,
}

/// What a check finds.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Finding {
    /// It really fails, and this is what happens.
    Fault(Fault),
    /// Nothing is wrong at these values.
    Fine,
    /// That cannot be told here.
    Unclear,
}

impl Look<'_> {
    pub(super) fn inch(&self) -> bool {
        self.motion.inch
    }

    /// A fault at the step that the obligation arises at.
    pub(super) fn fault(&self, text: String) -> Finding {
        Finding::Fault(Fault { text, span: self.obligation.span })
    }

    pub(super) fn length(&self, mm: f64) -> String {
        words::length(mm, self.inch())
    }

    /// The enclosed value of an expression, where it has one.
    pub(super) fn number(&self, expr: &Expr) -> Option<Interval> {
        self.value(expr).map(|v| v.interval())
    }

    /// The value of an expression, where it has one.
    pub(super) fn value(&self, expr: &Expr) -> Option<Value> {
        evaluate_with(expr, &|s| self.env.get(s).cloned()).ok()
    }

    /// The features that the obligation's promise speaks of; all of them where it serves none.
    pub(super) fn bodies(&self) -> Vec<&Body> {
        let Some(scene) = self.scene else { return Vec::new() };
        let because = self.obligation.because;
        let made =
            self.motion.made.iter().find(|m| m.promises.iter().any(|(_, span)| Some(*span) == because));
        let named = |b: &&Body| made.is_none_or(|m| m.feature.name == b.name);
        scene.bodies.iter().filter(named).collect()
    }

    /// The moves of the step that the obligation arises at, with those before each.
    pub(super) fn moves(&self) -> Vec<(&[Motile], &Motile)> {
        let Some(scene) = self.scene else { return Vec::new() };
        let here = scene.moves_of(self.obligation, self.values);
        here.map(|(i, m)| (scene.moves.get(..i).unwrap_or_default(), m)).collect()
    }
}
