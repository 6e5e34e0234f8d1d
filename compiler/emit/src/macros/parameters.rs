//! Which variable holds which parameter, and what the header says about it.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::Diagnostic;
use borewright_machine::Machine;
use borewright_motion::{Clause, Condition, Expr, Motion, Parameter, Relation, Symbol};
use borewright_number::{Dimension, Rational, Rounding};

use crate::header::program_word;
use crate::number::pointed;
use crate::writer::Writer;
use crate::{Arguments, errors};

/// Where a parameter stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Taken {
    /// The letter of the call, where there is one.
    pub(crate) letter: Option<char>,
    /// The variable.
    pub(crate) variable: u32,
}

/// Variables of all parameters, and of the centre.
pub(super) struct Places {
    pub(super) of: BTreeMap<Symbol, Taken>,
    /// Names of the centre's coordinates, where X and Y are free for it.
    pub(super) centre: Option<(Symbol, Symbol)>,
    style: Arguments,
}

impl Places {
    /// Letters as the author fixed them; the others in the order of the machine file. Variables at the top
    /// are counted through in the order of the parameters.
    pub(super) fn assign(motion: &Motion, machine: &Machine, style: Arguments) -> Result<Self, Diagnostic> {
        let mut places = Self { of: BTreeMap::new(), centre: None, style };
        match style {
            Arguments::Letters => places.by_letter(motion, machine)?,
            Arguments::Top => places.in_order(motion, machine)?,
        }
        Ok(places)
    }

    fn by_letter(&mut self, motion: &Motion, machine: &Machine) -> Result<(), Diagnostic> {
        let mut taken: Vec<char> = Vec::new();
        for parameter in &motion.parameters {
            let Some(letter) = parameter.letter else { continue };
            let refuse = |text: String| Err(Diagnostic::error(errors::LETTER, parameter.span, text));
            if taken.contains(&letter) {
                return refuse(format!("{letter} is the letter of two parameters"));
            }
            let Some(variable) = machine.letter_variable(letter) else {
                let free: String = machine.calls.letters.keys().collect();
                return refuse(format!("{letter} belongs to the call itself: arguments may use {free}"));
            };
            taken.push(letter);
            self.of.insert(parameter.symbol.clone(), Taken { letter: Some(letter), variable });
        }
        for parameter in motion.parameters.iter().filter(|p| p.letter.is_none()) {
            // X and Y are kept for the place of the routine.
            let free = |l: &&char| !taken.contains(l) && !matches!(l, 'X' | 'Y');
            let next = machine.calls.order.iter().find(free).copied();
            let place = next.and_then(|l| Some((l, machine.letter_variable(l)?)));
            let Some((letter, variable)) = place else {
                let text = format!("no letter is left for `{}`", parameter.symbol);
                return Err(Diagnostic::error(errors::LETTER, parameter.span, text)
                    .hint("a call carries as many arguments as there are letters"));
            };
            taken.push(letter);
            self.of.insert(parameter.symbol.clone(), Taken { letter: Some(letter), variable });
        }
        let free = |l: char| machine.letter_variable(l).filter(|_| !taken.contains(&l));
        if let (Some(x), Some(y)) = (free('X'), free('Y')) {
            self.place_centre([(Some('X'), x), (Some('Y'), y)]);
        }
        Ok(())
    }

    fn in_order(&mut self, motion: &Motion, machine: &Machine) -> Result<(), Diagnostic> {
        let mut numbers = machine.variables.common.iter().flat_map(|r| r.numbers());
        let mut next = || {
            let text = "it has more parameters than the machine has variables";
            numbers.next().ok_or_else(|| Diagnostic::error(errors::TOO_MANY_VARIABLES, motion.span, text))
        };
        for parameter in &motion.parameters {
            let variable = next()?;
            self.of.insert(parameter.symbol.clone(), Taken { letter: None, variable });
        }
        let (x, y) = (next()?, next()?);
        self.place_centre([(None, x), (None, y)]);
        Ok(())
    }

    fn place_centre(&mut self, [x, y]: [(Option<char>, u32); 2]) {
        let names = (Symbol::new("centre.x"), Symbol::new("centre.y"));
        for (symbol, (letter, variable)) in [(&names.0, x), (&names.1, y)] {
            self.of.insert(symbol.clone(), Taken { letter, variable });
        }
        self.centre = Some(names);
    }

    /// `#2`
    pub(super) fn variable(&self, symbol: &Symbol) -> Option<String> {
        self.of.get(symbol).map(|taken| format!("#{}", taken.variable))
    }

