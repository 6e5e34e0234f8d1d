//! The motion program: contract in the head, moves in the body.
//!
//! Each part quotes the source it usually comes from. Everything carries the [`Span`] it arose from, to the
//! very end.

use std::fmt;
use std::sync::Arc;

use borewright_base::Span;
use borewright_number::{Dimension, Rational};

use crate::{Condition, Demands, Expr, Symbol, Tool};

/// A place in the plane, seen from above.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Point {
    /// Along X, mm.
    pub x: Expr,
    /// Along Y, mm.
    pub y: Expr,
}

/// The way round, seen from above.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Way {
    /// Counterclockwise.
    Ccw,
    /// Clockwise.
    Cw,
}

/// A routine or a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Motion {
    /// The name it was given.
    pub name: String,
    /// Lines of its doc comment.
    pub documentation: Vec<String>,
    /// Where its name stands.
    pub span: Span,
    /// Whether its author thinks in inches (the unit of most of its length literals).
    pub inch: bool,
    /// A fixed program number, where one is stated.
    pub program: Option<Expr>,
    /// Parameters in order; later defaults may use earlier parameters.
    pub parameters: Vec<Parameter>,
    /// Lets and requirements in source order: a later one may divide by what an earlier one excludes.
    pub head: Vec<Clause>,
    /// What a routine demands of the cutter in the spindle; empty for a job.
    pub demands: Option<Demands>,
    /// What a job sets up; `None` for a routine.
    pub job: Option<Job>,
    /// Features that it makes, with its promises.
    pub made: Vec<Made>,
    /// Features that are there before.
    pub given: Vec<Feature>,
    /// The moves.
    pub body: Vec<Step>,
}

/// `bore: length as B in 6mm..300mm = 40mm,  /// finished diameter`
#[derive(Debug, Clone, PartialEq)]
pub struct Parameter {
    /// Its name.
    pub symbol: Symbol,
    /// What it measures.
    pub dimension: Dimension,
    /// Whole numbers only (`count`).
    pub whole: bool,
    /// Least value, in base units.
    pub least: Rational,
    /// Greatest value, in base units.
    pub greatest: Rational,
    /// Value when the caller says nothing; may use earlier parameters.
    pub default: Option<Expr>,
    /// The letter by which a macro takes it.
    pub letter: Option<char>,
    /// What it means, from its doc comment.
    pub meaning: String,
    /// Whether its range is written in inches.
    pub inch: bool,
    /// Of a choice or a row of a table: the words for its values, in order.
    pub words: Vec<(String, Rational)>,
    /// The whole parameter.
    pub span: Span,
}

/// A line of the head.
#[derive(Debug, Clone, PartialEq)]
pub enum Clause {
    /// `let wall = (bore - tool) / 2`
    Let(Let),
    /// `requires tool < bore else "CUTTER TOO WIDE"`, `practice tool <= bore / 2 else "CUTTER DISTORTS FLANKS"`
    Require(Requirement),
}

/// A name for a value.
#[derive(Debug, Clone, PartialEq)]
pub struct Let {
    /// The name.
    pub symbol: Symbol,
    /// Its dimension.
    pub dimension: Dimension,
    /// The value.
    pub value: Expr,
    /// Where.
    pub span: Span,
}

/// A demand on the caller.
#[derive(Debug, Clone, PartialEq)]
pub struct Requirement {
    /// What must hold.
    pub condition: Condition,
    /// The alarm text.
    pub alarm: String,
    /// A limit of practice: it may say more than any proof needs.
    pub practice: bool,
    /// Where.
    pub span: Span,
}

/// What a job sets up.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// `work 1`: which work offset.
    pub work: Expr,
    /// `travel z 60mm`: height at which it travels between places.
    pub travel: Expr,
    /// The tool list.
    pub tools: Vec<Tool>,
}

/// The volume that should be removed.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// The name it was given.
    pub name: String,
    /// Its shape.
    pub shape: Shape,
    /// Where its centre is; one place for most.
    pub at: Vec<Point>,
    /// Where.
    pub span: Span,
}

