//! Careful defaults: a controller that knows plain blocks and nothing more.

use std::collections::BTreeMap;

use crate::Decimal;
use crate::machine::{
    Alarms, Arcs, Axes, Calls, Centre, Expressions, Flow, Machine, MissingPoint, Modes, Numbers, Programs,
    Range, Text, Units, Variables, Wear, Words,
};

impl Default for Machine {
    fn default() -> Self {
        Self {
            name: "unnamed".to_owned(),
            summary: String::new(),
            like: None,
            units: Units::Mm,
            numbers: Numbers::default(),
            arcs: Arcs::default(),
            expressions: Expressions::default(),
            flow: Flow::default(),
            variables: Variables::default(),
            calls: Calls::default(),
            programs: Programs::default(),
            alarms: Alarms::default(),
            modes: Modes::default(),
            text: Text::default(),
            words: Words::default(),
            compensation: None,
            axes: Axes::default(),
        }
    }
}

impl Default for Numbers {
    fn default() -> Self {
        Self {
            decimals: 3,
            angle_decimals: 3,
            feed_decimals: 1,
            speed_decimals: 0,
            dwell_decimals: 2,
            greatest: Decimal::of("99999.999"),
            greatest_variable: None,
            significant_digits: 7,
            function_error: Decimal::from(2),
            missing_point: MissingPoint::Increments,
        }
    }
}

impl Default for Arcs {
    fn default() -> Self {
        Self {
            centre: Centre::Incremental,
            helical: false,
            full_circle: false,
            tolerance: Decimal::of("0.002"),
            smallest_radius: Decimal::of("0.1"),
        }
    }
}

impl Default for Expressions {
    fn default() -> Self {
        Self { available: false, nesting: 5, fix_toward_zero: true, functions: Vec::new() }
    }
}

impl Default for Flow {
    fn default() -> Self {
        Self {
            if_goto: false,
            if_then: false,
            while_do: false,
            loop_nesting: 3,
            joined_tests: false,
            greatest_label: 9999,
        }
    }
}

impl Default for Calls {
    fn default() -> Self {
        Self {
            macro_call: None,
            letters: BTreeMap::new(),
            order: Vec::new(),
            subprogram: None,
            back: None,
            repeat_letter: None,
            nesting: 4,
        }
    }
}

impl Default for Programs {
    fn default() -> Self {
        Self {
            letter: None,
            digits: 4,
            allowed: vec![Range(1, 7999)],
            reserved: vec![Range(8000, 9999)],
            percent: true,
            head: Vec::new(),
            tail: vec!["M30".to_owned()],
            block_numbers: None,
            memory: None,
        }
    }
}

impl Default for Alarms {
    fn default() -> Self {
        Self { variable: None, numbers: Range(1, 200), text_length: 26 }
    }
}

impl Default for Text {
    fn default() -> Self {
        Self {
            open: '(',
            close: ')',
            punctuation: " .,+-*/=#:".to_owned(),
            line_length: 72,
            block_length: 72,
        }
    }
}

impl Default for Words {
    fn default() -> Self {
        let text = str::to_owned;
        Self {
            metric: text("G21"),
            inch: text("G20"),
            safe_start: text("G17 G40 G49 G80 G90 G94"),
            routine_start: text("G17 G40 G80 G90 G94"),
            home: vec![text("G91 G28 Z0."), text("G90")],
            tool_change: text("M6"),
            length_on: text("G43"),
            work_offsets: ["G54", "G55", "G56", "G57", "G58", "G59"].map(text).to_vec(),
            dwell_letter: 'P',
            mist: text("M7"),
        }
    }
}

impl Default for Axes {
    fn default() -> Self {
        Self {
            rapids_straight: false,
            wear: Wear::Diameter,
            x: None,
            y: None,
            z: None,
            greatest_feed: Decimal::from(5000),
            rapid: Decimal::from(15_000),
            least_speed: Decimal::from(20),
            greatest_speed: Decimal::from(8000),
            acceleration: Decimal::from(2000),
            tool_change: Decimal::from(8),
            look_ahead: 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_says_nothing_gets_no_macros_no_helix_and_no_full_circle() {
        let careful = Machine::default();
        assert!(!careful.has_variables() && !careful.flow.while_do && careful.calls.macro_call.is_none());
        assert!(!careful.arcs.helical && !careful.arcs.full_circle && !careful.axes.rapids_straight);
        assert_eq!(careful.modes, Modes::default());
    }
}
