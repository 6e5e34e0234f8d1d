//! What can be wrong with a text: the codes, and for each the words that a machinist reads.

use borewright_base::{Diagnostic, Span, nearest};
use borewright_number::Unit;

use crate::token::{Place, Sign, Token, Word};

borewright_base::codes! {
    /// `let a = b # c`
    STRAY_CHARACTER = "S0101" "stray-character";
    /// `.5mm`, `5.mm`
    MALFORMED_NUMBER = "S0102" "malformed-number";
    /// `5mmm`
    UNKNOWN_UNIT = "S0103" "unknown-unit";
    /// `5 mm`
    UNIT_APART = "S0104" "unit-apart-from-number";
    /// `"TOO BIG`
    UNTERMINATED_TEXT = "S0105" "unterminated-text";
    /// a text with a tab or a line end in it
    BROKEN_TEXT = "S0106" "broken-text";
    /// `let feed = 5`
    RESERVED_WORD = "S0107" "reserved-word-as-name";
    /// `(1 + 2`
    UNCLOSED_BRACKET = "S0108" "unclosed-bracket";
    /// `1 + 2)`
    UNOPENED_BRACKET = "S0109" "unopened-bracket";
    /// ten thousand brackets inside each other
    NESTED_TOO_DEEP = "S0110" "nested-too-deep";
    /// `line centre`, where `to` was expected
    UNEXPECTED = "S0111" "unexpected-word";
    /// `a < b < c`
    CHAINED_COMPARISON = "S0112" "chained-comparison";
    /// `circle(6, diameter: d)`
    MIXED_ARGUMENTS = "S0113" "mixed-arguments";
    /// `retrct`
    UNKNOWN_STATEMENT = "S0114" "unknown-statement";
    /// `requires` inside the braces
    MISPLACED_STATEMENT = "S0115" "misplaced-statement";
    /// `///` where nothing is documented
    LOOSE_DOCUMENTATION = "S0116" "loose-documentation";
}

pub(crate) fn stray_character(span: Span, character: char) -> Diagnostic {
    let shown = if character.is_control() || character.is_whitespace() {
        format!("U+{:04X}", u32::from(character))
    } else {
        format!("`{character}`")
    };
    let hint = match character {
        ';' => "a statement needs no mark at its end; leave `;` out",
        '−' | '–' | '—' => "this is not the minus sign of the keyboard; write `-`",
        '×' | '·' => "a product is written with `*`",
        '÷' => "a quotient is written with `/`",
        '≤' => "write `<=`",
        '≥' => "write `>=`",
        '≠' => "write `!=`",
        '^' => "there are no powers; write `x * x`, or `sqrt(x)` for a root",
        '!' => "write `not`, or `!=` for unequal",
        '&' => "write `and`",
        '|' => "write `or`",
        '%' | '‰' => "write the ratio itself: `0.05` for five in a hundred",
        '°' => "write `deg`, touching the number: `30deg`",
        '\'' | '“' | '”' | '„' | '‘' | '’' => {
            "texts stand between straight double quotes: \"TOO BIG\""
        }
        '#' => "numbered variables are made by the tool; give the value a name with `let`",
        c if c.is_whitespace() => "use an ordinary blank",
        _ => "leave it out; a comment begins with `//`",
    };
    Diagnostic::error(STRAY_CHARACTER, span, format!("the character {shown} means nothing here")).hint(hint)
}

pub(crate) fn nul_character(span: Span) -> Diagnostic {
    Diagnostic::error(STRAY_CHARACTER, span, "the file holds NUL characters")
        .hint("save the file as UTF-8 text; it may have been saved as UTF-16, or be damaged")
}

pub(crate) fn letter_in_name(span: Span, word: &str) -> Diagnostic {
    Diagnostic::error(STRAY_CHARACTER, span, format!("`{word}` has letters that a name cannot have"))
        .hint("names are made of the letters a to z, A to Z, digits and `_`")
}

pub(crate) fn number_begins_with_point(span: Span, digits: &str) -> Diagnostic {
    Diagnostic::error(MALFORMED_NUMBER, span, "a number cannot begin with its decimal point")
        .hint(format!("write `0{digits}`: a point alone is easily overlooked"))
}

