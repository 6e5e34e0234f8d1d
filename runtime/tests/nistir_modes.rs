//! Modal groups, order of execution, program end, units, feed modes: NISTIR 6556, Tables 4 to 8 and section 3.5.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::approx_constant, reason = "tests")]

mod common;

use borewright_runtime::state::{Distance, FeedMode, Motion, Plane, Spindle};
use borewright_runtime::{Controller, EventKind, RunOptions};
use common::{found, generic, near, nistir, trace, variable};

fn of_nistir(text: &str) -> Vec<&'static str> {
    found(text, &Controller::nistir_6556())
}

/// NISTIR 6556, Tables 4, 5 and 7: one block for each code that is modelled.
const MODELLED: &str = "g0 x1|g1 x1 f1|g2 x2 i1 f1|g3 x2 i1 f1|g80|g17|g18|g19|g90|g91|g93|g94|g20|g21|g40|g43 h1|g49|\
    g98|g99|g54|g55|g56|g57|g58|g59|g59.1|g59.2|g59.3|g61|g61.1|g64|g4 p1|g10 l2 p1 x1|g28 x1|g53 g0 x1|g92 x1|g92.1|\
    g92.2|g92.3|g41 d1|t1 m6 g42|m0|m1|m2|m30|m60|m3|m4|m5|m6|m7|m8|m9|m48|m49";

#[test]
fn every_modelled_code_of_the_tables_is_known_and_the_rest_is_named() {
    for line in MODELLED.split('|').map(str::trim) {
        assert_eq!(of_nistir(&format!("{line}\nm2\n")), Vec::<&str>::new(), "{line}");
    }
    for line in ["g30", "g38.2 x1", "g81 x1 z-1 r1", "g83 x1 z-1 r1 q1", "g89 x1 z-1 r1 p1"] {
        assert_eq!(of_nistir(&format!("f1\n{line}\nm2\n")), ["R0621"], "{line}");
    }
    for line in ["g5", "g17.1", "g70", "g95", "m10", "m97", "g31.7", "m3.1"] {
        assert_eq!(of_nistir(&format!("{line}\nm2\n")), ["R0607"], "{line}");
    }
}

#[test]
fn a_block_acts_in_the_order_of_table_8_whatever_the_order_of_its_words() {
    // NISTIR 6556, Table 8: feed mode, F, S, T, M6, spindle, coolant, overrides, dwell, plane, units, ...,
    // distance, motion, stop.
    let trace = nistir("m0 g1 x1 g4 p2 m8 m3 m6 t3 s700 f60\nm2\n");
    assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
    let events: Vec<_> = trace.events.iter().map(|e| (e.kind, e.text.as_str(), e.after)).collect();
    assert_eq!(
        events[..5],
        [
            ("tool", "tool 3", 0),
            ("spindle", "clockwise 700 rev/min", 0),
            ("coolant", "flood", 0),
            ("dwell", "2 s", 0),
            ("stop", "stop", 1),
        ]
    );
}

#[test]
fn distance_mode_plane_and_units_act_before_the_motion_of_their_block() {
    // NISTIR 6556, Table 8, steps 11 to 20.
    let trace = nistir("f10 g1 x1 y1\nx1 y1 g91\ng90 x0 y0\nm2\n");
    assert_eq!(
        trace.moves.iter().map(|m| m.to).collect::<Vec<_>>(),
        [[1.0, 1.0, 0.0], [2.0, 2.0, 0.0], [0.0; 3]]
    );
}

#[test]
fn m2_and_m30_reset_what_section_3_6_1_lists() {
    for end in ["m2", "m30"] {
        let trace = nistir(&format!("g18 g91 g93 g59 m49 s100 m3 m8\ng0 x1\n{end}\n"));
        let after = &trace.execution.registers;
        assert_eq!(after.plane, Some(Plane::XY));
        assert_eq!(after.distance, Some(Distance::Absolute));
        assert_eq!(after.feed_mode, Some(FeedMode::PerMinute));
        assert_eq!(after.motion, Some(Motion::Line));
        assert_eq!(after.spindle, Some(Spindle::Stopped));
        assert_eq!((after.overrides, after.compensation, after.work), (Some(true), Some(false), Some(1)));
        assert_eq!((after.flood, after.mist), (Some(false), Some(false)));
    }
}

#[test]
fn a_tool_change_stops_the_spindle_and_leaves_the_coolant() {
    // NISTIR 6556, section 3.6.3.
    let trace = nistir("s100 m3 m8\nt2 m6\nm0\nm2\n");
    let stop = trace.execution.events.iter().position(|e| matches!(e.kind, EventKind::Tool(_))).unwrap();
    assert!(stop > 0);
    let text = "s100 m3 m8\nt2 m6\n";
    let (program, _) = borewright_runtime::read(common::FILE, text);
    let execution =
        borewright_runtime::execute(&program, &Controller::nistir_6556(), &RunOptions::default(), |x: f64| x);
    assert_eq!(
        (execution.registers.spindle, execution.registers.flood),
        (Some(Spindle::Stopped), Some(true))
    );
}

