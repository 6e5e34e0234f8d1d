//! Edits of emitted macros: of one token each, most of which change what the text does, and such as a hand might
//! make that change nothing.

use crate::random::Random;

/// An edited text, and what was edited.
pub type Edit = (String, String);

/// One edit of one token; `None` where the draw hits nothing to edit.
pub fn token(text: &str, random: &mut Random) -> Option<Edit> {
    let lines: Vec<&str> = text.lines().collect();
    let first = lines.iter().position(|l| l.starts_with("(GUARDS"))?;
    let code = |l: &str| !l.starts_with('(') && !l.starts_with('%');
    let places: Vec<usize> =
        (first..lines.len()).filter(|i| lines.get(*i).is_some_and(|l| code(l))).collect();
    let at = *random.one(&places)?;
    let line = *lines.get(at)?;
    let end = line.find('(').unwrap_or(line.len());
    let (head, note) = line.split_at(end);
    let edited = match random.below(5) {
        0 => digit(head, random)?,
        1 => sign(head, random)?,
        2 => variable(head, random)?,
        3 => String::new(),
        _ => comparison(head, random)?,
    };
    let whole = if edited.is_empty() { String::new() } else { format!("{edited}{note}") };
    let mut changed: Vec<&str> = lines.clone();
    *changed.get_mut(at)? = &whole;
    Some((changed.join("\n") + "\n", format!("{line} -> {whole}")))
}

fn replaced(text: &str, at: usize, length: usize, by: &str) -> String {
    format!("{}{by}{}", &text[..at], &text[at + length..])
}

fn digit(head: &str, random: &mut Random) -> Option<String> {
    let digits: Vec<(usize, char)> = head.char_indices().filter(|(_, c)| c.is_ascii_digit()).collect();
    let (at, old) = *random.one(&digits)?;
    let others: Vec<char> = ('0'..='9').filter(|c| *c != old).collect();
    Some(replaced(head, at, 1, &random.one(&others)?.to_string()))
}

fn sign(head: &str, random: &mut Random) -> Option<String> {
    let signs: Vec<(usize, char)> = head.char_indices().filter(|(_, c)| matches!(c, '+' | '-')).collect();
    if let Some((at, old)) = random.one(&signs) {
        return Some(replaced(head, *at, 1, if *old == '+' { "-" } else { "+" }));
    }
    // A minus in front of a value.
    let values: Vec<usize> = head
        .char_indices()
        .filter(|(_, c)| matches!(c, 'X' | 'Y' | 'Z' | 'I' | 'J' | 'F' | '=' | '['))
        .map(|(i, _)| i + 1)
        .collect();
    Some(replaced(head, *random.one(&values)?, 0, "-"))
}

fn variable(head: &str, random: &mut Random) -> Option<String> {
    let marks: Vec<usize> = head.match_indices('#').map(|(i, _)| i + 1).collect();
    let at = *random.one(&marks)?;
    let length = head[at..].chars().take_while(char::is_ascii_digit).count();
    let old = &head[at..at + length];
    let new = (1 + random.below(33)).to_string();
    (new != old).then(|| replaced(head, at, length, &new))
}

fn comparison(head: &str, random: &mut Random) -> Option<String> {
    let words = ["LT", "LE", "GT", "GE", "EQ", "NE"];
    let found: Vec<(usize, &str)> = words
        .iter()
        .flat_map(|w| head.match_indices(&format!(" {w} ")).map(|(i, _)| (i + 1, *w)).collect::<Vec<_>>())
        .collect();
    let (at, old) = *random.one(&found)?;
    let others: Vec<&str> = words.into_iter().filter(|w| *w != old).collect();
    Some(replaced(head, at, 2, random.one(&others)?))
}

/// A text as lines, each with its code and its comment, from the first guard on.
struct Lines {
    lines: Vec<(String, String)>,
    first: usize,
}

