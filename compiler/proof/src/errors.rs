//! What is refuted, what could not be proved, and what is worth a look: from verdicts to findings.

use borewright_base::{Code, Diagnostic, Diagnostics};
use borewright_motion::{Field, Motion, Symbol};
use borewright_number::{Quantity, Rational};

use crate::codes;
use crate::{Counterexample, Kind, Manner, Remark, Settled, Suggestion, Verdict, Verdicts};

/// Everything that the verdicts on a motion say to its author.
#[must_use]
pub fn findings(motion: &Motion, verdicts: &Verdicts) -> Diagnostics {
    let mut found = Diagnostics::default();
    // Where a value is undefined, what rests on it cannot be proved either: that need not be said again.
    let undefined = verdicts.settled.iter().any(|s| {
        matches!(s.obligation.kind, Kind::Divisor | Kind::Domain) && matches!(s.verdict, Verdict::Refuted(_))
    });
    let mut said: Vec<&Suggestion> = Vec::new();
    for settled in &verdicts.settled {
        let follows = undefined && matches!(settled.verdict, Verdict::Unknown { .. });
        let Some(diagnostic) = diagnose(motion, settled).filter(|_| !follows) else { continue };
        let hint = suggested(verdicts, settled).filter(|s| !said.contains(s));
        said.extend(hint);
        found.report(hint.map_or(diagnostic.clone(), |s| diagnostic.hint(suggestion_text(s))));
    }
    for name in &verdicts.unproved {
        let message = format!("`{}` calls `{name}`, which is not proved", motion.name);
        found.report(
            Diagnostic::error(codes::UNPROVED_CALLEE, motion.span, message)
                .hint(format!("correct `{name}` first: what a call is worth rests on its promises")),
        );
    }
    verdicts.remarks.iter().for_each(|r| found.warn(remark(r)));
    found
}

/// The finding of an obligation that is refuted or could not be proved.
#[must_use]
pub fn diagnose(motion: &Motion, settled: &Settled) -> Option<Diagnostic> {
    let obligation = &settled.obligation;
    let phrases = obligation.kind.phrases();
    let diagnostic = match &settled.verdict {
        Verdict::Proved { .. } => return None,
        Verdict::Refuted(counter) => {
            let values = shown(motion, settled, counter);
            let fault = counter.fault.as_ref();
            let what = fault.map_or(phrases.failure, |f| f.text.as_str());
            let message = match values.as_str() {
                "" => what.to_owned(),
                // What tells of values itself is not given more of them in the same words.
                values if what.contains(" with ") => format!("{what}, for {values}"),
                values => format!("{what} with {values}"),
            };
            let code = code(obligation.kind);
            let span = fault.map_or(obligation.span, |f| f.span);
            let diagnostic = Diagnostic::error(code, span, message);
            match fault.filter(|f| f.span != obligation.span) {
                Some(fault) => diagnostic.label(fault.span, fault.text.clone()),
                None => diagnostic,
            }
        }
        Verdict::Unknown { why } => {
            let message = format!("could not be proved: {}", phrases.success);
            Diagnostic::error(codes::COULD_NOT_BE_PROVED, obligation.span, message)
                .hint(format!("neither a proof nor a counterexample was found: {why}"))
                .hint("state a requirement that says why it holds, or narrow the ranges of the parameters")
        }
    };
    let diagnostic = diagnostic.label(obligation.span, obligation.why.clone());
    let diagnostic = match obligation.because.filter(|because| *because != obligation.span) {
        Some(because) => diagnostic.label(because, because_of(settled)),
        None => diagnostic,
    };
    Some(match advice(obligation.kind) {
        Some(advice) if matches!(settled.verdict, Verdict::Refuted(_)) => diagnostic.hint(advice),
        Some(_) | None => diagnostic,
    })
}

fn because_of(settled: &Settled) -> String {
    match &settled.obligation.promise {
        Some(promise) => format!("`{promise}` is promised here"),
        None => "this is what asks for it".to_owned(),
    }
}

/// The values of the counterexample that the obligation speaks of, as their author would write them.
fn shown(motion: &Motion, settled: &Settled, counter: &Counterexample) -> String {
    let formula = &settled.obligation.formula;
    let mut spoken = formula.goal.symbols();
    loop {
        let definitions = formula.variables.iter().filter(|v| spoken.contains(&v.symbol));
        let more: Vec<Symbol> =
            definitions.filter_map(|v| v.definition.as_ref()).flat_map(|d| d.symbols()).collect();
        let before = spoken.len();
        spoken.extend(more);
        if spoken.len() == before {
            break;
        }
    }
    let parts = formula.variables.iter().filter(|v| spoken.contains(&v.symbol)).filter_map(|v| {
        let value = counter.values.get(&v.symbol)?;
        if !crate::replay::matter(motion, formula, &counter.values, &v.symbol) {
            return None;
        }
        let text = Quantity { value: value.clone(), dimension: v.dimension }.text(v.inch);
        Some(named(motion, &v.symbol, value, &text))
    });
    join(parts.flatten().collect())
}