#[test]
fn a_dwell_needs_p_in_seconds_and_not_below_zero() {
    // NISTIR 6556, section 3.5.4.
    let trace = nistir("g4 p1.5\nm2\n");
    assert!(matches!(trace.execution.events[0].kind, EventKind::Dwell(seconds) if seconds == 1.5));
    near(borewright_runtime::checks::totals(&trace).seconds, 1.5, 0.0);
    assert_eq!(of_nistir("g4 p-1\nm2\n"), ["R0624"]);
    assert_eq!(of_nistir("g4\nm2\n"), ["R0604"]);
}

#[test]
fn a_negative_speed_is_an_error() {
    // NISTIR 6556, section 3.7.2.
    assert_eq!(of_nistir("s-100 m3\nm2\n"), ["R0624"]);
}

#[test]
fn inverse_time_feed_is_one_over_minutes_and_stated_in_each_block() {
    // NISTIR 6556, section 3.5.19: F2.0 means half a minute.
    let trace = nistir("g93 g1 x10 f2.0\nm2\n");
    near(trace.moves[0].seconds.unwrap(), 30.0, 0.0);
    near(trace.moves[0].feed.unwrap(), 20.0, 0.0);
    assert_eq!(of_nistir("g93 g1 x1 f2\nx2\nm2\n"), ["R0618"]);
    assert_eq!(of_nistir("g93 g1 x1 f2\ng94 x2\nm2\n"), ["R0618"]);
}

#[test]
fn cutting_without_a_feed_is_an_error_and_rapid_moves_need_none() {
    assert_eq!(of_nistir("g1 x1\nm2\n"), ["R0618"]);
    assert_eq!(of_nistir("g1 x1 f0\nm2\n"), ["R0618"]);
    assert_eq!(of_nistir("g0 x1\nm2\n"), Vec::<&str>::new());
    // Whether F is converted with the units differs between controllers: it must be stated anew.
    assert_eq!(of_nistir("g20 f10\ng21 g1 x1\nm2\n"), ["R0618"]);
}

#[test]
fn a_change_of_units_leaves_the_point_where_it_is() {
    // NISTIR 6556, section 3.5.7. An inch is 25.4 mm exactly.
    let trace = nistir("g20 g0 x1 y2\ng21\ng91 g0 x25.4\nm2\n");
    assert_eq!(trace.units, "in");
    near(trace.moves[1].to[0], 2.0, 1e-15);
    near(trace.moves[1].to[1], 2.0, 1e-15);
}

#[test]
fn two_codes_that_want_the_axis_words_are_an_error() {
    // NISTIR 6556, section 3.4.
    assert_eq!(of_nistir("g1 g92 x1 f1\nm2\n"), ["R0625"]);
    assert_eq!(of_nistir("g0 g28 x1\nm2\n"), ["R0625"]);
}

#[test]
fn g80_with_axis_words_is_an_error() {
    // NISTIR 6556, section 3.5.15.
    assert_eq!(of_nistir("g80 x1\nm2\n"), ["R0625"]);
    assert_eq!(of_nistir("g80\nx1\nm2\n"), ["R0625"]);
    assert_eq!(of_nistir("g80 g92 x1\nm2\n"), Vec::<&str>::new());
}

#[test]
fn motion_without_axis_words_is_an_error_in_this_language_only() {
    // NISTIR 6556, sections 3.5.1 and 3.5.2; elsewhere the code only sets the mode (common practice, no source).
    assert_eq!(of_nistir("g1 f10\nm2\n"), ["R0604"]);
    let trace = generic("G1 F10\nX5\nM30\n");
    assert!(trace.is_clean());
    near(trace.moves[0].to[0], 5.0, 0.0);
}

#[test]
fn the_tool_length_offset_shifts_z_by_the_length() {
    // NISTIR 6556, Table 10: with offset 1.0 for slot 2, Z shows -0.5000 after z was 0.5.
    let options = RunOptions { tool_lengths: [(2, 1.0)].into(), ..RunOptions::default() };
    let run = |text: &str| trace(text, &Controller::nistir_6556(), &options);
    let shifted = run("g0 z0.5\ng43 h2\ng0 x1\nm2\n");
    near(shifted.moves[1].to[2], -0.5, 0.0);
    let back = run("g0 z0.5\ng43 h2\ng49\ng0 x1\nm2\n");
    near(back.moves[1].to[2], 0.5, 0.0);
    assert_eq!(of_nistir("g43\nm2\n"), ["R0604"]);
}

