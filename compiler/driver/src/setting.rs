//! From `--set NAME=VALUE` to the value of a parameter.

use std::collections::BTreeMap;

use borewright_base::{Diagnostic, nearest};
use borewright_motion::{Motion, Parameter, Symbol};
use borewright_number::{Dimension, Quantity, Rational, Unit};

use crate::errors;

/// Values by parameter, in base units.
pub type Values = BTreeMap<Symbol, Rational>;

/// The settings, each read for the routines of which it names a parameter.
///
/// # Errors
/// One for each setting that has the wrong form, names no parameter, or has a unit that does not fit.
pub fn read(settings: &[String], routines: &[&Motion]) -> Result<Values, Vec<Diagnostic>> {
    let (mut values, mut faults) = (Values::new(), Vec::new());
    for setting in settings {
        match one(setting, routines) {
            Ok((symbol, value)) if !values.contains_key(&symbol) => drop(values.insert(symbol, value)),
            Ok(_) => faults.push(errors::bad_setting(setting, "sets a parameter a second time")),
            Err(fault) => faults.push(*fault),
        }
    }
    if faults.is_empty() { Ok(values) } else { Err(faults) }
}

fn one(setting: &str, routines: &[&Motion]) -> Result<(Symbol, Rational), Box<Diagnostic>> {
    let fault = |why: &str| errors::bad_setting(setting, why);
    let Some((name, value)) = setting.split_once('=') else {
        let fault = fault("has no value").hint("write the name, an equals sign and the value: bore=50mm");
        return Err(Box::new(fault));
    };
    let (name, value) = (name.trim(), value.trim());
    let parameters = || routines.iter().flat_map(|routine| &routine.parameters);
    let Some(parameter) = parameters().find(|p| p.symbol.name() == name) else {
        let fault = fault("names no parameter of what is built");
        return Err(Box::new(match nearest(name, parameters().map(|p| p.symbol.name())) {
            Some(near) => fault.hint(format!("the nearest name is `{near}`")),
            None => fault.hint(format!("there are: {}", names(parameters()))),
        }));
    };
    if let Some((_, number)) = parameter.words.iter().find(|(word, _)| word == value) {
        return Ok((parameter.symbol.clone(), number.clone()));
    }
    let Some(quantity) = Quantity::parse(value) else {
        let why =
            if parameter.words.is_empty() { "is no number with its unit" } else { "is none of its words" };
        return Err(Box::new(fault(why).hint(example(parameter, value))));
    };
    let is_zero = quantity.value.is_zero() && quantity.dimension == Dimension::RATIO;
    if quantity.dimension != parameter.dimension && !is_zero {
        let what = if quantity.dimension == Dimension::RATIO {
            "has no unit"
        } else {
            "has a unit of the wrong kind"
        };
        return Err(Box::new(fault(what).hint(example(parameter, value))));
    }
    Ok((parameter.symbol.clone(), quantity.value))
}

/// `write the number and its unit without a blank: bore=50mm or bore=50in`; of a choice, its words.
fn example(parameter: &Parameter, value: &str) -> String {
    let name = parameter.symbol.name();
    let mut words = parameter.words.iter().map(|(word, _)| word.as_str());
    if let Some(near) = nearest(value, words.clone()).or(words.next()) {
        let all: Vec<&str> = parameter.words.iter().map(|(word, _)| word.as_str()).collect();
        return format!("write one of its words: {name}={near} (there are: {})", all.join(", "));
    }
    let number: String = value.chars().take_while(|c| c.is_ascii_digit() || matches!(c, '.' | '-')).collect();
    let number = if Rational::from_decimal(&number).is_some() { number.as_str() } else { "2" };
    let units = [false, true].map(|inch| Unit::customary(parameter.dimension, inch));
    match units {
        [Some(metric), Some(inch)] if metric != inch => {
            format!(
                "write the number and its unit without a blank: {name}={number}{metric} or {name}={number}{inch}"
            )
        }
        [Some(unit), _] => format!("write the number and its unit without a blank: {name}={number}{unit}"),
        [None, _] => format!("write a plain number: {name}={number}"),
    }
}

fn names<'a>(parameters: impl Iterator<Item = &'a Parameter>) -> String {
    let mut names: Vec<&str> = Vec::new();
    for parameter in parameters {
        if !names.contains(&parameter.symbol.name()) {
            names.push(parameter.symbol.name());
        }
    }
    names.join(", ")
}