pub(crate) fn number_ends_with_point(span: Span, digits: &str) -> Diagnostic {
    Diagnostic::error(MALFORMED_NUMBER, span, "a number cannot end with its decimal point").hint(format!(
        "write `{digits}` or `{digits}.0`; every number here is exact, with or without a point"
    ))
}

pub(crate) fn number_too_long(span: Span, limit: usize) -> Diagnostic {
    Diagnostic::error(MALFORMED_NUMBER, span, format!("this number has more than {limit} characters"))
        .hint("leave out the digits that no machine can hold")
}

pub(crate) fn unknown_unit(span: Span, digits: &str, word: &str) -> Diagnostic {
    let message = format!("`{word}` is not a unit");
    let names = Unit::ALL.map(Unit::name);
    let meant = match word {
        "°" | "degree" | "degrees" | "grad" => Some("deg"),
        "sec" | "second" | "seconds" => Some("s"),
        "inch" | "inches" | "″" => Some("in"),
        "metre" | "metres" | "meter" | "meters" => Some("m"),
        "minute" | "minutes" => Some("min"),
        "mpm" => Some("m/min"),
        "ipm" => Some("in/min"),
        "sfm" | "fpm" => Some("ft/min"),
        "′" => Some("ft"),
        _ => nearest(word, names),
    };
    let hint = match meant {
        Some(unit) => format!("did you mean `{digits}{unit}`?"),
        None => format!("the units are {}", names.join(", ")),
    };
    Diagnostic::error(UNKNOWN_UNIT, span, message).hint(hint)
}

pub(crate) fn unit_apart(span: Span, digits: &str, unit: Unit) -> Diagnostic {
    Diagnostic::error(UNIT_APART, span, format!("the unit `{unit}` stands apart from its number"))
        .hint(format!("a unit touches its number: `{digits}{unit}`"))
}

pub(crate) fn unterminated_text(span: Span) -> Diagnostic {
    Diagnostic::error(UNTERMINATED_TEXT, span, "this text has no closing quote on its line")
        .hint("a text ends on the line where it began; put `\"` at its end")
}

pub(crate) fn line_end_in_text(span: Span) -> Diagnostic {
    Diagnostic::error(BROKEN_TEXT, span, "this text runs over the end of its line")
        .hint("a text is shown on one line at the control; write it on one line")
}

pub(crate) fn control_character_in_text(span: Span, character: char) -> Diagnostic {
    let name = if character == '\t' { "a tab".to_owned() } else { format!("U+{:04X}", u32::from(character)) };
    Diagnostic::error(BROKEN_TEXT, span, format!("this text holds a control character ({name})"))
        .hint("use ordinary blanks in texts; they are shown at the control")
}

pub(crate) fn reserved_word(span: Span, word: Word) -> Diagnostic {
    let text = word.text();
    let instead = INSTEAD.iter().find_map(|&(reserved, name)| (reserved == word).then_some(name));
    let names = match instead {
        Some(name) => format!("`{name}` or `{text}_1`"),
        None => format!("`{text}_1`"),
    };
    Diagnostic::error(RESERVED_WORD, span, format!("`{text}` is a word of the language and cannot be a name"))
        .hint(format!("choose another name, such as {names}"))
}

/// What to call a thing whose first name is reserved.
const INSTEAD: [(Word, &str); 8] = [
    (Word::Z, "height"),
    (Word::Feed, "cut"),
    (Word::Line, "edge"),
    (Word::Turn, "winding"),
    (Word::Row, "entry"),
    (Word::Travel, "stroke"),
    (Word::Work, "piece"),
    (Word::Program, "number"),
];

pub(crate) fn unclosed_bracket(open: Span, sign: Sign, noticed: Option<Span>) -> Diagnostic {
    let close = sign.closing().unwrap_or(sign).text();
    let sign = sign.text();
    let diagnostic = Diagnostic::error(UNCLOSED_BRACKET, open, format!("this `{sign}` is never closed"));
    match noticed {
        Some(span) => diagnostic
            .label(span, format!("noticed here, where `{close}` is missing"))
            .hint(format!("put `{close}` where the part that `{sign}` opened ends")),
        None => diagnostic.hint(format!("the file ends before it; put `{close}` where the part ends")),
    }
}

pub(crate) fn missing_open_brace(span: Span, word: Word) -> Diagnostic {
    Diagnostic::error(UNOPENED_BRACKET, span, "`{` is missing before the first statement")
        .hint(format!("put `{{` on a line above `{}`: the moves stand between braces", word.text()))
}