impl Lines {
    fn of(text: &str) -> Option<Self> {
        let apart = |l: &str| {
            let (code, note) = l.split_at(l.find('(').unwrap_or(l.len()));
            (code.to_owned(), note.to_owned())
        };
        let lines: Vec<_> = text.lines().map(apart).collect();
        let first = lines.iter().position(|(_, note)| note.starts_with("(GUARDS"))?;
        Some(Self { lines, first })
    }

    /// A line that `edit` has something to do in, edited.
    fn one(&self, random: &mut Random, edit: impl Fn(&str, &mut Random) -> Option<String>) -> Option<Edit> {
        for _ in 0..200 {
            let at = self.first + random.below(self.lines.len() - self.first);
            let Some((code, note)) = self.lines.get(at).filter(|(code, _)| !code.trim().is_empty()) else {
                continue;
            };
            if code.starts_with('%') {
                continue;
            }
            if let Some(edited) = edit(code, random).filter(|edited| edited != code) {
                let mut lines = self.lines.clone();
                lines[at] = (edited.clone(), note.clone());
                return Some((joined(&lines), format!("{code} -> {edited}")));
            }
        }
        None
    }

    /// The same edit of the code of every line.
    fn all(&self, what: String, edit: impl Fn(&str) -> String) -> Edit {
        let lines = self.lines.iter().enumerate().map(|(at, (code, note))| {
            (if at < self.first { code.clone() } else { edit(code) }, note.clone())
        });
        (joined(&lines.collect::<Vec<_>>()), what)
    }
}

fn joined(lines: &[(String, String)]) -> String {
    lines.iter().map(|(code, note)| format!("{code}{note}\n")).collect()
}

/// How many kinds of edits change nothing.
pub const QUIET: usize = 12;

/// An edit that changes nothing, of the kind with this number; `None` where there is nothing to edit.
pub fn quiet(text: &str, kind: usize, random: &mut Random) -> Option<Edit> {
    let lines = Lines::of(text)?;
    match kind {
        0 => lines.one(random, |code, _| {
            Some(format!("{code}(CHECKED BY HAND)")).filter(|_| !code.contains("#3000"))
        }),
        1 => lines
            .one(random, |code, random| numbers(code, random, |n| n.contains('.').then(|| format!("{n}0")))),
        2 => lines
            .one(random, |code, random| numbers(code, random, |n| n.contains('.').then(|| format!("0{n}")))),
        3 => {
            let number = 5000 + random.below(4000);
            lines.one(random, |code, _| (!code.starts_with('N')).then(|| format!("N{number} {code}")))
        }
        4 => lines.one(random, |code, _| Some(code.replacen(' ', "  ", 1))),
        5 => renumbered(&lines, random),
        6 => lines.one(random, |code, random| turned(code, random, '+')),
        7 => lines.one(random, |code, random| turned(code, random, '*')),
        8 => lines.one(random, |code, _| reordered(code)),
        9 => {
            let label = 101 + random.below(20);
            let (from, to) = (label.to_string(), (label + 700).to_string());
            Some(lines.all(format!("N{from} is N{to}"), |code| {
                let label = code.replacen(&format!("N{from} "), &format!("N{to} "), 1);
                label.replace(&format!("GOTO {from}"), &format!("GOTO {to}"))
            }))
        }
        10 => lines.one(random, |code, _| sides_swapped(code)),
        _ => lines.one(random, bracketed),
    }
}

/// One number of the code, other than a code's or a variable's.
fn numbers(code: &str, random: &mut Random, edit: impl Fn(&str) -> Option<String>) -> Option<String> {
    let bytes = code.as_bytes();
    let part = |c: u8| c.is_ascii_digit() || c == b'.';
    let starts = (1..bytes.len()).filter(|at| {
        let before = bytes[at - 1];
        part(bytes[*at]) && !part(before) && !matches!(before, b'#' | b'G' | b'M' | b'N' | b'O')
    });
    let at = *random.one(&starts.collect::<Vec<_>>())?;
    let length = bytes[at..].iter().take_while(|c| part(**c)).count();
    edit(&code[at..at + length]).map(|by| replaced(code, at, length, &by))
}

