//! Tests of the whole way, from source text to verdicts. Cases are data: `proofs/*.toml` holds twins, each a
//! bundled routine with one term changed, and `proofs/pass` whole routines that must be proved.

// The measure is a witness in plain floats, on purpose: it decides no proof.
#![allow(clippy::disallowed_methods, reason = "tests measure with the platform's own functions")]

pub mod float;
pub mod forms;
pub mod measure;
pub mod mutate;
pub mod random;
pub mod sizes;
pub mod source;
pub mod trial;
pub mod witness;

use std::collections::BTreeSet;

use borewright_driver::{MemoryHost, check_with, render};
use serde::Deserialize;
use serde_json::Value;

/// A file of twins.
#[derive(Debug, Deserialize)]
pub struct Twins {
    /// The file that is changed: a bundled one as `stdlib/NAME.bore`, or `proofs/pass/NAME.bore`.
    pub file: String,
    /// One changed routine each.
    pub twin: Vec<Twin>,
}

/// A routine with one thing changed, and what the proof must say to it.
#[derive(Debug, Deserialize)]
pub struct Twin {
    /// What is wrong, as a fact.
    pub name: String,
    /// The routine.
    pub of: String,
    /// Text of the routine.
    pub replace: String,
    /// What stands there instead.
    pub with: String,
    /// Promises or kinds that must be among the refuted.
    pub refuted: Vec<String>,
    /// Part of what must be seen to go wrong when the motion is run at the counterexample.
    pub fault: Option<String>,
    /// Kinds that may stay undecided beside them.
    #[serde(default)]
    pub unknown: Vec<String>,
    /// Routines of the same file that the changed one calls.
    #[serde(default)]
    pub needs: Vec<String>,
}

/// A text without a routine, or a change that changes nothing: a fault of the test's own data.
#[derive(Debug)]
pub struct Fault(pub String);

/// The text of one routine or job of a file, from its first line to its last brace.
///
/// # Errors
/// Where the file has no such routine.
pub fn routine_text(file: &str, name: &str) -> Result<String, Fault> {
    let fault = || Fault(format!("no routine {name}"));
    let routine = file.find(&format!("routine {name}("));
    let start = routine.or_else(|| file.find(&format!("job {name}\n"))).ok_or_else(fault)?;
    let rest = file.get(start..).ok_or_else(fault)?;
    let end = rest.find("\n}").map_or(rest.len(), |at| at + 2);
    rest.get(..end).map(str::to_owned).ok_or_else(fault)
}

impl Twin {
    /// The changed routine, after those that it calls.
    ///
    /// # Errors
    /// Where there is nothing to change.
    pub fn text(&self, file: &str) -> Result<String, Fault> {
        let routine = routine_text(file, &self.of)?;
        if routine.contains(&self.replace) {
            let uses = file.lines().filter(|line| line.starts_with("use ")).map(|line| Ok(line.to_owned()));
            let needs = self.needs.iter().map(|name| routine_text(file, name));
            let before: Result<Vec<String>, Fault> = uses.chain(needs).collect();
            let changed = routine.replace(&self.replace, &self.with);
            Ok(before?.into_iter().chain([changed]).collect::<Vec<_>>().join("\n\n"))
        } else {
            Err(Fault(format!("{}: `{}` does not occur in {}", self.name, self.replace, self.of)))
        }
    }
}

/// What a check said: its JSON report, as scripts outside read it.
#[derive(Debug)]
pub struct Said(pub Value);

impl Said {
    /// Checks one text; what might help its author is not looked for.
    #[must_use]
    pub fn of(name: &str, text: &str) -> Self {
        let host = MemoryHost::new([(name, text)]);
        let report = check_with(&host, &[name.to_owned()], &source::verdicts_alone());
        Self(serde_json::to_value(render::json::check(&report)).unwrap_or(Value::Null))
    }

    /// What was seen to go wrong, of every refuted obligation.
    #[must_use]
    pub fn faults(&self) -> Vec<String> {
        let text = |o: &Value| Some(o.get("fault")?.get("text")?.as_str()?.to_owned());
        self.list("obligations").filter_map(text).collect()
    }

    fn list(&self, name: &str) -> impl Iterator<Item = &Value> {
        self.0.get(name).and_then(Value::as_array).into_iter().flatten()
    }

    /// Promises and kinds of all obligations with that verdict.
    #[must_use]
    pub fn with_verdict(&self, verdict: &str) -> BTreeSet<String> {
        let word = |value: &Value, name: &str| value.get(name).and_then(Value::as_str).map(str::to_owned);
        self.list("obligations")
            .filter(|o| word(o, "verdict").as_deref() == Some(verdict))
            .flat_map(|o| [word(o, "promise"), word(o, "kind")])
            .flatten()
            .filter(|text| !text.is_empty())
            .collect()
    }

    /// Kinds of all obligations with that verdict.
    #[must_use]
    pub fn kinds(&self, verdict: &str) -> BTreeSet<String> {
        let has = |o: &&Value| o.get("verdict").and_then(Value::as_str) == Some(verdict);
        let kind = |o: &Value| o.get("kind").and_then(Value::as_str).map(str::to_owned);
        self.list("obligations").filter(has).filter_map(kind).collect()
    }

    /// Ids of obligations with that verdict, with their reasons.
    #[must_use]
    pub fn ids(&self, verdict: &str) -> Vec<String> {
        let has = |o: &&Value| o.get("verdict").and_then(Value::as_str) == Some(verdict);
        self.list("obligations")
            .filter(has)
            .map(|o| format!("{} ({})", text(o, "id"), text(o, "why")))
            .collect()
    }

    /// Code and message of every finding of that severity.
    #[must_use]
    pub fn findings(&self, severity: &str) -> Vec<String> {
        let has = |d: &&Value| d.get("severity").and_then(Value::as_str) == Some(severity);
        self.list("diagnostics")
            .filter(has)
            .map(|d| format!("{} {}", text(d, "code"), text(d, "message")))
            .collect()
    }

    /// How many obligations there are.
    #[must_use]
    pub fn total(&self) -> usize {
        self.list("obligations").count()
    }
}

fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value.get(name).and_then(Value::as_str).unwrap_or("?")
}