/// `bore 20mm`, `cutter flutes 8mm`, `pass 1`.
fn named(motion: &Motion, symbol: &Symbol, value: &Rational, text: &str) -> Option<String> {
    if let Some(field) = Field::ALL.into_iter().find(|f| f.symbol() == *symbol) {
        return Some(match field {
            Field::Plunges if value.is_zero() => "a cutter that may not plunge".to_owned(),
            Field::Plunges => "a cutter that may plunge".to_owned(),
            Field::Diameter
            | Field::Flutes
            | Field::Reach
            | Field::Dead
            | Field::Ramp
            | Field::Teeth
            | Field::Corner
            | Field::Pocket
            | Field::Hand
            | Field::Wear
            | Field::Pitch
            | Field::Rows
            | Field::Nose
            | Field::Tooth
            | Field::Angle
            | Field::Tip
            | Field::Taper => format!("cutter {} {text}", field.name()),
        });
    }
    if motion.parameters.iter().any(|p| p.symbol == *symbol) {
        return Some(format!("{symbol} {text}"));
    }
    symbol.name().strip_suffix(".index").map(|value| format!("{value} at pass {text}"))
}

fn join(parts: Vec<String>) -> String {
    match parts.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// The code of what is refuted.
#[must_use]
pub fn code(kind: Kind) -> Code {
    match kind {
        Kind::Witness => codes::CONTRADICTORY_REQUIREMENTS,
        Kind::Default => codes::DEFAULT_OUT_OF_RANGE,
        Kind::Divisor | Kind::Domain => codes::UNDEFINED_VALUE,
        Kind::ArcRadii | Kind::ArcSize => codes::BAD_ARC,
        Kind::Ends => codes::ENDLESS_PASSES,
        Kind::Feed => codes::MISSING_FEED,
        Kind::Entry => codes::UNKNOWN_POSITION,
        Kind::Rapid => codes::RAPID_INTO_METAL,
        Kind::Plunge | Kind::Ramp => codes::PLUNGE_INTO_SOLID,
        Kind::Flutes | Kind::Shank => codes::CUTTER_TOO_SHORT,
        Kind::Wall => codes::PAST_THE_WALL,
        Kind::Floor => codes::BELOW_THE_FLOOR,
        Kind::Contact | Kind::Landing | Kind::Meeting | Kind::Turns => codes::NOT_TO_SIZE,
        Kind::Lead | Kind::Teeth => codes::SPOILT_THREAD,
        Kind::Cone => codes::CONE_DOES_NOT_FIT,
        Kind::Disc => codes::DISC_IN_THE_WALL,
        Kind::Standing | Kind::Pin => codes::LEFT_STANDING,
        Kind::Joint | Kind::Dwell => codes::MARK_ON_THE_WALL,
        Kind::Side => codes::WRONG_SIDE,
        Kind::Feature => codes::IMPOSSIBLE_FEATURE,
        Kind::Web => codes::THIN_WALL,
        Kind::Order => codes::FACE_OUT_OF_ORDER,
        Kind::Argument | Kind::Requirement | Kind::Cutter => codes::CALL_REFUSED,
        Kind::Pilot => codes::PILOT_NOT_MADE,
        Kind::Inside | Kind::Kept => codes::PROMISE_NOT_CARRIED,
        // That a `stop` stands between tools, the checker sees to; only lifted motions come this far.
        Kind::Spindle | Kind::Stop => codes::SPINDLE_NOT_TURNING,
        Kind::Travel => codes::TRAVEL_TOO_LOW,
        Kind::Tool => codes::IMPOSSIBLE_TOOL,
        // Of a text, not of a motion: whoever writes texts says more about it.
        Kind::Admitted
        | Kind::Refused
        | Kind::SameDefault
        | Kind::SameMove
        | Kind::SameCount
        | Kind::SameState
        | Kind::LeftAlone
        | Kind::Computable => codes::COULD_NOT_BE_PROVED,
    }
}

const FACE_FIRST: &str =
    "call the face first, and what lies below it after, from no higher than the face leaves the work";
const INTO_THE_GROOVE: &str = "go up and down in the middle of the bore, leave it at the height of the groove, and demand `tooth >= ...`";
const ON_THE_WALL: &str =
    "the cutter's centre goes round at half of (diameter - cutter) inside, (diameter + cutter) outside";
const COME_DOWN: &str =
    "come down where a pilot hole leaves room, ramp down along a helix, or demand a cutter that `plunges`";

/// What a machinist does about it.
fn advice(kind: Kind) -> Option<&'static str> {
    Some(match kind {
        Kind::Witness => "relax one of the requirements, or widen a range",
        Kind::Default => "change the default, the range, or require what keeps the default inside",
        Kind::Divisor | Kind::Domain => "require above this line what rules these values out",
        Kind::ArcRadii => "an arc's centre is equally far from its start and its end: look at signs",
        Kind::ArcSize => "require room for the arc, or use a larger lead",
        Kind::Ends => "let the step begin above zero in its range, or require it",
        Kind::Feed => "state a `feed` in the same block, above the move; it does not reach into inner blocks",
        Kind::Entry => "begin with `retract`, then go to a place in XY, then come down",
        Kind::Rapid => "stay above the top face at rapid, and use `line` with a feed below it",
        Kind::Plunge => COME_DOWN,
        Kind::Ramp => "demand a cutter with enough `ramp`, or go down less in a turn",
        Kind::Flutes | Kind::Meeting => {
            "demand it of the cutter: `cutter flat with flutes >= ...`, or take smaller steps"
        }
        Kind::Shank => "demand it of the cutter: `cutter flat with reach >= ...`",
        Kind::Wall => "require room for the cutter, or correct the path",
        Kind::Floor | Kind::Landing => "let the passes end exactly on the floor",
        Kind::Contact => ON_THE_WALL,
        Kind::Standing => "require less stock, or go round more often with smaller steps outward",
        Kind::Pin => "go round closer to the middle, or demand a cutter with a smaller `dead` centre",
        Kind::Joint => {
            "roll onto the wall along an arc whose centre lies on the line from the middle to the contact point"
        }
        Kind::Dwell => "leave the wall before anything stops, waits or moves in Z alone",
        Kind::Side => "inside a hole, climb is `ccw`; around a boss it is `cw`",
        Kind::Lead => "a full turn gains one pitch, a half circle that begins in the axis a quarter of it",
        Kind::Turns => "begin lower, or go round more often: one turn for each pitch beyond the rows",
        Kind::Teeth => "demand it of the cutter: `cutter thread with pitch == ..., tooth >= ...`",
        Kind::Cone => "demand it: `cutter point with angle == ...`, and go as deep as the chamfer",
        Kind::Disc => INTO_THE_GROOVE,
        Kind::Feature => {
            "require the floor below the top face, and no hole before that is wider than the wall"
        }
        Kind::Web => "move the places apart, or make them smaller",
        Kind::Order => FACE_FIRST,
        Kind::Argument | Kind::Requirement => {
            "give the call values that the routine admits, or take its requirements over with `requires all`"
        }
        Kind::Cutter => "choose another cutter, or take the routine's demands over with `requires all`",
        Kind::Pilot => {
            "make that hole first, with a routine that promises `cleared`, or say that it is `given`"
        }
        Kind::Inside | Kind::Kept => {
            "compare the sizes given to the calls with the feature that is made; where a call makes another one, add a line `makes` for it"
        }
        Kind::Spindle => "state `spindle cw ...` above the first call in this block",
        Kind::Travel => "raise `travel z`, or give the call a lower clearance",
        Kind::Stop => "put the `stop` between two `with` blocks",
        Kind::Tool => "correct the tool's line: reach at least flutes, dead at most diameter, right or left",
        Kind::Admitted
        | Kind::Refused
        | Kind::SameDefault
        | Kind::SameMove
        | Kind::SameCount
        | Kind::SameState
        | Kind::LeftAlone
        | Kind::Computable => "the tool has written a wrong text: this is our fault, not yours",
    })
}

