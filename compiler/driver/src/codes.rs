//! Every code of every phase in one list, and the page that explains each.

use borewright_base::{Code, Diagnostic};

use crate::errors;

/// Every code, sorted by number.
#[must_use]
pub fn all() -> Vec<Code> {
    let mut codes = [
        borewright_syntax::errors::ALL,
        borewright_check::codes::ALL,
        borewright_lower::codes::ALL,
        borewright_proof::codes::ALL,
        borewright_runtime::errors::ALL,
        borewright_machine::errors::ALL,
        borewright_emit::errors::ALL,
        errors::ALL,
    ]
    .concat();
    codes.sort_by_key(|code| code.number);
    codes
}

/// The code of that number or name, in capitals or not.
///
/// # Errors
/// That there is none, with the nearest one.
pub fn find(asked: &str) -> Result<Code, Box<Diagnostic>> {
    let codes = all();
    let is_meant =
        |code: &&Code| code.number.eq_ignore_ascii_case(asked) || code.name.eq_ignore_ascii_case(asked);
    codes
        .iter()
        .find(is_meant)
        .copied()
        .ok_or_else(|| Box::new(errors::unknown_code(asked, nearest(asked, &codes))))
}

fn nearest(asked: &str, codes: &[Code]) -> Option<Code> {
    let near = borewright_base::nearest(asked, codes.iter().flat_map(|code| [code.number, code.name]))?;
    codes.iter().find(|code| code.number == near || code.name == near).copied()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn numbers_and_names_are_unique_across_all_phases() {
        let codes = all();
        let numbers: BTreeSet<_> = codes.iter().map(|c| c.number).collect();
        let names: BTreeSet<_> = codes.iter().map(|c| c.name).collect();
        assert_eq!((numbers.len(), names.len()), (codes.len(), codes.len()));
    }

    #[test]
    fn every_page_has_its_title_and_its_headings() {
        assert_eq!(borewright_base::pages::misshapen(&all()), Vec::<String>::new());
    }

    #[test]
    fn a_code_is_found_by_number_or_name_and_else_the_nearest_is_named() {
        assert_eq!(find("d0804").unwrap().name, "empty-file");
        assert_eq!(find("empty-file").unwrap().number, "D0804");
        let fault = find("emty-file").unwrap_err();
        assert_eq!(fault.hints, ["the nearest is D0804 empty-file"]);
        assert_eq!(find("zzz").unwrap_err().code, errors::UNKNOWN_CODE);
    }
}
