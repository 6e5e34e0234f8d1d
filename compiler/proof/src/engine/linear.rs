//! Exact linear arithmetic: a sum of facts that can't be. Floats propose which facts, rationals decide.

use std::collections::BTreeMap;

use borewright_number::Rational;
use rustc_hash::FxHashMap;

use super::normal::Sign;
use super::poly::{Mono, Poly};

/// A fact, or a product of facts, as one linear combination of monomials.
#[derive(Debug, Clone)]
pub(super) struct Column {
    pub(super) poly: Poly,
    pub(super) sign: Sign,
}

/// Looks for multipliers, not negative (any sign for equations), with sum of multiplier * column
/// identically 0 and a positive multiplier on a strict column. `scale` tells how large a monomial typically is.
pub(super) fn combine(columns: &[&Column], scale: &dyn Fn(&Mono) -> f64) -> Option<Vec<(usize, Rational)>> {
    let active = presolve(columns)?;
    let basis = float_basis(columns, &active, scale)?;
    solve(columns, &basis)
}

/// The columns left when rows with entries of one sign only have removed theirs.
fn presolve(columns: &[&Column]) -> Option<Vec<usize>> {
    let mut rows: FxHashMap<&Mono, usize> = FxHashMap::default();
    let mut entries: Vec<Vec<(usize, bool)>> = Vec::new();
    let mut of_column: Vec<Vec<usize>> = Vec::with_capacity(columns.len());
    for (j, column) in columns.iter().copied().enumerate() {
        let mut mine = Vec::with_capacity(column.poly.0.len());
        for (mono, c) in &column.poly.0 {
            let row = *rows.entry(mono).or_insert_with(|| {
                entries.push(Vec::new());
                entries.len() - 1
            });
            if let Some(row) = entries.get_mut(row) {
                row.push((j, c.signum() > 0));
            }
            mine.push(row);
        }
        of_column.push(mine);
    }
    let mut alive = vec![true; columns.len()];
    let mut queue: Vec<usize> = (0..entries.len()).collect();
    while let Some(row) = queue.pop() {
        let Some(row) = entries.get(row) else { continue };
        let living = || row.iter().filter(|(j, _)| alive.get(*j) == Some(&true));
        let free = |j: usize| columns.get(j).is_some_and(|c| c.sign == Sign::Zero);
        let count = living().count();
        let one_sided = count == 1
            || (count > 1
                && living().all(|(j, _)| !free(*j))
                && (living().all(|(_, up)| *up) || living().all(|(_, up)| !*up)));
        if !one_sided {
            continue;
        }
        let dead: Vec<usize> = living().map(|(j, _)| *j).collect();
        for j in dead {
            if let Some(flag) = alive.get_mut(j) {
                *flag = false;
            }
            queue.extend(of_column.get(j).into_iter().flatten());
        }
    }
    let active: Vec<usize> = alive.iter().enumerate().filter(|(_, a)| **a).map(|(j, _)| j).collect();
    let strict = |j: &usize| columns.get(*j).is_some_and(|c| c.sign == Sign::Positive);
    active.iter().any(strict).then_some(active)
}

/// A dense tableau; the last entry of each row is its right side.
struct Tableau {
    rows: Vec<Vec<f64>>,
    /// The column that is basic in each row.
    basis: Vec<Option<usize>>,
    goal: Vec<f64>,
}

/// Columns that make a basis of an (almost) feasible solution, by phase 1 of the simplex method in floats.
fn float_basis(columns: &[&Column], active: &[usize], scale: &dyn Fn(&Mono) -> f64) -> Option<Vec<usize>> {
    let (mut tableau, owner) = tableau(columns, active, scale);
    let limit = 20 + 6 * tableau.rows.len();
    for round in 0..limit {
        let left = tableau.goal.last().copied().unwrap_or(0.0);
        if left < 1e-12 {
            break;
        }
        let Some(enter) = tableau.entering(round > limit / 2) else { break };
        let row = tableau.leaving(enter)?;
        tableau.pivot(row, enter);
    }
    // The right sides were nudged by about 1e-7 each.
    let artificial: f64 = tableau
        .rows
        .iter()
        .zip(&tableau.basis)
        .filter(|(_, b)| b.is_none())
        .filter_map(|(row, _)| row.last())
        .sum();
    if artificial > 1e-4 {
        return None;
    }
    let mut basis: Vec<usize> =
        tableau.basis.iter().flatten().filter_map(|j| owner.get(*j).copied()).collect();
    basis.sort_unstable();
    basis.dedup();
    Some(basis)
}

/// The nonzero entries of one column: row and value.
type Entries = Vec<(usize, f64)>;

