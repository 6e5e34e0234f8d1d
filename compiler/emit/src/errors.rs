//! Why a proved motion cannot be written for a machine.

borewright_base::codes! {
    /// `program 9500` where 8000 to 9999 are reserved
    PROGRAM_NUMBER = "E0720" "program-number-not-allowed";
    /// `--form macro` for a machine without variables, tests or calls
    NO_MACRO_FORM = "E0721" "no-macro-form";
    /// more values than the machine has variables for
    TOO_MANY_VARIABLES = "E0722" "too-many-variables";
    /// `bore: length as G`
    LETTER = "E0723" "letter-not-free";
    /// `line to z -120000mm`
    VALUE_OUT_OF_FORMAT = "E0724" "value-out-of-format";
    /// an arc that no rounding makes acceptable
    ARC = "E0725" "arc-not-acceptable";
    /// `turn ccw to z -1mm` on a machine without helical arcs
    HELIX = "E0726" "no-helical-arcs";
    /// `--set bore=2000mm`
    SIZES = "E0727" "sizes-not-admitted";
    /// `work 9` where there are six work offsets
    WORK_OFFSET = "E0728" "no-such-work-offset";
    /// `--form macro` for a job without a program number
    JOB_AS_MACRO = "E0729" "job-has-no-macro-form";
    /// a motion that cannot be worked out at these sizes
    UNROLL = "E0730" "motion-cannot-be-unrolled";
    /// a literal whose unit cannot be told
    LITERAL_UNIT = "E0732" "unit-of-literal-unknown";
    /// an arc whose start is not one place
    ARC_START = "E0733" "arc-start-not-one-place";
    /// `spindle cw 90000rpm`
    MACHINE_LIMIT = "E0734" "beyond-machine-limit";
    /// an expression that fits on no line
    BLOCK_TOO_LONG = "E0737" "block-too-long";
    /// `requires a < b else "A TEXT LONGER THAN THE CONTROL SHOWS"`
    ALARM_CUT = "E0736" "alarm-text-cut";
    /// programs that are longer together than the program memory
    MEMORY = "E0738" "program-memory-too-small";
    /// `call drill(...) at circle(...) counted` for a machine without loops
    COUNTED = "E0739" "places-not-countable";
    /// `wear: 0.1mm` in a form that cannot follow it
    WEAR = "E0735" "wear-needs-macro";
}