    /// The variables that are left, in the order in which they are used: first those that no letter fills.
    pub(super) fn free(&self, machine: &Machine) -> Vec<u32> {
        let ranges = match self.style {
            Arguments::Letters => &machine.variables.local,
            Arguments::Top => &machine.variables.common,
        };
        let taken = |n: &u32| self.of.values().any(|t| t.variable == *n);
        let mut free: Vec<u32> = ranges.iter().flat_map(|r| r.numbers()).filter(|n| !taken(n)).collect();
        let filled = |n: u32| machine.calls.letters.values().any(|v| *v == n);
        if self.style == Arguments::Letters {
            free.sort_by_key(|n| (filled(*n), std::cmp::Reverse(*n > 26), *n));
        }
        free
    }

    /// The variables of arguments that are this call's own: once nothing needs the argument, they are free.
    pub(super) fn spent(&self) -> Vec<u32> {
        let own = self.of.values().map(|taken| taken.variable);
        if self.style == Arguments::Letters { own.collect() } else { Vec::new() }
    }

    /// How it is called, and what each variable is.
    pub(super) fn write(
        &self,
        w: &mut Writer,
        motion: &Motion,
        machine: &Machine,
        number: Option<u32>,
        called: bool,
    ) {
        match self.style {
            Arguments::Letters => self.write_call(w, motion, machine, number),
            Arguments::Top if called => w.comment("THE PROGRAM THAT CALLS IT SETS THESE VARIABLES BEFORE:"),
            Arguments::Top => w.comment("SET THE VARIABLES BELOW BEFORE EACH RUN:"),
        }
        for parameter in &motion.parameters {
            let Some(taken) = self.of.get(&parameter.symbol) else { continue };
            w.comment(&format!("{}{}", named(*taken), self.described(parameter, machine)));
        }
        if let Some((x, y)) = &self.centre {
            let place = |s| self.of.get(s).map(|t| named(*t)).unwrap_or_default();
            let vacant = if self.style == Arguments::Letters { ", VACANT = 0" } else { "" };
            let reach = |axis| {
                let end = pointed(&farthest(machine, axis), machine.numbers.decimals);
                format!("{axis} -{end} TO {end}")
            };
            let (along_x, along_y) = (reach('X'), reach('Y'));
            w.comment(&format!(
                "{}{}CENTRE FROM THE WORK ZERO, {along_x}, {along_y}{vacant}",
                place(x),
                place(y)
            ));
        }
    }

    fn write_call(&self, w: &mut Writer, motion: &Motion, machine: &Machine, number: Option<u32>) {
        let letters = |optional: bool| {
            let chosen = motion.parameters.iter().filter(move |p| p.default.is_some() == optional);
            chosen
                .filter_map(|p| self.of.get(&p.symbol)?.letter)
                .map(|l| format!(" {l}.."))
                .collect::<String>()
        };
        let word = machine.calls.macro_call.clone().unwrap_or_default();
        let program = number.and_then(|n| program_word(n, machine));
        let program =
            program.map_or_else(|| "..".to_owned(), |p| p.trim_start_matches(char::is_alphabetic).to_owned());
        w.comment(&format!("CALL: {word} P{program}{}", letters(false)));
        let place = if self.centre.is_some() { " X.. Y.." } else { "" };
        let rest = format!("{}{place}", letters(true));
        if !rest.is_empty() {
            w.comment(&format!("AND, WHERE WANTED:{rest}"));
        }
        if number.is_none() && machine.programs.letter.is_some() {
            w.comment("IT STATES NO PROGRAM NUMBER: GIVE IT ONE WHEN IT IS LOADED");
        }
        w.comment("A DECIMAL POINT ON EVERY LENGTH");
    }

    fn described(&self, parameter: &Parameter, machine: &Machine) -> String {
        let (least, greatest) = range(parameter, machine);
        let unit = unit(parameter.dimension, machine).map_or_else(String::new, |u| format!("{u}, "));
        let vacant = match &parameter.default {
            None => String::new(),
            Some(_) if self.style == Arguments::Top => String::new(),
            Some(default) => match told(default, parameter.dimension, machine) {
                Some(text) => format!(", VACANT = {text}"),
                None => ", VACANT = COMPUTED".to_owned(),
            },
        };
        let meaning =
            if parameter.meaning.is_empty() { String::new() } else { format!(": {}", parameter.meaning) };
        format!("{}{meaning}, {unit}{least} TO {greatest}{vacant}", parameter.symbol)
    }
}

