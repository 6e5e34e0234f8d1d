//! Motions written by hand for the tests: a finishing bore with quarter-circle leads, and a job that calls it.

#![allow(dead_code, reason = "each test file takes what it needs")]
#![allow(clippy::too_many_lines, reason = "a motion is a long literal")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may stop at what it did not expect")]
#![allow(clippy::indexing_slicing, reason = "coordinates are counted by hand here")]

pub mod running;

use std::collections::BTreeMap;
use std::sync::Arc;

use borewright_base::Span;
use borewright_motion::{
    Action, Around, Call, Clause, Condition, Coolant, CutterKind, Demand, Demands, Expr, Feature, Field, Job,
    Let, Made, Motion, Parameter, Passes, Point, Promise, Relation, Requirement, Shape, Step, Symbol, Tool,
    Way,
};
use borewright_number::{Dimension, Quantity, Rational};

/// `50mm`, `0.375in`, `400mm/min`: its value in base units.
pub fn q(text: &str) -> Rational {
    Quantity::parse(text).unwrap().value
}

pub fn n(name: &str) -> Expr {
    Expr::named(name)
}

pub fn num(text: &str) -> Expr {
    Expr::number(q(text))
}

pub fn step(action: Action) -> Step {
    Step { action, span: Span::default() }
}

pub fn values(list: &[(&str, &str)]) -> BTreeMap<Symbol, Rational> {
    list.iter().map(|(name, value)| (Symbol::new(name), q(value))).collect()
}

pub struct Named {
    name: &'static str,
    letter: Option<char>,
    range: (&'static str, &'static str),
    default: Option<Expr>,
    meaning: &'static str,
}

pub fn parameter(named: Named) -> Parameter {
    Parameter {
        symbol: Symbol::new(named.name),
        dimension: Quantity::parse(named.range.1).unwrap().dimension,
        whole: false,
        least: q(named.range.0),
        greatest: q(named.range.1),
        default: named.default,
        letter: named.letter,
        meaning: named.meaning.to_owned(),
        inch: false,
        words: Vec::new(),
        span: Span::default(),
    }
}

fn of(
    name: &'static str,
    letter: char,
    range: (&'static str, &'static str),
    default: Option<Expr>,
    meaning: &'static str,
) -> Parameter {
    parameter(Named { name, letter: Some(letter), range, default, meaning })
}

pub fn require(relation: Relation, a: Expr, b: Expr, alarm: &str) -> Clause {
    let condition = Condition::compare(relation, a, b);
    Clause::Require(Requirement {
        condition,
        alarm: alarm.to_owned(),
        practice: false,
        span: Span::default(),
    })
}

pub fn let_(name: &str, value: Expr) -> Let {
    Let { symbol: Symbol::new(name), dimension: Dimension::LENGTH, value, span: Span::default() }
}

pub fn line(to: Option<Point>, z: Option<Expr>, feed: &str) -> Step {
    step(Action::Line { to, z, feed: Some(n(feed)) })
}

pub fn arc(way: Way, to: Point, about: Point, feed: &str) -> Step {
    step(Action::Arc { way, to, z: None, about, feed: Some(n(feed)) })
}

pub fn turn(way: Way, about: Point, feed: &str) -> Step {
    step(Action::Turn { way, z: None, about, feed: Some(n(feed)) })
}

fn parameters() -> Vec<Parameter> {
    let quarter = (n("bore") - n("tool")) / num("4");
    vec![
        of("bore", 'B', ("6mm", "300mm"), None, "finished diameter"),
        of(
            "pilot",
            'H',
            ("4mm", "300mm"),
            None,
            "diameter of the hole already there, to the floor or deeper",
        ),
        of("tool", 'T', ("2mm", "50mm"), None, "cutter diameter"),
        of("depth", 'D', ("0.1mm", "120mm"), None, "floor below the top face"),
        of("stepdown", 'Q', ("0.1mm", "120mm"), Some(n("depth")), "deepest single pass"),
        of("start", 'A', ("-360deg", "360deg"), Some(Expr::zero()), "where the cutter meets the wall"),
        of("lead", 'R', ("0.2mm", "75mm"), Some(quarter), "radius of the quarter circles"),
        of(
            "clearance",
            'C',
            ("1mm", "50mm"),
            Some(num("5mm")),
            "height above the top face where feeding begins",
        ),
        of("cut", 'F', ("10mm/min", "5000mm/min"), None, "feed of the cutter's centre on the way round"),
        of("plunge", 'E', ("2mm/min", "2000mm/min"), Some(n("cut") / num("4")), "feed downwards"),
    ]
}

