//! From obligations that fail to the weakest short requirement with which they are proved.
//!
//! Points at which an obligation fails say what a requirement must exclude; points that meet the head say how
//! much it takes away. The most generous requirement that excludes all known failures is tried; where it fails, the
//! engine's new points join the known ones, and so on, until one is proved or the work is used up.

use std::collections::BTreeMap;

use borewright_motion::{Condition, Field, Motion, Symbol, decide, evaluate};
use borewright_number::Rational;

use super::family::{Family, Member, Said, families};
use super::trial::{Target, Tried, Work};
use super::words::Words;
use super::{goals, source};
use crate::{Formula, Valuation};

/// What a search may see of the motion.
#[derive(Debug)]
pub(crate) struct Ground<'m> {
    pub motion: &'m Motion,
    /// All that the head says.
    pub everything: &'m Formula,
    /// Points that meet all of it.
    pub admitted: &'m [Valuation],
}

/// A requirement in the running.
#[derive(Debug, Clone)]
struct Runner {
    said: Maker,
    /// Part of the admitted points that it leaves.
    kept: f64,
    length: usize,
    /// How often it failed.
    failed: u32,
}

#[derive(Debug, Clone)]
enum Maker {
    Fixed(Said),
    Member(usize, Member),
}

/// A requirement must leave a twentieth of what is admitted now.
const LEAST_KEPT: f64 = 0.05;
/// How much a longer text must bring: a word is worth this part of the admitted points.
const WORTH: f64 = 0.006;
const MOST_FAILED: u32 = 8;
const TRIES: u64 = 48;
/// Proofs that fail are what takes time.
const MOST_OPEN: u32 = 6;

/// The search for one requirement for all targets.
#[derive(Debug)]
pub(crate) struct Search<'s, 'm> {
    ground: &'s Ground<'m>,
    targets: &'s [Target<'s>],
    words: Words,
    families: Vec<Family>,
    /// The greatest measure of each family at a failure; NaN where one is not excluded by any member.
    bad: Vec<f64>,
    /// Measures of each family at the admitted points.
    rows: Vec<Vec<f64>>,
    failures: Vec<Valuation>,
    runners: Vec<Runner>,
    /// How many requirements were neither proved to do nor refuted.
    open: u32,
}

