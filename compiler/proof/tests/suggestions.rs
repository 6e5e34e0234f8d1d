//! Suggestions, measured: of every routine here, each requirement is deleted in turn; what then fails must be
//! met with a suggestion that restores the requirement, or with something weaker that suffices.

mod written;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::sync::Arc;

use borewright_base::Severity;
use borewright_motion::{Condition, Motion};
use borewright_proof::{
    Answer, Budget, Formula, Kind, Manner, Settings, Suggestion, Verdict, Verdicts, errors, prove, review,
    settle,
};

/// What became of one deletion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Outcome {
    /// All is proved without it.
    NotNeeded,
    /// Nothing, or not enough, was suggested.
    Nothing,
    /// What was suggested suffices, but does not follow from what was deleted.
    Other,
    /// What was suggested says the same.
    Restored,
    /// What was suggested says less, and suffices.
    Weaker,
}

/// One routine with one of its lines gone.
#[derive(Debug)]
struct Deletion {
    routine: String,
    line: String,
    failing: usize,
    suggested: Vec<String>,
    outcome: Outcome,
}

fn texts() -> Vec<(String, String)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/proofs/pass");
    let mut paths: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    let read = |path: &std::path::PathBuf| {
        (path.file_stem().unwrap().to_string_lossy().into_owned(), std::fs::read_to_string(path).unwrap())
    };
    let bundled = borewright_stdlib::FILES.iter().map(|(n, t)| ((*n).to_owned(), (*t).to_owned()));
    let here = ["open_bore", "seat_circle"].map(|n| {
        let path = format!("{}/tests/programs/{n}.bore", env!("CARGO_MANIFEST_DIR"));
        (n.to_owned(), std::fs::read_to_string(path).unwrap())
    });
    let passing = paths.iter().filter(|p| p.extension().is_some_and(|e| e == "bore")).map(read);
    let mut all: Vec<(String, String)> = bundled.chain(passing).collect();
    for program in here {
        if all.iter().all(|(known, _)| *known != program.0) {
            all.push(program);
        }
    }
    all
}

/// A routine of the text with its verdicts; what it calls is taken as proved.
fn judged(text: &str, routine: &str) -> (Arc<Motion>, Verdicts) {
    let motion = written::motions(text).into_iter().find(|m| m.name == routine).unwrap();
    let mut verdicts = settle(&motion, &[], &Settings::default());
    if verdicts.settled.iter().any(|s| is_open(&s.verdict)) {
        review(&motion, &mut verdicts, &Settings::default());
    }
    (motion, verdicts)
}

fn open(verdicts: &Verdicts) -> usize {
    verdicts.settled.iter().filter(|s| is_open(&s.verdict)).count()
}

fn is_open(verdict: &Verdict) -> bool {
    !matches!(verdict, Verdict::Proved { .. })
}

/// Every `requires` line, with the routine it stands in.
fn requirements(text: &str) -> Vec<(String, usize)> {
    let mut routine = String::new();
    let mut found = Vec::new();
    for (number, line) in text.lines().enumerate() {
        if let Some(rest) = line.strip_prefix("routine ") {
            routine = rest.split('(').next().unwrap_or_default().to_owned();
        }
        if line.starts_with("requires ") {
            found.push((routine.clone(), number));
        }
    }
    found
}

fn without(text: &str, number: usize) -> String {
    let lines = text.lines().enumerate().map(|(i, line)| if i == number { "" } else { line });
    lines.collect::<Vec<_>>().join("\n") + "\n"
}

