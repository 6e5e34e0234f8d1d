//! Writes blocks, assignments, tests, loops and comments, and remembers where each line comes from.

use borewright_base::Span;
use borewright_machine::Machine;

use crate::text::{cut, harmless, wrap};

/// The words of one block.
#[derive(Default, Clone)]
pub(crate) struct Block {
    words: Vec<String>,
    note: String,
}

impl Block {
    /// A block that begins with a code: `G1`.
    pub(crate) fn code(code: &str) -> Self {
        Self::default().and(code)
    }

    /// One more code.
    pub(crate) fn and(mut self, code: &str) -> Self {
        self.words.push(code.to_owned());
        self
    }

    /// A letter and its value: digits, `#7` or a bracketed expression.
    pub(crate) fn word(mut self, letter: char, value: &str) -> Self {
        self.words.push(format!("{letter}{value}"));
        self
    }

    /// What a person should know about the block.
    pub(crate) fn note(mut self, note: &str) -> Self {
        note.clone_into(&mut self.note);
        self
    }
}

/// A comment that begins with MSG, is a message to the operator [NISTIR 6556, 3.3.4]: no text of ours is one.
fn unlike_message(line: &str) -> String {
    if line.starts_with("MSG") { format!("- {line}") } else { line.to_owned() }
}

/// A program under way.
pub(crate) struct Writer<'m> {
    machine: &'m Machine,
    lines: Vec<(String, Option<Span>)>,
    block_number: Option<u32>,
}

impl<'m> Writer<'m> {
    /// `numbered`: blocks get numbers where the machine file asks for them.
    pub(crate) fn new(machine: &'m Machine, numbered: bool) -> Self {
        let block_number = machine.programs.block_numbers.filter(|_| numbered).map(|n| n.first);
        Self { machine, lines: Vec::new(), block_number }
    }

    fn line(&mut self, text: String, span: Option<Span>) {
        self.lines.push((text, span));
    }

    /// A comment, in as many lines as it needs.
    pub(crate) fn comment(&mut self, text: &str) {
        let (open, close) = (self.machine.text.open, self.machine.text.close);
        let width = self.machine.text.line_length.saturating_sub(2);
        // Two characters are kept for what a line may need before it.
        for line in wrap(&harmless(text, self.machine), width.saturating_sub(2)) {
            let line = unlike_message(&line);
            self.line(format!("{open}{line}{close}"), None);
        }
    }

    /// A line that is only a percent sign.
    pub(crate) fn percent(&mut self) {
        self.line("%".to_owned(), None);
    }

    /// `O1200 (NAME)`, or the name alone.
    pub(crate) fn title(&mut self, number: Option<&str>, name: &str) {
        match number {
            // The number stands on the first line, whatever the name needs.
            Some(number) if number.len() + name.len() + 3 > self.machine.text.line_length => {
                self.line(number.to_owned(), None);
                self.comment(name);
            }
            Some(number) => self.noted(number.to_owned(), name, None),
            None => self.comment(name),
        }
    }

    /// A block of the machine file, as it is.
    pub(crate) fn raw(&mut self, text: &str) {
        let text = self.numbered(text.to_owned());
        self.line(text, None);
    }

    /// A block.
    pub(crate) fn block(&mut self, block: Block, span: Span) {
        let text = self.numbered(block.words.join(" "));
        self.noted(text, &block.note, Some(span));
    }

    /// A call with its arguments; without blanks where it would not fit on a line with them.
    pub(crate) fn call(&mut self, block: Block, span: Span) {
        let text = self.numbered(block.words.join(" "));
        let fits = text.len() <= self.machine.text.block_length.max(self.machine.text.line_length);
        self.line(if fits { text } else { text.replace(' ', "") }, Some(span));
    }

    /// `#27=[#2-#20]/2 (WALL)`; the variable without its `#`.
    pub(crate) fn assign_text(&mut self, variable: &str, value: &str, note: &str, span: Option<Span>) {
        self.noted(format!("#{variable}={value}"), note, span);
    }

    /// `IF [test] GOTO label`
    pub(crate) fn jump_if(&mut self, test: &str, label: u32, note: &str, span: Option<Span>) {
        self.noted(format!("IF [{test}] GOTO {label}"), note, span);
    }