/// Shape and size of a feature; heights are along Z, mm.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// `hole(diameter: .., floor: .., top: .., pilot: ..)`
    Hole {
        /// Diameter of the wall.
        diameter: Expr,
        /// Z of the floor.
        floor: Expr,
        /// Z of the top face.
        top: Expr,
        /// Diameter of the hole that is there already, to the floor or deeper; `None` = solid.
        pilot: Option<Expr>,
    },
    /// `boss(diameter: .., blank: .., floor: .., top: ..)`
    Boss {
        /// Diameter that stays.
        diameter: Expr,
        /// Diameter of the round blank around it.
        blank: Expr,
        /// Z of the floor around it.
        floor: Expr,
        /// Z of the top face.
        top: Expr,
    },
    /// `ring(outer: .., inner: .., floor: .., top: ..)`
    Ring {
        /// Diameter of the outer wall.
        outer: Expr,
        /// Diameter of the inner wall.
        inner: Expr,
        /// Z of the floor.
        floor: Expr,
        /// Z of the top face.
        top: Expr,
    },
    /// `face(diameter: .., floor: .., top: ..)`: all of a round blank from its top down to the finished face.
    Face {
        /// Diameter of the blank.
        diameter: Expr,
        /// Z of the finished face.
        floor: Expr,
        /// Z of the face before.
        top: Expr,
    },
    /// `chamfer(diameter: .., width: .., angle: .., floor: .., top: ..)`, or `outer_chamfer`: a cone on an edge.
    Chamfer {
        /// On the edge of a hole, or on that of a boss.
        inside: bool,
        /// Diameter of the hole or of the boss, which are there before.
        diameter: Expr,
        /// How far it reaches from the wall, by the side.
        width: Expr,
        /// Angle of the cone, from side to side.
        angle: Expr,
        /// Z of the bottom of the hole, or of the shoulder round the boss.
        floor: Expr,
        /// Z of the top face.
        top: Expr,
    },
    /// `undercut(diameter: .., bore: .., floor: .., roof: .., bottom: .., top: ..)`: a groove in the wall of a bore.
    Undercut {
        /// Diameter of the groove.
        diameter: Expr,
        /// Diameter of the bore, which is there before.
        bore: Expr,
        /// Z of the lower side of the groove.
        floor: Expr,
        /// Z of its upper side.
        roof: Expr,
        /// Z of the bottom of the bore.
        bottom: Expr,
        /// Z of the top face.
        top: Expr,
    },
    /// `thread(major: .., minor: .., pitch: .., hand: .., floor: .., bottom: .., top: ..)`, or `outer_thread`:
    /// one groove that winds about the axis from the top face down.
    Thread {
        /// In a hole of the minor diameter, or on a boss of the major one.
        inside: bool,
        /// Diameter over the thread; of an outer one, what is there before.
        major: Expr,
        /// Diameter under the thread; of an inner one, the hole that is there before.
        minor: Expr,
        /// From one turn of the groove to the next.
        pitch: Expr,
        /// 1 where a counterclockwise turn goes up (right hand), -1 where it goes down.
        hand: Expr,
        /// Z down to which the thread is whole.
        floor: Expr,
        /// Z of the bottom of the hole, or of the shoulder round the boss.
        bottom: Expr,
        /// Z of the top face.
        top: Expr,
        /// How much its diameters change with height, over the change of height; 0 of a straight thread. An inner
        /// one grows wider upwards, an outer one narrower; both diameters are those at the top face.
        taper: Expr,
        /// How far teeth may be beside the groove, and past its cone.
        error: Expr,
        /// How far its flanks go over to the side, at least, over how deep they go: a tooth that is not at full depth
        /// has so much room beside it. 0 where nothing is said.
        lean: Expr,
    },
}

impl Shape {
    /// Z of the top face.
    #[must_use]
    pub fn top(&self) -> &Expr {
        match self {
            Self::Hole { top, .. }
            | Self::Boss { top, .. }
            | Self::Ring { top, .. }
            | Self::Face { top, .. }
            | Self::Chamfer { top, .. }
            | Self::Undercut { top, .. }
            | Self::Thread { top, .. } => top,
        }
    }
}

