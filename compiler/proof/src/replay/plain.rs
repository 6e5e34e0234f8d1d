//! Faults that the numbers of one formula tell, or the measures of one move.

use borewright_motion::{
    Call, Clause, Condition, Environment, Expr, Field, Motion, Node, Parameter, Promise, Relation, Step,
    Symbol, calls, evaluate_with,
};
use borewright_number::{Dimension, Interval};

use super::look::{Finding, Look};
use super::measure::{Course, middle};
use super::{joint, wall, words};
use crate::Kind;

/// What a rule finds for one kind of obligation.
type Rule = fn(&Look<'_>) -> Finding;

/// How the fault of each kind is told; a kind that is not here has none that can be measured.
const RULES: &[(Kind, Rule)] = &[
    (Kind::Wall, wall::walls),
    (Kind::Floor, wall::floor),
    (Kind::Joint, joint::check),
    (Kind::Dwell, joint::check),
    (Kind::ArcRadii, |look| told_as(look, radii(look))),
    (Kind::ArcSize, |look| told_as(look, arc_size(look))),
    (Kind::Default, |look| told_as(look, default(look))),
    (Kind::Divisor, |look| told_as(look, divisor(look))),
    (Kind::Domain, |look| told_as(look, domain(look))),
    (Kind::Ends, |look| told_as(look, ends(look))),
    (Kind::Feed, |look| told_as(look, feed(look))),
    (Kind::Shank, |look| told_as(look, shank(look))),
    (Kind::Web, |look| told_as(look, web(look))),
    (Kind::Argument, |look| told_as(look, argument(look))),
    (Kind::Requirement, |look| told_as(look, requirement(look))),
    (Kind::Cutter, |look| told_as(look, cutter(look))),
    (Kind::Travel, |look| told_as(look, travel(look))),
    (Kind::Inside, |look| told_as(look, inside(look))),
    (Kind::Pilot, |look| told_as(look, pilot(look))),
];

/// What is wrong, where the formula is exact.
pub(super) fn check(look: &Look<'_>) -> Finding {
    let rule = RULES.iter().find(|(kind, _)| *kind == look.obligation.kind);
    rule.map_or(Finding::Unclear, |(_, rule)| rule(look))
}

fn told_as(look: &Look<'_>, text: Option<String>) -> Finding {
    text.map_or(Finding::Unclear, |text| look.fault(text))
}

fn ends(look: &Look<'_>) -> Option<String> {
    let (step, ..) = compared(look)?;
    Some(format!("the passes never end: their step is {}", look.length(middle(step))))
}

fn travel(look: &Look<'_>) -> Option<String> {
    let by = shortfall(look, &look.obligation.formula.goal)?;
    Some(format!("the travel height is {} too low", look.length(by)))
}

fn inside(look: &Look<'_>) -> Option<String> {
    let by = shortfall(look, &look.obligation.formula.goal)?;
    Some(format!("the call removes metal up to {} outside the feature", look.length(by)))
}

/// Both sides of a goal that is one comparison.
fn compared(look: &Look<'_>) -> Option<(Interval, Interval, Relation)> {
    let Condition::Compare(relation, a, b) = &look.obligation.formula.goal else { return None };
    Some((look.number(a)?, look.number(b)?, *relation))
}

fn radii(look: &Look<'_>) -> Option<String> {
    look.moves().into_iter().find_map(|(_, m)| {
        let Course::Arc { centre, from, to, .. } = m.course else { return None };
        let (start, end) = (from.distance(centre), to.distance(centre));
        let by = (start - end).abs();
        (by.lo > 0.0).then(|| {
            let [start, end] = [start, end].map(|r| look.length(middle(r)));
            format!(
                "the arc's radii differ by {}: {start} where it begins, {end} where it ends",
                look.length(middle(by))
            )
        })
    })
}

fn arc_size(look: &Look<'_>) -> Option<String> {
    look.moves().into_iter().find_map(|(_, m)| {
        let Course::Arc { centre, from, .. } = m.course else { return None };
        Some(format!("the arc's radius is only {}", look.length(middle(from.distance(centre)))))
    })
}

fn default(look: &Look<'_>) -> Option<String> {
    let parameter = look.motion.parameters.iter().find(|p| Some(p.span) == look.obligation.because)?;
    let value = look.number(parameter.default.as_ref()?)?;
    Some(format!(
        "the default of `{}` is {}, {}",
        parameter.symbol,
        told(look, parameter, value),
        range(parameter, value)?
    ))
}

fn told(look: &Look<'_>, parameter: &Parameter, value: Interval) -> String {
    let _ = look;
    words::quantity(value, parameter.dimension, parameter.inch)
}

/// `below its least, 0.2mm`
fn range(parameter: &Parameter, value: Interval) -> Option<String> {
    let [least, greatest] = [&parameter.least, &parameter.greatest].map(Interval::from_rational);
    let text = |v: Interval| words::quantity(v, parameter.dimension, parameter.inch);
    if value.hi < least.lo {
        Some(format!("below its least of {}", text(least)))
    } else if value.lo > greatest.hi {
        Some(format!("above its greatest of {}", text(greatest)))
    } else {
        None
    }
}

fn divisor(look: &Look<'_>) -> Option<String> {
    let Condition::Compare(_, by, _) = &look.obligation.formula.goal else { return None };
    Some(format!("this divides by `{by}`, which is 0"))
}

fn domain(look: &Look<'_>) -> Option<String> {
    let Condition::Compare(Relation::GreaterEqual, root, _) = &look.obligation.formula.goal else {
        return None;
    };
    let value = look.number(root)?;
    let value = words::quantity(value, Dimension::RATIO, look.inch());
    Some(format!("this has no value: a root is taken of `{root}`, which is {value}"))
}

fn feed(look: &Look<'_>) -> Option<String> {
    let part = failing(look, &look.obligation.formula.goal)?;
    let Condition::Compare(_, feed, _) = part else { return None };
    let feed = words::quantity(look.number(feed)?, Dimension::FEED, look.inch());
    Some(format!("the feed is {feed}"))
}

/// The first comparison that fails.
fn failing<'c>(look: &Look<'_>, condition: &'c Condition) -> Option<&'c Condition> {
    match condition {
        Condition::Compare(relation, a, b) => {
            let fails = look.value(a)?.relates(*relation, &look.value(b)?) == Some(false);
            fails.then_some(condition)
        }
        Condition::And(parts) | Condition::Or(parts) => parts.iter().find_map(|p| failing(look, p)),
        Condition::True | Condition::False | Condition::Not(_) => None,
    }
}

fn shank(look: &Look<'_>) -> Option<String> {
    let scene = look.scene?;
    let top = scene.top();
    let low = look.moves().iter().filter_map(|(_, m)| Some(middle(m.to?))).fold(f64::INFINITY, f64::min);
    let reach = look.number(&Expr::symbol(&Field::Reach.symbol()))?;
    let (deep, reach) = (top - low, middle(reach));
    (deep > reach && deep.is_finite()).then(|| {
        format!("the cutter goes {} deep, and reaches only {}", look.length(deep), look.length(reach))
    })
}

fn web(look: &Look<'_>) -> Option<String> {
    let asked = look.motion.made.iter().flat_map(|m| &m.promises).find_map(|(promise, span)| match promise {
        Promise::Apart(web) if Some(*span) == look.obligation.because => Some(look.number(web)),
        Promise::Apart(_)
        | Promise::Within
        | Promise::Sized
        | Promise::Cleared
        | Promise::Smooth
        | Promise::Climb
        | Promise::Conventional => None,
    });
    let asked = asked.flatten()?;
    let bodies = look.bodies();
    let pairs = bodies.iter().enumerate().flat_map(|(i, a)| bodies.iter().skip(i + 1).map(move |b| (a, b)));
    let thin =
        pairs.map(|(a, b)| middle(a.centre.distance(b.centre) - a.outer - b.outer)).reduce(f64::min)?;
    let asked = middle(asked);
    if thin <= 0.0 {
        Some(format!("two places overlap by {}", look.length(-thin)))
    } else if thin < asked {
        Some(format!(
            "the wall between two places is only {} thick, not {}",
            look.length(thin),
            look.length(asked)
        ))
    } else {
        None
    }
}

/// By how much a length falls short, where the condition compares plain lengths.
fn shortfall(look: &Look<'_>, condition: &Condition) -> Option<f64> {
    match condition {
        Condition::Compare(relation, a, b) => {
            if squares(a) || squares(b) || look.value(a)?.relates(*relation, &look.value(b)?) != Some(false) {
                return None;
            }
            Some(middle((look.number(a)? - look.number(b)?).abs()))
        }
        Condition::And(parts) => parts.iter().filter_map(|p| shortfall(look, p)).reduce(f64::max),
        Condition::Or(parts) => {
            let all: Option<Vec<f64>> = parts.iter().map(|p| shortfall(look, p)).collect();
            all?.into_iter().reduce(f64::min)
        }
        Condition::True | Condition::False | Condition::Not(_) => None,
    }
}

/// Whether lengths are multiplied with each other.
fn squares(e: &Expr) -> bool {
    let mut found = false;
    e.walk(&mut |part| {
        if let Node::Mul(a, b) = part.node() {
            found |= !a.symbols().is_empty() && !b.symbols().is_empty() || a == b;
        }
    });
    found
}

fn pilot(look: &Look<'_>) -> Option<String> {
    let part = failing(look, &look.obligation.formula.goal)?;
    let Condition::Compare(relation, there, asked) = part else { return None };
    let (there, asked) = (look.number(there)?, look.number(asked)?);
    let [there, asked] = [there, asked].map(|v| look.length(middle(v)));
    Some(match relation {
        Relation::GreaterEqual => {
            format!("the hole that the call starts from is {there} wide where {asked} are asked for")
        }
        Relation::LessEqual | Relation::Equal | Relation::NotEqual | Relation::Less | Relation::Greater => {
            format!("the hole that the call starts from ends at z {there}, above z {asked}")
        }
    })
}

/// A call with its own names and their values.
struct Called<'a> {
    call: &'a Call,
    env: Environment,
}

