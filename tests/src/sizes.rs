//! From a motion to sizes that it admits, most of them where something just holds: at ends of ranges and at
//! the boundaries of requirements.

use std::collections::BTreeMap;

use borewright_motion::{
    Demand, Environment, Field, Motion, Parameter, Relation, Symbol, Value, evaluate_with,
};
use borewright_number::Rational;

use crate::float::{self, Floats};
use crate::random::Random;

/// Values of parameters and facts of the cutter.
pub type Sizes = BTreeMap<Symbol, Rational>;

/// Sizes are whole thousandths of a millimetre, a degree or a millimetre a minute, or whole counts.
const GRID: i64 = 1000;

/// A walk through the sizes that a motion admits.
#[derive(Debug)]
pub struct Walk<'a> {
    motion: &'a Motion,
    random: Random,
    /// Whole steps of the grid by parameter; those left out take their defaults.
    at: BTreeMap<Symbol, i64>,
}

impl<'a> Walk<'a> {
    /// Begins at some admitted sizes; `None` where many draws found none.
    #[must_use]
    pub fn new(motion: &'a Motion, seed: u64) -> Option<Self> {
        let mut random = Random::seeded(seed, &motion.name);
        for attempt in 0..60_000 {
            let at = draw(motion, &mut random, attempt);
            if admitted(motion, &at) {
                return Some(Self { motion, random, at });
            }
        }
        None
    }

