//! A called routine put in at a place: arguments for parameters, names made different, points moved.

use std::collections::BTreeMap;

use crate::ir::lookup;
use crate::{
    Action, Call, Clause, Demand, Demands, Expr, Feature, Let, Made, Passes, Point, Promise, Requirement,
    Shape, Step, Symbol,
};

/// What a call does at one of its places, in the caller's names and coordinates. Heights are the same in
/// both: a place lies in the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Instance {
    /// Names for those arguments that are more than a number or a name; then every clause of the routine's
    /// head, in order.
    pub clauses: Vec<Clause>,
    /// The range of each parameter, as a requirement on its argument; the alarm names the parameter.
    pub ranges: Vec<Requirement>,
    /// What the routine demands of the cutter.
    pub demands: Option<Demands>,
    /// The features that it makes here.
    pub made: Vec<Made>,
    /// The features that it expects here.
    pub given: Vec<Feature>,
    /// The moves; the lets that they use stand in `clauses`.
    pub body: Vec<Step>,
}

/// How many bodies of each routine have been put in, so that names stay unique: the first one's `wall` is called
/// `finish_bore.wall`, the second one's `finish_bore.2.wall`.
#[derive(Debug, Clone, Default)]
pub struct Bodies {
    counts: BTreeMap<String, usize>,
}

impl Bodies {
    /// Counts one body more of a routine, and says what its names begin with.
    fn prefix(&mut self, routine: &str) -> String {
        let count = self.counts.entry(routine.to_owned()).or_default();
        *count += 1;
        if *count == 1 { routine.to_owned() } else { format!("{routine}.{count}") }
    }
}

impl Call {
    /// The steps of one call at one place: first the lets of its arguments and of its head, then its body.
    ///
    /// `bodies` counts those that are put in anywhere in the caller.
    #[must_use]
    pub fn body(&self, place: &Point, bodies: &mut Bodies) -> Vec<Step> {
        let Instance { clauses, body, .. } = self.instance(place, bodies);
        let lets = clauses.into_iter().filter_map(|clause| match clause {
            Clause::Let(l) => Some(Step { span: l.span, action: Action::Let(l) }),
            Clause::Require(_) => None,
        });
        lets.chain(body).collect()
    }

    /// All of the called routine at one place; `bodies` as in [`Call::body`].
    #[must_use]
    pub fn instance(&self, place: &Point, bodies: &mut Bodies) -> Instance {
        let prefix = bodies.prefix(&self.routine.name);
        let mut put = Putting { prefix, place, bound: Vec::new() };
        let mut clauses = Vec::new();
        let mut ranges = Vec::new();
        for parameter in &self.routine.parameters {
            let given = self.arguments.iter().find(|(s, _)| *s == parameter.symbol).map(|(_, e)| e.clone());
            let Some(value) = given.or_else(|| parameter.default.as_ref().map(|e| put.expr(e))) else {
                continue;
            };
            let plain = value.as_number().is_some() || value.as_symbol().is_some();
            let value = if plain {
                value
            } else {
                let symbol = put.rename(&parameter.symbol);
                let named = Expr::symbol(&symbol);
                let span = parameter.span;
                clauses.push(Clause::Let(Let { symbol, dimension: parameter.dimension, value, span }));
                named
            };
            put.bound.push((parameter.symbol.clone(), value));
            ranges.push(Requirement {
                condition: put.condition(&parameter.range()),
                alarm: format!("{} OUT OF RANGE", parameter.symbol.name().to_uppercase().replace('_', " ")),
                practice: false,
                span: parameter.span,
            });
        }
        clauses.extend(self.routine.head.iter().map(|clause| put.clause(clause)));
        Instance {
            clauses,
            ranges,
            demands: self.routine.demands.as_ref().map(|d| put.demands(d)),
            made: self.routine.made.iter().map(|m| put.made(m)).collect(),
            given: self.routine.given.iter().map(|f| put.feature(f)).collect(),
            body: put.steps(&self.routine.body),
        }
    }
}

impl Feature {
    /// The symbol that stands for 1, 2, ... in the place of a feature that is made at a number of places which
    /// is a parameter.
    #[must_use]
    pub fn pattern_index(name: &str) -> Symbol {
        Symbol::new(format!("{}{name}", Symbol::PLACES))
    }