/// The call at the obligation's step whose routine has the text that the obligation serves.
fn called<'a>(look: &Look<'a>) -> Option<Called<'a>> {
    let call = call_at(&look.motion.body, look.obligation.span)?;
    let mut env: Environment = Field::ALL
        .map(Field::symbol)
        .into_iter()
        .filter_map(|s| Some((s.clone(), look.env.get(&s)?.clone())))
        .collect();
    for (symbol, expr) in call.bindings() {
        env.insert(symbol, look.value(&expr)?);
    }
    for clause in &call.routine.head {
        if let Clause::Let(l) = clause
            && let Ok(value) = evaluate_with(&l.value, &|s| env.get(s).cloned())
        {
            env.insert(l.symbol.clone(), value);
        }
    }
    Some(Called { call, env })
}

fn call_at(steps: &[Step], span: borewright_base::Span) -> Option<&Call> {
    calls(steps).into_iter().find_map(|(call, at)| (at == span).then_some(call))
}

fn argument(look: &Look<'_>) -> Option<String> {
    let Called { call, env } = called(look)?;
    let parameter = call.routine.parameters.iter().find(|p| Some(p.span) == look.obligation.because)?;
    let value = env.get(&parameter.symbol)?.interval();
    let outside = range(parameter, value)?;
    let value = words::quantity(value, parameter.dimension, parameter.inch);
    Some(format!("`{}` of `{}` is given {value}, {outside}", parameter.symbol, call.routine.name))
}

