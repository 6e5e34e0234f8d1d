//! The head of a motion: parameters, lets and requirements, demands, features.

use borewright_base::Span;
use borewright_check::typed::{self, Domain, Head, Places, RoutineId, Table};
use borewright_motion::{
    Around, Clause, Condition, CutterKind, Demand, Demands, Expr, Feature, Field, Job, Let, Made, Motion,
    Parameter, Point, Promise, Relation, Requirement, Shape, Symbol, Tool,
};
use borewright_number::{Dimension, Rational};

use crate::expr::{field, relation};
use crate::names::Names;
use crate::{Lowering, inherit};

/// One routine on its way to a motion.
pub(crate) struct Lower<'r, 'a> {
    pub(crate) run: &'r mut Lowering<'a>,
    routine: &'a typed::Routine,
    pub(crate) names: Names,
    /// Lets for the columns of a row that is a parameter, in the order of their first use.
    columns: Vec<Let>,
    /// Number and radius of the places of each feature whose number of places is a parameter.
    counts: Vec<Let>,
    /// How many calls at such places there are so far.
    pub(crate) patterns: usize,
    /// Defaults stand before every let, so columns are written out in them.
    pub(crate) in_parameters: bool,
    /// Something could not be lowered; it has been reported.
    pub(crate) failed: bool,
}

/// A line of the head; what a callee requires is known only when the body is.
enum Line {
    Clause(Clause),
    All(RoutineId, Span),
}

impl<'r, 'a> Lower<'r, 'a> {
    pub(crate) fn new(run: &'r mut Lowering<'a>, routine: &'a typed::Routine) -> Self {
        let names = Names::new(run.checked);
        Self {
            run,
            routine,
            names,
            columns: Vec::new(),
            counts: Vec::new(),
            patterns: 0,
            in_parameters: false,
            failed: false,
        }
    }

    /// The whole routine, top to bottom; `None` after an error, here or in a routine that it calls.
    pub(crate) fn run(mut self) -> Option<Motion> {
        let routine = self.routine;
        self.in_parameters = true;
        let parameters: Vec<Parameter> = routine.parameters.iter().map(|p| self.parameter(p)).collect();
        self.in_parameters = false;
        let program = self.optional(routine.program.as_ref());
        let lines: Vec<Line> = routine.head.iter().flat_map(|h| self.head_line(h)).collect();
        let mut demands = routine.demands.as_ref().map(|d| self.demands(d));
        let job = routine.job.as_ref().map(|j| self.job(j));
        let made = routine.made.iter().map(|m| self.made(m)).collect();
        let given = routine.given.iter().map(|f| self.feature(f)).collect();
        let body = self.block(&routine.body)?;
        let mut head = self.table_clauses();
        for line in lines {
            match line {
                Line::Clause(clause) => head.push(clause),
                Line::All(id, span) => {
                    let callee = self.run.routine(id)?;
                    let taken = inherit::requirements(&callee, &body, &parameters, span);
                    let added = taken.and_then(|t| t.add_to(&mut head, &mut demands, &parameters));
                    if let Err(diagnostic) = added {
                        let _said = self.run.diagnostics.report(*diagnostic);
                        self.failed = true;
                    }
                }
            }
        }
        let demands = demands.map(straight);
        head.extend(std::mem::take(&mut self.counts).into_iter().map(Clause::Let));
        (!self.failed).then(|| Motion {
            name: routine.name.clone(),
            documentation: routine.documentation.clone(),
            span: routine.span,
            inch: routine.inch,
            program,
            parameters,
            head,
            demands,
            job,
            made,
            given,
            body,
        })
    }

    fn parameter(&mut self, p: &typed::Parameter) -> Parameter {
        let mut meaning = p.meaning.clone();
        let one = Rational::ONE;
        let count = |n: usize| Rational::from(i64::try_from(n).unwrap_or(i64::MAX));
        let (dimension, whole, least, greatest) = match &p.domain {
            Domain::Number { dimension, whole, least, greatest } => {
                (*dimension, *whole, least.clone(), greatest.clone())
            }
            Domain::Choice(words) => {
                let codes = words.iter().enumerate().map(|(i, word)| format!("{} {word}", i + 1));
                explain(&mut meaning, &codes.collect::<Vec<_>>().join(", "));
                (Dimension::RATIO, true, one, count(words.len()))
            }
            Domain::Row(table) => {
                explain(&mut meaning, &keys_text(table));
                let keys = (0..table.rows.len()).map(|row| table.key(row));
                let (least, greatest) =
                    (keys.clone().min().unwrap_or(one), keys.max().unwrap_or(Rational::ONE));
                let (dimension, whole) = key_type(table);
                (dimension, whole, least, greatest)
            }
            // A sound routine has none.
            Domain::Invalid => (Dimension::RATIO, false, Rational::ZERO, Rational::ZERO),
        };
        Parameter {
            symbol: Names::symbol(&p.name),
            dimension,
            whole,
            least,
            greatest,
            default: p.default.as_ref().map(|d| self.argument(d)),
            letter: p.letter,
            meaning,
            inch: p.inch,
            words: words(&p.domain),
            span: p.span,
        }
    }