/// The text with the suggestions written into it where their hints say.
fn with(text: &str, number: usize, suggestions: &[Suggestion]) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let below = |lines: &[String], word: &str| {
        lines.iter().enumerate().skip(number).find(|(_, l)| l.starts_with(word)).map(|(i, _)| i)
    };
    for suggestion in suggestions {
        match suggestion.manner {
            Manner::Require | Manner::TakeOver => {
                let at = below(&lines, "cutter").or_else(|| below(&lines, "makes")).unwrap_or(number);
                lines.insert(at, suggestion.text.clone());
            }
            Manner::RequireAbove => lines[number].clone_from(&suggestion.text),
            Manner::Demand => match below(&lines, "cutter") {
                Some(at) => lines[at].clone_from(&suggestion.text),
                None => lines[number].clone_from(&suggestion.text),
            },
        }
    }
    lines.join("\n") + "\n"
}

/// All that the head says.
fn head(verdicts: &Verdicts) -> Formula {
    let mut settled = verdicts.settled.iter();
    settled.find(|s| s.obligation.kind == Kind::Witness).unwrap().obligation.formula.clone()
}

fn follows(from: &Formula, goal: Condition) -> bool {
    let formula = Formula { goal, ..from.clone() };
    matches!(prove(&formula, &Budget::default()).answer, Answer::Proved { .. })
}

fn deletion(text: &str, routine: &str, number: usize) -> Deletion {
    let line = text.lines().nth(number).unwrap_or_default().split(" else ").next().unwrap_or_default();
    let line = line.split_whitespace().collect::<Vec<_>>().join(" ");
    let reduced = without(text, number);
    let (_, whole) = judged(text, routine);
    assert_eq!(open(&whole), 0, "{routine} is not proved to begin with");
    let mut deletion = Deletion {
        routine: routine.to_owned(),
        line,
        failing: 0,
        suggested: Vec::new(),
        outcome: Outcome::Nothing,
    };
    let (_, bare) = judged(&reduced, routine);
    deletion.failing = open(&bare);
    let suggestions = &bare.suggestions;
    deletion.suggested = suggestions.iter().map(|s| s.text.clone()).collect();
    if deletion.failing == 0 {
        deletion.outcome = Outcome::NotNeeded;
        return deletion;
    }
    let (_, mended) = judged(&with(&reduced, number, suggestions), routine);
    if open(&mended) > 0 {
        return deletion;
    }
    let (before, after) = (head(&whole), head(&mended));
    let kept =
        suggestions.iter().all(|s| s.manner == Manner::TakeOver || follows(&before, s.condition.clone()));
    let deleted: BTreeSet<_> = before.hypotheses.iter().map(|h| &h.condition).collect();
    let same = deleted.into_iter().all(|condition| follows(&after, condition.clone()));
    deletion.outcome = match (kept, same) {
        (false, _) => Outcome::Other,
        (true, true) => Outcome::Restored,
        (true, false) => Outcome::Weaker,
    };
    deletion
}

fn table(deletions: &[Deletion]) -> String {
    let mut text = String::new();
    for d in deletions {
        let suggested = if d.suggested.is_empty() { "-".to_owned() } else { d.suggested.join("; ") };
        let _ = writeln!(
            text,
            "{:20} | {:60} | {:2} | {:?} | {suggested}",
            d.routine, d.line, d.failing, d.outcome
        );
    }
    text
}

#[test]
fn four_of_five_deleted_requirements_are_suggested_or_something_weaker() {
    let whole = std::env::var("BOREWRIGHT_FULL").is_ok_and(|v| v == "1");
    let mut deletions = Vec::new();
    let mut number = 0;
    for (_, text) in texts() {
        for (routine, line) in requirements(&text) {
            number += 1;
            if whole || number % 10 == 3 {
                deletions.push(deletion(&text, &routine, line));
            }
        }
    }
    let table = table(&deletions);
    println!("{table}");
    let count = |wanted: &[Outcome]| deletions.iter().filter(|d| wanted.contains(&d.outcome)).count();
    let good = count(&[Outcome::Restored, Outcome::Weaker]);
    let needed = deletions.len() - count(&[Outcome::NotNeeded]);
    println!("{good} of {needed} (not needed: {})", deletions.len() - needed);
    assert!(needed > 0, "nothing was measured");
    assert!(good * 5 >= needed * 4, "{good} of {needed}\n{table}");
}

