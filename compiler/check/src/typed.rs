//! The typed tree: every name is resolved, every quantity has its dimension, every literal is in base units
//! (mm, degree, minute).
//!
//! Where the source could not be understood stands an `Invalid` node, and the routine that holds it is not
//! [`Routine::sound`]: the reason has been reported, and no later phase reads it.

use std::sync::Arc;

use borewright_base::Span;
use borewright_number::{Dimension, Rational};

pub use borewright_syntax::ast::{Compare, Way};

/// A name that stands for one value, unique within its routine: `wall`, and `wall.2` for a second block's.
pub type Local = Arc<str>;

/// What was found right in a file and in the files that it uses.
#[derive(Debug, Clone, Default)]
pub struct Checked {
    /// Every routine and job of the file and of the files it uses; calls name them by their place here.
    pub routines: Vec<Routine>,
    /// Those of the file itself, in source order.
    pub own: Vec<RoutineId>,
    /// The tables of the file itself, in source order.
    pub tables: Vec<Arc<Table>>,
}

impl Checked {
    /// The routine of that id.
    #[must_use]
    pub fn routine(&self, id: RoutineId) -> Option<&Routine> {
        self.routines.get(id.0)
    }
}

/// The place of a routine in [`Checked::routines`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RoutineId(pub usize);

/// A routine or a job.
#[derive(Debug, Clone)]
pub struct Routine {
    /// Its name.
    pub name: String,
    /// Lines of its doc comment.
    pub documentation: Vec<String>,
    /// Where its name stands.
    pub span: Span,
    /// True when no error was found in it.
    pub sound: bool,
    /// Whether most of its length literals are in inches.
    pub inch: bool,
    /// `program 1200`
    pub program: Option<Expr>,
    /// In order.
    pub parameters: Vec<Parameter>,
    /// Lets and requirements in order.
    pub head: Vec<Head>,
    /// `cutter flat with ...`
    pub demands: Option<Demands>,
    /// What a job sets up; `None` for a routine.
    pub job: Option<Job>,
    /// `makes ...`
    pub made: Vec<Made>,
    /// `given ...`
    pub given: Vec<Feature>,
    /// The block.
    pub body: Vec<Statement>,
}

/// A parameter.
#[derive(Debug, Clone)]
pub struct Parameter {
    /// Its name.
    pub name: Local,
    /// What values it takes.
    pub domain: Domain,
    /// The value when the caller says nothing; may use earlier parameters.
    pub default: Option<Argument>,
    /// `as B`
    pub letter: Option<char>,
    /// Its doc comment.
    pub meaning: String,
    /// Whether its range is written in inches.
    pub inch: bool,
    /// The cutter's field that the routine's cutter line ties it to by `==`.
    pub tied: Option<CutterField>,
    /// The whole parameter.
    pub span: Span,
}

/// The values that a parameter takes.
#[derive(Debug, Clone)]
pub enum Domain {
    /// `length in 6mm..300mm`
    Number {
        /// What it measures.
        dimension: Dimension,
        /// Whole numbers only.
        whole: bool,
        /// Least value.
        least: Rational,
        /// Greatest value.
        greatest: Rational,
    },
    /// `right or left`
    Choice(Words),
    /// A row of a table.
    Row(Arc<Table>),
    /// Not understood.
    Invalid,
}

/// The words of a choice, in order; the macro codes are 1, 2, ...
pub type Words = Arc<[String]>;

/// A table of constants.
#[derive(Debug)]
pub struct Table {
    /// Its name.
    pub name: String,
    /// Lines of its doc comment.
    pub documentation: Vec<String>,
    /// Where its name stands.
    pub span: Span,
    /// Name and type of each column.
    pub columns: Vec<(String, ColumnType)>,
    /// In order.
    pub rows: Vec<Row>,
}

/// The type of a column.
#[derive(Debug, Clone)]
pub enum ColumnType {
    /// A quantity.
    Number {
        /// What it measures.
        dimension: Dimension,
        /// Whole numbers only.
        whole: bool,
    },
    /// A choice of words.
    Choice(Words),
    /// A row of another table.
    Row(Arc<Table>),
}