    /// A column of a row that is a parameter gets a name when it is first used.
    pub(crate) fn name_column(&mut self, symbol: &Symbol, dimension: Dimension, value: Expr) {
        if !self.columns.iter().any(|l| l.symbol == *symbol) {
            let span = self.routine.span;
            self.columns.push(Let { symbol: symbol.clone(), dimension, value, span });
        }
    }

    /// What a parameter of a table's type brings: it must be the key of a row; then its columns.
    fn table_clauses(&mut self) -> Vec<Clause> {
        let mut clauses = Vec::new();
        for p in &self.routine.parameters {
            let Domain::Row(table) = &p.domain else { continue };
            if !table.keyed_by_column() || table.rows.len() < 2 {
                continue;
            }
            let symbol = Expr::symbol(&Names::symbol(&p.name));
            let keys = (0..table.rows.len()).map(|row| Expr::number(table.key(row)));
            clauses.push(Clause::Require(Requirement {
                condition: Condition::any(keys.map(|key| Condition::equal(symbol.clone(), key))),
                alarm: format!("{} NOT IN TABLE", p.name.to_uppercase().replace('_', " ")),
                practice: false,
                span: p.span,
            }));
        }
        clauses.extend(std::mem::take(&mut self.columns).into_iter().map(Clause::Let));
        clauses
    }

    fn head_line(&mut self, line: &Head) -> Vec<Line> {
        match line {
            Head::Let(l) => self.named(l).into_iter().map(|l| Line::Clause(Clause::Let(l))).collect(),
            Head::Requires { condition, alarm, practice, span } => {
                let condition = self.condition(condition);
                let requirement =
                    Requirement { condition, alarm: alarm.clone(), practice: *practice, span: *span };
                vec![Line::Clause(Clause::Require(requirement))]
            }
            Head::RequiresAll { routine, span } => vec![Line::All(*routine, *span)],
        }
    }

    fn demands(&mut self, demands: &typed::Demands) -> Demands {
        let rules = demands.rules.iter().map(|d| Demand {
            field: field(d.field),
            relation: relation(d.relation),
            value: self.expr(&d.value),
            span: d.span,
        });
        Demands { rules: rules.collect(), kind: kind(demands.kind), span: demands.span }
    }

    fn job(&mut self, job: &typed::Job) -> Job {
        let tools = job.tools.iter().map(|tool| Tool {
            name: tool.name.clone(),
            kind: kind(tool.kind),
            fields: tool.fields.iter().map(|(f, e)| (field(*f), self.expr(e))).collect(),
            span: tool.span,
        });
        let tools = tools.collect();
        Job { work: self.expr(&job.work), travel: self.expr(&job.travel), tools }
    }

    fn made(&mut self, made: &typed::Made) -> Made {
        let promises = made.promises.iter().map(|(p, span)| {
            let promise = match p {
                typed::Promise::Within => Promise::Within,
                typed::Promise::Sized => Promise::Sized,
                typed::Promise::Cleared => Promise::Cleared,
                typed::Promise::Smooth => Promise::Smooth,
                typed::Promise::Climb => Promise::Climb,
                typed::Promise::Conventional => Promise::Conventional,
                typed::Promise::Apart(wall) => Promise::Apart(self.expr(wall)),
            };
            (promise, *span)
        });
        let promises = promises.collect();
        Made { feature: self.feature(&made.feature), promises }
    }

