//! Every code of every phase has a page, and the example on it yields exactly that code.

mod common;

use std::collections::BTreeSet;

use common::Place;

/// A fenced block of a page: what stands after the fence, and the lines in it.
struct Fenced<'a> {
    language: &'a str,
    name: Option<&'a str>,
    text: String,
}

fn example(page: &str) -> Vec<Fenced<'_>> {
    let Some(section) = page.split("## Example").nth(1) else { return Vec::new() };
    let section = section.split("\n## ").next().unwrap();
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

/// `\xB0` stands for a byte that no text can show.
fn bytes(text: &str) -> Vec<u8> {
    let mut parts = text.split("\\x");
    let mut bytes = parts.next().unwrap().as_bytes().to_owned();
    for part in parts {
        bytes.push(u8::from_str_radix(&part[..2], 16).unwrap());
        bytes.extend(part[2..].as_bytes());
    }
    bytes
}

/// The codes that the example of a page yields; what went wrong with it otherwise.
fn yielded(number: &str, page: &str) -> Result<BTreeSet<String>, String> {
    let place = Place::new(&format!("page-{number}"));
    let mut line = None;
    for block in example(page) {
        let (file, default) = match block.language {
            "command" => {
                line = Some(block.text.clone());
                continue;
            }
            "bore" => ("example.bore", "borewright check example.bore"),
            "nc" => ("example.nc", "borewright run example.nc"),
            "toml" => ("example.toml", "borewright machines example.toml"),
            "bytes" | "text" => ("", ""),
            other => return Err(format!("what is a block of `{other}`?")),
        };
        let name = block.name.unwrap_or(file);
        if block.language == "bytes" {
            place.write(name, bytes(&block.text));
        } else {
            place.write(name, &block.text);
        }
        line = line.or_else(|| block.name.is_none().then(|| default.to_owned()));
    }
    let line = line.ok_or("the page has no example")?;
    let outcome = place.run_line(&line, &["--format", "json"]);
    if !outcome.out.starts_with('{') {
        return Err(format!("status {}, no report: {}", outcome.status, outcome.err));
    }
    Ok(outcome.codes().into_iter().collect())
}

#[test]
fn the_example_of_every_page_yields_exactly_its_code() {
    let mut wrong = Vec::new();
    for code in borewright_driver::codes::all() {
        if code == borewright_driver::errors::INTERNAL_FAULT {
            continue; // cannot be shown on purpose
        }
        let yielded = yielded(code.number, code.page);
        if yielded != Ok(BTreeSet::from([code.number.to_owned()])) {
            wrong.push(format!("{} {}: {yielded:?}", code.number, code.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn explain_prints_the_page_by_code_and_by_name() {
    let place = Place::new("explain");
    for code in borewright_driver::codes::all() {
        for asked in [code.number, code.name] {
            let outcome = place.run(&["explain", asked]);
            assert_eq!(
                (outcome.status, outcome.out.as_str(), outcome.err.as_str()),
                (0, code.page, ""),
                "{asked}"
            );
        }
    }
}
