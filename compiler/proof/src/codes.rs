//! Codes of what proof finds.

borewright_base::codes! {
    /// No values meet all requirements.
    CONTRADICTORY_REQUIREMENTS = "P0401" "contradictory-requirements";
    /// A default can fall outside its own range.
    DEFAULT_OUT_OF_RANGE = "P0402" "default-out-of-range";
    /// A divisor can be zero, a root can be of a negative number.
    UNDEFINED_VALUE = "P0403" "undefined-value";
    /// An arc that is none, or too small.
    BAD_ARC = "P0404" "bad-arc";
    /// Passes with a step that can be zero.
    ENDLESS_PASSES = "P0405" "endless-passes";
    /// A cutting move without a feed.
    MISSING_FEED = "P0406" "missing-feed";
    /// A move from a position that nobody knows.
    UNKNOWN_POSITION = "P0407" "unknown-position";
    /// A rapid move that can run into metal.
    RAPID_INTO_METAL = "P0408" "rapid-into-metal";
    /// A plunge or ramp that the cutter cannot take.
    PLUNGE_INTO_SOLID = "P0409" "plunge-into-solid";
    /// A cut deeper than the flutes, or a shank in the hole.
    CUTTER_TOO_SHORT = "P0410" "cutter-too-short";
    /// The cutter passes a wall.
    PAST_THE_WALL = "P0411" "past-the-wall";
    /// The cutter goes below the floor.
    BELOW_THE_FLOOR = "P0412" "below-the-floor";
    /// The wall is not brought to size, down to the floor.
    NOT_TO_SIZE = "P0413" "not-to-size";
    /// Metal is left standing.
    LEFT_STANDING = "P0414" "left-standing";
    /// A stop or a corner on the wall.
    MARK_ON_THE_WALL = "P0415" "mark-on-the-wall";
    /// The wrong way round.
    WRONG_SIDE = "P0416" "wrong-side";
    /// Features too close together.
    THIN_WALL = "P0417" "thin-wall";
    /// A call that the called routine refuses.
    CALL_REFUSED = "P0418" "call-refused";
    /// The hole that a call starts from is not there.
    PILOT_NOT_MADE = "P0419" "pilot-not-made";
    /// What is called does not keep what is promised.
    PROMISE_NOT_CARRIED = "P0420" "promise-not-carried";
    /// The spindle stands still or turns the wrong way.
    SPINDLE_NOT_TURNING = "P0421" "spindle-not-turning";
    /// Travel between places is too low.
    TRAVEL_TOO_LOW = "P0422" "travel-too-low";
    /// A feature that cannot be.
    IMPOSSIBLE_FEATURE = "P0423" "impossible-feature";
    /// A tool that cannot be.
    IMPOSSIBLE_TOOL = "P0424" "impossible-tool";
    /// A tooth bites beside the groove of a thread, or does not fit it.
    SPOILT_THREAD = "P0425" "spoilt-thread";
    /// A chamfer by a cutter of another angle.
    CONE_DOES_NOT_FIT = "P0426" "cone-does-not-fit";
    /// What lies below a face is made before it.
    FACE_OUT_OF_ORDER = "P0427" "face-out-of-order";
    /// A disc or its neck in the wall of a bore.
    DISC_IN_THE_WALL = "P0428" "disc-in-the-wall";
    /// Neither proved nor refuted.
    COULD_NOT_BE_PROVED = "P0430" "could-not-be-proved";
    /// A called routine is not proved.
    UNPROVED_CALLEE = "P0431" "unproved-callee";
    /// A requirement that no proof needs.
    REQUIREMENT_NOT_NEEDED = "P0440" "requirement-not-needed";
    /// A requirement in whose place a weaker one would do.
    REQUIREMENT_COULD_BE_WEAKER = "P0441" "requirement-could-be-weaker";
    /// A side of an `if` that no admitted values take.
    BRANCH_NEVER_TAKEN = "P0442" "branch-never-taken";
}