    fn feature(&mut self, feature: &typed::Feature) -> Feature {
        let mut of = |e: &typed::Expr| self.expr(e);
        let shape = match &feature.shape {
            typed::Shape::Hole { diameter, floor, top, pilot } => {
                let pilot = pilot.as_ref().map(&mut of);
                Shape::Hole { diameter: of(diameter), floor: of(floor), top: of(top), pilot }
            }
            typed::Shape::Boss { diameter, blank, floor, top } => {
                Shape::Boss { diameter: of(diameter), blank: of(blank), floor: of(floor), top: of(top) }
            }
            typed::Shape::Thread {
                inside,
                major,
                minor,
                pitch,
                hand,
                floor,
                bottom,
                top,
                taper,
                error,
                lean,
            } => Shape::Thread {
                inside: *inside,
                major: of(major),
                minor: of(minor),
                pitch: of(pitch),
                hand: of(hand),
                floor: of(floor),
                bottom: of(bottom),
                top: of(top),
                taper: of(taper),
                error: of(error),
                lean: of(lean),
            },
            typed::Shape::Face { diameter, floor, top } => {
                Shape::Face { diameter: of(diameter), floor: of(floor), top: of(top) }
            }
            typed::Shape::Chamfer { inside, diameter, width, angle, floor, top } => Shape::Chamfer {
                inside: *inside,
                diameter: of(diameter),
                width: of(width),
                angle: of(angle),
                floor: of(floor),
                top: of(top),
            },
            typed::Shape::Undercut { diameter, bore, floor, roof, bottom, top } => Shape::Undercut {
                diameter: of(diameter),
                bore: of(bore),
                floor: of(floor),
                roof: of(roof),
                bottom: of(bottom),
                top: of(top),
            },
            typed::Shape::Ring { outer, inner, floor, top } => {
                Shape::Ring { outer: of(outer), inner: of(inner), floor: of(floor), top: of(top) }
            }
        };
        let (name, span) = (feature.name.clone(), feature.span);
        Feature { at: self.feature_places(&name, &feature.at, span), name, shape, span }
    }

    /// Where a feature is: each place, or one for every value of a symbol where their number is a parameter
    /// (see [`Feature::pattern`]).
    fn feature_places(&mut self, name: &str, places: &Places, span: Span) -> Vec<Point> {
        if let Places::Grid { columns, rows, wide, high } = places {
            return self.grid_places(name, [(columns, wide), (rows, high)], span);
        }
        let Places::Circle { count, step, diameter, .. } = places else { return self.listed(places) };
        let number = self.expr(count);
        if number.as_number().is_some() {
            return self.listed(places);
        }
        let index = Feature::pattern_index(name);
        let place = self.on_circle(places, &Expr::symbol(&index));
        let symbol = Feature::pattern_count(&index);
        self.counts.push(Let { symbol, dimension: Dimension::RATIO, value: number, span });
        if let Some(step) = step {
            let symbol = Feature::pattern_step(&index);
            let value = self.expr(step);
            self.counts.push(Let { symbol, dimension: Dimension::ANGLE, value, span });
        }
        let symbol = Feature::pattern_radius(&index);
        let radius = self.expr(diameter) / Expr::from(2);
        self.counts.push(Let { symbol, dimension: Dimension::LENGTH, value: radius, span });
        vec![place]
    }

    fn grid_places(&mut self, name: &str, ways: [(&typed::Expr, &typed::Expr); 2], span: Span) -> Vec<Point> {
        let [columns, rows] = ways.map(|(count, way)| (self.expr(count), self.expr(way)));
        if columns.0.as_number().is_some() && rows.0.as_number().is_some() {
            return listed_grid(&columns, &rows);
        }
        let indices = Feature::grid_indices(name);
        for (index, (count, way)) in indices.iter().zip([&columns, &rows]) {
            let mut give = |symbol: Symbol, dimension, value: &Expr| {
                self.counts.push(Let { symbol, dimension, value: value.clone(), span });
            };
            give(Feature::pattern_count(index), Dimension::RATIO, count);
            give(Feature::pattern_step(index), Dimension::LENGTH, way);
        }
        let named = |index: &Symbol, (_, way): &(Expr, Expr)| {
            // A way that comes out as 0 would hide that there are several places.
            let hidden = way.as_number().is_some_and(Rational::is_zero);
            if hidden { Expr::symbol(&Feature::pattern_step(index)) } else { way.clone() }
        };
        let [column, row] = &indices;
        let (wide, high) = (named(column, &columns), named(row, &rows));
        vec![in_grid((&Expr::symbol(column), &wide), (&Expr::symbol(row), &high))]
    }

    /// The places, one by one; none where their number is not known.
    pub(crate) fn listed(&mut self, places: &Places) -> Vec<Point> {
        match places {
            Places::List(points) => points.iter().map(|p| self.point(p)).collect(),
            Places::Circle { count, .. } => {
                let number = self.expr(count).as_number().and_then(Rational::to_i64).unwrap_or(0);
                (1..=number).map(|i| self.on_circle(places, &Expr::number(Rational::from(i)))).collect()
            }
            Places::Grid { columns, rows, wide, high } => {
                let [columns, rows] =
                    [(columns, wide), (rows, high)].map(|(n, way)| (self.expr(n), self.expr(way)));
                listed_grid(&columns, &rows)
            }
        }
    }

