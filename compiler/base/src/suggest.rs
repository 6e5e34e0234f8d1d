//! The nearest name: what somebody probably meant.

/// The candidate nearest to `name`, if one is near enough: equal but for case, or at most a third of its
/// letters (and at least one) wrong, missing, superfluous or swapped with a neighbour. Of equally near ones, the first.
#[must_use]
pub fn nearest<'a>(name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let limit = (name.chars().count() / 3).max(1);
    candidates
        .into_iter()
        .map(|candidate| (distance(&name.to_lowercase(), &candidate.to_lowercase()), candidate))
        .filter(|&(d, candidate)| {
            d <= limit && d < candidate.chars().count().min(name.chars().count()).max(1)
        })
        .min_by_key(|&(d, _)| d)
        .map(|(_, candidate)| candidate)
}

/// How many letters must be changed, added, dropped or swapped with their neighbour (each place once) to make
/// `a` into `b`.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    let mut last = None;
    for (i, x) in a.chars().enumerate() {
        let mut row = vec![i + 1];
        for (j, &y) in b.iter().enumerate() {
            let at = |row: &[usize], k: usize| row.get(k).copied().unwrap_or(usize::MAX - 1);
            let mut best =
                (at(&above, j) + usize::from(x != y)).min(at(&above, j + 1) + 1).min(at(&row, j) + 1);
            let swapped = j > 0 && last == Some(y) && b.get(j - 1) == Some(&x);
            if swapped {
                best = best.min(at(&before, j - 1) + 1);
            }
            row.push(best);
        }
        before = std::mem::replace(&mut above, row);
        last = Some(x);
    }
    above.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_finger_finds_the_name() {
        let names = ["retract", "rapid", "repeat", "z"];
        assert_eq!(nearest("retrcat", names), Some("retract"));
        assert_eq!(nearest("RAPID", names), Some("rapid"));
        assert_eq!(nearest("rapd", names), Some("rapid"));
        assert_eq!(nearest("spindle", names), None);
        assert_eq!(nearest("q", names), None);
    }

    #[test]
    fn distance_counts_letters() {
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("abc", "acb"), 1);
        assert_eq!(distance("milling", "mill"), 3);
    }
}
