//! The untyped tree. Every node has a span; every place where the text could not be understood holds an
//! `Invalid` node, so that one run reports every error.

use borewright_base::Span;
use borewright_number::{Rational, Unit};

/// A name as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// The letters.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A whole source file.
#[derive(Debug, Clone, PartialEq)]
pub struct File {
    /// In source order.
    pub items: Vec<Item>,
}

/// One item of a file, with the `///` lines above it.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Doc comment lines.
    pub documentation: Vec<String>,
    /// What it is.
    pub kind: ItemKind,
    /// The whole item.
    pub span: Span,
}

/// What an item is.
#[derive(Debug, Clone, PartialEq)]
pub enum ItemKind {
    /// `use bores`
    Use(Name),
    /// `let pi_ish = 22 / 7`: a constant
    Let(Let),
    /// `function bore_feed(edge: feed, bore: length) = edge / bore`
    Function(Function),
    /// `table socket_head(size: length) { row M5 = 5mm }`
    Table(Table),
    /// `routine finish_bore(...) ... { ... }`
    Routine(Routine),
    /// `job gearbox_seats ... { ... }`: a routine with tools
    Job(Routine),
    /// Text that could not be understood.
    Invalid,
}

/// `let n = e`
#[derive(Debug, Clone, PartialEq)]
pub struct Let {
    /// The name.
    pub name: Name,
    /// The value.
    pub value: Expr,
}

/// `function f(a: length) = e`
#[derive(Debug, Clone, PartialEq)]
pub struct Function {
    /// Its name.
    pub name: Name,
    /// Name and type of each argument.
    pub parameters: Vec<(Name, Type)>,
    /// The value.
    pub value: Expr,
}

/// `table t(column: length) { row R = 5mm }`
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Its name.
    pub name: Name,
    /// Columns.
    pub columns: Vec<(Name, Type)>,
    /// Rows.
    pub rows: Vec<Row>,
}

/// `row M5 = 5mm, 8.5mm`
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its name.
    pub name: Name,
    /// One per column.
    pub values: Vec<Expr>,
    /// Doc comment lines, above it or on its line.
    pub documentation: Vec<String>,
    /// The whole row.
    pub span: Span,
}

/// A routine, or a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Routine {
    /// Its name.
    pub name: Name,
    /// Its parameters; a job may have none.
    pub parameters: Vec<Parameter>,
    /// The lines between the name and the brace, in order.
    pub head: Vec<Head>,
    /// The block.
    pub body: Block,
}

/// `bore: length as B in 6mm..300mm = 40mm   /// finished diameter`
#[derive(Debug, Clone, PartialEq)]
pub struct Parameter {
    /// Its name.
    pub name: Name,
    /// Its type.
    pub kind: Type,
    /// `as B`
    pub letter: Option<Name>,
    /// `in a..b`
    pub range: Option<(Expr, Expr)>,
    /// `= e`
    pub default: Option<Expr>,
    /// Doc comment lines, above it or on its line.
    pub documentation: Vec<String>,
    /// The whole parameter.
    pub span: Span,
}

/// A type as written.
#[derive(Debug, Clone, PartialEq)]
pub enum Type {
    /// `length`, `feed`, or a table's name
    Name(Name),
    /// `right or left`
    Choice(Vec<Name>),
    /// Not understood.
    Invalid(Span),
}

/// A line of the head.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// What it says.
    pub kind: HeadKind,
    /// Where.
    pub span: Span,
}

/// What a line of the head says.
#[derive(Debug, Clone, PartialEq)]
pub enum HeadKind {
    /// `let wall = ...`
    Let(Let),
    /// `program 1200`
    Program(Expr),
    /// `requires all helix_bore`
    RequiresAll(Name),
    /// `requires c else "TEXT"`
    Requires(Expr, Text),
    /// `practice c else "TEXT"`
    Practice(Expr, Text),
    /// `cutter flat with diameter == tool`: a demand
    Demand(Name, Vec<FieldRule>),
    /// `cutter rougher = flat(pocket: 1)`: a tool in the list
    Tool(Name, Name, Vec<Argument>),
    /// `makes hole seat(...) at p promises within`
    Makes(Feature, Vec<Promise>),
    /// `given hole cored(...) at p`
    Given(Feature),
    /// `work 1`
    Work(Expr),
    /// `travel z 60mm`
    Travel(Expr),
    /// Not understood.
    Invalid,
}

/// `flutes >= stepdown`
#[derive(Debug, Clone, PartialEq)]
pub struct FieldRule {
    /// The cutter's field.
    pub field: Name,
    /// The comparison.
    pub relation: Compare,
    /// The other side.
    pub value: Expr,
}

/// `hole seat(diameter: bore) at p`
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// `hole`
    pub kind: Name,
    /// `seat`
    pub name: Name,
    /// Its sizes.
    pub arguments: Vec<Argument>,
    /// Where.
    pub at: Option<Expr>,
}