/// The finishing bore with quarter-circle leads.
pub fn finish_bore() -> Motion {
    let wall = (n("bore") - n("tool")) / num("2");
    let head = vec![
        Clause::Let(let_("wall", wall)),
        require(Relation::LessEqual, n("tool") + num("0.2mm"), n("pilot"), "CUTTER TOO WIDE FOR PILOT"),
        require(Relation::Less, n("pilot"), n("bore"), "PILOT NOT BELOW SIZE"),
        require(Relation::LessEqual, n("tool") + num("0.8mm"), n("bore"), "NO ROOM FOR A LEAD ARC"),
        require(Relation::LessEqual, n("lead"), num("0.9") * n("wall"), "LEAD ARC TOO BIG"),
        require(
            Relation::LessEqual,
            n("bore") - n("pilot"),
            num("2") * n("tool"),
            "TOO MUCH STOCK FOR A TURN",
        ),
    ];
    let pivot_value = Point::polar(&(n("wall") - n("lead")), &n("start"));
    let pivot = Point::new(n("pivot.x"), n("pivot.y"));
    let at = |turn: i32| pivot.plus(&Point::polar(&n("lead"), &(n("start") + Expr::from(turn))));
    let passes = Passes {
        whole: None,
        value: Symbol::new("level"),
        index: Symbol::new("level.index"),
        count: Symbol::new("level.count"),
        from: Expr::zero(),
        to: -n("depth"),
        by: n("stepdown"),
        body: vec![
            line(None, Some(n("level")), "plunge"),
            line(Some(at(-90)), None, "cut"),
            arc(Way::Ccw, Point::polar(&n("wall"), &n("start")), pivot.clone(), "cut"),
            turn(Way::Ccw, Point::centre(), "cut"),
            arc(Way::Ccw, at(90), pivot.clone(), "cut"),
            line(Some(Point::centre()), None, "cut"),
        ],
    };
    let body = vec![
        step(Action::Let(let_("pivot.x", pivot_value.x))),
        step(Action::Let(let_("pivot.y", pivot_value.y))),
        step(Action::Retract),
        step(Action::RapidTo(Point::centre())),
        step(Action::RapidZ(n("clearance"))),
        step(Action::Passes(passes)),
        step(Action::Retract),
    ];
    let rule = |field, relation, name| Demand { field, relation, value: n(name), span: Span::default() };
    let shape =
        Shape::Hole { diameter: n("bore"), floor: -n("depth"), top: Expr::zero(), pilot: Some(n("pilot")) };
    let feature =
        Feature { name: "seat".to_owned(), shape, at: vec![Point::centre()], span: Span::default() };
    let promises = [Promise::Within, Promise::Sized, Promise::Cleared, Promise::Smooth, Promise::Climb];
    Motion {
        name: "finish_bore".to_owned(),
        documentation: vec![
            "Finishes a hole to size. The cutter rolls onto the wall and off it along quarter circles."
                .to_owned(),
        ],
        span: Span::default(),
        inch: false,
        program: Some(num("1100")),
        parameters: parameters(),
        head,
        demands: Some(Demands {
            kind: CutterKind::Flat,
            rules: vec![
                rule(Field::Diameter, Relation::Equal, "tool"),
                rule(Field::Flutes, Relation::GreaterEqual, "stepdown"),
                rule(Field::Reach, Relation::GreaterEqual, "depth"),
            ],
            span: Span::default(),
        }),
        job: None,
        made: vec![Made { feature, promises: promises.into_iter().map(|p| (p, Span::default())).collect() }],
        given: Vec::new(),
        body,
    }
}

