//! What the tests of every phase ask of its pages: that each has the same headings, that no number or name is
//! there twice, and that the example on a page yields exactly the code of that page.

use crate::Code;

/// A fenced block of a page's example.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fenced<'p> {
    /// What follows the fence: `bore`, `toml`, `nc`.
    pub language: &'p str,
    /// What follows the language, where something does: a file's name.
    pub name: Option<&'p str>,
    /// The lines in it, each with its end.
    pub text: String,
}

/// The fenced blocks of the section `## Example`.
#[must_use]
pub fn example(page: &str) -> Vec<Fenced<'_>> {
    let section = page.split("\n## Example").nth(1).unwrap_or_default();
    let section = section.split("\n## ").next().unwrap_or_default();
    let mut blocks = Vec::new();
    let mut open: Option<Fenced<'_>> = None;
    for line in section.lines() {
        match (line.strip_prefix("```"), &mut open) {
            (Some(_), Some(_)) => blocks.extend(open.take()),
            (Some(info), None) => {
                let (language, name) = info.split_once(' ').map_or((info, None), |(l, n)| (l, Some(n)));
                open = Some(Fenced { language, name, text: String::new() });
            }
            (None, Some(block)) => {
                block.text += line;
                block.text.push('\n');
            }
            (None, None) => {}
        }
    }
    blocks
}

/// What is wrong with the shape of the pages: headings that are missing or in another order, numbers and names
/// that are there twice. Empty where all is well.
#[must_use]
pub fn misshapen(codes: &[Code]) -> Vec<String> {
    let mut wrong = Vec::new();
    for (i, code) in codes.iter().enumerate() {
        let title = format!("# {} {}", code.number, code.name);
        let headings = headings(code.page);
        if headings != [title.as_str(), "## What it means", "## Example", "## What to do"] {
            wrong.push(format!("{}: its headings are {headings:?}", code.number));
        }
        if codes.iter().take(i).any(|c| c.number == code.number || c.name == code.name) {
            wrong.push(format!("{} {} is there twice", code.number, code.name));
        }
    }
    wrong
}

/// The headings of a page; in a fenced block `#` begins a variable.
fn headings(page: &str) -> Vec<&str> {
    let mut fenced = false;
    let outside = |line: &&str| {
        let fence = line.starts_with("```");
        fenced ^= fence;
        !fenced && !fence
    };
    page.lines().filter(outside).filter(|line| line.starts_with('#')).collect()
}

/// The pages whose example does not yield exactly their own code. `yielded` gives the numbers of what is found in
/// the blocks of an example; order and repetition do not matter. Empty where all is well.
#[must_use]
pub fn astray(codes: &[Code], mut yielded: impl FnMut(&Code, &[Fenced<'_>]) -> Vec<String>) -> Vec<String> {
    let mut wrong = Vec::new();
    for code in codes {
        let mut found = yielded(code, &example(code.page));
        found.sort_unstable();
        found.dedup();
        if found != [code.number] {
            wrong.push(format!("{} {}: its example yields {found:?}", code.number, code.name));
        }
    }
    wrong
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: &str = "# X0001 name\n\n## What it means\n\nThis.\n\n## Example\n\n```bore\nlet a = 1\n```\n\nand\n\n```toml m.toml\nb = 2\n```\n\n## What to do\n\nThat.\n";
    const CODE: Code = Code { number: "X0001", name: "name", page: PAGE };

    #[test]
    fn blocks_come_with_language_and_name() {
        let told: Vec<_> = example(PAGE).into_iter().map(|b| (b.language, b.name, b.text)).collect();
        let expected =
            [("bore", None, "let a = 1\n".to_owned()), ("toml", Some("m.toml"), "b = 2\n".to_owned())];
        assert_eq!(told, expected);
    }

    #[test]
    fn what_is_wrong_is_told() {
        assert_eq!(misshapen(&[CODE]), Vec::<String>::new());
        assert_eq!(misshapen(&[CODE, CODE]), ["X0001 name is there twice"]);
        let headless = Code { page: "# X0001 name\n", ..CODE };
        assert_eq!(misshapen(&[headless]).len(), 1);
        let own = |_: &Code, _: &[Fenced<'_>]| vec!["X0001".to_owned(), "X0001".to_owned()];
        assert_eq!(astray(&[CODE], own), Vec::<String>::new());
        assert_eq!(astray(&[CODE], |_, _| Vec::new()), ["X0001 name: its example yields []"]);
    }
}