impl<'s, 'm> Search<'s, 'm> {
    pub(crate) fn new(ground: &'s Ground<'m>, targets: &'s [Target<'s>]) -> Self {
        let lines = targets.iter().map(|t| t.lines).min().unwrap_or(0);
        let words = Words::of(ground.motion, lines);
        let mut families = families(&words);
        families.retain(|f| {
            let symbols = f.symbols(&words);
            let spoken_of = |field: Field| {
                targets.iter().any(|t| t.settled.obligation.formula.goal.symbols().contains(&field.symbol()))
            };
            f.field(&words).is_none_or(spoken_of) && targets.iter().all(|t| t.can_use(&symbols))
        });
        let bad = vec![f64::NEG_INFINITY; families.len()];
        let rows = ground.admitted.iter().map(|point| row(&words, point)).collect();
        let mut search = Self {
            ground,
            targets,
            words,
            families,
            bad,
            rows,
            failures: Vec::new(),
            runners: Vec::new(),
            open: 0,
        };
        targets.iter().for_each(|t| search.learn(t.failures(TRIES)));
        search.start();
        search
    }

    /// How many lines of the head stand above what is found.
    pub(crate) fn words(&self) -> &Words {
        &self.words
    }

    /// The next requirement with which every target is proved, the best first.
    pub(crate) fn next(&mut self, work: &mut Work) -> Option<Said> {
        while !work.is_used_up() {
            let best = self.best()?;
            let runner = self.runners.swap_remove(best);
            let Some(said) = self.said(&runner) else {
                self.again(&runner);
                continue;
            };
            let condition = said.condition();
            match self.tried(&condition, work) {
                Tried::Proved => return Some(said),
                Tried::Fails(points) => {
                    self.learn(points);
                    self.weed();
                    self.again(&runner);
                }
                Tried::Open => {
                    self.open += 1;
                    work.open = work.open.saturating_sub(1);
                    if self.open > MOST_OPEN {
                        return None;
                    }
                    self.again(&Runner { failed: runner.failed + 2, ..runner });
                }
            }
        }
        None
    }

    fn tried(&self, condition: &Condition, work: &mut Work) -> Tried {
        for target in self.targets {
            match target.with(&self.words, self.ground.everything, condition, work) {
                Tried::Proved => {}
                other @ (Tried::Fails(_) | Tried::Open) => return other,
            }
        }
        Tried::Proved
    }

    /// Points that every requirement must exclude.
    fn learn(&mut self, points: Vec<Valuation>) {
        for point in points {
            let row = row(&self.words, &point);
            for (family, bad) in self.families.iter().zip(&mut self.bad) {
                let measure = family.measure(&row);
                *bad = if measure.is_nan() || bad.is_nan() { f64::NAN } else { bad.max(measure) };
            }
            self.failures.push(point);
        }
    }

    fn start(&mut self) {
        let mut quoted: Vec<Said> = Vec::new();
        for target in self.targets {
            let demands = self.ground.motion.demands.as_ref();
            let obligation = &target.settled.obligation;
            // What is easier to prove is often plainer to say: that neighbours on a circle don't overlap.
            for formula in std::iter::once(&obligation.formula).chain(&obligation.easier) {
                let more = goals::of_formula(&self.words, demands, formula);
                quoted.extend(more.into_iter().filter(|said| !quoted.contains(said)).collect::<Vec<_>>());
            }
        }
        for said in quoted {
            let length = self.length_of(&said);
            self.enter(Maker::Fixed(said), length, 0);
        }
        for index in 0..self.families.len() {
            self.enter_members(index, 0);
        }
    }

    /// Both members of a family that may be next.
    fn enter_members(&mut self, index: usize, failed: u32) {
        let Some((family, bad)) = self.families.get(index).zip(self.bad.get(index)) else { return };
        if bad.is_nan() || failed > MOST_FAILED {
            return;
        }
        let members: Vec<(Member, usize)> =
            family.members(*bad).into_iter().map(|m| (m.clone(), family.length(&m))).collect();
        for (member, length) in members {
            self.enter(Maker::Member(index, member), length, failed);
        }
    }

    fn enter(&mut self, said: Maker, length: usize, failed: u32) {
        let kept = self.kept(&said);
        if kept >= LEAST_KEPT && self.excludes_failures(&said) {
            self.runners.push(Runner { said, kept, length, failed });
        }
    }

    /// Takes out what new failures have shown to be too weak, and enters stronger members of its families.
    fn weed(&mut self) {
        let all = std::mem::take(&mut self.runners);
        let (keep, drop): (Vec<_>, Vec<_>) = all.into_iter().partition(|r| self.excludes_failures(&r.said));
        let mut moved: BTreeMap<usize, u32> = BTreeMap::new();
        for runner in &drop {
            if let Maker::Member(index, _) = &runner.said {
                let failed = moved.entry(*index).or_default();
                *failed = runner.failed.max(*failed);
            }
        }
        self.runners = keep;
        self.runners.retain(|r| !matches!(&r.said, Maker::Member(i, _) if moved.contains_key(i)));
        moved.iter().for_each(|(index, failed)| self.enter_members(*index, *failed));
    }

    /// Enters the family of what has failed again, without what has failed.
    fn again(&mut self, runner: &Runner) {
        let Maker::Member(index, member) = &runner.said else { return };
        self.runners.retain(|r| !matches!(&r.said, Maker::Member(i, _) if i == index));
        self.enter_members(*index, runner.failed + 1);
        self.runners.retain(|r| !matches!(&r.said, Maker::Member(i, m) if i == index && m == member));
    }

    /// The runner that keeps most, a longer one having to keep more.
    fn best(&self) -> Option<usize> {
        let worth = |r: &Runner| {
            let length = u32::try_from(r.length).unwrap_or(u32::MAX);
            r.kept - WORTH * (f64::from(length) + f64::from(r.failed))
        };
        let ranked = self.runners.iter().enumerate().map(|(i, r)| (i, worth(r)));
        ranked.max_by(|(i, a), (j, b)| a.total_cmp(b).then(j.cmp(i))).map(|(i, _)| i)
    }

    fn said(&self, runner: &Runner) -> Option<Said> {
        let said = match &runner.said {
            Maker::Fixed(said) => said.clone(),
            Maker::Member(index, member) => self.families.get(*index)?.say(&self.words, member)?,
        };
        match &said {
            Said::Require(condition) => source::condition(&self.words, condition)?,
            Said::Demand(rule) => source::demand(&self.words, rule)?,
        };
        Some(said)
    }

    fn length_of(&self, said: &Said) -> usize {
        let mut length = 0;
        said.condition().walk(&mut |e| {
            length += match (e.as_symbol(), e.as_number()) {
                (Some(_), _) => 2,
                (_, Some(value)) => 1 + super::short::digits(value),
                (None, None) => 0,
            };
        });
        length
    }

    /// Part of the admitted points that it leaves.
    fn kept(&self, said: &Maker) -> f64 {
        let count = match said {
            Maker::Fixed(said) => {
                let condition = self.words.inline_condition(&said.condition());
                self.ground.admitted.iter().filter(|p| decide(&condition, p) == Some(true)).count()
            }
            Maker::Member(index, member) => match self.families.get(*index) {
                Some(family) => self.rows.iter().filter(|r| meets(family.measure(r), member)).count(),
                None => 0,
            },
        };
        let all = u32::try_from(self.rows.len()).unwrap_or(u32::MAX);
        f64::from(u32::try_from(count).unwrap_or(0)) / f64::from(all.max(1))
    }

    fn excludes_failures(&self, said: &Maker) -> bool {
        match said {
            Maker::Fixed(said) => {
                let condition = self.words.inline_condition(&said.condition());
                self.failures.iter().all(|p| decide(&condition, p) == Some(false))
            }
            Maker::Member(index, member) => self.bad.get(*index).is_some_and(|bad| !meets(*bad, member)),
        }
    }
}

fn meets(measure: f64, member: &Member) -> bool {
    let number = member.number.to_f64();
    if member.strict { measure > number + 1e-9 } else { measure >= number - 1e-9 }
}

/// The value of each word at a point; NaN where it has none.
fn row(words: &Words, point: &BTreeMap<Symbol, Rational>) -> Vec<f64> {
    words.list.iter().map(|w| evaluate(&w.value, point).map_or(f64::NAN, |v| v.to_f64())).collect()
}