    /// The symbol of how many places there are; a let of the head gives its value.
    #[must_use]
    pub fn pattern_count(index: &Symbol) -> Symbol {
        Symbol::new(format!("{}.count", index.name()))
    }

    /// The symbol of the radius of the circle on which the places lie, evenly; a let of the head gives its
    /// value. Neighbours are `2 * radius * sin(180deg / count)` apart, and no two places are nearer.
    #[must_use]
    pub fn pattern_radius(index: &Symbol) -> Symbol {
        Symbol::new(format!("{}.radius", index.name()))
    }

    /// The indices of a grid: that of its columns, along X, and that of its rows, along Y.
    #[must_use]
    pub fn grid_indices(name: &str) -> [Symbol; 2] {
        let index = Self::pattern_index(name);
        ["column", "row"].map(|along| Symbol::new(format!("{}.{along}", index.name())))
    }

    /// The symbol of the angle from one place to the next, where the places are part of a circle, and of the way from
    /// one to the next, where they are columns or rows; a let of the head gives its value. Without one they go all round.
    #[must_use]
    pub fn pattern_step(index: &Symbol) -> Symbol {
        Symbol::new(format!("{}.step", index.name()))
    }

    /// Where the number of places is a parameter: the indices that occur in the one point of `at`, which stands for a
    /// place for every whole value of each from 1 to its count, and the symbols of those counts. One for a circle, two for
    /// a grid, none for places in a list.
    #[must_use]
    pub fn pattern(&self) -> Vec<(Symbol, Symbol)> {
        // `at.seat` is the index of a feature, `at.seat.row` that of a grid; `at.1` is the counter of a call, and
        // `at.seat.row.step` a length, which a place may hold too.
        let is_index = |s: &Symbol| {
            let mut parts = s.name().split('.').skip_while(|part| *part != "at").skip(1);
            let of_feature = parts.next().is_some_and(|name| !name.starts_with(|c: char| c.is_ascii_digit()));
            of_feature && matches!((parts.next(), parts.next()), (None | Some("column" | "row"), None))
        };
        let mut indices: Vec<Symbol> = Vec::new();
        for symbol in self.at.iter().flat_map(|p| p.x.symbols().into_iter().chain(p.y.symbols())) {
            if is_index(&symbol) && !indices.contains(&symbol) {
                indices.push(symbol);
            }
        }
        let counted = |index: Symbol| (index.clone(), Self::pattern_count(&index));
        indices.into_iter().map(counted).collect()
    }
}

/// How a routine's names and points become the caller's.
struct Putting<'a> {
    prefix: String,
    place: &'a Point,
    bound: Vec<(Symbol, Expr)>,
}