/// `makes hole seat(...) promises within, sized`
#[derive(Debug, Clone, PartialEq)]
pub struct Made {
    /// What is made.
    pub feature: Feature,
    /// What is promised of it.
    pub promises: Vec<(Promise, Span)>,
}

/// What a routine guarantees about a feature.
#[derive(Debug, Clone, PartialEq)]
pub enum Promise {
    /// The cutter stays within the metal that the feature removes, or in air.
    Within,
    /// The edge touches the wall all round, at the floor and at every pass.
    Sized,
    /// Nothing is left standing.
    Cleared,
    /// Where the edge meets the wall, the path joins with one tangent and one direction.
    Smooth,
    /// The chip starts thick.
    Climb,
    /// The chip starts thin.
    Conventional,
    /// The made features keep a wall of this thickness between them.
    Apart(Expr),
}

impl Promise {
    /// The promise's word in the language.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Sized => "sized",
            Self::Cleared => "cleared",
            Self::Smooth => "smooth",
            Self::Climb => "climb",
            Self::Conventional => "conventional",
            Self::Apart(_) => "apart",
        }
    }
}

impl fmt::Display for Promise {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// One action and the source it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What is done.
    pub action: Action,
    /// Where that was said.
    pub span: Span,
}

/// What one step does.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// `let pivot = ...`: a name for a value, before the moves that use it.
    Let(Let),
    /// `retract`: up at rapid, to the travel height or, where there is none, to the machine's home in Z.
    Retract,
    /// `rapid to p`
    RapidTo(Point),
    /// `rapid to z e`
    RapidZ(Expr),
    /// `line to p z e`: straight at feed; `None` keeps the coordinate.
    Line {
        /// End in the plane.
        to: Option<Point>,
        /// End in Z.
        z: Option<Expr>,
        /// The feed stated in the same block, mm/min.
        feed: Option<Expr>,
    },
    /// `arc ccw to p z e about c`
    Arc {
        /// The way round.
        way: Way,
        /// End in the plane.
        to: Point,
        /// End in Z; `None` keeps it.
        z: Option<Expr>,
        /// Centre.
        about: Point,
        /// The feed stated in the same block, mm/min.
        feed: Option<Expr>,
    },
    /// `turn ccw to z e about c`: one full circle, or one turn of a helix.
    Turn {
        /// The way round.
        way: Way,
        /// Z at its end; `None` keeps it.
        z: Option<Expr>,
        /// Centre.
        about: Point,
        /// The feed stated in the same block, mm/min.
        feed: Option<Expr>,
    },
    /// `passes level from 0 to -depth by stepdown { ... }`
    Passes(Passes),
    /// `repeat n as k { ... }`
    Repeat {
        /// Counts 1..=count.
        index: Symbol,
        /// How often; a whole number, may be 0.
        count: Expr,
        /// What is repeated.
        body: Vec<Step>,
    },
    /// `call finish_bore(bore: 62mm, ...) at seats`
    Call(Call),
    /// `dwell 0.5s`, minutes.
    Dwell(Expr),
    /// `with finisher { ... }`: tool change, length offset on; at the brace retract, coolant off, spindle stop.
    With {
        /// Position in [`Job::tools`].
        tool: usize,
        /// What is done with it.
        body: Vec<Step>,
    },
    /// `spindle cw 2400rpm`: to the brace.
    Spindle {
        /// The way it turns, seen from above.
        way: Way,
        /// Turns per minute.
        speed: Expr,
    },
    /// `coolant flood`: to the brace.
    Coolant(Coolant),
    /// `stop "MEASURE"`
    Stop(String),
}

/// What flows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Coolant {
    /// Flood.
    Flood,
    /// Mist.
    Mist,
}