pub(crate) fn unopened_bracket(span: Span, sign: Sign) -> Diagnostic {
    let sign = sign.text();
    Diagnostic::error(UNOPENED_BRACKET, span, format!("this `{sign}` closes nothing"))
        .hint(format!("leave it out, or put the opening bracket before the part that `{sign}` ends"))
}

pub(crate) fn nested_too_deep(span: Span, limit: usize) -> Diagnostic {
    Diagnostic::error(NESTED_TOO_DEEP, span, format!("this part is nested more than {limit} levels deep"))
        .hint("name parts of it with `let`; brackets inside brackets and long sums both count")
}

pub(crate) fn chained_comparison(span: Span) -> Diagnostic {
    Diagnostic::error(CHAINED_COMPARISON, span, "a comparison has two sides, not three")
        .hint("write `a <= b and b < c` instead of `a <= b < c`")
}

pub(crate) fn mixed_arguments(span: Span) -> Diagnostic {
    Diagnostic::error(MIXED_ARGUMENTS, span, "some arguments have names and some have none")
        .hint("give a name to each, as in `circle(count: 6, diameter: 80mm)`, or to none, as in `min(a, b)`")
}

fn leading(place: Place) -> impl Iterator<Item = &'static str> {
    Word::ALL.into_iter().filter(move |word| word.leads_in(place)).map(Word::text)
}

/// The word that was probably meant at the beginning of a statement, a line of the head, an item or a row.
pub(crate) fn nearest_leading(name: &str, place: Place) -> Option<&'static str> {
    nearest(name, leading(place))
}

pub(crate) fn unknown_statement(span: Span, name: &str, place: Place) -> Diagnostic {
    let what = match place {
        Place::Item => "no item of a file begins with",
        Place::Head => "no line of the head begins with",
        Place::Block => "no statement begins with",
        Place::Table => "no row begins with",
    };
    let hint = match nearest_leading(name, place) {
        Some(word) => format!("did you mean `{word}`?"),
        None => {
            let words: Vec<_> = leading(place).collect();
            format!("the words that can stand here are {}", words.join(", "))
        }
    };
    Diagnostic::error(UNKNOWN_STATEMENT, span, format!("{what} `{name}`")).hint(hint)
}

pub(crate) fn misplaced_statement(span: Span, word: Word) -> Diagnostic {
    let text = word.text();
    let hint = match word.leads().first() {
        Some(Place::Item) => format!("`{text}` stands outside all braces; is a `}}` missing above it?"),
        Some(Place::Head) => {
            format!("`{text}` stands between the name of the routine or job and its `{{`")
        }
        Some(Place::Block) => format!("`{text}` stands between the braces of a routine or job"),
        Some(Place::Table) => "`row` stands between the braces of a table".to_owned(),
        None => format!("`{text}` begins no statement"),
    };
    Diagnostic::error(MISPLACED_STATEMENT, span, format!("`{text}` cannot stand here")).hint(hint)
}

pub(crate) fn unexpected(span: Span, found: Option<Token<'_>>, expected: &[String]) -> Diagnostic {
    let found = found.map_or_else(|| "the end of the file".to_owned(), Token::describe);
    let message = match listed(expected) {
        Some(list) => format!("expected {list}, found {found}"),
        None => format!("{found} cannot stand here"),
    };
    Diagnostic::error(UNEXPECTED, span, message)
}

pub(crate) fn missing_after(place: Span, before: Token<'_>, expected: &[String]) -> Diagnostic {
    let message = match listed(expected) {
        Some(list) => format!("expected {list} after {}", before.describe()),
        None => format!("something is missing after {}", before.describe()),
    };
    Diagnostic::error(UNEXPECTED, place, message)
}

pub(crate) fn loose_documentation(span: Span) -> Diagnostic {
    Diagnostic::warning(LOOSE_DOCUMENTATION, span, "this `///` comment documents nothing").hint(
        "`///` stands above an item, a parameter or a row, or on its line; for a plain remark write `//`",
    )
}

/// `a`, `a or b`, `a, b or c`.
fn listed(names: &[String]) -> Option<String> {
    let (last, rest) = names.split_last()?;
    Some(if rest.is_empty() { last.clone() } else { format!("{} or {last}", rest.join(", ")) })
}