/// `apart(web)`
#[derive(Debug, Clone, PartialEq)]
pub struct Promise {
    /// The quality.
    pub name: Name,
    /// What stands in its brackets.
    pub argument: Option<Expr>,
}

/// A quoted text, without its quotes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    /// The characters.
    pub text: String,
    /// Where, with the quotes.
    pub span: Span,
}

/// `name: e`, or a bare `name`, which means `name: name`.
#[derive(Debug, Clone, PartialEq)]
pub struct Argument {
    /// The parameter.
    pub name: Name,
    /// The value; `None` for a bare name.
    pub value: Option<Expr>,
}

/// `{ ... }`
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// In order.
    pub statements: Vec<Statement>,
    /// With its braces.
    pub span: Span,
}

/// A statement.
#[derive(Debug, Clone, PartialEq)]
pub struct Statement {
    /// What it says.
    pub kind: StatementKind,
    /// Where.
    pub span: Span,
}

/// What a statement says.
#[derive(Debug, Clone, PartialEq)]
pub enum StatementKind {
    /// `let n = e`
    Let(Let),
    /// `feed e`
    Feed(Expr),
    /// `retract`
    Retract,
    /// `rapid to p`
    RapidTo(Expr),
    /// `rapid to z e`
    RapidZ(Expr),
    /// `line to p z e`
    Line(Target),
    /// `arc ccw to p z e about c`
    Arc(Way, Target, Expr),
    /// `turn ccw to z e about c`
    Turn(Way, Option<Expr>, Expr),
    /// `passes level from a to b by s { ... }`
    Passes(Passes),
    /// `repeat n as k { ... }`
    Repeat(Expr, Option<Name>, Block),
    /// `call r(...) at p counted`
    Call(Call),
    /// `dwell 1s`
    Dwell(Expr),
    /// `with finisher { ... }`
    With(Name, Block),
    /// `spindle cw 2400rpm`
    Spindle(Way, Expr),
    /// `coolant flood`
    Coolant(Name),
    /// `stop "TEXT"`
    Stop(Text),
    /// Not understood.
    Invalid,
}

/// `call r(...) at p counted`
#[derive(Debug, Clone, PartialEq)]
pub struct Call {
    /// The routine.
    pub name: Name,
    /// What it is given.
    pub arguments: Vec<Argument>,
    /// Where; its own centre where nothing is said.
    pub at: Option<Expr>,
    /// `counted`: the main program works the places out itself, in a loop.
    pub counted: bool,
}

/// `passes level from a to b by s remainder last { ... }`
#[derive(Debug, Clone, PartialEq)]
pub struct Passes {
    /// The name of the value.
    pub value: Name,
    /// Start.
    pub from: Expr,
    /// Last value.
    pub to: Expr,
    /// Longest step.
    pub by: Expr,
    /// `remainder last`: whole steps, the rest in the last.
    pub remainder_last: bool,
    /// What is done at each.
    pub body: Block,
}

/// Where a move ends: a point, a height, or both.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// In the plane.
    pub point: Option<Expr>,
    /// `z e`
    pub z: Option<Expr>,
}

/// `ccw` or `cw`, seen from above.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Counterclockwise.
    Ccw,
    /// Clockwise.
    Cw,
}

/// An expression.
#[derive(Debug, Clone, PartialEq)]
pub struct Expr {
    /// What it is.
    pub kind: Box<ExprKind>,
    /// Where.
    pub span: Span,
}

/// What an expression is.
#[derive(Debug, Clone, PartialEq)]
pub enum ExprKind {
    /// `12`, `12.5mm`: the number as written, and its unit
    Number(Rational, Option<Unit>),
    /// `bore`
    Name(Name),
    /// `screw.seat`
    Field(Expr, Name),
    /// `min(a, b)`: arguments in order
    Call(Name, Vec<Expr>),
    /// `circle(count: 6, diameter: d)`: arguments by name
    CallNamed(Name, Vec<Argument>),
    /// `[p, q]`
    List(Vec<Expr>),
    /// `(x, y)`
    Point(Expr, Expr),
    /// `(radius at angle)`
    Polar(Expr, Expr),
    /// `(e)`
    Group(Expr),
    /// `-e`
    Negate(Expr),
    /// `not e`
    Not(Expr),
    /// `a + b`
    Binary(Binary, Expr, Expr),
    /// `a <= b`
    Compare(Compare, Expr, Expr),
    /// `if c then a else b`
    If(Expr, Expr, Expr),
    /// Not understood.
    Invalid,
}

/// A two-sided operator.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Binary {
    /// `+`
    Add,
    /// `-`
    Sub,
    /// `*`
    Mul,
    /// `/`
    Div,
    /// `and`
    And,
    /// `or`
    Or,
}

/// A comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Compare {
    /// `==`
    Equal,
    /// `!=`
    NotEqual,
    /// `<`
    Less,
    /// `<=`
    LessEqual,
    /// `>`
    Greater,
    /// `>=`
    GreaterEqual,
}
