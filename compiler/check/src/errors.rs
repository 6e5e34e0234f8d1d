//! The wording of every finding, one short function each.

use borewright_base::{Diagnostic, Span, nearest};
use borewright_number::Dimension;
use borewright_syntax::ast::Name;

use crate::codes;
use crate::suggest;
use crate::typed::Expr;
use crate::value::described;

fn with_hint(diagnostic: Diagnostic, hint: Option<String>) -> Diagnostic {
    match hint {
        Some(hint) => diagnostic.hint(hint),
        None => diagnostic,
    }
}

pub(crate) fn unknown_name<'a>(name: &Name, known: impl IntoIterator<Item = &'a str>) -> Diagnostic {
    let near = nearest(&name.text, known);
    let hint = match near {
        Some(near) => format!("did you mean `{near}`?"),
        None => "a name must be a parameter, a `let` above this line, or a constant of the file".to_owned(),
    };
    Diagnostic::error(codes::UNKNOWN_NAME, name.span, format!("nothing here is called `{}`", name.text))
        .hint(hint)
}

pub(crate) fn unknown_file(name: &Name) -> Diagnostic {
    let text = &name.text;
    Diagnostic::error(codes::UNKNOWN_FILE, name.span, format!("there is no file `{text}.bore` to use"))
        .hint(format!("put `{text}.bore` beside this file, or name a file of the bundled library"))
}

pub(crate) fn unknown_routine(name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_ROUTINE,
        name.span,
        format!("there is no routine `{}` here", name.text),
    );
    let hint = nearest(&name.text, known.iter().map(String::as_str))
        .map(|near| format!("did you mean `{near}`?"))
        .unwrap_or_else(|| "write it in this file, or `use` the file that holds it".to_owned());
    d.hint(hint)
}

pub(crate) fn unknown_function(name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_FUNCTION,
        name.span,
        format!("there is no function `{}` here", name.text),
    );
    with_hint(
        d,
        nearest(&name.text, known.iter().map(String::as_str)).map(|n| format!("did you mean `{n}`?")),
    )
}

pub(crate) fn unknown_type(name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(codes::UNKNOWN_TYPE, name.span, format!("there is no type `{}`", name.text));
    with_hint(d, suggest::hint(&name.text, known.iter().map(String::as_str)))
}

pub(crate) fn name_taken(name: &str, span: Span, first: Option<Span>) -> Diagnostic {
    let d = Diagnostic::error(codes::NAME_TAKEN, span, format!("the name `{name}` is taken"))
        .hint("a name means one value for ever: choose another one");
    match first {
        Some(first) => d.label(first, format!("`{name}` means this")),
        None => d,
    }
}

pub(crate) fn recursion(what: &str, name: &str, span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::RECURSION,
        span,
        format!("the {what} `{name}` needs itself, so it would never end"),
    )
    .hint("write the repetition with `passes` or `repeat`")
}

/// `bore + cut`: the operation, and both sides.
pub(crate) fn dimension_clash(doing: &str, a: &Expr, b: &Expr, span: Span) -> Diagnostic {
    let (left, right) = (described(a.settled()), described(b.settled()));
    let d =
        Diagnostic::error(codes::DIMENSION_CLASH, span, doing.replace("{a}", &left).replace("{b}", &right))
            .label(a.span, format!("this is {left}"))
            .label(b.span, format!("this is {right}"));
    let plain = a.settled() == Dimension::RATIO || b.settled() == Dimension::RATIO;
    let other = if a.settled() == Dimension::RATIO { b.settled() } else { a.settled() };
    let hint = if plain { unit_hint(other) } else { None };
    with_hint(d, hint.or_else(|| fraction_hint(a.settled())).or_else(|| fraction_hint(b.settled())))
}

/// A quantity stands where another dimension is asked for.
pub(crate) fn wrong_dimension(what: &str, wanted: Dimension, found: &Expr) -> Diagnostic {
    let d = Diagnostic::error(
        codes::WRONG_DIMENSION,
        found.span,
        format!("{what} must be {}, and this is {}", described(wanted), described(found.settled())),
    );
    let hint = if found.settled() == Dimension::RATIO { unit_hint(wanted) } else { None };
    with_hint(d, hint.or_else(|| fraction_hint(found.settled())))
}

