//! Calls replaced by what they do, with a name for each centre that has to be worked out.

use borewright_base::Span;
use borewright_motion::{Action, Bodies, Expr, Let, Passes, Point, Step, Symbol};
use borewright_number::Dimension;

/// One of the axes of the plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Axis {
    X,
    Y,
}

/// The steps with every call replaced by what it does at each of its places.
pub(super) fn inline_calls(steps: &[Step]) -> Vec<Step> {
    Inliner::default().steps(steps)
}

/// The axis, where the symbol is the name of a centre's coordinate. `at` is a word of the language, and what it counts
/// has no number behind the axis, so that no other name looks like this.
pub(super) fn of_centre(symbol: &Symbol) -> Option<Axis> {
    let (axis, number) = symbol.name().strip_prefix(Symbol::PLACES)?.split_once('.')?;
    match axis {
        "x" => Some(Axis::X),
        "y" => Some(Axis::Y),
        _ => None,
    }
    .filter(|_| number.starts_with(|c: char| c.is_ascii_digit()))
}

/// The one name of a centre's coordinate in an expression.
pub(super) fn centre_in(expr: &Expr) -> Option<Symbol> {
    expr.symbols().into_iter().find(|s| of_centre(s).is_some())
}

/// What a name is called in a comment.
pub(super) fn told(symbol: &Symbol) -> &str {
    match of_centre(symbol) {
        Some(Axis::X) => "X OF THE CENTRE",
        Some(Axis::Y) => "Y OF THE CENTRE",
        None => symbol.name(),
    }
}

#[derive(Default)]
struct Inliner {
    bodies: Bodies,
    /// How many centres have names.
    centres: usize,
}

impl Inliner {
    fn steps(&mut self, steps: &[Step]) -> Vec<Step> {
        let mut inlined = Vec::new();
        for step in steps {
            let mut step = step.clone();
            match &mut step.action {
                Action::Call(call) => {
                    for place in &call.at {
                        let place = self.named(place, step.span, &mut inlined);
                        let body = call.body(&place, &mut self.bodies);
                        inlined.extend(self.steps(&body));
                    }
                    continue;
                }
                Action::Passes(passes) if passes.is_single() => {
                    let body = self.steps(&passes.body);
                    inlined.extend(one_pass(passes, step.span));
                    inlined.extend(body);
                    continue;
                }
                Action::Passes(passes) => passes.body = self.steps(&passes.body),
                Action::Repeat { body, .. } | Action::With { body, .. } => *body = self.steps(body),
                Action::Let(_)
                | Action::Retract
                | Action::RapidTo(_)
                | Action::RapidZ(_)
                | Action::Line { .. }
                | Action::Arc { .. }
                | Action::Turn { .. }
                | Action::Dwell(_)
                | Action::Spindle { .. }
                | Action::Coolant(_)
                | Action::Stop(_) => {}
            }
            inlined.push(step);
        }
        inlined
    }

    /// The place with names for coordinates that are more than numbers: all that happens there is written from one
    /// centre, so that what rounding makes of it is the same for start, end and centre of an arc.
    fn named(&mut self, place: &Point, span: Span, lets: &mut Vec<Step>) -> Point {
        self.centres += 1;
        let mut name = |value: &Expr, axis: &str| {
            if value.as_number().is_some() || value.as_symbol().is_some_and(|s| of_centre(s).is_some()) {
                return value.clone();
            }
            let symbol = Symbol::new(format!("{}{axis}.{}", Symbol::PLACES, self.centres));
            let named = Expr::symbol(&symbol);
            let value = value.clone();
            let action = Action::Let(Let { symbol, dimension: Dimension::LENGTH, value, span });
            lets.push(Step { action, span });
            named
        };
        Point::new(name(&place.x, "x"), name(&place.y, "y"))
    }
}

/// The names of a loop that has one turn.
fn one_pass(passes: &Passes, span: Span) -> [Step; 3] {
    let one = || Expr::from(1);
    let names = [
        (&passes.index, one(), Dimension::RATIO),
        (&passes.count, one(), Dimension::RATIO),
        (&passes.value, passes.to.clone(), Dimension::LENGTH),
    ];
    names.map(|(symbol, value, dimension)| Step {
        action: Action::Let(Let { symbol: symbol.clone(), dimension, value, span }),
        span,
    })
}