    /// The motion whose sizes these are.
    #[must_use]
    pub fn motion(&self) -> &'a Motion {
        self.motion
    }

    /// The next sizes: some parameters moved, each along its line as far as the others admit.
    pub fn step(&mut self) -> Sizes {
        for _ in 0..1 + self.random.below(3) {
            let Some(parameter) = self.random.choose(&self.motion.parameters) else { break };
            self.move_one(parameter);
        }
        let mut sizes: Sizes = BTreeMap::new();
        for p in &self.motion.parameters {
            if let Some(steps) = self.at.get(&p.symbol) {
                sizes.insert(p.symbol.clone(), exact(p, *steps));
            }
        }
        sizes.extend(self.cutter(&sizes));
        sizes
    }

    /// Sizes just outside of what is admitted that a motion without one of the requirements still admits: one
    /// parameter goes a little further than the requirements let it. `None` where that led elsewhere.
    pub fn beyond(&mut self, loose: &Motion) -> Option<Sizes> {
        self.step();
        let p = self.random.choose(&self.motion.parameters)?;
        let (low, high) = ends(p);
        let now = self.at.get(&p.symbol).copied().or_else(|| self.default_steps(p))?;
        let (end, way) = if self.random.once_in(2) { (low, -1) } else { (high, 1) };
        let further = self.random.between(1, if p.whole { 2 } else { GRID / 10 });
        let past = self.reach(p, now, end) + way * further;
        let mut at = self.at.clone();
        at.insert(p.symbol.clone(), past.clamp(low, high));
        if admitted(self.motion, &at) || !admitted(loose, &at) {
            return None;
        }
        let mut sizes = Sizes::new();
        for p in &loose.parameters {
            sizes.extend(at.get(&p.symbol).map(|steps| (p.symbol.clone(), exact(p, *steps))));
        }
        let cutter = Walk { motion: loose, random: self.random.clone(), at }.cutter(&sizes);
        sizes.extend(cutter);
        Some(sizes)
    }

    fn move_one(&mut self, p: &Parameter) {
        let (low, high) = ends(p);
        if p.default.is_some() && self.random.once_in(4) {
            let old = self.at.remove(&p.symbol);
            if !admitted(self.motion, &self.at) {
                self.at.extend(old.map(|old| (p.symbol.clone(), old)));
            }
            return;
        }
        let Some(now) = self.at.get(&p.symbol).copied().or_else(|| self.default_steps(p)) else { return };
        let (least, most) = (self.reach(p, now, low), self.reach(p, now, high));
        let near = self.random.between(0, 3);
        let chosen = match self.random.below(6) {
            0 => least,
            1 => most,
            2 => (least + near).min(most),
            3 => (most - near).max(least),
            _ => self.random.between(least, most),
        };
        let old = self.at.insert(p.symbol.clone(), chosen);
        if !admitted(self.motion, &self.at) {
            self.at.remove(&p.symbol);
            self.at.extend(old.map(|old| (p.symbol.clone(), old)));
        }
    }

    /// Where a defaulted parameter stands, to the nearest step.
    fn default_steps(&self, p: &Parameter) -> Option<i64> {
        let env = float::head(self.motion, &floats(self.motion, &self.at))?;
        let value = *env.get(&p.symbol)?;
        let (low, high) = ends(p);
        #[allow(clippy::cast_possible_truncation, reason = "ranges are small")]
        let steps = if p.whole { value.floor() } else { (value * 1000.0).floor() } as i64;
        Some(steps.clamp(low, high))
    }

    /// How far towards an end the parameter may go, the others held: by halving.
    fn reach(&self, p: &Parameter, now: i64, end: i64) -> i64 {
        let admits = |steps: i64| {
            let mut at = self.at.clone();
            at.insert(p.symbol.clone(), steps);
            admitted(self.motion, &at)
        };
        if admits(end) {
            return end;
        }
        let (mut good, mut bad) = (now, end);
        while (good - bad).abs() > 1 {
            let middle = good + (bad - good) / 2;
            if admits(middle) { good = middle } else { bad = middle }
        }
        good
    }

    /// The worst cutter that meets the demands, or one somewhat better.
    fn cutter(&mut self, sizes: &Sizes) -> Sizes {
        if self.motion.job.is_some() {
            return Sizes::new();
        }
        let Some(env) = exact_head(self.motion, sizes) else { return Sizes::new() };
        let rules = self.motion.demands.as_ref().map_or(&[][..], |d| &d.rules);
        let mut cutter = Sizes::new();
        for field in Field::ALL {
            // Several calls demand several things of one cutter: it is as bad as all of them allow together.
            // Where one of them leaves no choice, there is none.
            let fixed = rules.iter().any(|r| r.field == field && r.relation == Relation::Equal);
            let of_field =
                rules.iter().filter(|r| r.field == field && (!fixed || r.relation == Relation::Equal));
            let value = of_field.fold(None, |met, r| match (met, self.demanded(r, &env)) {
                (None, value) | (value, None) => value,
                (Some(a), Some(b)) if matches!(r.relation, Relation::LessEqual | Relation::Less) => {
                    Some(a.min(b))
                }
                (Some(a), Some(b)) => Some(a.max(b)),
            });
            cutter.extend(value.map(|v| (field.symbol(), v)));
        }
        complete(&mut cutter, &mut self.random);
        cutter
    }

    fn demanded(&mut self, rule: &Demand, env: &Environment) -> Option<Rational> {
        let value = evaluate_with(&rule.value, &|s| env.get(s).cloned()).ok()?.middle();
        let small = Rational::ratio(1, GRID)?;
        let more = Rational::ratio(self.random.between(0, 20), 10)?;
        let more = if self.random.once_in(3) { more } else { Rational::ZERO };
        Some(match rule.relation {
            Relation::Equal => value,
            Relation::GreaterEqual => value + more,
            Relation::Greater | Relation::NotEqual => value + small + more,
            Relation::LessEqual => value - more,
            Relation::Less => value - small - more,
        })
    }
}

/// Some admitted sizes that hold these: what a counterexample leaves out does not matter to it. `None` where
/// many draws found none.
#[must_use]
pub fn filled(motion: &Motion, given: &Sizes, seed: u64) -> Option<Sizes> {
    let mut random = Random::seeded(seed, &motion.name);
    let fixed: Floats = given.iter().map(|(s, v)| (s.clone(), v.to_f64())).collect();
    for attempt in 0..20_000 {
        // Defaults first: what is left out is what the counterexample may be about.
        let mut at = draw(motion, &mut random, if attempt < 10_000 { 2 * attempt } else { attempt });
        at.retain(|s, _| !given.contains_key(s));
        let mut env = floats(motion, &at);
        env.extend(fixed.clone());
        if float::head(motion, &env).is_some() {
            let mut sizes = given.clone();
            let drawn = |p: &Parameter| Some((p.symbol.clone(), exact(p, *at.get(&p.symbol)?)));
            sizes.extend(motion.parameters.iter().filter_map(drawn));
            let mut cutter = Walk { motion, random, at }.cutter(&sizes);
            cutter.extend(sizes);
            return Some(cutter);
        }
    }
    None
}