#[test]
fn g92_gives_the_point_new_coordinates() {
    // NISTIR 6556, section 3.5.18: at X 4, `G92 x7` makes the offset -3, then `G92 x9` makes it -5.
    let first = nistir("g0 x4\ng92 x7\nm2\n");
    near(variable(&first, 5211).unwrap(), -3.0, 0.0);
    let second = nistir("g0 x4\ng92 x7\ng92 x9\nm2\n");
    near(variable(&second, 5211).unwrap(), -5.0, 0.0);
    // G92.2 ends it and keeps the variables, G92.3 takes it up again, G92.1 clears both.
    let text = |code: &str| format!("g0 x4\ng92 x7\ng92.2\ng0 y1\n{code}\ng0 y2\nm2\n");
    let resumed = nistir(&text("g92.3"));
    assert_eq!(resumed.moves.iter().map(|m| m.to[0]).collect::<Vec<_>>(), [4.0, 4.0, 7.0]);
    let cleared = nistir(&text("g92.1"));
    near(variable(&cleared, 5211).unwrap(), 0.0, 0.0);
}

#[test]
fn work_offsets_tell_the_same_point_from_another_origin() {
    // NISTIR 6556, Table 2: the X origins of the nine systems.
    let origins = [5221, 5241, 5261, 5281, 5301, 5321, 5341, 5361, 5381];
    let codes = ["g54", "g55", "g56", "g57", "g58", "g59", "g59.1", "g59.2", "g59.3"];
    for ((origin, code), system) in origins.into_iter().zip(codes).zip(1..) {
        let trace = nistir(&format!(
            "g59.3\ng54\n#5241=1\ng10 l2 p{system} x10 y20 z-5\n{code}\ng0 x1 #20=#5220\nm2\n"
        ));
        assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
        assert_eq!(trace.moves[0].from, [-10.0, -20.0, 5.0], "{code}");
        near(variable(&trace, origin).unwrap(), 10.0, 0.0);
        near(variable(&trace, 20).unwrap(), f64::from(system), 0.0);
    }
    assert_eq!(of_nistir("#5221=1\nm2\n"), ["R0621"]);
}

#[test]
fn g53_goes_to_machine_coordinates_once() {
    // NISTIR 6556, section 3.5.12.
    let trace = nistir("g10 l2 p1 x10\ng0 x1\ng53 g0 x2\nx1\nm2\n");
    assert_eq!(trace.moves.iter().map(|m| m.to[0]).collect::<Vec<_>>(), [1.0, -8.0, 1.0]);
    assert_eq!(of_nistir("g80 g53 x1\nm2\n"), ["R0625"]);
    assert_eq!(of_nistir("g53 g2 x1 i1 f1\nm2\n"), ["R0625"]);
}

#[test]
fn g28_goes_by_way_of_the_programmed_point() {
    // NISTIR 6556, section 3.5.8 and Table 2: home is in #5161 to #5163; all axes go there.
    let trace = nistir("#5161=1 #5162=2 #5163=3\ng0 x9 y9 z9\ng28 z20\nm2\n");
    assert_eq!(trace.moves[1].to, [9.0, 9.0, 20.0]);
    assert_eq!(trace.moves[2].to, [1.0, 2.0, 3.0]);
    let plain = nistir("g0 x9\ng28\nm2\n");
    assert_eq!(plain.moves.len(), 2);
}

#[test]
fn elsewhere_only_the_named_axes_go_home_and_the_work_lies_below_it() {
    // Common practice, no source; the height of 500 mm is ours.
    let trace = generic("G21 G90 G0 X9. Y9. Z5.\nG91 G28 Z0\nG90\nG0 Z5.\nG53 G0 Z0\nM30\n");
    assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
    let ends: Vec<_> = trace.moves.iter().map(|m| m.to).collect();
    assert_eq!(ends[1..3], [[9.0, 9.0, 5.0], [9.0, 9.0, 500.0]]);
    assert_eq!(ends[4], [9.0, 9.0, 500.0]);
}

#[test]
fn a_word_that_nothing_uses_is_an_error() {
    assert_eq!(of_nistir("p5\nm2\n"), ["R0625"]);
    assert_eq!(of_nistir("g0 x1 i2\nm2\n"), ["R0625"]);
    assert_eq!(of_nistir("g0 a10\nm2\n"), ["R0621"]);
    assert_eq!(of_nistir("g0 x1 a10\nm2\n"), ["R0621"]);
}

#[test]
fn after_a_stop_the_next_line_runs() {
    // NISTIR 6556, section 3.6.1.
    for stop in ["m0", "m1", "m60"] {
        assert_eq!(variable(&nistir(&format!("{stop}\n#1=1\nm2\n")), 1), Some(1.0));
    }
}
