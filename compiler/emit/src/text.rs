//! Texts that come from a source file, made harmless: the one way into a comment.

use borewright_machine::{Machine, Text};

/// The text in characters that this machine shows in comments: no bracket, line end, percent sign or control
/// character is left, whatever the source held, so that nothing in it can become a block.
///
/// ```
/// use borewright_emit::harmless;
/// use borewright_machine::Machine;
/// let machine = Machine::builtin("hash-mm").unwrap();
/// assert_eq!(harmless("seat) G0 Z-50.\n", &machine), "SEAT G0 Z-50.");
/// ```
#[must_use]
pub fn harmless(text: &str, machine: &Machine) -> String {
    let mut out = String::new();
    let text = text.replace("<=", "≤").replace(">=", "≥").replace("!=", "≠").replace("==", "=");
    for c in text.chars() {
        match allowed(c, &machine.text) {
            Some(c) => out.push(c),
            None => out.extend(spelled(c).chars().map(|c| allowed(c, &machine.text).unwrap_or(' '))),
        }
    }
    // What was taken out leaves single blanks.
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn allowed(c: char, text: &Text) -> Option<char> {
    let upper = c.to_ascii_uppercase();
    // Even where a machine file lists it as punctuation, none of these may stand in a comment.
    let dangerous =
        upper == text.open || upper == text.close || "()%;!\"[]{}".contains(upper) || c.is_control();
    let shown = upper.is_ascii_alphanumeric()
        || upper == ' '
        || (upper.is_ascii() && text.punctuation.contains(upper));
    (!dangerous && shown).then_some(upper)
}

/// Signs of drawings and of comparisons that have a spelling in letters.
fn spelled(c: char) -> &'static str {
    match c {
        '°' => " DEG",
        'Ø' | 'ø' | '⌀' => "DIA ",
        'µ' | 'μ' => "U",
        '<' => " LESS THAN ",
        '>' => " MORE THAN ",
        '≤' => " AT MOST ",
        '≥' => " AT LEAST ",
        '≠' => " NOT ",
        '±' => "+/-",
        '×' | '·' => "*",
        '–' | '—' | '−' => "-",
        '%' => " PERCENT ",
        '&' => " AND ",
        'ä' | 'Ä' => "AE",
        'ö' | 'Ö' => "OE",
        'ü' | 'Ü' => "UE",
        'ß' => "SS",
        'é' | 'è' | 'ê' | 'É' => "E",
        'á' | 'à' | 'â' => "A",
        // Marks of quotation are no gap in a word.
        '\'' | '’' | '`' => "",
        // Two clauses stay two.
        ';' => ",",
        _ => " ",
    }
}

/// The text as far as `width` characters hold it, ended with a whole word where there is one.
pub(crate) fn cut(text: &str, width: usize) -> &str {
    // Only ASCII is left here, so bytes are characters.
    let Some(head) = text.get(..width).filter(|_| text.len() > width) else { return text };
    let ends = text.get(width..).is_some_and(|rest| rest.starts_with(' '));
    let whole = if ends { Some(head) } else { head.rsplit_once(' ').map(|(words, _)| words) };
    whole.map_or(head, str::trim_end)
}

/// The text in lines of at most `width` characters, broken at blanks where there are some.
pub(crate) fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let mut word = word;
        if !line.is_empty() && line.len() + 1 + word.len() > width {
            lines.push(std::mem::take(&mut line));
        }
        // Only ASCII is left here, so bytes are characters.
        while word.len() > width {
            let (head, tail) = word.split_at(width);
            lines.push(head.to_owned());
            word = tail;
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hash(text: &str) -> String {
        harmless(text, &Machine::builtin("hash-mm").unwrap())
    }

    #[test]
    fn signs_of_drawings_are_spelled() {
        assert_eq!(
            hash("tool<=pilot & wall>2 or a!=b"),
            "TOOL AT MOST PILOT AND WALL MORE THAN 2 OR A NOT B"
        );
        assert_eq!(hash("50% – 20±0.1 × 3"), "50 PERCENT - 20+/-0.1 * 3");
        assert_eq!(hash("Ø12, 30° for the turbine's hub, 5 µm"), "DIA 12, 30 DEG FOR THE TURBINES HUB, 5 UM");
    }

    #[test]
    fn hostile_texts_stay_comments() {
        let hostile = [
            "a)\nM3 S9999\n(",
            "%\r\n%",
            "x\u{0}y\u{1b}[2J",
            "((()))",
            "a;b",
            "\u{202e}evil",
            "[#100=1]",
            "\u{85}\u{2028}",
        ];
        for text in hostile {
            let shown = hash(text);
            let fine = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit() || " .,+-*/=#:".contains(c);
            assert!(shown.chars().all(fine), "{text:?} became {shown:?}");
        }
    }

    #[test]
    fn a_machine_file_cannot_allow_what_ends_a_comment() {
        let mut machine = Machine::builtin("hash-mm").unwrap();
        machine.text.punctuation = "()%;[]\n".to_owned();
        assert_eq!(harmless("a)b%c;d[e]\nf", &machine), "A B PERCENT C D E F");
    }

    #[test]
    fn what_is_too_long_ends_with_a_word() {
        assert_eq!(cut("TOO MUCH STOCK FOR ONE TURN", 26), "TOO MUCH STOCK FOR ONE");
        assert_eq!(cut("TOO MUCH STOCK", 14), "TOO MUCH STOCK");
        assert_eq!(cut("TOO MUCH STOCK", 8), "TOO MUCH");
        assert_eq!(cut("ABCDEFGHIJ", 4), "ABCD");
        assert_eq!(cut("", 4), "");
    }

    #[test]
    fn long_texts_are_broken_at_blanks() {
        assert_eq!(wrap("ONE TWO THREE", 7), ["ONE TWO", "THREE"]);
        assert_eq!(wrap("ABCDEFGHIJ", 4), ["ABCD", "EFGH", "IJ"]);
    }
}
