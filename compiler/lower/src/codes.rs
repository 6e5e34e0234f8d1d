//! The codes of this phase.

borewright_base::codes! {
    /// `requires all r` where a call's argument changes in a loop
    REQUIRES_LOOP_VALUE = "M0302" "requires-loop-value";
    /// `requires all r` where nothing calls `r`
    REQUIRES_UNCALLED = "M0303" "requires-uncalled";
    /// a requirement that a call takes over can never be met
    NEVER_MET = "M0304" "never-met";
    /// `requires all r` above a let that the call of `r` uses
    REQUIRES_LATER_LET = "M0305" "requires-later-let";
}