/// The scaled tableau, and for each of its columns the column it stands for.
fn tableau(columns: &[&Column], active: &[usize], scale: &dyn Fn(&Mono) -> f64) -> (Tableau, Vec<usize>) {
    let mut index: FxHashMap<&Mono, usize> = FxHashMap::default();
    let mut owner = Vec::new();
    let mut sparse: Vec<(Entries, bool)> = Vec::new();
    for j in active {
        let Some(column) = columns.get(*j) else { continue };
        let mut entries = Vec::with_capacity(column.poly.0.len());
        for (mono, c) in &column.poly.0 {
            let next = index.len();
            let row = *index.entry(mono).or_insert(next);
            entries.push((row, c.to_f64() * scale(mono)));
        }
        owner.push(*j);
        sparse.push((entries, column.sign == Sign::Positive));
    }
    equilibrate(&mut sparse, index.len());
    for at in (0..sparse.len()).rev() {
        let Some(j) = owner.get(at).copied() else { continue };
        if columns.get(j).is_some_and(|c| c.sign == Sign::Zero)
            && let Some((entries, _)) = sparse.get(at)
        {
            sparse.push((entries.iter().map(|(r, v)| (*r, -v)).collect(), false));
            owner.push(j);
        }
    }
    let (height, width) = (index.len() + 1, sparse.len());
    let mut rows = vec![vec![0.0; width + 1]; height];
    for (j, (entries, strict)) in sparse.iter().enumerate() {
        let strict = strict.then_some((height - 1, 1.0));
        for (r, v) in entries.iter().copied().chain(strict) {
            if let Some(cell) = rows.get_mut(r).and_then(|row| row.get_mut(j)) {
                *cell = v;
            }
        }
    }
    nudge(&mut rows);
    let mut goal = vec![0.0; width + 1];
    for row in &rows {
        goal.iter_mut().zip(row).for_each(|(g, v)| *g += v);
    }
    let basis = vec![None; height];
    (Tableau { rows, basis, goal }, owner)
}

/// Brings the entries of each row and column near 1: each is divided by the mean of its extremes, in turn.
fn equilibrate(sparse: &mut [(Entries, bool)], height: usize) {
    let middle = |lo: f64, hi: f64| if hi > 0.0 { 1.0 / (lo.sqrt() * hi.sqrt()) } else { 1.0 };
    for _ in 0..3 {
        let mut extremes = vec![(f64::INFINITY, 0.0_f64); height];
        for (r, v) in sparse.iter().flat_map(|(entries, _)| entries) {
            if let Some((lo, hi)) = extremes.get_mut(*r) {
                *lo = lo.min(v.abs());
                *hi = hi.max(v.abs());
            }
        }
        let factors: Vec<f64> = extremes.into_iter().map(|(lo, hi)| middle(lo, hi)).collect();
        for (entries, _) in sparse.iter_mut() {
            for (r, v) in entries.iter_mut() {
                *v *= factors.get(*r).copied().unwrap_or(1.0);
            }
            let lo = entries.iter().fold(f64::INFINITY, |m, (_, v)| m.min(v.abs()));
            let hi = entries.iter().fold(0.0_f64, |m, (_, v)| m.max(v.abs()));
            let factor = middle(lo, hi);
            entries.iter_mut().for_each(|(_, v)| *v *= factor);
        }
    }
}

/// Right sides: 1 in the last row, else small numbers that keep the method from standing still.
fn nudge(rows: &mut [Vec<f64>]) {
    let count = rows.len();
    for (i, row) in rows.iter_mut().enumerate() {
        let last = i + 1 == count;
        // Any fixed irregular sequence will do.
        let irregular = f64::from(u32::try_from((i * 7919 + 104_729) % 1009).unwrap_or(1)) / 1009.0;
        if let Some(right) = row.last_mut() {
            *right = if last { 1.0 } else { 1e-8 * (1.0 + irregular) };
        }
    }
}

impl Tableau {
    /// The column that promises most, or (`first`) the first that promises anything.
    fn entering(&self, first: bool) -> Option<usize> {
        let (_, costs) = self.goal.split_last()?;
        let mut candidates = costs.iter().enumerate().filter(|(_, v)| **v > 1e-9);
        if first {
            return candidates.next().map(|(j, _)| j);
        }
        candidates.max_by(|a, b| a.1.total_cmp(b.1)).map(|(j, _)| j)
    }

    /// The row that limits the column most.
    fn leaving(&self, enter: usize) -> Option<usize> {
        let mut best: Option<(f64, f64, usize)> = None;
        for (i, row) in self.rows.iter().enumerate() {
            let pivot = row.get(enter).copied().unwrap_or(0.0);
            if pivot < 1e-9 {
                continue;
            }
            let ratio = row.last().copied().unwrap_or(0.0).max(0.0) / pivot;
            let better = best.is_none_or(|(r, p, _)| ratio < r - 1e-15 || (ratio <= r + 1e-15 && pivot > p));
            if better {
                best = Some((ratio, pivot, i));
            }
        }
        best.map(|(_, _, i)| i)
    }

