//! The codes of this phase.

borewright_base::codes! {
    /// `let a = bore` where no `bore` is in scope
    UNKNOWN_NAME = "N0201" "unknown-name";
    /// `use bores` where there is no such file
    UNKNOWN_FILE = "N0202" "unknown-file";
    /// `call finish_bor()`
    UNKNOWN_ROUTINE = "N0203" "unknown-routine";
    /// `sine(30deg)`
    UNKNOWN_FUNCTION = "N0204" "unknown-function";
    /// `bore: lenght`
    UNKNOWN_TYPE = "N0205" "unknown-type";
    /// a second `let bore`
    NAME_TAKEN = "N0206" "name-taken";
    /// a function, constant or routine that needs itself
    RECURSION = "N0207" "recursion";
    /// `bore + cut`
    DIMENSION_CLASH = "N0210" "dimension-clash";
    /// `feed 12mm`
    WRONG_DIMENSION = "N0211" "wrong-dimension";
    /// `sqrt(12mm)`
    NO_ROOT = "N0212" "no-root";
    /// `length` to the 200th
    DIMENSION_TOO_LARGE = "N0213" "dimension-too-large";
    /// a point where a quantity is wanted
    WRONG_KIND = "N0214" "wrong-kind";
    /// `repeat 2.5`
    NOT_WHOLE = "N0215" "not-whole";
    /// `in 6mm..pi * 1mm`
    NOT_CONSTANT = "N0216" "not-constant";
    /// functions of functions that double at each step
    TOO_LARGE = "N0217" "expression-too-large";
    /// `bore: length`
    MISSING_RANGE = "N0220" "missing-range";
    /// `in 9mm..6mm`
    EMPTY_RANGE = "N0221" "empty-range";
    /// `hand: right or left in 1..2`
    RANGE_NOT_WANTED = "N0222" "range-not-wanted";
    /// `as BB`, or one letter twice
    BAD_LETTER = "N0223" "bad-letter";
    /// `finish_bore(boer: 6mm)`
    UNKNOWN_ARGUMENT = "N0230" "unknown-argument";
    /// a parameter without a default left out
    MISSING_ARGUMENT = "N0231" "missing-argument";
    /// `bore: 6mm, bore: 7mm`
    ARGUMENT_TWICE = "N0232" "argument-twice";
    /// `sin(a, b)`
    ARGUMENT_COUNT = "N0233" "argument-count";
    /// `screw.heigth`
    UNKNOWN_FIELD = "N0234" "unknown-field";
    /// `socket_head.M7`
    UNKNOWN_ROW = "N0235" "unknown-row";
    /// `hand == up`
    UNKNOWN_WORD = "N0236" "unknown-word";
    /// a routine where a job is meant, or a job called
    CALLED_JOB = "N0237" "called-job";
    /// `cutter square`
    UNKNOWN_CUTTER_KIND = "N0240" "unknown-cutter-kind";
    /// `with roughr`
    UNKNOWN_CUTTER = "N0241" "unknown-cutter";
    /// a routine for flat cutters called with a ball cutter in the spindle
    WRONG_CUTTER = "N0242" "wrong-cutter";
    /// a move outside `with`
    NO_CUTTER = "N0243" "no-cutter";
    /// `diameter: -3mm`
    IMPOSSIBLE_CUTTER = "N0244" "impossible-cutter";
    /// `makes slot s()`
    UNKNOWN_FEATURE_KIND = "N0250" "unknown-feature-kind";
    /// `promises round`
    UNKNOWN_PROMISE = "N0251" "unknown-promise";
    /// `promises apart`, `promises smooth(1mm)`, `climb` with `conventional`
    BAD_PROMISE = "N0252" "bad-promise";
    /// a second `program`
    SAID_TWICE = "N0253" "said-twice";
    /// a job without `work`
    MISSING_SETUP = "N0254" "missing-setup";
    /// `spindle` in a routine
    JOBS_ONLY = "N0255" "jobs-only";
    /// `cutter flat with` in a job
    ROUTINES_ONLY = "N0256" "routines-only";
    /// `stop` inside `with`
    MISPLACED_STOP = "N0257" "misplaced-stop";
    /// `with` inside `with`
    NESTED_WITH = "N0258" "nested-with";
    /// `let` of a condition, or a list of places outside `at`
    MISPLACED_VALUE = "N0259" "misplaced-value";
    /// a row with too few values, a table with no rows or too many
    BAD_TABLE = "N0270" "bad-table";
    /// `circle(count: floor(a / b))`
    UNBOUNDED_PLACES = "N0271" "unbounded-places";
    /// `call drill(...) at [p, q] counted`, or `counted` in a routine
    MISPLACED_COUNTED = "N0272" "misplaced-counted";
    /// `grid(columns: 4, rows: 3, wide: 0, high: 20mm)`
    COINCIDING_PLACES = "N0273" "coinciding-places";
    /// a let that nothing uses
    UNUSED_NAME = "N0280" "unused-name";
    /// a made feature with neither `cleared` nor `sized`
    WEAK_PROMISE = "N0281" "weak-promise";
}