fn requirement(look: &Look<'_>) -> Option<String> {
    let Called { call, env } = called(look)?;
    let routine: &Motion = &call.routine;
    let required = routine.head.iter().find_map(|clause| match clause {
        Clause::Require(r) if Some(r.span) == look.obligation.because => Some(r),
        Clause::Require(_) | Clause::Let(_) => None,
    })?;
    let dimension = |s: &Symbol| dimension(routine, s);
    let values = required.condition.symbols().into_iter().filter_map(|s| {
        let value = env.get(&s)?.interval();
        Some(format!("{} {}", s, words::quantity(value, dimension(&s)?, routine.inch)))
    });
    let values: Vec<String> = values.collect();
    let condition = words::condition(&required.condition, &dimension, routine.inch);
    Some(format!("`{}` refuses this: {condition} is false with {}", routine.name, values.join(", ")))
}

fn dimension(routine: &Motion, symbol: &Symbol) -> Option<Dimension> {
    let parameter = routine.parameters.iter().find(|p| p.symbol == *symbol).map(|p| p.dimension);
    let named = routine.head.iter().find_map(|clause| match clause {
        Clause::Let(l) if l.symbol == *symbol => Some(l.dimension),
        Clause::Let(_) | Clause::Require(_) => None,
    });
    let field = Field::ALL.into_iter().find(|f| f.symbol() == *symbol).map(Field::dimension);
    parameter.or(named).or(field)
}

fn cutter(look: &Look<'_>) -> Option<String> {
    let Called { call, env } = called(look)?;
    let name = &call.routine.name;
    let rules = call.routine.demands.iter().flat_map(|d| &d.rules);
    let rule = rules.into_iter().find(|r| Some(r.span) == look.obligation.because)?;
    let has = look.number(&Expr::symbol(&rule.field.symbol()))?;
    let asked = evaluate_with(&rule.value, &|s| env.get(s).cloned()).ok()?.interval();
    if rule.field == Field::Plunges {
        return Some(format!("`{name}` demands a cutter that may plunge, and this one may not"));
    }
    let text = |v: Interval| words::quantity(v, rule.field.dimension(), look.inch());
    let (field, relation) = (rule.field.name(), words::relation(rule.relation));
    let (has, asked) = (text(has), text(asked));
    Some(format!("the cutter has {field} {has}, and `{name}` demands {relation} {asked}"))
}