    fn pivot(&mut self, at: usize, enter: usize) {
        let Some(row) = self.rows.get_mut(at) else { return };
        let Some(pivot) = row.get(enter).copied() else { return };
        row.iter_mut().for_each(|v| *v /= pivot);
        let source = row.clone();
        let entries: Vec<(usize, f64)> =
            source.iter().copied().enumerate().filter(|(_, v)| *v != 0.0).collect();
        // Of a row with few entries, only their columns change the others; a full one is subtracted in one go.
        let is_sparse = entries.len() < source.len() / 8;
        let eliminate = |target: &mut Vec<f64>| {
            let factor = target.get(enter).copied().unwrap_or(0.0);
            if factor == 0.0 {
                return;
            }
            if is_sparse {
                for (j, v) in &entries {
                    if let Some(cell) = target.get_mut(*j) {
                        *cell -= factor * v;
                    }
                }
            } else {
                target.iter_mut().zip(&source).for_each(|(t, s)| *t -= factor * s);
            }
        };
        for (i, row) in self.rows.iter_mut().enumerate() {
            if i != at {
                eliminate(row);
            }
        }
        eliminate(&mut self.goal);
        if let Some(slot) = self.basis.get_mut(at) {
            *slot = Some(enter);
        }
    }
}

/// One equation of the exact system: coefficients by unknown, and the right side.
type Equation = (BTreeMap<usize, Rational>, Rational);

/// The exact multipliers of the basis' columns; `None` where there are none or one is negative.
fn solve(columns: &[&Column], basis: &[usize]) -> Option<Vec<(usize, Rational)>> {
    let mut by_mono: BTreeMap<&Mono, BTreeMap<usize, Rational>> = BTreeMap::new();
    let mut norm = BTreeMap::new();
    for j in basis {
        let column = columns.get(*j)?;
        for (mono, c) in &column.poly.0 {
            by_mono.entry(mono).or_default().insert(*j, c.clone());
        }
        if column.sign == Sign::Positive {
            norm.insert(*j, Rational::ONE);
        }
    }
    let mut pending: Vec<Equation> = by_mono.into_values().map(|row| (row, Rational::ZERO)).collect();
    pending.push((norm, Rational::ONE));
    let solved = eliminate(pending)?;
    let mut result = Vec::new();
    for (j, value) in solved {
        let free = columns.get(j).is_some_and(|c| c.sign == Sign::Zero);
        if value.signum() < 0 && !free {
            return None;
        }
        if !value.is_zero() {
            result.push((j, value));
        }
    }
    Some(result)
}

/// Gauss-Jordan elimination, shortest equation first; unknowns that stay free are 0.
fn eliminate(mut pending: Vec<Equation>) -> Option<Vec<(usize, Rational)>> {
    let mut done: Vec<(usize, Equation)> = Vec::new();
    loop {
        pending.retain(|(row, right)| !(row.is_empty() && right.is_zero()));
        let Some(at) = (0..pending.len()).min_by_key(|i| pending.get(*i).map_or(0, |(row, _)| row.len()))
        else {
            break;
        };
        let (mut row, mut right) = pending.swap_remove(at);
        let (unknown, lead) = row.iter().next().map(|(j, c)| (*j, c.clone()))?;
        row.values_mut().for_each(|c| *c = &*c / &lead);
        right = right / lead;
        let pivot = (row, right);
        pending.iter_mut().for_each(|equation| subtract(equation, unknown, &pivot));
        done.iter_mut().for_each(|(_, equation)| subtract(equation, unknown, &pivot));
        done.push((unknown, pivot));
    }
    Some(done.into_iter().map(|(unknown, (_, right))| (unknown, right)).collect())
}

fn subtract(equation: &mut Equation, unknown: usize, pivot: &Equation) {
    let Some(factor) = equation.0.get(&unknown).cloned() else { return };
    for (j, c) in &pivot.0 {
        let entry = equation.0.entry(*j).or_insert(Rational::ZERO);
        *entry -= &(c * &factor);
        if entry.is_zero() {
            equation.0.remove(j);
        }
    }
    equation.1 -= &(&pivot.1 * &factor);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(constant: i64, x: i64, y: i64, sign: Sign) -> Column {
        let mut poly = Poly::constant(Rational::from(constant));
        poly.add_scaled(&Poly::atom(0), &Rational::from(x));
        poly.add_scaled(&Poly::atom(1), &Rational::from(y));
        Column { poly, sign }
    }

    #[test]
    fn contradictory_bounds_combine_to_zero() {
        // x >= 2, y >= x, 1 > y and 1 > 0
        let all = [
            column(-2, 1, 0, Sign::NotNegative),
            column(0, -1, 1, Sign::NotNegative),
            column(1, 0, -1, Sign::Positive),
            column(1, 0, 0, Sign::Positive),
        ];
        let columns: Vec<&Column> = all.iter().collect();
        let found = combine(&columns, &|_| 1.0).unwrap();
        let mut sum = Poly::zero();
        for (j, value) in &found {
            sum.add_scaled(&columns[*j].poly, value);
        }
        assert!(sum.is_zero());
        assert_eq!(combine(&columns[1..], &|_| 1.0), None);
    }
}
