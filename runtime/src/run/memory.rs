//! Variables of a run: common ones, and local ones for each call.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use super::RunOptions;
use crate::controller::Controller;
use crate::state::{Axis, Triple};
use crate::step::{Memory, Stop};
use crate::value::Value;

/// The variables, tool lengths and home position of one run.
#[derive(Debug, Clone)]
pub struct Store<V> {
    common: BTreeMap<u32, V>,
    levels: Vec<BTreeMap<u32, V>>,
    local: Vec<RangeInclusive<u32>>,
    tool_lengths: BTreeMap<u32, V>,
    cutter_offsets: BTreeMap<u32, V>,
    home: Triple<V>,
    home_variable: Option<u32>,
}

impl<V: Value> Store<V> {
    pub(super) fn new(controller: &Controller, options: &RunOptions<'_>, number: &impl Fn(f64) -> V) -> Self {
        let variables = &controller.variables;
        let by_number =
            |kept: &BTreeMap<u32, f64>| kept.iter().map(|(n, value)| (*n, number(*value))).collect();
        let mut common: BTreeMap<u32, V> =
            variables.presets.iter().map(|(n, value)| (*n, V::number(*value))).collect();
        // A macro reads the offsets in variables, where the controller shows them there.
        let shown = controller.compensation.as_ref().and_then(|c| c.values.clone());
        for (variable, d) in shown.into_iter().flatten().zip(1..) {
            let value = options.cutter_offsets.get(&d).map_or_else(|| V::integer(0), |v| number(*v));
            common.insert(variable, value);
        }
        Self {
            common,
            levels: vec![BTreeMap::new()],
            local: variables.local.clone(),
            tool_lengths: by_number(&options.tool_lengths),
            cutter_offsets: by_number(&options.cutter_offsets),
            home: Triple::from_axes(|axis| V::number(*controller.home.along(axis))),
            home_variable: controller.home_variable,
        }
    }

    /// The value of a variable; `None` when it was never set or is vacant.
    pub fn get(&self, variable: u32) -> Option<&V> {
        if self.is_local(variable) { self.levels.last()?.get(&variable) } else { self.common.get(&variable) }
    }

    /// Origin of the first work offset.
    pub(super) fn work_origin(&self, controller: &Controller) -> Triple<V> {
        Triple::from_axes(|axis| {
            let variable = controller.variables.work_offset(1, axis);
            self.get(variable).cloned().unwrap_or_else(|| V::integer(0))
        })
    }

    pub(super) fn write(&mut self, variable: u32, value: Option<V>) {
        let local = self.is_local(variable);
        let variables = match self.levels.last_mut() {
            Some(level) if local => level,
            _ => &mut self.common,
        };
        match value {
            Some(value) => variables.insert(variable, value),
            None => variables.remove(&variable),
        };
    }

    /// New local variables for a macro call.
    pub(super) fn enter(&mut self, arguments: &[(u32, V)]) {
        self.levels.push(arguments.iter().cloned().collect());
    }

    /// Back to the caller's.
    pub(super) fn leave(&mut self) {
        self.levels.pop();
    }

    fn is_local(&self, variable: u32) -> bool {
        self.local.iter().any(|range| range.contains(&variable))
    }
}

impl<V: Value> Memory<V> for Store<V> {
    fn read(&self, variable: u32) -> Result<Option<V>, Stop<V>> {
        Ok(self.get(variable).cloned())
    }

    fn tool_length(&self, h: &V) -> Result<V, Stop<V>> {
        let number = h.whole().and_then(|h| u32::try_from(h).ok());
        let length = number.and_then(|h| self.tool_lengths.get(&h)).cloned();
        Ok(length.unwrap_or_else(|| V::integer(0)))
    }

    fn cutter_offset(&self, d: &V) -> Result<V, Stop<V>> {
        let number = d.whole().and_then(|d| u32::try_from(d).ok());
        let offset = number.and_then(|d| self.cutter_offsets.get(&d)).cloned();
        Ok(offset.unwrap_or_else(|| V::integer(0)))
    }

    fn home(&self, axis: Axis) -> V {
        let offset = match axis {
            Axis::X => 0,
            Axis::Y => 1,
            Axis::Z => 2,
        };
        let stored = self.home_variable.and_then(|first| self.common.get(&(first + offset)));
        stored.unwrap_or_else(|| self.home.along(axis)).clone()
    }
}
