//! The one diagnostic type. It is plain data: rendering lives in the driver.

use crate::{Code, Span};

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The content is wrong: nothing is emitted, exit status 1.
    Error,
    /// Worth a look; nothing is held back.
    Warning,
}

/// A second place that explains the first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// Where.
    pub span: Span,
    /// What is there.
    pub message: String,
}

/// One finding: a code, one line that says it all, where, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// Number, name and page.
    pub code: Code,
    /// Error or warning.
    pub severity: Severity,
    /// The one line shown if only one can be: lower case, no full stop.
    pub message: String,
    /// Where; `None` for a finding about no text, such as a missing file.
    pub span: Option<Span>,
    /// Further places.
    pub labels: Vec<Label>,
    /// What to do about it, in words a machinist understands.
    pub hints: Vec<String>,
}

impl Diagnostic {
    /// An error at a place.
    #[must_use]
    pub fn error(code: Code, span: impl Into<Option<Span>>, message: impl Into<String>) -> Self {
        Self {
            code,
            severity: Severity::Error,
            message: message.into(),
            span: span.into(),
            labels: Vec::new(),
            hints: Vec::new(),
        }
    }

    /// A warning at a place.
    #[must_use]
    pub fn warning(code: Code, span: impl Into<Option<Span>>, message: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, ..Self::error(code, span, message) }
    }

    /// Adds a second place.
    #[must_use]
    pub fn label(mut self, span: Span, message: impl Into<String>) -> Self {
        self.labels.push(Label { span, message: message.into() });
        self
    }

    /// Adds advice.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }
}

/// Proof that an error has been reported: only [`Diagnostics::report`] makes it, so a phase cannot claim to
/// have failed without having said why.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reported(());

/// All findings of a run.
#[derive(Debug, Clone, Default)]
pub struct Diagnostics {
    all: Vec<Diagnostic>,
}

impl Diagnostics {
    /// Adds an error and hands out the proof that it was said.
    pub fn report(&mut self, diagnostic: Diagnostic) -> Reported {
        self.all.push(Diagnostic { severity: Severity::Error, ..diagnostic });
        Reported(())
    }

    /// Adds a warning.
    pub fn warn(&mut self, diagnostic: Diagnostic) {
        self.all.push(Diagnostic { severity: Severity::Warning, ..diagnostic });
    }

    /// Takes over the findings of another collection.
    pub fn append(&mut self, other: Self) {
        self.all.extend(other.all);
    }

    /// True when an error was reported.
    #[must_use]
    pub fn has_errors(&self) -> bool {
        self.all.iter().any(|d| d.severity == Severity::Error)
    }

    /// In the order they were found.
    pub fn iter(&self) -> impl Iterator<Item = &Diagnostic> {
        self.all.iter()
    }

    /// Sorted by place, each once: what a person is shown.
    #[must_use]
    pub fn into_sorted(mut self) -> Vec<Diagnostic> {
        self.all.sort_by(|a, b| (a.span, a.code.number).cmp(&(b.span, b.code.number)));
        self.all.dedup();
        self.all
    }
}