/// Another number for a variable of the text's own, wherever it stands.
fn renumbered(lines: &Lines, random: &mut Random) -> Option<Edit> {
    let code: String = lines.lines.iter().skip(lines.first).map(|(code, _)| format!("{code}\n")).collect();
    let used = |n: usize| {
        code.match_indices(&format!("#{n}"))
            .any(|(at, m)| !code[at + m.len()..].starts_with(|c: char| c.is_ascii_digit()))
    };
    let own: Vec<usize> =
        [10, 12, 14, 15, 16, 27, 28, 29, 30, 31, 32, 33].into_iter().filter(|n| used(*n)).collect();
    let free: Vec<usize> = (1..=33).filter(|n| !used(*n)).collect();
    let (from, to) = (*random.one(&own)?, *random.one(&free)?);
    Some(lines.all(format!("#{from} is #{to}"), |code| {
        let mut out = String::new();
        let mut rest = code;
        while let Some(at) = rest.find('#') {
            let digits = rest[at + 1..].chars().take_while(char::is_ascii_digit).count();
            let number = &rest[at + 1..at + 1 + digits];
            out += &rest[..=at];
            out += if number == from.to_string() { to.to_string() } else { number.to_owned() }.as_str();
            rest = &rest[at + 1 + digits..];
        }
        out + rest
    }))
}

/// The operands of one `+` or `*` the other way round, where both are plain and nothing binds tighter.
fn turned(code: &str, random: &mut Random, operator: char) -> Option<String> {
    let plain = |c: char| c.is_ascii_digit() || c == '.' || c == '#';
    let places: Vec<usize> = code.match_indices(operator).map(|(at, _)| at).collect();
    let at = *random.one(&places)?;
    let left = code[..at].rfind(|c: char| !plain(c))?;
    let right = code[at + 1..].find(|c: char| !plain(c)).map_or(code.len(), |n| at + 1 + n);
    let (before, after) = (code[left..].chars().next()?, code[right..].chars().next());
    let loose = matches!(before, '=' | '[' | '+') || (operator == '*' && before == '-');
    let tight = operator == '+' && matches!(after, Some('*' | '/'));
    let whole = left + 1 < at && at + 1 < right;
    (loose && !tight && whole).then(|| {
        format!(
            "{}{}{operator}{}{}",
            &code[..=left],
            &code[at + 1..right],
            &code[left + 1..at],
            &code[right..]
        )
    })
}

/// The last two words of a block the other way round.
fn reordered(code: &str) -> Option<String> {
    let words: Vec<&str> = code.split_whitespace().collect();
    let axis = |w: &&str| w.starts_with(['X', 'Y', 'Z', 'I', 'J', 'F']);
    let (first, last) = (*words.get(words.len().checked_sub(2)?)?, *words.last()?);
    if !axis(&first) || !axis(&last) {
        return None;
    }
    let mut words = words.clone();
    let end = words.len();
    words.swap(end - 1, end - 2);
    Some(words.join(" "))
}

/// `[a LT b]` as `[b GT a]`.
fn sides_swapped(code: &str) -> Option<String> {
    let pairs = [("LT", "GT"), ("LE", "GE"), ("GT", "LT"), ("GE", "LE"), ("EQ", "EQ"), ("NE", "NE")];
    let (open, close) = (code.find('[')?, code.rfind(']')?);
    let inner = &code[open + 1..close];
    pairs.iter().find_map(|(from, to)| {
        let (a, b) = inner.split_once(&format!(" {from} "))?;
        Some(format!("{}[{b} {to} {a}{}", &code[..open], &code[close..]))
    })
}

/// A variable in brackets of its own.
fn bracketed(code: &str, random: &mut Random) -> Option<String> {
    let start = code.find('=').filter(|_| code.starts_with('#'))?;
    let places: Vec<usize> = code.match_indices('#').map(|(at, _)| at).filter(|at| *at > start).collect();
    let at = *random.one(&places)?;
    let digits = code[at + 1..].chars().take_while(char::is_ascii_digit).count();
    Some(replaced(code, at, digits + 1, &format!("[{}]", &code[at..=at + digits])))
}