fn tool(pocket: &str, name: &str, facts: &[(Field, &str)]) -> Tool {
    let mut fields: BTreeMap<Field, Expr> = facts.iter().map(|(f, v)| (*f, num(v))).collect();
    fields.insert(Field::Pocket, num(pocket));
    Tool { name: name.to_owned(), kind: CutterKind::Flat, fields, span: Span::default() }
}

fn with(arguments: &[(&str, &str)], places: &[Point], speed: &str) -> Step {
    let arguments = arguments.iter().map(|(s, v)| (Symbol::new(s), num(v))).collect();
    let call = Call { routine: Arc::new(finish_bore()), arguments, at: places.to_vec(), around: None };
    step(Action::With {
        tool: 0,
        body: vec![
            step(Action::Spindle { way: Way::Cw, speed: num(speed) }),
            step(Action::Coolant(Coolant::Flood)),
            step(Action::Call(call)),
        ],
    })
}

/// The job with its sizes in the first turn changed.
pub fn gearbox_with(first: &[(&str, &str)], seats: &[Point]) -> Motion {
    Motion { body: vec![with(first, seats, "3200rpm")], ..gearbox() }
}

/// The job with places round a circle that its main program counts.
pub fn gearbox_round(count: i32, around: &Around<Expr>) -> Motion {
    let place = |i| {
        let angle = around.first.clone() + around.step.clone() * Expr::from(i);
        Point::polar(&around.radius, &angle)
    };
    let places: Vec<Point> = (0..count).map(place).collect();
    let first =
        [("bore", "61.8mm"), ("pilot", "61.4mm"), ("tool", "12mm"), ("depth", "18mm"), ("cut", "500mm/min")];
    let mut motion = gearbox_with(&first, &places);
    for step in &mut motion.body {
        if let Action::With { body, .. } = &mut step.action
            && let Some(Action::Call(call)) = body.last_mut().map(|s| &mut s.action)
        {
            call.around = Some(around.clone());
        }
    }
    motion
}

/// A job: two bearing seats of a wind-pump gearbox, measured before the last turn.
pub fn gearbox() -> Motion {
    let finisher = tool(
        "2",
        "finisher",
        &[(Field::Diameter, "12mm"), (Field::Flutes, "30mm"), (Field::Reach, "45mm"), (Field::Teeth, "4")],
    );
    let seats = [Point::new(num("-70mm"), Expr::zero()), Point::new(num("70mm"), Expr::zero())];
    let first =
        [("bore", "61.8mm"), ("pilot", "61.4mm"), ("tool", "12mm"), ("depth", "18mm"), ("cut", "500mm/min")];
    let last = [
        ("bore", "62.015mm"),
        ("pilot", "61.8mm"),
        ("tool", "12mm"),
        ("depth", "18mm"),
        ("start", "90deg"),
        ("cut", "400mm/min"),
    ];
    let given = Feature {
        name: "bored".to_owned(),
        shape: Shape::Hole { diameter: num("61.4mm"), floor: num("-42mm"), top: Expr::zero(), pilot: None },
        at: seats.to_vec(),
        span: Span::default(),
    };
    Motion {
        name: "gearbox_seats".to_owned(),
        documentation: vec!["Wind-pump gearbox, lower housing: two seats for ball bearings.".to_owned()],
        program: Some(num("1200")),
        parameters: Vec::new(),
        head: Vec::new(),
        demands: None,
        job: Some(Job { work: num("1"), travel: num("60mm"), tools: vec![finisher] }),
        made: Vec::new(),
        given: vec![given],
        body: vec![
            with(&first, &seats, "3200rpm"),
            step(Action::Stop("MEASURE BOTH SEATS BEFORE THE LAST TURN".to_owned())),
            with(&last, &seats, "3200rpm"),
        ],
        ..finish_bore()
    }
}