/// `1/4in` is a plain number over a length, and seldom meant.
fn fraction_hint(dimension: Dimension) -> Option<String> {
    let fraction = Dimension::RATIO.over(Dimension::LENGTH) == Some(dimension);
    fraction.then(|| "`1/4in` divides 1 by 4in: write 0.25in, or 1/4 * 1in".to_owned())
}

fn unit_hint(dimension: Dimension) -> Option<String> {
    let example = match dimension {
        Dimension::LENGTH => "12mm or 0.5in",
        Dimension::ANGLE => "30deg",
        Dimension::TIME => "0.5s",
        Dimension::FEED => "400mm/min or 16in/min",
        Dimension::SPEED => "1200rpm",
        _ => return None,
    };
    Some(format!("write the unit: {example}"))
}

pub(crate) fn no_root(e: &Expr) -> Diagnostic {
    Diagnostic::error(
        codes::NO_ROOT,
        e.span,
        format!("there is no square root of {}", described(e.settled())),
    )
    .hint("the root of a length * length is a length")
}

pub(crate) fn dimension_too_large(span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::DIMENSION_TOO_LARGE,
        span,
        "a length, angle or time is multiplied too often here",
    )
}

pub(crate) fn wrong_kind(what: &str, wanted: &str, found: &str, span: Span) -> Diagnostic {
    Diagnostic::error(codes::WRONG_KIND, span, format!("{what} must be {wanted}, and this is {found}"))
}

pub(crate) fn not_whole(what: &str, span: Span) -> Diagnostic {
    Diagnostic::error(codes::NOT_WHOLE, span, format!("{what} must be a whole number"))
        .hint("counts, `ceil` and `floor` give whole numbers")
}

pub(crate) fn not_constant(what: &str, span: Span) -> Diagnostic {
    Diagnostic::error(codes::NOT_CONSTANT, span, format!("{what} must be an exact number"))
        .hint("use literals, constants and + - * /; not `pi`, an angle's sine, or a parameter")
}

pub(crate) fn missing_range(name: &Name, dimension: Dimension) -> Diagnostic {
    let example = match dimension {
        Dimension::LENGTH => "in 6mm..300mm",
        Dimension::ANGLE => "in -360deg..360deg",
        Dimension::TIME => "in 0..5s",
        Dimension::FEED => "in 10mm/min..5000mm/min",
        Dimension::SPEED => "in 100rpm..8000rpm",
        _ => "in 1..48",
    };
    Diagnostic::error(codes::MISSING_RANGE, name.span, format!("the parameter `{}` has no range", name.text))
        .hint(format!("say between which values it lies, for example `{example}`: what is proved is proved for all of them"))
}

pub(crate) fn empty_range(span: Span) -> Diagnostic {
    Diagnostic::error(codes::EMPTY_RANGE, span, "this range begins above its end")
        .hint("write the least value first")
}

pub(crate) fn range_not_wanted(name: &Name) -> Diagnostic {
    Diagnostic::error(
        codes::RANGE_NOT_WANTED,
        name.span,
        format!("`{}` takes its values from its type, so it has no range", name.text),
    )
}

pub(crate) fn bad_letter(letter: &Name) -> Diagnostic {
    Diagnostic::error(codes::BAD_LETTER, letter.span, format!("`{}` is not one capital letter", letter.text))
        .hint("a macro takes its arguments by the letters A to Z: `as B`")
}

pub(crate) fn letter_twice(letter: &Name, first: Span) -> Diagnostic {
    Diagnostic::error(
        codes::BAD_LETTER,
        letter.span,
        format!("the letter {} already stands for another parameter", letter.text),
    )
    .label(first, "it is taken here")
}

pub(crate) fn unknown_argument(what: &str, name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_ARGUMENT,
        name.span,
        format!("{what} takes no argument `{}`", name.text),
    );
    with_hint(d, suggest::hint(&name.text, known.iter().map(String::as_str)))
}

pub(crate) fn missing_arguments(what: &str, missing: &[String], span: Span) -> Diagnostic {
    let names: Vec<String> = missing.iter().map(|n| format!("`{n}`")).collect();
    Diagnostic::error(codes::MISSING_ARGUMENT, span, format!("{what} needs {}", names.join(", ")))
}