/// Steps from one value to another: `n = max(1, ceil(abs(to - from) / by))`, and the last value is `to` itself.
/// Equal steps have the value `from + (to - from) * i / n` in turn i of 1..=n; with `remainder last` all but the
/// last are whole steps, `from + by * i` or `from - by * i`.
#[derive(Debug, Clone, PartialEq)]
pub struct Passes {
    /// The name of the value.
    pub value: Symbol,
    /// The counter i.
    pub index: Symbol,
    /// The number of turns n.
    pub count: Symbol,
    /// Start, which is not itself a pass.
    pub from: Expr,
    /// The last value.
    pub to: Expr,
    /// The longest step.
    pub by: Expr,
    /// `remainder last`: 1 where the whole steps go up, -1 where they go down. `None`: equal steps.
    pub whole: Option<Expr>,
    /// What is done at each value.
    pub body: Vec<Step>,
}

impl Passes {
    /// `max(1, ceil(abs(to - from) / by))`
    #[must_use]
    pub fn count_value(&self) -> Expr {
        let way = (self.to.clone() - self.from.clone()).call(crate::Function::Abs);
        Expr::from(1).max((way / self.by.clone()).call(crate::Function::Ceil))
    }

    /// Whether the step is the whole way, told by its looks: there is one turn, whatever the sizes.
    #[must_use]
    pub fn is_single(&self) -> bool {
        let (down, up) = (self.from.clone() - self.to.clone(), self.to.clone() - self.from.clone());
        down == self.by || up == self.by
    }

    /// The value at a turn: `from + (to - from) * index / count`; of whole steps `from + by * index`, but `to`
    /// in the last turn.
    #[must_use]
    pub fn value_at(&self, index: Expr, count: Expr) -> Expr {
        match &self.whole {
            None => self.from.clone() + (self.to.clone() - self.from.clone()) * index / count,
            Some(_) => {
                let last = Condition::equal(index.clone(), count.clone());
                Expr::choose(last, self.to.clone(), self.step_to(index, count))
            }
        }
    }

    /// The value at a turn other than the last.
    #[must_use]
    pub fn step_to(&self, index: Expr, count: Expr) -> Expr {
        match &self.whole {
            None => self.value_at(index, count),
            Some(way) if way.as_number().is_some_and(|n| n.signum() < 0) => {
                self.from.clone() - self.by.clone() * index
            }
            Some(way) => self.from.clone() + way.clone() * self.by.clone() * index,
        }
    }

    /// Which way whole steps go: 1 up, -1 down.
    #[must_use]
    pub fn direction(from: &Expr, to: &Expr) -> Expr {
        Expr::choose(Condition::at_least(to.clone(), from.clone()), Expr::from(1), Expr::from(-1))
    }
}

/// A routine called at one or more places.
#[derive(Debug, Clone, PartialEq)]
pub struct Call {
    /// The routine, proved on its own.
    pub routine: Arc<Motion>,
    /// Arguments given by the call or filled from the cutter, in the order of the routine's parameters.
    pub arguments: Vec<(Symbol, Expr)>,
    /// Centres of the called routine, in the caller's coordinates; in turn.
    pub at: Vec<Point>,
    /// The circle on which they lie, where the author wants the main program of a job to work them out itself. It
    /// says nothing that `at` does not say: what is written by it is held against `at`.
    pub around: Option<Around<Expr>>,
}

/// Places round a circle about the caller's centre: the first, and each a step further.
#[derive(Debug, Clone, PartialEq)]
pub struct Around<T> {
    /// Radius of the circle, mm.
    pub radius: T,
    /// Angle of the first place, degrees.
    pub first: T,
    /// From one place to the next, degrees.
    pub step: T,
}

impl<T> Around<T> {
    /// The same, with each part made into another.
    ///
    /// # Errors
    /// The first that `to` gives.
    pub fn try_map<U, E>(&self, mut to: impl FnMut(&T) -> Result<U, E>) -> Result<Around<U>, E> {
        Ok(Around { radius: to(&self.radius)?, first: to(&self.first)?, step: to(&self.step)? })
    }

    /// The same, with each part made into another.
    #[must_use]
    pub fn map<U>(&self, mut to: impl FnMut(&T) -> U) -> Around<U> {
        Around { radius: to(&self.radius), first: to(&self.first), step: to(&self.step) }
    }
}

