//! The library of routines that comes with the tool: texts in the language itself, embedded in the binary.
//! There is no logic here.

/// Name (as in `use NAME`) and text of every bundled file, sorted by name.
pub const FILES: &[(&str, &str)] = &[
    ("bores", include_str!("../bores.bore")),
    ("bosses", include_str!("../bosses.bore")),
    ("counterbores", include_str!("../counterbores.bore")),
    ("cutting", include_str!("../cutting.bore")),
    ("edges", include_str!("../edges.bore")),
    ("entries", include_str!("../entries.bore")),
    ("faces", include_str!("../faces.bore")),
    ("fits", include_str!("../fits.bore")),
    ("grooves", include_str!("../grooves.bore")),
    ("patterns", include_str!("../patterns.bore")),
    ("rough", include_str!("../rough.bore")),
    ("screws", include_str!("../screws.bore")),
    ("threading", include_str!("../threading.bore")),
    ("threads", include_str!("../threads.bore")),
    ("undercuts", include_str!("../undercuts.bore")),
];
