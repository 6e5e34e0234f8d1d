//! Cutter radius compensation: the control moves the cutter's centre off the programmed path by what an offset holds.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::Decimal;
use crate::machine::{Range, Wear};

/// Cutter radius compensation in the XY plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Compensation {
    /// On, with the cutter to the left of the programmed path.
    pub left: String,
    /// On, with the cutter to the right of it.
    pub right: String,
    /// Off.
    pub off: String,
    /// The letter of the word that names the offset.
    pub letter: char,
    /// Whether an offset holds a radius or a diameter. A negative one puts the cutter on the other side.
    pub holds: Wear,
    /// The variables in which a macro reads the offsets: the first is that of offset 1.
    pub values: Option<Range>,
    /// The greatest offset, either sign, as it is kept. A file with 0 here has no compensation.
    pub greatest: Decimal,
    /// Where the first move after switching on ends.
    pub entry: Entry,
    /// What the control does where the path bends away from the cutter.
    pub outside_corners: OutsideCorners,
    /// Without a word that names the offset, that of the tool in the spindle counts.
    pub spindle_tool: bool,
    /// How many blocks without a way in X or Y may stand between two compensated moves.
    pub look_ahead: u32,
}

/// Where the first compensated move ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Entry {
    /// The centre ends beside the programmed end, square to the programmed line.
    Square,
    /// The centre goes straight to where it is square to its own way, beside the programmed end.
    Tangent,
}

/// What the control does where the path bends away from the cutter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum OutsideCorners {
    /// The centre goes around the corner on an arc.
    Arc,
    /// Controls differ (an arc, or the lines drawn out until they meet): programs must not rely on it.
    Refused,
}

impl Default for Compensation {
    fn default() -> Self {
        Self {
            left: "G41".to_owned(),
            right: "G42".to_owned(),
            off: "G40".to_owned(),
            letter: 'D',
            holds: Wear::Diameter,
            values: None,
            greatest: Decimal::from(0),
            entry: Entry::Square,
            outside_corners: OutsideCorners::Refused,
            spindle_tool: false,
            look_ahead: 0,
        }
    }
}