impl Call {
    /// Every parameter with its value: the argument, else the default with earlier values put in.
    ///
    /// A parameter with neither is left out (lowering has refused such a call).
    #[must_use]
    pub fn bindings(&self) -> Vec<(Symbol, Expr)> {
        let mut bound: Vec<(Symbol, Expr)> = Vec::new();
        for parameter in &self.routine.parameters {
            let given = self.arguments.iter().find(|(s, _)| *s == parameter.symbol).map(|(_, e)| e.clone());
            let value = given.or_else(|| {
                let default = parameter.default.as_ref()?;
                Some(default.substitute(&|s| lookup(&bound, s)))
            });
            bound.extend(value.map(|v| (parameter.symbol.clone(), v)));
        }
        bound
    }
}

pub(crate) fn lookup(bound: &[(Symbol, Expr)], symbol: &Symbol) -> Option<Expr> {
    bound.iter().find(|(s, _)| s == symbol).map(|(_, e)| e.clone())
}

impl Point {
    /// `(x, y)`
    #[must_use]
    pub fn new(x: Expr, y: Expr) -> Self {
        Self { x, y }
    }

    /// `centre`
    #[must_use]
    pub fn centre() -> Self {
        Self { x: Expr::zero(), y: Expr::zero() }
    }

    /// `(radius at angle)`
    #[must_use]
    pub fn polar(radius: &Expr, angle: &Expr) -> Self {
        Self { x: radius.clone() * angle.clone().cos(), y: radius.clone() * angle.clone().sin() }
    }

    /// Sum of two vectors.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self { x: self.x.clone() + other.x.clone(), y: self.y.clone() + other.y.clone() }
    }

    /// Difference of two vectors.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Self {
        Self { x: self.x.clone() - other.x.clone(), y: self.y.clone() - other.y.clone() }
    }

    /// Square of the length.
    #[must_use]
    pub fn square(&self) -> Expr {
        self.x.squared() + self.y.squared()
    }

    /// Cross product: positive where `other` lies to the left.
    #[must_use]
    pub fn cross(&self, other: &Self) -> Expr {
        self.x.clone() * other.y.clone() - self.y.clone() * other.x.clone()
    }

    /// Dot product.
    #[must_use]
    pub fn dot(&self, other: &Self) -> Expr {
        self.x.clone() * other.x.clone() + self.y.clone() * other.y.clone()
    }

    /// Both coordinates with symbols replaced.
    #[must_use]
    pub fn substitute(&self, to: &dyn Fn(&Symbol) -> Option<Expr>) -> Self {
        Self { x: self.x.substitute(to), y: self.y.substitute(to) }
    }
}

impl Way {
    /// `ccw` or `cw`
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Ccw => "ccw",
            Self::Cw => "cw",
        }
    }
}

impl Action {
    /// The steps in its braces; empty for what has none.
    #[must_use]
    pub fn body(&self) -> &[Step] {
        match self {
            Self::Passes(passes) => &passes.body,
            Self::Repeat { body, .. } | Self::With { body, .. } => body,
            Self::Let(_)
            | Self::Retract
            | Self::RapidTo(_)
            | Self::RapidZ(_)
            | Self::Line { .. }
            | Self::Arc { .. }
            | Self::Turn { .. }
            | Self::Call(_)
            | Self::Dwell(_)
            | Self::Spindle { .. }
            | Self::Coolant(_)
            | Self::Stop(_) => &[],
        }
    }
}

/// Every step at any depth, in the order of the text: each before those in its braces.
#[must_use]
pub fn all_steps(steps: &[Step]) -> Vec<&Step> {
    steps.iter().flat_map(|step| std::iter::once(step).chain(all_steps(step.action.body()))).collect()
}

/// Every call in these steps, at any depth, with its span, in the order of the text.
#[must_use]
pub fn calls(steps: &[Step]) -> Vec<(&Call, Span)> {
    let mut found = Vec::new();
    for step in all_steps(steps) {
        if let Action::Call(call) = &step.action {
            found.push((call, step.span));
        }
    }
    found
}