/// What is said of a bundled routine with one text in the place of another.
fn said_of(of: &str, replace: &str, with: &str) -> String {
    let start = format!("routine {of}(");
    let (_, file) = borewright_stdlib::FILES.iter().find(|(_, text)| text.contains(&start)).unwrap();
    let rest = &file[file.find(&start).unwrap()..];
    let routine = &rest[..rest.find("\n}").unwrap() + 2];
    assert!(routine.contains(replace), "`{replace}` is not in {of}");
    format!("{of}\n  {replace}\n  ->\n  {with}\n{}", said(&routine.replace(replace, with)))
}

/// What is suggested to the last routine of a text, and what is remarked on it. The findings themselves are given
/// by their codes: their words are the subject of other tests.
fn said(text: &str) -> String {
    let motion = written::motions(text).pop().unwrap();
    let mut verdicts = settle(&motion, &[], &Settings::default());
    review(&motion, &mut verdicts, &Settings::default());
    let suggested = |hint: &&String| verdicts.suggestions.iter().any(|s| hint.contains(&s.text));
    let mut text = String::new();
    for d in errors::findings(&motion, &verdicts).iter() {
        let _ = match d.severity {
            Severity::Error => writeln!(text, "\n{}", d.code.number),
            Severity::Warning => writeln!(text, "\n{} {}", d.code.number, d.message),
        };
        let is_remark = d.severity == Severity::Warning;
        let hints = d.hints.iter().filter(|h| is_remark || suggested(h));
        hints.for_each(|hint| text += &format!("    {hint}\n"));
    }
    text
}

#[test]
fn a_line_is_suggested_in_the_words_of_the_author() {
    insta::assert_snapshot!(said_of("finish_bore", "requires lead <= 0.9 * wall", "requires lead <= 60mm"));
}

#[test]
fn a_demand_on_the_cutter_is_suggested_where_no_requirement_helps() {
    insta::assert_snapshot!(said_of(
        "finish_bore",
        "flutes >= stepdown, reach >= depth",
        "flutes >= stepdown"
    ));
}

#[test]
fn a_step_that_may_be_zero_asks_for_one_above_zero() {
    insta::assert_snapshot!(said_of(
        "finish_bore",
        "stepdown: length as Q in 0.1mm",
        "stepdown: length as Q in 0mm"
    ));
}

#[test]
fn a_requirement_that_no_proof_needs_is_remarked_on_calmly() {
    insta::assert_snapshot!(said_of(
        "finish_bore_straight",
        "cutter flat with",
        "requires clearance <= 40mm else \"CLEARANCE\" cutter flat with"
    ));
}

#[test]
fn a_limit_of_practice_is_not_remarked_on() {
    let with = |line: &str| said_of("finish_bore_straight", "cutter flat with", line);
    let line = "clearance <= 40mm else \"CLEARANCE\" cutter flat with";
    assert!(with(&format!("requires {line}")).contains("P0440"));
    assert!(!with(&format!("practice {line}")).contains("P0440"));
}

const INCHES: &str = "routine bore_out(
    bore: length in 1in..2in,
    tool: length in 0.25in..1in,
    cut: feed in 4in/min..36in/min,
)
cutter flat with diameter == tool, flutes >= 0.4in, reach >= 0.4in
makes hole seat(diameter: bore, floor: -0.4in, pilot: 0.75in) promises within, sized, cleared
{
    retract
    rapid to centre
    rapid to z 0.2in
    feed cut
    line to z -0.4in
    line to ((bore - tool) / 2, 0)
    turn ccw about centre
    line to centre
    retract
}
";

#[test]
fn inches_are_suggested_to_who_writes_inches() {
    insta::assert_snapshot!(said(INCHES));
}
