//! What can be wrong with a machine file.

borewright_base::codes! {
    /// `units "mm"`
    MACHINE_SYNTAX = "E0701" "machine-file-syntax";
    /// `tolerence = 0.002`
    UNKNOWN_FIELD = "E0702" "unknown-machine-field";
    /// `units = "furlong"`
    WRONG_VALUE = "E0703" "wrong-machine-value";
    /// `local = [[33, 1]]`
    IMPOSSIBLE_MACHINE = "E0704" "impossible-machine";
    /// `like = "my-mill"`
    UNKNOWN_MACHINE = "E0705" "unknown-machine";
}