/// A row of a table.
#[derive(Debug)]
pub struct Row {
    /// Its name.
    pub name: String,
    /// Its doc comment.
    pub documentation: Vec<String>,
    /// One for each column.
    pub cells: Vec<Cell>,
    /// Where its name stands.
    pub span: Span,
}

/// What stands in a column of a row.
#[derive(Debug, Clone)]
pub enum Cell {
    /// A quantity in base units, or the code of a word.
    Number(Rational),
    /// The place of a row in the column's table.
    Row(usize),
}

impl Table {
    /// The place of a column.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|(n, _)| n == name)
    }

    /// The number by which a macro's argument names a row: its first column where that is a quantity and
    /// different in each row, else the row's number from 1.
    #[must_use]
    pub fn key(&self, row: usize) -> Rational {
        let first = |r: &Row| match r.cells.first() {
            Some(Cell::Number(value)) => Some(value.clone()),
            Some(Cell::Row(_)) | None => None,
        };
        let number = || Rational::from(i32::try_from(row).unwrap_or(i32::MAX)) + Rational::ONE;
        if self.keyed_by_column() {
            self.rows.get(row).and_then(first).unwrap_or_else(number)
        } else {
            number()
        }
    }

    /// Whether the first column names the rows in a macro.
    #[must_use]
    pub fn keyed_by_column(&self) -> bool {
        let mut seen = std::collections::BTreeSet::new();
        self.rows.iter().all(|row| match row.cells.first() {
            Some(Cell::Number(value)) => seen.insert(value.clone()),
            Some(Cell::Row(_)) | None => false,
        })
    }
}

/// A quantity.
#[derive(Debug, Clone)]
pub struct Expr {
    /// What it is.
    pub kind: Arc<ExprKind>,
    /// What it measures; `None` for a literal 0 (or an invalid one), which fits any place.
    pub dimension: Option<Dimension>,
    /// Known to be a whole number.
    pub whole: bool,
    /// Where.
    pub span: Span,
}

/// What a quantity is.
#[derive(Debug, Clone)]
pub enum ExprKind {
    /// A literal, in base units.
    Number(Rational),
    /// The exact pi.
    Pi,
    /// A parameter, let or loop value.
    Name(Local),
    /// `-a`
    Negate(Expr),
    /// `a + b`
    Arithmetic(Arithmetic, Expr, Expr),
    /// `sin(a)`
    Function(Function, Expr),
    /// `min(a, b)`
    Min(Expr, Expr),
    /// `max(a, b)`
    Max(Expr, Expr),
    /// `if c then a else b`
    If(Condition, Expr, Expr),
    /// `p.x`
    X(Point),
    /// `p.y`
    Y(Point),
    /// `screw.seat`: a quantity, or the code of a word
    Column(RowExpr, usize),
    /// Not understood.
    Invalid,
}

/// A two-sided operation on quantities.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arithmetic {
    /// `+`
    Add,
    /// `-`
    Sub,
    /// `*`
    Mul,
    /// `/`
    Div,
}

/// A built-in function of one quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Function {
    /// `sin(a)`
    Sin,
    /// `cos(a)`
    Cos,
    /// `tan(a)`
    Tan,
    /// `atan(r)`
    Atan,
    /// `acos(r)`
    Acos,
    /// `sqrt(x)`
    Sqrt,
    /// `abs(x)`
    Abs,
    /// `ceil(x)`
    Ceil,
    /// `floor(x)`
    Floor,
}

/// A row of a table.
#[derive(Debug, Clone)]
pub enum RowExpr {
    /// A parameter of that table's type.
    Parameter(Local, Arc<Table>),
    /// `socket_head.M8`
    Constant(Arc<Table>, usize),
    /// `part.screw`: a column that holds rows of another table
    Column(Box<RowExpr>, usize, Arc<Table>),
    /// `if c then a else b`
    If(Condition, Box<RowExpr>, Box<RowExpr>),
}

