//! Numbered-variable macros: calls, flow control, vacant variables, alarms. Common practice of macro dialects, no
//! source.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::approx_constant, reason = "tests")]

mod common;

use borewright_runtime::state::Units;
use borewright_runtime::{Controller, RunOptions, read, run};
use common::{call, codes, generic, near, variable};

/// A finishing bore: guards first, then passes down with a whole-number counter.
const BORE: &str = "\
%
O9010 (FINISH A BORE: B DIAMETER, T CUTTER, D DEPTH, Q STEPDOWN, F FEED)
IF [#2 EQ #0] GOTO 901
IF [#20 GE #2] GOTO 902
IF [#7 EQ #0] THEN #7=5.
#30=[#2-#20]/2
#31=FUP[#7/#17]
#32=0
G17 G21 G90 G94 G40
G0 Z5.
G0 X0 Y0
WHILE [#32 LT #31] DO1
#32=#32+1
#33=-#7*#32/#31
IF [#32 EQ #31] THEN #33=-#7
G1 Z#33 F[#9/4]
G1 X#30 F#9
G3 I-#30
G1 X0
END1
G0 Z5.
GOTO 999
N901 #3000=1 (BORE DIAMETER MISSING)
N902 #3000=2 (CUTTER AS WIDE AS THE BORE)
N999 M99
%
";

#[test]
fn a_macro_bores_in_equal_passes_that_land_on_the_floor() {
    let trace = call(BORE, "G65 P9010 B50. T12. D10. Q3. F400.", &[]);
    assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
    assert_eq!(trace.moves.len(), 2 + 4 * 4 + 1);
    let circles: Vec<_> = trace.moves.iter().filter(|m| m.turns == Some(1.0)).collect();
    assert_eq!(circles.len(), 4);
    assert_eq!(circles.iter().map(|m| m.to[2]).collect::<Vec<_>>(), [-2.5, -5.0, -7.5, -10.0]);
    for circle in circles {
        assert_eq!(circle.centre, Some([0.0, 0.0, circle.to[2]]));
        near(circle.length(), 2.0 * std::f64::consts::PI * 19.0, 1e-12);
        near(circle.seconds.unwrap(), 60.0 * circle.length() / 400.0, 1e-12);
    }
}

#[test]
fn an_argument_left_out_is_vacant_and_raises_the_alarm_before_any_motion() {
    let trace = call(BORE, "G65 P9010 T12. D10. Q3. F400.", &[]);
    assert!(trace.moves.is_empty());
    assert_eq!(trace.alarms.len(), 1);
    assert_eq!((trace.alarms[0].number, trace.alarms[0].text.as_str()), (1.0, "BORE DIAMETER MISSING"));
}

#[test]
fn zero_is_not_vacant() {
    let trace = call(BORE, "G65 P9010 B0 T12. D10. Q3. F400.", &[]);
    assert_eq!(trace.alarms[0].text, "CUTTER AS WIDE AS THE BORE");
}

#[test]
fn a_default_replaces_only_a_vacant_argument() {
    let lowest =
        |call_text: &str| call(BORE, call_text, &[]).moves.iter().map(|m| m.to[2]).fold(9.0, f64::min);
    near(lowest("G65 P9010 B50. T12. Q3. F400."), -5.0, 0.0);
    near(lowest("G65 P9010 B50. T12. D1. Q3. F400."), -1.0, 0.0);
}

#[test]
fn a_macro_without_a_program_number_can_be_called() {
    let text = "#100=#1\nM99\n";
    near(variable(&call(text, "G65 P7000 A2.5", &[]), 100).unwrap(), 2.5, 0.0);
}

#[test]
fn each_call_has_its_own_local_variables_and_shares_the_common_ones() {
    let text = "\
O1
#1=7 #100=1
G65 P2 A3.
#101=#1
M30
O2
#102=#1 #100=#100+1 #1=99
M99
";
    let trace = generic(text);
    assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
    let values = [100, 101, 102].map(|n| variable(&trace, n).unwrap());
    assert_eq!(values.map(|v| v.round()), [2.0, 7.0, 3.0]);
}

#[test]
fn a_subprogram_shares_its_callers_variables_and_repeats() {
    let text = "O1\n#1=0\nM98 P2 L3\n#100=#1\nM30\nO2\n#1=#1+1\nM99\n";
    near(variable(&generic(text), 100).unwrap(), 3.0, 0.0);
}

#[test]
fn a_macro_repeats_with_the_same_arguments() {
    let text = "O1\n#100=0\nG65 P2 L4 A5.\nM30\nO2\n#100=#100+#1\n#1=0\nM99\n";
    near(variable(&generic(text), 100).unwrap(), 20.0, 0.0);
}

#[test]
fn m99_p_returns_to_a_sequence_number_of_the_caller() {
    let text = "O1\nM98 P2\n#100=1\nN50 #101=1\nM30\nO2\nM99 P50\n";
    let trace = generic(text);
    assert_eq!((variable(&trace, 100), variable(&trace, 101)), (None, Some(1.0)));
}

#[test]
fn programs_of_other_files_can_be_called() {
    let (main, _) = read(common::FILE, "G65 P77 A1.\nM30\n");
    let (other, _) = read(borewright_base::FileId(3), "O77\n#100=#1*2\nM99\n");
    let options = RunOptions { with: vec![&other], ..RunOptions::default() };
    let trace = run(&main, &Controller::generic(Units::Millimetre), &options);
    near(variable(&trace, 100).unwrap(), 2.0, 0.0);
    assert_eq!(codes("G65 P77 A1.\nM30\n"), ["R0615"]);
}

#[test]
fn calls_in_one_another_are_limited() {
    assert_eq!(codes("O1\nM98 P1\nM30\n"), ["R0623"]);
}

#[test]
fn vacant_words_count_as_not_written_and_vacancy_is_copied() {
    let trace = generic("G21 G90 F100\nG1 X5. Y#1\n#2=#1\n#100=0\nIF [#2 EQ #0] THEN #100=1\nM30\n");
    assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
    assert_eq!(trace.moves[0].to, [5.0, 0.0, 500.0]);
    near(variable(&trace, 100).unwrap(), 1.0, 0.0);
}

#[test]
fn vacant_counts_as_zero_in_sums_and_orders_but_is_not_equal_to_zero() {
    let text = "\
#100=#1+2
IF [#1 EQ 0] THEN #101=1
IF [#1 NE 0] THEN #102=1
IF [#1 GE 0] THEN #103=1
IF [#1 LT 1] THEN #104=1
M30
";
    let trace = generic(text);
    let values = [100, 101, 102, 103, 104].map(|n| variable(&trace, n));
    assert_eq!(values, [Some(2.0), None, Some(1.0), Some(1.0), Some(1.0)]);
}

#[test]
fn a_loop_that_never_ends_is_an_error() {
    assert_eq!(codes("WHILE [1 EQ 1] DO1\n#1=#1+1\nEND1\n"), ["R0622"]);
    assert_eq!(codes("N10 GOTO 10\n"), ["R0622"]);
}

#[test]
fn loops_nest_and_a_jump_may_leave_them() {
    let text = "\
#100=0 #1=0
WHILE [#1 LT 3] DO1
#2=0
WHILE [#2 LT 10] DO2
#2=#2+1
IF [#2 GT 4] GOTO 20
#100=#100+1
END2
N20 #1=#1+1
END1
M30
";
    near(variable(&generic(text), 100).unwrap(), 12.0, 0.0);
}

#[test]
fn block_skip_leaves_out_marked_blocks_only_when_on() {
    let text = "#100=1\n/#100=2\nM30\n";
    near(variable(&generic(text), 100).unwrap(), 2.0, 0.0);
    let options = RunOptions { skip: true, ..RunOptions::default() };
    let trace = common::trace(text, &Controller::generic(Units::Millimetre), &options);
    near(variable(&trace, 100).unwrap(), 1.0, 0.0);
}

#[test]
fn system_variables_show_modes_and_position() {
    let text = "\
G21 G17 G90 G54 G94 F100.
G1 X1.5 Y-2.
#100=#4001 #101=#4002 #102=#4003 #103=#4006 #104=#4014 #105=#5041 #106=#5002 #107=#4109
M30
";
    let trace = generic(text);
    assert!(trace.is_clean(), "{:#?}", trace.diagnostics);
    let values: Vec<_> = (100..108).map(|n| variable(&trace, n).unwrap()).collect();
    assert_eq!(values, [1.0, 17.0, 90.0, 21.0, 54.0, 1.5, -2.0, 100.0]);
}
