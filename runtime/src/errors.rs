//! What can be wrong with a controller text or with its run, and how each thing is said.

use borewright_base::{Diagnostic, Span};

borewright_base::codes! {
    /// `(no end`
    UNCLOSED_COMMENT = "R0601" "unclosed-comment";
    /// `X[1+2`
    UNCLOSED_BRACKET = "R0602" "expression-not-closed";
    /// `X&`
    UNEXPECTED_CHARACTER = "R0603" "unexpected-character";
    /// `X` without a value, `X-`
    VALUE_MISSING = "R0604" "value-missing";
    /// `X1 X2`
    WORD_TWICE = "R0605" "word-twice";
    /// `G0 G1`
    SAME_MODAL_GROUP = "R0606" "same-modal-group";
    /// `G31.7`, `M77`
    UNKNOWN_CODE = "R0607" "unknown-code";
    /// `XFOO[1]`
    UNKNOWN_WORD = "R0608" "unknown-letters";
    /// More brackets in one another than we follow.
    TOO_DEEP = "R0609" "expression-too-deep";
    /// `[#1 GT 0 AND #2 GT 0]`
    AMBIGUOUS_EXPRESSION = "R0610" "ambiguous-expression";
    /// `WHILE` without `END`, or the reverse.
    LOOP_UNMATCHED = "R0611" "loop-unmatched";
    /// Not allowed by the dialect of the controller.
    NOT_IN_DIALECT = "R0612" "not-in-dialect";
    /// More than 256 characters.
    LINE_TOO_LONG = "R0613" "line-too-long";
    /// `GOTO 9` where there is no N9.
    NO_SUCH_BLOCK = "R0614" "no-such-block";
    /// `G65 P9000` where there is no O9000.
    NO_SUCH_PROGRAM = "R0615" "no-such-program";
    /// A division by zero, the root of a negative number…
    OUTSIDE_DOMAIN = "R0616" "outside-domain";
    /// `#12345678`, `#1.5`, writing to `#0`.
    VARIABLE_NUMBER = "R0617" "variable-number";
    /// G1, G2 or G3 before any F.
    FEED_MISSING = "R0618" "feed-missing";
    /// Start and end of an arc at different distances from its centre.
    ARC_MISMATCH = "R0619" "arc-mismatch";
    /// An arc without centre, with end equal to start in radius format, and the like.
    ARC_INCOMPLETE = "R0620" "arc-incomplete";
    /// Something that a controller may do and this one does not model.
    NOT_MODELLED = "R0621" "not-modelled";
    /// The step budget is spent.
    ENDLESS_LOOP = "R0622" "endless-loop";
    /// Calls in one another beyond the controller's limit.
    CALLS_TOO_DEEP = "R0623" "calls-too-deep";
    /// A word whose value makes no sense: `P-1`, `S-100`, `M3.5`.
    WORD_VALUE = "R0624" "word-value";
    /// A word that nothing in its block uses, or axis words that two codes want.
    UNUSED_WORD = "R0625" "unused-word";
    /// A mode that the program relies on and never set.
    MODE_UNKNOWN = "R0626" "mode-unknown";
    /// Enclosures too wide to tell which way the program goes.
    UNDECIDED = "R0627" "undecided";
    /// A block that could not be read was reached.
    UNREADABLE_BLOCK = "R0628" "unreadable-block";
    /// A file that starts with % does not end with one, or has neither % nor M2.
    FILE_END = "R0629" "file-end";
    /// `--call` or `--set` text that is no call or no assignment.
    NOT_A_CALL = "R0630" "not-a-call";
    /// `O9000` twice in one text.
    PROGRAM_TWICE = "R0631" "program-twice";
    /// G41 while compensation is on, G53 with it, a block that waits too long.
    COMPENSATION_MISUSED = "R0632" "compensation-misused";
    /// The path bends where the cutter cannot follow.
    COMPENSATION_CORNER = "R0633" "corner-with-compensation";
    /// An arc or a way on that the offset cutter has no room for.
    OFFSET_TOO_LARGE = "R0634" "offset-too-large";
}

/// One thing that went wrong, where, and what to do about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Code, message, place and hints; in a box, since results carry it everywhere.
    pub diagnostic: Box<Diagnostic>,
}

impl Fault {
    pub(crate) fn new(code: borewright_base::Code, span: Span, message: impl Into<String>) -> Self {
        Diagnostic::error(code, span, message).into()
    }

    pub(crate) fn hint(self, hint: impl Into<String>) -> Self {
        self.diagnostic.hint(hint).into()
    }

    pub(crate) fn label(self, span: Span, message: &str) -> Self {
        self.diagnostic.label(span, message).into()
    }

    /// True for findings after which a run may go on to look for more, if asked to.
    #[must_use]
    pub fn recoverable(&self) -> bool {
        self.diagnostic.code == FEED_MISSING || self.diagnostic.code == ARC_MISMATCH
    }
}

pub(crate) fn unknown_code(letter: char, tenths: i64, span: Span) -> Fault {
    let code = crate::code::code_text(tenths);
    Fault::new(UNKNOWN_CODE, span, format!("{letter}{code} is not a code we know"))
        .hint("nothing is ever skipped silently: check the number against the manual of the controller")
}

impl From<Fault> for Diagnostic {
    fn from(fault: Fault) -> Self {
        *fault.diagnostic
    }
}

impl From<Diagnostic> for Fault {
    fn from(diagnostic: Diagnostic) -> Self {
        Self { diagnostic: Box::new(diagnostic) }
    }
}