impl RowExpr {
    /// The table that it is a row of.
    #[must_use]
    pub fn table(&self) -> &Arc<Table> {
        match self {
            Self::Parameter(_, table) | Self::Constant(table, _) | Self::Column(_, _, table) => table,
            Self::If(_, row, _) => row.table(),
        }
    }
}

/// A condition.
#[derive(Debug, Clone)]
pub enum Condition {
    /// `a <= b`
    Compare(Compare, Expr, Expr),
    /// `a and b`
    And(Box<Condition>, Box<Condition>),
    /// `a or b`
    Or(Box<Condition>, Box<Condition>),
    /// `not a`
    Not(Box<Condition>),
    /// Not understood.
    Invalid,
}

/// A point of the plane, or a vector.
#[derive(Debug, Clone)]
pub enum Point {
    /// `(x, y)`
    Rectangular(Expr, Expr),
    /// `(radius at angle)`
    Polar(Expr, Expr),
    /// A let.
    Name(Local),
    /// `p + q`
    Plus(Arc<Point>, Arc<Point>),
    /// `p - q`
    Minus(Arc<Point>, Arc<Point>),
    /// `-p`
    Negate(Arc<Point>),
    /// `ratio * p`
    Scaled(Expr, Arc<Point>),
    /// `p / ratio`
    Over(Arc<Point>, Expr),
    /// `if c then p else q`
    If(Condition, Arc<Point>, Arc<Point>),
    /// Not understood.
    Invalid,
}

/// Places: where something is made or called, in turn.
#[derive(Debug, Clone)]
pub enum Places {
    /// `p`, or `[p, q]`
    List(Vec<Point>),
    /// `circle(count: holes, diameter: across, first: 0deg, step: 30deg)`
    Circle {
        /// How many; a whole number.
        count: Expr,
        /// Most that there can be.
        most: u32,
        /// Diameter of the circle through them.
        diameter: Expr,
        /// Angle of the first.
        first: Expr,
        /// Angle from one to the next; `None` = evenly all round.
        step: Option<Expr>,
    },
    /// `grid(columns: 4, rows: 3, wide: 30mm, high: 20mm)`: column by column, the first at the centre.
    Grid {
        /// How many along X; a whole number.
        columns: Expr,
        /// How many along Y; a whole number.
        rows: Expr,
        /// From column to column.
        wide: Expr,
        /// From row to row.
        high: Expr,
    },
}

/// A line of the head that a later line may build on.
#[derive(Debug, Clone)]
pub enum Head {
    /// `let wall = ...`
    Let(Let),
    /// `requires c else "TEXT"`, `practice c else "TEXT"`
    Requires {
        /// What must hold.
        condition: Condition,
        /// The alarm text.
        alarm: String,
        /// A limit of practice.
        practice: bool,
        /// Where.
        span: Span,
    },
    /// `requires all finish_bore`
    RequiresAll {
        /// Whose requirements.
        routine: RoutineId,
        /// Where.
        span: Span,
    },
}

/// A named value.
#[derive(Debug, Clone)]
pub struct Let {
    /// The name.
    pub name: Local,
    /// The value.
    pub value: LetValue,
    /// Where.
    pub span: Span,
}

/// What a let names. Rows, words and places need no name of their own: they are put in where they are used.
#[derive(Debug, Clone)]
pub enum LetValue {
    /// A quantity.
    Number(Expr),
    /// A point.
    Point(Point),
}

/// A fact of a cutter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CutterField {
    /// Cutting diameter.
    Diameter,
    /// Length that cuts.
    Flutes,
    /// Length up from the end with nothing wider than the cutting diameter.
    Reach,
    /// Diameter at the end that does not cut.
    Dead,
    /// Steepest ramp.
    Ramp,
    /// `plunges: yes`
    Plunges,
    /// Number of teeth.
    Teeth,
    /// Corner radius.
    Corner,
    /// Pocket in the tool changer.
    Pocket,
    /// `hand: left`
    Hand,
    /// Most that the operator may correct the diameter by.
    Wear,
    /// From one tooth of a row to the next, of a thread cutter.
    Pitch,
    /// Teeth in a row.
    Rows,
    /// Middle of the lowest tooth above the end.
    Nose,
    /// How far the teeth stand out.
    Tooth,
    /// Of a pointed cutter: the angle of its cone, from side to side.
    Angle,
    /// Of a pointed cutter: diameter of the flat at its end.
    Tip,
    /// Of a thread cutter: how much wider its teeth grow upwards.
    Taper,
}