pub(crate) fn argument_twice(name: &Name, first: Span) -> Diagnostic {
    Diagnostic::error(codes::ARGUMENT_TWICE, name.span, format!("`{}` is given twice", name.text))
        .label(first, "first here")
}

pub(crate) fn argument_count(name: &Name, wanted: usize, found: usize, span: Span) -> Diagnostic {
    let s = if wanted == 1 { "" } else { "s" };
    Diagnostic::error(
        codes::ARGUMENT_COUNT,
        span,
        format!("`{}` takes {wanted} argument{s} in order, and {found} stand here", name.text),
    )
}

pub(crate) fn unknown_field(what: &str, name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(codes::UNKNOWN_FIELD, name.span, format!("{what} has no `{}`", name.text));
    with_hint(d, suggest::hint(&name.text, known.iter().map(String::as_str)))
}

pub(crate) fn unknown_row(table: &str, name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_ROW,
        name.span,
        format!("the table `{table}` has no row `{}`", name.text),
    );
    with_hint(d, suggest::hint(&name.text, known.iter().map(String::as_str)))
}

pub(crate) fn unknown_word(word: &str, words: &[String], span: Span) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_WORD,
        span,
        format!("`{word}` is not one of the words {}", words.join(" or ")),
    );
    let near = nearest(word, words.iter().map(String::as_str));
    with_hint(d, near.map(|near| format!("did you mean `{near}`?")))
}

pub(crate) fn called_job(name: &Name) -> Diagnostic {
    Diagnostic::error(
        codes::CALLED_JOB,
        name.span,
        format!("`{}` is a job, and only routines are called", name.text),
    )
    .hint("put what both need into a routine")
}

pub(crate) fn said_twice(what: &str, span: Span, first: Span) -> Diagnostic {
    Diagnostic::error(codes::SAID_TWICE, span, format!("{what} is said twice")).label(first, "first here")
}

pub(crate) fn missing_setup(what: &str, example: &str, name: &Name) -> Diagnostic {
    Diagnostic::error(codes::MISSING_SETUP, name.span, format!("the job `{}` does not say {what}", name.text))
        .hint(format!("add a line such as `{example}` above the brace"))
}

pub(crate) fn jobs_only(what: &str, span: Span) -> Diagnostic {
    Diagnostic::error(codes::JOBS_ONLY, span, format!("{what} belongs in a job, and this is a routine"))
        .hint("a routine works with whatever cutter, spindle speed and coolant its job sets")
}

pub(crate) fn routines_only(what: &str, span: Span) -> Diagnostic {
    Diagnostic::error(codes::ROUTINES_ONLY, span, format!("{what} belongs in a routine, and this is a job"))
        .hint("a job lists its cutters: `cutter rougher = flat(pocket: 1, diameter: 16mm, flutes: 32mm)`")
}

pub(crate) fn misplaced_value(what: &str, hint: &str, span: Span) -> Diagnostic {
    Diagnostic::error(codes::MISPLACED_VALUE, span, what.to_owned()).hint(hint.to_owned())
}

pub(crate) fn bad_table(what: String, span: Span) -> Diagnostic {
    Diagnostic::error(codes::BAD_TABLE, span, what)
}

pub(crate) fn unused(what: &str, name: &str, span: Span) -> Diagnostic {
    let hint = match what {
        "parameter" => "take it out, or use it: a caller would believe that it does something",
        "loop value" => "should the moves of this block depend on it?",
        _ => "take it out, or use it",
    };
    Diagnostic::warning(codes::UNUSED_NAME, span, format!("the {what} `{name}` is not used")).hint(hint)
}

pub(crate) fn unbounded_places(most: u32, span: Span) -> Diagnostic {
    Diagnostic::error(codes::UNBOUNDED_PLACES, span, "how many places there can be is not known here").hint(format!(
        "the count must be a number, a table's column, or a parameter, and at most {most}: `holes: count in 2..48`"
    ))
}

pub(crate) fn coinciding_places(span: Span) -> Diagnostic {
    Diagnostic::error(codes::COINCIDING_PLACES, span, "columns or rows with no way between them are one")
        .hint("state the way from one to the next, from centre to centre")
}