    /// `IF [test] THEN #27=1`; the variable without its `#`.
    pub(crate) fn assign_if(
        &mut self,
        test: &str,
        variable: &str,
        value: &str,
        note: &str,
        span: Option<Span>,
    ) {
        self.noted(format!("IF [{test}] THEN #{variable}={value}"), note, span);
    }

    /// `GOTO label`
    pub(crate) fn jump(&mut self, label: u32) {
        self.line(format!("GOTO {label}"), None);
    }

    /// `N12`
    pub(crate) fn label(&mut self, label: u32) {
        self.line(format!("N{label}"), None);
    }

    /// `N101 #3000=1 (TEXT)`: the text is cut to what the machine shows; then the whole stands above it. Gives
    /// what is shown where that is not all.
    pub(crate) fn alarm(
        &mut self,
        label: u32,
        variable: u32,
        number: u32,
        text: &str,
        span: Option<Span>,
    ) -> Option<String> {
        let whole = unlike_message(&harmless(text, self.machine));
        let shown = cut(&whole, self.machine.alarms.text_length);
        let is_cut = shown.len() < whole.len();
        if is_cut {
            self.comment(&whole);
        }
        let (open, close) = (self.machine.text.open, self.machine.text.close);
        self.line(format!("N{label} #{variable}={number} {open}{shown}{close}"), span);
        is_cut.then(|| shown.to_owned())
    }

    /// `WHILE [test] DO 1`
    pub(crate) fn open_loop(&mut self, test: &str, level: usize) {
        self.line(format!("WHILE [{test}] DO {level}"), None);
    }

    /// `END 1`
    pub(crate) fn close_loop(&mut self, level: usize) {
        self.line(format!("END {level}"), None);
    }

    /// A line with a note behind it; where both do not fit on one line, the note stands before it.
    fn noted(&mut self, text: String, note: &str, span: Option<Span>) {
        let note = unlike_message(&harmless(note, self.machine));
        let (open, close) = (self.machine.text.open, self.machine.text.close);
        if note.is_empty() {
            self.line(text, span);
        } else if text.chars().count() + note.len() + 3 <= self.machine.text.line_length {
            self.line(format!("{text} {open}{note}{close}"), span);
        } else {
            self.comment(&note);
            self.line(text, span);
        }
    }

    fn numbered(&mut self, text: String) -> String {
        let (Some(number), Some(numbers)) = (self.block_number, self.machine.programs.block_numbers) else {
            return text;
        };
        // Past the greatest number, blocks go without: a number that wraps would be there twice.
        self.block_number = number.checked_add(numbers.step).filter(|n| *n <= 99_999);
        format!("N{number} {text}")
    }

    /// The lines so far.
    pub(crate) fn texts(&self) -> impl Iterator<Item = &str> {
        self.lines.iter().map(|(text, _)| text.as_str())
    }

    /// Puts a text in the place of every character that `to` knows.
    pub(crate) fn rewrite(&mut self, to: impl Fn(char) -> Option<String>) {
        for (text, _) in &mut self.lines {
            let whole: String = text.chars().map(|c| to(c).unwrap_or_else(|| c.to_string())).collect();
            *text = whole;
        }
    }

    /// The lines so far, which are no longer the writer's.
    pub(crate) fn take(&mut self) -> Vec<(String, Option<Span>)> {
        std::mem::take(&mut self.lines)
    }

    /// Lines as they are.
    pub(crate) fn extend(&mut self, lines: impl IntoIterator<Item = (String, Option<Span>)>) {
        self.lines.extend(lines);
    }

    /// Takes over the lines of another writer.
    pub(crate) fn append(&mut self, other: Self) {
        self.lines.extend(other.lines);
    }

    /// How many lines there are.
    pub(crate) fn count(&self) -> usize {
        self.lines.len()
    }

    /// The longest line, for the machine's limit.
    pub(crate) fn longest(&self) -> Option<(&str, Option<Span>)> {
        self.lines.iter().max_by_key(|(text, _)| text.len()).map(|(text, span)| (text.as_str(), *span))
    }

    /// Text and, for each line, the source it serves.
    pub(crate) fn finish(self) -> (String, Vec<Option<Span>>) {
        let mut text = String::new();
        let mut spans = Vec::with_capacity(self.lines.len());
        for (line, span) in self.lines {
            text.push_str(&line);
            text.push('\n');
            spans.push(span);
        }
        (text, spans)
    }
}