/// What is not demanded of a cutter is as bad as it can be.
fn complete(cutter: &mut Sizes, random: &mut Random) {
    let tiny = Rational::ratio(1, GRID).unwrap_or(Rational::ONE);
    let at_least =
        |value: Option<&Rational>, least: &Rational| value.filter(|v| *v >= least).unwrap_or(least).clone();
    let other = Rational::from(random.between(1, 30));
    let diameter = at_least(cutter.get(&Field::Diameter.symbol()).or(Some(&other)), &tiny);
    let flutes = at_least(cutter.get(&Field::Flutes.symbol()), &tiny);
    let reach = at_least(cutter.get(&Field::Reach.symbol()), &flutes);
    let dead = at_least(cutter.get(&Field::Dead.symbol()).or(Some(&diameter)), &Rational::ZERO);
    let dead = if dead > diameter { diameter.clone() } else { dead };
    let or = |field: Field, value: Rational| {
        (field.symbol(), cutter.get(&field.symbol()).cloned().unwrap_or(value))
    };
    let rest =
        [or(Field::Ramp, Rational::ZERO), or(Field::Plunges, Rational::ZERO), or(Field::Hand, Rational::ONE)];
    cutter.extend(rest);
    for (field, value) in
        [(Field::Diameter, diameter), (Field::Flutes, flutes), (Field::Reach, reach), (Field::Dead, dead)]
    {
        cutter.insert(field.symbol(), value);
    }
}

/// Every name of the head, exactly.
#[must_use]
pub fn exact_head(motion: &Motion, sizes: &Sizes) -> Option<Environment> {
    borewright_motion::bind(motion, sizes).ok()
}

/// Ends of a range in steps of the grid, rounded inwards.
fn ends(p: &Parameter) -> (i64, i64) {
    let grid = Rational::from(if p.whole { 1 } else { GRID });
    let least = (&p.least * &grid).ceil().to_i64().unwrap_or(0);
    let most = (&p.greatest * &grid).floor().to_i64().unwrap_or(least);
    (least, most)
}

/// The value so many steps stand for; the ends of the range are exact though they may lie between steps.
fn exact(p: &Parameter, steps: i64) -> Rational {
    let (low, high) = ends(p);
    let value = Rational::ratio(steps, if p.whole { 1 } else { GRID }).unwrap_or(Rational::ZERO);
    if steps == low && !p.whole {
        p.least.clone()
    } else if steps == high && !p.whole {
        p.greatest.clone()
    } else {
        value
    }
}

fn floats(motion: &Motion, at: &BTreeMap<Symbol, i64>) -> Floats {
    let value = |p: &Parameter| Some((p.symbol.clone(), exact(p, *at.get(&p.symbol)?).to_f64()));
    motion.parameters.iter().filter_map(value).collect()
}

fn admitted(motion: &Motion, at: &BTreeMap<Symbol, i64>) -> bool {
    float::head(motion, &floats(motion, at)).is_some()
}

/// Independent draws; small values are as likely as great ones.
fn draw(motion: &Motion, random: &mut Random, attempt: usize) -> BTreeMap<Symbol, i64> {
    let mut at = BTreeMap::new();
    for p in &motion.parameters {
        if p.default.is_some() && (attempt.is_multiple_of(2) || random.once_in(2)) {
            continue;
        }
        let (low, high) = ends(p);
        let mut top = high;
        for _ in 0..random.below(8) {
            top = low + (top - low) / 2;
        }
        at.insert(p.symbol.clone(), random.between(low, top));
    }
    at
}

/// Sizes as a person would type them.
#[must_use]
pub fn shown(sizes: &Sizes) -> String {
    let list: Vec<String> = sizes.iter().map(|(s, v)| format!("{s} = {}", v.decimal_text(6))).collect();
    list.join(", ")
}

/// A value as a float.
#[must_use]
pub fn float(value: Option<&Value>) -> f64 {
    value.map_or(f64::NAN, Value::to_f64)
}