fn named(taken: Taken) -> String {
    match taken.letter {
        Some(letter) => format!("{letter} #{} ", taken.variable),
        None => format!("#{} ", taken.variable),
    }
}

/// A default that a comment can hold: a number or a name.
fn told(default: &Expr, dimension: Dimension, machine: &Machine) -> Option<String> {
    match default.as_symbol() {
        Some(symbol) => Some(symbol.name().to_owned()),
        // The motion is in the machine's unit already.
        None => default.as_number().map(|n| pointed(n, decimals(dimension, machine))),
    }
}

/// The decimals of an argument that measures this.
pub(crate) fn decimals(dimension: Dimension, machine: &Machine) -> u32 {
    match dimension {
        Dimension::ANGLE => machine.numbers.angle_decimals,
        Dimension::FEED => machine.numbers.feed_decimals,
        Dimension::LENGTH => machine.numbers.decimals,
        _ => 6,
    }
}

/// `MM`, where it has a unit.
pub(super) fn unit(dimension: Dimension, machine: &Machine) -> Option<String> {
    borewright_number::Unit::customary(dimension, machine.inch()).map(|u| u.to_string().to_uppercase())
}

/// How far from the work zero a centre may be: as far as the axis travels, or 1 m (40 in) where the machine file
/// does not say how far that is.
pub(crate) fn farthest(machine: &Machine, axis: char) -> Rational {
    let travel = match axis {
        'X' => &machine.axes.x,
        'Y' => &machine.axes.y,
        _ => &machine.axes.z,
    };
    match travel {
        Some(travel) => travel.1.0.clone() - &travel.0.0,
        None if machine.inch() => Rational::from(40),
        None => Rational::from(1000),
    }
}

/// The ends of a range as the guard has them: in the machine's unit, rounded so that nothing outside is let in.
pub(super) fn range_values(parameter: &Parameter, machine: &Machine) -> (Rational, Rational) {
    let dimension = parameter.dimension;
    let unit = if dimension.length == 1 { machine.unit() } else { Rational::ONE };
    let end = |v: &Rational, r| (v / &unit).rounded(decimals(dimension, machine), r);
    (end(&parameter.least, Rounding::Up), end(&parameter.greatest, Rounding::Down))
}

/// The nearest value that ends within the decimals of such an argument and lies in the range of the parameter. The
/// value is in the machine's unit.
pub(crate) fn fitted(value: &Rational, parameter: &Parameter, machine: &Machine) -> Rational {
    fitted_by(value, parameter, machine, Rounding::Nearest)
}

/// The same, rounded in the given way.
pub(crate) fn fitted_by(
    value: &Rational,
    parameter: &Parameter,
    machine: &Machine,
    way: Rounding,
) -> Rational {
    let (least, greatest) = range_values(parameter, machine);
    let near = value.rounded(decimals(parameter.dimension, machine), way);
    // A range narrower than a step admits nothing: its guards say so.
    near.min(greatest).max(least)
}

/// The parameters that stand for rows of a table in millimetres, on a machine in inches: such a row is called by the
/// number that it has in the table (8. for M8), since its size in inches would meet no row exactly.
pub(crate) fn rows(motion: &Motion, machine: &Machine) -> BTreeSet<Symbol> {
    let names_row = |p: &&Parameter| {
        let listed = motion.head.iter().any(|clause| match clause {
            Clause::Require(r) => r.span == p.span && is_list(&r.condition, &p.symbol),
            Clause::Let(_) => false,
        });
        listed && p.dimension == Dimension::LENGTH && !p.inch
    };
    let found = motion.parameters.iter().filter(names_row).map(|p| p.symbol.clone());
    if machine.inch() { found.collect() } else { BTreeSet::new() }
}

/// `screw == 3 or screw == 4 or …`
fn is_list(condition: &Condition, symbol: &Symbol) -> bool {
    match condition {
        Condition::Or(parts) => parts.iter().all(|part| is_list(part, symbol)),
        Condition::Compare(Relation::Equal, a, b) => a.as_symbol() == Some(symbol) && b.as_number().is_some(),
        Condition::Compare(..)
        | Condition::True
        | Condition::False
        | Condition::And(_)
        | Condition::Not(_) => false,
    }
}

/// The same as digits.
pub(super) fn range(parameter: &Parameter, machine: &Machine) -> (String, String) {
    let (least, greatest) = range_values(parameter, machine);
    let decimals = decimals(parameter.dimension, machine);
    (pointed(&least, decimals), pointed(&greatest, decimals))
}