/// The line that would settle an obligation, where one was found.
#[must_use]
pub fn suggested<'v>(verdicts: &'v Verdicts, settled: &Settled) -> Option<&'v Suggestion> {
    verdicts.suggestions.iter().find(|s| s.settles.contains(&settled.obligation.id))
}

fn suggestion_text(suggestion: &Suggestion) -> String {
    let Suggestion { text, manner, settles, .. } = suggestion;
    let what = match manner {
        Manner::Require | Manner::TakeOver => format!("add `{text}`"),
        Manner::RequireAbove => format!("add `{text}` above this line"),
        Manner::Demand => format!("demand it of the cutter: `{text}`"),
    };
    match settles.len() {
        0 | 1 => format!("{what}; with it, this is proved"),
        2 => format!("{what}; with it, this and one other finding are proved"),
        n => format!("{what}; with it, this and {} other findings are proved", n - 1),
    }
}

/// What is worth a look, calmly: a requirement may well be a rule of the shop.
fn remark(remark: &Remark) -> Diagnostic {
    match remark {
        Remark::NotNeeded { span, text } => {
            let message = format!("everything is proved without this requirement: {text}");
            Diagnostic::warning(codes::REQUIREMENT_NOT_NEEDED, *span, message)
                .hint("without it the routine admits more sizes; where it is a rule of the shop, write `practice` in place of `requires`")
        }
        Remark::CouldBeWeaker { span, text, weaker } => {
            let message = format!("everything is proved with less than this requirement: {text}");
            Diagnostic::warning(codes::REQUIREMENT_COULD_BE_WEAKER, *span, message)
                .hint(format!("`{weaker}` is enough for the proofs"))
                .hint("the routine would admit more sizes; keep it as it is if it is a rule of the shop")
        }
        Remark::NeverTaken { span, text, always } => {
            let side = if *always { "else" } else { "then" };
            let message = format!("the `{side}` side of `if {text}` is never taken");
            Diagnostic::warning(codes::BRANCH_NEVER_TAKEN, *span, message)
                .hint("no values that meet all requirements lead there: look at the condition, or leave the `if` out")
        }
    }
}
