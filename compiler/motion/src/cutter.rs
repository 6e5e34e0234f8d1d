//! Cutters: what is demanded of one, and the tools of a job.

use std::collections::BTreeMap;

use borewright_base::Span;
use borewright_number::Dimension;

use crate::{Condition, Expr, Relation, Symbol};

/// A fact of a cutter. Lengths in mm, angles in degrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Field {
    /// Cutting diameter.
    Diameter,
    /// Length that cuts.
    Flutes,
    /// Length up from the end with nothing wider than the cutting diameter.
    Reach,
    /// Diameter at the end that does not cut.
    Dead,
    /// Steepest ramp it may cut, in degrees.
    Ramp,
    /// 1 if it may plunge straight into solid, else 0.
    Plunges,
    /// Number of teeth.
    Teeth,
    /// Corner radius.
    Corner,
    /// Pocket in the tool changer.
    Pocket,
    /// 1 right-hand cutting, -1 left-hand.
    Hand,
    /// Most that the operator may correct the diameter by, either way.
    Wear,
    /// Of a thread cutter: from one tooth of a row to the next along its axis.
    Pitch,
    /// Of a thread cutter: teeth in a row along its axis.
    Rows,
    /// Of a thread cutter: middle of the lowest tooth above the end.
    Nose,
    /// Of a thread cutter or a disc: how far its teeth stand out, with nothing else wider than their feet.
    Tooth,
    /// Of a pointed cutter: the angle of its cone, from side to side, in degrees.
    Angle,
    /// Of a pointed cutter: diameter of the flat at its end.
    Tip,
    /// Of a thread cutter: how much its diameter grows with height, over the height; its diameter is the widest.
    Taper,
}

impl Field {
    /// Every field.
    pub const ALL: [Self; 18] = [
        Self::Diameter,
        Self::Flutes,
        Self::Reach,
        Self::Dead,
        Self::Ramp,
        Self::Plunges,
        Self::Teeth,
        Self::Corner,
        Self::Pocket,
        Self::Hand,
        Self::Wear,
        Self::Pitch,
        Self::Rows,
        Self::Nose,
        Self::Tooth,
        Self::Angle,
        Self::Tip,
        Self::Taper,
    ];

    /// The field's name in the language.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Diameter => "diameter",
            Self::Flutes => "flutes",
            Self::Reach => "reach",
            Self::Dead => "dead",
            Self::Ramp => "ramp",
            Self::Plunges => "plunges",
            Self::Teeth => "teeth",
            Self::Corner => "corner",
            Self::Pocket => "pocket",
            Self::Hand => "hand",
            Self::Wear => "wear",
            Self::Pitch => "pitch",
            Self::Rows => "rows",
            Self::Nose => "nose",
            Self::Tooth => "tooth",
            Self::Angle => "angle",
            Self::Tip => "tip",
            Self::Taper => "taper",
        }
    }

    /// What it measures.
    #[must_use]
    pub fn dimension(self) -> Dimension {
        match self {
            Self::Diameter
            | Self::Flutes
            | Self::Reach
            | Self::Dead
            | Self::Corner
            | Self::Wear
            | Self::Pitch
            | Self::Nose
            | Self::Tooth
            | Self::Tip => Dimension::LENGTH,
            Self::Ramp | Self::Angle => Dimension::ANGLE,
            Self::Plunges | Self::Teeth | Self::Pocket | Self::Hand | Self::Rows | Self::Taper => {
                Dimension::RATIO
            }
        }
    }

    /// The symbol by which a motion speaks of the cutter in the spindle: `cutter.diameter`.
    #[must_use]
    pub fn symbol(self) -> Symbol {
        Symbol::new(format!("cutter.{}", self.name()))
    }
}

/// The shape of a cutter's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CutterKind {
    /// Flat end.
    Flat,
    /// Flat end with rounded corner.
    Corner,
    /// Ball end.
    Ball,
    /// Pointed.
    Point,
    /// Thread profile.
    Thread,
    /// A disc at the end of a narrower neck.
    Disc,
}

/// `cutter flat with diameter == tool, flutes >= stepdown`
#[derive(Debug, Clone, PartialEq)]
pub struct Demands {
    /// The kind asked for.
    pub kind: CutterKind,
    /// What is demanded, field by field.
    pub rules: Vec<Demand>,
    /// Where.
    pub span: Span,
}

/// `flutes >= stepdown`
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    /// Of which field.
    pub field: Field,
    /// How it must compare.
    pub relation: Relation,
    /// With what.
    pub value: Expr,
    /// Where.
    pub span: Span,
}

impl Demand {
    /// The demand as a condition on the cutter's symbols.
    #[must_use]
    pub fn condition(&self) -> Condition {
        Condition::compare(self.relation, Expr::symbol(&self.field.symbol()), self.value.clone())
    }
}

/// `cutter finisher = flat(pocket: 2, diameter: 12mm, ...)`
#[derive(Debug, Clone, PartialEq)]
pub struct Tool {
    /// Its name in the job.
    pub name: String,
    /// The kind.
    pub kind: CutterKind,
    /// Every field, defaults filled in (reach = flutes, dead = diameter, ramp 0, plunges 0, hand 1, wear 0).
    pub fields: BTreeMap<Field, Expr>,
    /// Where.
    pub span: Span,
}