    /// Place `index`, from 1, on a circle.
    pub(crate) fn on_circle(&mut self, circle: &Places, index: &Expr) -> Point {
        let Places::Circle { count, diameter, first, step, .. } = circle else { return Point::centre() };
        let (radius, first) = (self.expr(diameter) / Expr::from(2), self.expr(first));
        let before = index.clone() - Expr::from(1);
        let turned = match step {
            Some(step) => self.expr(step) * before,
            None => Expr::from(360) * before / self.expr(count),
        };
        Point::polar(&radius, &(first + turned))
    }

    /// The circle on which places lie.
    pub(crate) fn around(&mut self, circle: &Places) -> Option<Around<Expr>> {
        let Places::Circle { count, diameter, first, step, .. } = circle else { return None };
        let step = match step {
            Some(step) => self.expr(step),
            None => Expr::from(360) / self.expr(count),
        };
        Some(Around { radius: self.expr(diameter) / Expr::from(2), first: self.expr(first), step })
    }
}

/// The place in that column and row of a grid, both from 1, and the ways between them.
pub(crate) fn in_grid((column, wide): (&Expr, &Expr), (row, high): (&Expr, &Expr)) -> Point {
    let from_first = |index: &Expr, way: &Expr| (index.clone() - Expr::from(1)) * way.clone();
    Point::new(from_first(column, wide), from_first(row, high))
}

/// The places of a grid one by one, column by column; none where a number is not known.
fn listed_grid((columns, wide): &(Expr, Expr), (rows, high): &(Expr, Expr)) -> Vec<Point> {
    let numbers = |count: &Expr| {
        let count = count.as_number().and_then(Rational::to_i64).unwrap_or(0);
        (1..=count).map(|i| Expr::number(Rational::from(i)))
    };
    let column = |i: Expr| numbers(rows).map(move |j| in_grid((&i, wide), (&j, high)));
    numbers(columns).flat_map(column).collect()
}

/// A thread cutter is straight where nothing else is said of it, by the routine or by what it calls.
fn straight(mut demands: Demands) -> Demands {
    let said = demands.rules.iter().any(|r| r.field == Field::Taper);
    if demands.kind == CutterKind::Thread && !said {
        let (relation, value) = (Relation::Equal, Expr::zero());
        demands.rules.push(Demand { field: Field::Taper, relation, value, span: demands.span });
    }
    demands
}

fn kind(kind: typed::CutterKind) -> CutterKind {
    match kind {
        typed::CutterKind::Flat => CutterKind::Flat,
        typed::CutterKind::Corner => CutterKind::Corner,
        typed::CutterKind::Ball => CutterKind::Ball,
        typed::CutterKind::Point => CutterKind::Point,
        typed::CutterKind::Thread => CutterKind::Thread,
        typed::CutterKind::Disc => CutterKind::Disc,
    }
}

/// The words by which a value of a choice, or a row of a table, goes.
fn words(domain: &Domain) -> Vec<(String, Rational)> {
    match domain {
        Domain::Choice(words) => words.iter().zip(1..).map(|(w, code)| (w.clone(), code.into())).collect(),
        Domain::Row(table) => {
            table.rows.iter().enumerate().map(|(i, row)| (row.name.clone(), table.key(i))).collect()
        }
        Domain::Number { .. } | Domain::Invalid => Vec::new(),
    }
}

/// Adds what the numbers of a choice stand for.
fn explain(meaning: &mut String, codes: &str) {
    if !meaning.is_empty() {
        meaning.push_str(": ");
    }
    meaning.push_str(codes);
}

/// `5 M5, 6 M6`
fn keys_text(table: &Table) -> String {
    let rows = table.rows.iter().enumerate();
    rows.map(|(i, row)| format!("{} {}", table.key(i).decimal_text(4), row.name))
        .collect::<Vec<_>>()
        .join(", ")
}

/// What the number that names a row measures, and whether it is whole.
pub(crate) fn key_type(table: &Table) -> (Dimension, bool) {
    match table.columns.first() {
        Some((_, typed::ColumnType::Number { dimension, whole })) if table.keyed_by_column() => {
            (*dimension, *whole)
        }
        Some((
            _,
            typed::ColumnType::Number { .. } | typed::ColumnType::Choice(_) | typed::ColumnType::Row(_),
        ))
        | None => (Dimension::RATIO, true),
    }
}