/// The shape of a cutter's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CutterKind {
    /// Flat end.
    Flat,
    /// Flat end with a rounded corner.
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

/// `cutter flat with diameter == tool`
#[derive(Debug, Clone)]
pub struct Demands {
    /// The kind asked for.
    pub kind: CutterKind,
    /// Field by field.
    pub rules: Vec<Demand>,
    /// Where.
    pub span: Span,
}

/// `flutes >= stepdown`
#[derive(Debug, Clone)]
pub struct Demand {
    /// Of which field.
    pub field: CutterField,
    /// How it must compare.
    pub relation: Compare,
    /// With what.
    pub value: Expr,
    /// Where.
    pub span: Span,
}

/// What a job sets up.
#[derive(Debug, Clone)]
pub struct Job {
    /// `work 1`
    pub work: Expr,
    /// `travel z 60mm`
    pub travel: Expr,
    /// The tool list.
    pub tools: Vec<Tool>,
}

/// A cutter of the tool list.
#[derive(Debug, Clone)]
pub struct Tool {
    /// Its name.
    pub name: String,
    /// Its kind.
    pub kind: CutterKind,
    /// Every field, careful defaults filled in.
    pub fields: Vec<(CutterField, Expr)>,
    /// Where.
    pub span: Span,
}

/// The volume that should be removed.
#[derive(Debug, Clone)]
pub struct Feature {
    /// The name it was given.
    pub name: String,
    /// Its shape.
    pub shape: Shape,
    /// Where.
    pub at: Places,
    /// Where that was said.
    pub span: Span,
}