impl Putting<'_> {
    fn rename(&self, symbol: &Symbol) -> Symbol {
        Symbol::new(format!("{}.{}", self.prefix, symbol.name()))
    }

    /// A parameter becomes its argument; the cutter is the caller's; every other name gets the prefix.
    fn symbol(&self, symbol: &Symbol) -> Option<Expr> {
        if symbol.name().starts_with("cutter.") {
            return None;
        }
        lookup(&self.bound, symbol).or_else(|| Some(Expr::symbol(&self.rename(symbol))))
    }

    fn expr(&self, e: &Expr) -> Expr {
        e.substitute(&|s| self.symbol(s))
    }

    fn optional(&self, e: Option<&Expr>) -> Option<Expr> {
        e.map(|e| self.expr(e))
    }

    fn condition(&self, c: &crate::Condition) -> crate::Condition {
        c.substitute(&|s| self.symbol(s))
    }

    fn point(&self, p: &Point) -> Point {
        self.place.plus(&p.substitute(&|s| self.symbol(s)))
    }

    fn named(&self, l: &Let) -> Let {
        Let {
            symbol: self.rename(&l.symbol),
            dimension: l.dimension,
            value: self.expr(&l.value),
            span: l.span,
        }
    }

    fn clause(&self, clause: &Clause) -> Clause {
        match clause {
            Clause::Let(l) => Clause::Let(self.named(l)),
            Clause::Require(r) => {
                Clause::Require(Requirement { condition: self.condition(&r.condition), ..r.clone() })
            }
        }
    }

    fn demands(&self, demands: &Demands) -> Demands {
        let rule = |d: &Demand| Demand { value: self.expr(&d.value), ..d.clone() };
        Demands { kind: demands.kind, rules: demands.rules.iter().map(rule).collect(), span: demands.span }
    }

    fn made(&self, made: &Made) -> Made {
        let promise = |p: &Promise| match p {
            Promise::Apart(wall) => Promise::Apart(self.expr(wall)),
            Promise::Within
            | Promise::Sized
            | Promise::Cleared
            | Promise::Smooth
            | Promise::Climb
            | Promise::Conventional => p.clone(),
        };
        Made {
            feature: self.feature(&made.feature),
            promises: made.promises.iter().map(|(p, span)| (promise(p), *span)).collect(),
        }
    }

    fn feature(&self, feature: &Feature) -> Feature {
        Feature {
            name: feature.name.clone(),
            shape: self.shape(&feature.shape),
            at: feature.at.iter().map(|p| self.point(p)).collect(),
            span: feature.span,
        }
    }

    fn shape(&self, shape: &Shape) -> Shape {
        match shape {
            Shape::Hole { diameter, floor, top, pilot } => Shape::Hole {
                diameter: self.expr(diameter),
                floor: self.expr(floor),
                top: self.expr(top),
                pilot: self.optional(pilot.as_ref()),
            },
            Shape::Boss { diameter, blank, floor, top } => Shape::Boss {
                diameter: self.expr(diameter),
                blank: self.expr(blank),
                floor: self.expr(floor),
                top: self.expr(top),
            },
            Shape::Thread { inside, major, minor, pitch, hand, floor, bottom, top, taper, error, lean } => {
                Shape::Thread {
                    inside: *inside,
                    major: self.expr(major),
                    minor: self.expr(minor),
                    pitch: self.expr(pitch),
                    hand: self.expr(hand),
                    floor: self.expr(floor),
                    bottom: self.expr(bottom),
                    top: self.expr(top),
                    taper: self.expr(taper),
                    error: self.expr(error),
                    lean: self.expr(lean),
                }
            }
            Shape::Face { diameter, floor, top } => {
                Shape::Face { diameter: self.expr(diameter), floor: self.expr(floor), top: self.expr(top) }
            }
            Shape::Chamfer { inside, diameter, width, angle, floor, top } => Shape::Chamfer {
                inside: *inside,
                diameter: self.expr(diameter),
                width: self.expr(width),
                angle: self.expr(angle),
                floor: self.expr(floor),
                top: self.expr(top),
            },
            Shape::Undercut { diameter, bore, floor, roof, bottom, top } => Shape::Undercut {
                diameter: self.expr(diameter),
                bore: self.expr(bore),
                floor: self.expr(floor),
                roof: self.expr(roof),
                bottom: self.expr(bottom),
                top: self.expr(top),
            },
            Shape::Ring { outer, inner, floor, top } => Shape::Ring {
                outer: self.expr(outer),
                inner: self.expr(inner),
                floor: self.expr(floor),
                top: self.expr(top),
            },
        }
    }

    fn steps(&self, steps: &[Step]) -> Vec<Step> {
        steps.iter().map(|step| Step { action: self.action(&step.action), span: step.span }).collect()
    }

    fn action(&self, action: &Action) -> Action {
        match action {
            Action::Let(l) => Action::Let(self.named(l)),
            Action::Retract | Action::Coolant(_) | Action::Stop(_) => action.clone(),
            Action::RapidTo(p) => Action::RapidTo(self.point(p)),
            Action::RapidZ(z) => Action::RapidZ(self.expr(z)),
            Action::Line { to, z, feed } => Action::Line {
                to: to.as_ref().map(|p| self.point(p)),
                z: self.optional(z.as_ref()),
                feed: self.optional(feed.as_ref()),
            },
            Action::Arc { way, to, z, about, feed } => Action::Arc {
                way: *way,
                to: self.point(to),
                z: self.optional(z.as_ref()),
                about: self.point(about),
                feed: self.optional(feed.as_ref()),
            },
            Action::Turn { way, z, about, feed } => Action::Turn {
                way: *way,
                z: self.optional(z.as_ref()),
                about: self.point(about),
                feed: self.optional(feed.as_ref()),
            },
            Action::Passes(passes) => Action::Passes(self.passes(passes)),
            Action::Repeat { index, count, body } => {
                Action::Repeat { index: self.rename(index), count: self.expr(count), body: self.steps(body) }
            }
            Action::Call(call) => Action::Call(Call {
                routine: call.routine.clone(),
                arguments: call.arguments.iter().map(|(s, e)| (s.clone(), self.expr(e))).collect(),
                at: call.at.iter().map(|p| self.point(p)).collect(),
                around: call.around.as_ref().map(|around| around.map(|e| self.expr(e))),
            }),
            Action::Dwell(e) => Action::Dwell(self.expr(e)),
            Action::With { tool, body } => Action::With { tool: *tool, body: self.steps(body) },
            Action::Spindle { way, speed } => Action::Spindle { way: *way, speed: self.expr(speed) },
        }
    }

    fn passes(&self, passes: &Passes) -> Passes {
        Passes {
            value: self.rename(&passes.value),
            index: self.rename(&passes.index),
            count: self.rename(&passes.count),
            from: self.expr(&passes.from),
            to: self.expr(&passes.to),
            by: self.expr(&passes.by),
            whole: passes.whole.as_ref().map(|e| self.expr(e)),
            body: self.steps(&passes.body),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use borewright_base::Span;
    use borewright_number::{Dimension, Rational};

    use super::*;
    use crate::{Condition, Motion, Parameter};

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    fn parameter(name: &str, default: Option<Expr>) -> Parameter {
        Parameter {
            symbol: Symbol::new(name),
            dimension: Dimension::LENGTH,
            whole: false,
            least: Rational::ONE,
            greatest: Rational::from(9),
            default,
            letter: None,
            meaning: String::new(),
            inch: false,
            words: Vec::new(),
            span: Span::default(),
        }
    }

    fn step(action: Action) -> Step {
        Step { action, span: Span::default() }
    }

    /// `drill(bore, lead = bore / 4)`: a let, a requirement, a pass, a move at the wall.
    fn drill() -> Motion {
        let wall = Let {
            symbol: Symbol::new("wall"),
            dimension: Dimension::LENGTH,
            value: n("bore") / Expr::from(2),
            span: Span::default(),
        };
        let small = Requirement {
            condition: Condition::less(n("lead"), n("wall")),
            alarm: "TOO BIG".to_owned(),
            practice: false,
            span: Span::default(),
        };
        let to = Point::new(n("wall"), n("level"));
        let passes = Passes {
            whole: None,
            value: Symbol::new("level"),
            index: Symbol::new("level.index"),
            count: Symbol::new("level.count"),
            from: Expr::zero(),
            to: -n("bore"),
            by: n("lead"),
            body: vec![step(Action::RapidTo(to)), step(Action::RapidZ(n("level") + n("cutter.diameter")))],
        };
        Motion {
            name: "drill".to_owned(),
            documentation: Vec::new(),
            span: Span::default(),
            inch: false,
            program: None,
            parameters: vec![parameter("bore", None), parameter("lead", Some(n("bore") / Expr::from(4)))],
            head: vec![Clause::Let(wall), Clause::Require(small)],
            demands: None,
            job: None,
            made: Vec::new(),
            given: Vec::new(),
            body: vec![step(Action::Passes(passes))],
        }
    }

    fn call(arguments: Vec<(Symbol, Expr)>) -> Call {
        Call { routine: Arc::new(drill()), arguments, at: vec![Point::centre()], around: None }
    }

    /// The lets of a body, then what its one loop moves to.
    fn shown(steps: &[Step]) -> Vec<String> {
        let mut out = Vec::new();
        for step in steps {
            if let Action::Let(l) = &step.action {
                out.push(format!("{} = {}", l.symbol, l.value));
            } else if let Action::Passes(p) = &step.action {
                out.push(format!("{} {} {} to {} by {}", p.value, p.index, p.count, p.to, p.by));
                out.extend(shown(&p.body));
            } else if let Action::RapidTo(p) = &step.action {
                out.push(format!("({}, {})", p.x, p.y));
            } else if let Action::RapidZ(z) = &step.action {
                out.push(format!("z {z}"));
            }
        }
        out
    }

    #[test]
    fn names_get_the_routines_prefix_and_points_move_by_the_place() {
        let call = call(vec![(Symbol::new("bore"), n("size"))]);
        let place = Point::new(Expr::from(70), n("across"));
        assert_eq!(
            shown(&call.body(&place, &mut Bodies::default())),
            [
                "drill.lead = size / 4",
                "drill.wall = size / 2",
                "drill.level drill.level.index drill.level.count to -size by drill.lead",
                "(70 + drill.wall, across + drill.level)",
                "z drill.level + cutter.diameter",
            ]
        );
    }

    #[test]
    fn a_second_body_has_other_names() {
        let call = call(vec![(Symbol::new("bore"), n("size")), (Symbol::new("lead"), Expr::from(2))]);
        let mut bodies = Bodies::default();
        let first = shown(&call.body(&Point::centre(), &mut bodies));
        assert_eq!(first[0], "drill.wall = size / 2");
        let second = shown(&call.body(&Point::centre(), &mut bodies));
        assert_eq!(second[0], "drill.2.wall = size / 2");
        assert_eq!(second[1], "drill.2.level drill.2.level.index drill.2.level.count to -size by 2");
    }

    #[test]
    fn an_argument_that_uses_a_name_of_the_routine_is_not_caught_by_it() {
        // The caller's own `wall` and `lead` are not the routine's.
        let call = call(vec![(Symbol::new("bore"), n("wall") + n("lead"))]);
        let steps = shown(&call.body(&Point::centre(), &mut Bodies::default()));
        assert_eq!(steps[0], "drill.bore = wall + lead");
        assert_eq!(steps[1], "drill.lead = drill.bore / 4");
        assert_eq!(steps[2], "drill.wall = drill.bore / 2");
    }

    #[test]
    fn requirements_and_ranges_speak_of_the_arguments() {
        let call = call(vec![(Symbol::new("bore"), n("size"))]);
        let instance = call.instance(&Point::centre(), &mut Bodies::default());
        let ranges: Vec<String> = instance.ranges.iter().map(|r| r.condition.to_string()).collect();
        assert_eq!(ranges, ["size >= 1 and size <= 9", "drill.lead >= 1 and drill.lead <= 9"]);
        assert_eq!(instance.ranges[1].alarm, "LEAD OUT OF RANGE");
        let required = instance.clauses.iter().find_map(|c| match c {
            Clause::Require(r) => Some(r.condition.to_string()),
            Clause::Let(_) => None,
        });
        assert_eq!(required.as_deref(), Some("drill.lead < drill.wall"));
    }

    #[test]
    fn a_feature_at_a_number_of_places_that_is_a_parameter_names_its_index() {
        let index = Feature::pattern_index("seat");
        let feature = Feature {
            name: "seat".to_owned(),
            shape: Shape::Hole {
                diameter: Expr::from(10),
                floor: Expr::from(-5),
                top: Expr::zero(),
                pilot: None,
            },
            at: vec![Point::new(Expr::from(20) * Expr::symbol(&index), Expr::zero())],
            span: Span::default(),
        };
        assert_eq!(feature.pattern(), [(index.clone(), Feature::pattern_count(&index))]);
        let listed = Feature { at: vec![Point::new(n("across"), Expr::zero())], ..feature };
        assert_eq!(listed.pattern(), []);
        let called = Feature { at: vec![Point::new(n("seats.at.1"), Expr::zero())], ..listed };
        assert_eq!(called.pattern(), []);
        let [column, row] = Feature::grid_indices("seat");
        let wide = Expr::symbol(&Feature::pattern_step(&column));
        let grid =
            Feature { at: vec![Point::new(Expr::symbol(&column) * wide, Expr::symbol(&row))], ..called };
        assert_eq!(grid.pattern().into_iter().map(|(index, _)| index).collect::<Vec<_>>(), [column, row]);
    }
}