pub(crate) fn counted_in_routine(span: Span) -> Diagnostic {
    let text = "only a job says that its places are counted";
    Diagnostic::error(codes::MISPLACED_COUNTED, span, text)
        .hint("leave `counted` out: a routine counts its places by itself where their number is a parameter")
}

pub(crate) fn counted_list(span: Span) -> Diagnostic {
    let text = "these places are not counted out round a circle: nothing says how to work them out";
    Diagnostic::error(codes::MISPLACED_COUNTED, span, text)
        .hint("leave `counted` out, or say `at circle(count: 6, diameter: 80mm) counted`")
}

pub(crate) fn named_for_function(name: &Name, span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::ARGUMENT_COUNT,
        span,
        format!("the function `{}` takes its arguments in order, without names", name.text),
    )
}

pub(crate) fn unknown_cutter_kind(name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_CUTTER_KIND,
        name.span,
        format!("there is no kind of cutter `{}`", name.text),
    );
    with_hint(d, suggest::hint(&name.text, known.iter().map(String::as_str)))
}

pub(crate) fn unknown_cutter(name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_CUTTER,
        name.span,
        format!("the tool list has no cutter `{}`", name.text),
    );
    with_hint(d, suggest::hint(&name.text, known.iter().map(String::as_str)))
}

pub(crate) fn impossible_cutter(field: &str, problem: &str, span: Span) -> Diagnostic {
    Diagnostic::error(codes::IMPOSSIBLE_CUTTER, span, format!("the cutter's `{field}` {problem}"))
}

pub(crate) fn wrong_cutter(routine: &str, wanted: &str, found: &str, span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::WRONG_CUTTER,
        span,
        format!("`{routine}` works with a {wanted} cutter, and here it would get a {found} one"),
    )
}

pub(crate) fn no_cutter_line(routine: &str, wanted: &str, span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::WRONG_CUTTER,
        span,
        format!("`{routine}` works with a {wanted} cutter, and this routine does not say that it does"),
    )
    .hint(format!("add a line above the brace: `cutter {wanted} with diameter == tool`"))
}

pub(crate) fn no_cutter(what: &str, span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::NO_CUTTER,
        span,
        format!("{what} stands outside `with`: no cutter is in the spindle"),
    )
    .hint("name the cutter: `with finisher { ... }`")
}

pub(crate) fn unknown_feature_kind(name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_FEATURE_KIND,
        name.span,
        format!("there is no kind of feature `{}`", name.text),
    );
    with_hint(d, suggest::hint(&name.text, known.iter().map(String::as_str)))
}

pub(crate) fn unknown_promise(name: &Name, known: &[String]) -> Diagnostic {
    let d = Diagnostic::error(
        codes::UNKNOWN_PROMISE,
        name.span,
        format!("nothing called `{}` can be promised", name.text),
    );
    with_hint(d, suggest::hint(&name.text, known.iter().map(String::as_str)))
}

pub(crate) fn bad_promise(message: &str, span: Span) -> Diagnostic {
    Diagnostic::error(codes::BAD_PROMISE, span, message)
}

pub(crate) fn weak_promise(message: &str, span: Span) -> Diagnostic {
    Diagnostic::warning(codes::WEAK_PROMISE, span, message)
        .hint("promise `cleared`, so that it is proved that nothing is left standing")
}

pub(crate) fn misplaced_stop(span: Span) -> Diagnostic {
    Diagnostic::error(codes::MISPLACED_STOP, span, "`stop` stands between `with` blocks only")
        .hint("there the spindle is off and the cutter is up, so that a hand may go near")
}

pub(crate) fn nested_with(span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::NESTED_WITH,
        span,
        "`with` inside `with`: the other cutter is still in the spindle",
    )
    .hint("close the first block before it")
}

pub(crate) fn arc_without_end(span: Span) -> Diagnostic {
    Diagnostic::error(codes::WRONG_KIND, span, "an arc must say the point where it ends")
        .hint("for one full circle, say `turn`")
}

pub(crate) fn too_large(span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::TOO_LARGE,
        span,
        "this is too long when all functions and constants in it are written out",
    )
    .hint("name the parts with `let` in the routine: what has a name is written out once")
}