/// The kinds of feature.
#[derive(Debug, Clone)]
pub enum Shape {
    /// `hole(diameter floor [top] [pilot])`
    Hole {
        /// Diameter of the wall.
        diameter: Expr,
        /// Z of the floor.
        floor: Expr,
        /// Z of the top face.
        top: Expr,
        /// Diameter of the hole already there.
        pilot: Option<Expr>,
    },
    /// `boss(diameter blank floor [top])`
    Boss {
        /// Diameter that stays.
        diameter: Expr,
        /// Diameter of the round blank.
        blank: Expr,
        /// Z of the floor.
        floor: Expr,
        /// Z of the top face.
        top: Expr,
    },
    /// `face(diameter floor [top])`
    Face {
        /// Diameter of the blank.
        diameter: Expr,
        /// Z of the finished face.
        floor: Expr,
        /// Z of the face before.
        top: Expr,
    },
    /// `chamfer(diameter width angle floor [top])` on the edge of a hole, `outer_chamfer(...)` on that of a boss
    Chamfer {
        /// Of a hole, or of a boss.
        inside: bool,
        /// Diameter of the hole or the boss.
        diameter: Expr,
        /// How far it reaches from the wall, by the side.
        width: Expr,
        /// Angle between its sides, across the middle.
        angle: Expr,
        /// Z of the bottom of the hole, or of the shoulder round the boss.
        floor: Expr,
        /// Z of the top face.
        top: Expr,
    },
    /// `thread(major minor pitch floor [hand] [bottom] [top] [taper] [error] [lean])` in a hole, `outer_thread(...)` on a boss
    Thread {
        /// In a hole, or on a boss.
        inside: bool,
        /// Diameter over the thread.
        major: Expr,
        /// Diameter under the thread.
        minor: Expr,
        /// From one turn of the groove to the next.
        pitch: Expr,
        /// 1 right, -1 left.
        hand: Expr,
        /// Z down to which the thread is whole.
        floor: Expr,
        /// Z of the bottom of the hole, or of the shoulder round the boss.
        bottom: Expr,
        /// Z of the top face.
        top: Expr,
        /// How much its diameter changes with height, over the change of height.
        taper: Expr,
        /// How far teeth may be beside the groove and past its cone.
        error: Expr,
        /// How far its flanks go over to the side, over how deep they go.
        lean: Expr,
    },
    /// `undercut(diameter bore floor roof [bottom] [top])`: a groove in the wall of a bore
    Undercut {
        /// Diameter of the groove.
        diameter: Expr,
        /// Diameter of the bore.
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
    /// `ring(outer inner floor [top])`
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
}

/// `makes hole seat(...) promises within, sized`
#[derive(Debug, Clone)]
pub struct Made {
    /// What is made.
    pub feature: Feature,
    /// What is promised of it.
    pub promises: Vec<(Promise, Span)>,
}

/// A quality.
#[derive(Debug, Clone)]
pub enum Promise {
    /// `within`
    Within,
    /// `sized`
    Sized,
    /// `cleared`
    Cleared,
    /// `smooth`
    Smooth,
    /// `climb`
    Climb,
    /// `conventional`
    Conventional,
    /// `apart(web)`
    Apart(Expr),
}

/// A statement.
#[derive(Debug, Clone)]
pub struct Statement {
    /// What it says.
    pub kind: StatementKind,
    /// Where.
    pub span: Span,
}

/// What a statement says.
#[derive(Debug, Clone)]
pub enum StatementKind {
    /// `let n = e`
    Let(Let),
    /// `feed e`
    Feed(Expr),
    /// `retract`
    Retract,
    /// `rapid to p`
    RapidTo(Point),
    /// `rapid to z e`
    RapidZ(Expr),
    /// `line to p z e`
    Line(Option<Point>, Option<Expr>),
    /// `arc ccw to p z e about c`
    Arc(Way, Point, Option<Expr>, Point),
    /// `turn ccw to z e about c`
    Turn(Way, Option<Expr>, Point),
    /// `passes level from a to b by s { ... }`
    Passes(Passes),
    /// `repeat n as k { ... }`
    Repeat(Local, Expr, Vec<Statement>),
    /// `call r(...) at p`
    Call(Call),
    /// `dwell 1s`
    Dwell(Expr),
    /// `with finisher { ... }`: the place of the cutter in the tool list
    With(usize, Vec<Statement>),
    /// `spindle cw 2400rpm`
    Spindle(Way, Expr),
    /// `coolant flood`
    Coolant(Coolant),
    /// `stop "TEXT"`
    Stop(String),
    /// Not understood.
    Invalid,
}

/// What flows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coolant {
    /// Flood.
    Flood,
    /// Mist.
    Mist,
}

/// `passes level from a to b by s { ... }`
#[derive(Debug, Clone)]
pub struct Passes {
    /// The name of the value.
    pub value: Local,
    /// Start.
    pub from: Expr,
    /// Last value.
    pub to: Expr,
    /// Longest step.
    pub by: Expr,
    /// `remainder last`: whole steps, the rest in the last.
    pub remainder_last: bool,
    /// What is done at each.
    pub body: Vec<Statement>,
}

/// `call r(...) at p counted`
#[derive(Debug, Clone)]
pub struct Call {
    /// The routine.
    pub routine: RoutineId,
    /// In the order of its parameters: those given, and those filled from the cutter in the spindle.
    pub arguments: Vec<(Local, Argument)>,
    /// Where; its own centre where nothing is said.
    pub at: Places,
    /// Whether the main program of a job works the places out itself.
    pub counted: bool,
}

/// What is passed to a parameter.
#[derive(Debug, Clone)]
pub enum Argument {
    /// A quantity, or the code of a word.
    Number(Expr),
    /// A row.
    Row(RowExpr),
    /// What the cutter in the spindle measures, which the operator may correct.
    Actual(CutterField),
    /// Not understood.
    Invalid,
}
