//! Cutters: what a routine demands of the one in the spindle, and a job's tool list.

use borewright_base::Span;
use borewright_number::{Dimension, Rational};
use borewright_syntax::ast::{self, Argument as TreeArgument, Compare, FieldRule, Name};

use crate::checker::Checker;
use crate::constant;
use crate::errors;
use crate::scope::{Origin, Scope};
use crate::typed::{
    Arithmetic, Condition, CutterField, CutterKind, Demand, Demands, Expr, ExprKind, Tool, Words,
};
use crate::value::Value;

/// Every field of a cutter with its name in the language.
const FIELDS: [(&str, CutterField); 18] = [
    ("diameter", CutterField::Diameter),
    ("flutes", CutterField::Flutes),
    ("reach", CutterField::Reach),
    ("dead", CutterField::Dead),
    ("ramp", CutterField::Ramp),
    ("plunges", CutterField::Plunges),
    ("teeth", CutterField::Teeth),
    ("corner", CutterField::Corner),
    ("pocket", CutterField::Pocket),
    ("hand", CutterField::Hand),
    ("wear", CutterField::Wear),
    ("pitch", CutterField::Pitch),
    ("rows", CutterField::Rows),
    ("nose", CutterField::Nose),
    ("tooth", CutterField::Tooth),
    ("angle", CutterField::Angle),
    ("tip", CutterField::Tip),
    ("taper", CutterField::Taper),
];

/// Fields that only thread cutters have.
const THREAD_FIELDS: [CutterField; 4] =
    [CutterField::Pitch, CutterField::Rows, CutterField::Nose, CutterField::Taper];

/// Fields that only pointed cutters have.
const POINT_FIELDS: [CutterField; 2] = [CutterField::Angle, CutterField::Tip];

const KINDS: [(&str, CutterKind); 6] = [
    ("flat", CutterKind::Flat),
    ("corner", CutterKind::Corner),
    ("ball", CutterKind::Ball),
    ("point", CutterKind::Point),
    ("thread", CutterKind::Thread),
    ("disc", CutterKind::Disc),
];

/// The field of that name.
pub(crate) fn field_named(name: &str) -> Option<CutterField> {
    FIELDS.iter().find(|(n, _)| *n == name).map(|(_, f)| *f)
}

impl CutterField {
    /// The field's name in the language.
    #[must_use]
    pub fn name(self) -> &'static str {
        FIELDS.iter().find(|(_, f)| *f == self).map_or("", |(n, _)| n)
    }

    fn dimension(self) -> Dimension {
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
}

impl CutterKind {
    /// The kind's name in the language.
    #[must_use]
    pub fn name(self) -> &'static str {
        KINDS.iter().find(|(_, k)| *k == self).map_or("", |(n, _)| n)
    }
}

impl Checker<'_> {
    fn cutter_kind(&mut self, name: &Name) -> Option<CutterKind> {
        let kind = KINDS.iter().find(|(n, _)| *n == name.text).map(|(_, k)| *k);
        if kind.is_none() {
            let known: Vec<String> = KINDS.iter().map(|(n, _)| (*n).to_owned()).collect();
            self.report(errors::unknown_cutter_kind(name, &known));
        }
        kind
    }

    fn cutter_field(&mut self, name: &Name) -> Option<CutterField> {
        let field = field_named(&name.text);
        if field.is_none() {
            let known: Vec<String> = FIELDS.iter().map(|(n, _)| (*n).to_owned()).collect();
            self.report(errors::unknown_field("a cutter", name, &known));
        }
        field
    }

    /// `cutter flat with diameter == tool, flutes >= stepdown`
    pub(crate) fn demands(
        &mut self,
        scope: &mut Scope,
        kind: &Name,
        rules: &[FieldRule],
        span: Span,
    ) -> Option<Demands> {
        let known = self.cutter_kind(kind);
        // Fields of a kind that is not known are not complained about as well; their names are used none the less.
        self.quiet += usize::from(known.is_none());
        let rules: Vec<Demand> = rules.iter().filter_map(|rule| self.demand(scope, rule)).collect();
        self.quiet -= usize::from(known.is_none());
        Some(Demands { kind: known?, rules, span })
    }

    fn demand(&mut self, scope: &mut Scope, rule: &FieldRule) -> Option<Demand> {
        let field = self.cutter_field(&rule.field);
        let Some(field) = field else {
            // Its names are used none the less.
            self.quiet += 1;
            let _ignored = self.value(scope, &rule.value);
            self.quiet -= 1;
            return None;
        };
        let value = self.field_value(scope, field, &rule.value);
        let span = rule.field.span.to(rule.value.span);
        (!value.is_invalid()).then_some(Demand { field, relation: rule.relation, value, span })
    }

    /// A value for a field: words for `plunges` and `hand`, quantities for the others.
    fn field_value(&mut self, scope: &mut Scope, field: CutterField, e: &ast::Expr) -> Expr {
        let what = format!("the cutter's `{}`", field.name());
        match field {
            CutterField::Plunges => by_word(self.word(scope, e, &words(["no", "yes"]), &what), 0, 1),
            CutterField::Hand => self.hand(scope, e, &what),
            CutterField::Teeth | CutterField::Pocket | CutterField::Rows => self.whole(scope, e, &what),
            CutterField::Diameter
            | CutterField::Flutes
            | CutterField::Reach
            | CutterField::Dead
            | CutterField::Ramp
            | CutterField::Corner
            | CutterField::Wear
            | CutterField::Pitch
            | CutterField::Nose
            | CutterField::Tooth
            | CutterField::Angle
            | CutterField::Tip
            | CutterField::Taper => self.quantity(scope, e, field.dimension(), &what),
        }
    }

    /// `right` is 1, `left` is -1.
    pub(crate) fn hand(&mut self, scope: &mut Scope, e: &ast::Expr, what: &str) -> Expr {
        by_word(self.word(scope, e, &words(["right", "left"]), what), 1, -1)
    }

    /// `cutter rougher = flat(pocket: 1, diameter: 16mm, flutes: 32mm)`
    pub(crate) fn tool(
        &mut self,
        scope: &mut Scope,
        name: &Name,
        kind: &Name,
        arguments: &[TreeArgument],
        span: Span,
    ) {
        let errors = self.error_count();
        let kind = self.cutter_kind(kind);
        self.quiet += usize::from(kind.is_none());
        let mut given: Vec<(CutterField, Expr, Span)> = Vec::new();
        for argument in arguments {
            let Some(field) = self.cutter_field(&argument.name) else { continue };
            if let Some((_, _, first)) = given.iter().find(|(f, ..)| *f == field) {
                self.report(errors::argument_twice(&argument.name, *first));
                continue;
            }
            let value = self.field_value(scope, field, &argument_value(argument));
            given.push((field, value, argument.name.span));
        }
        self.quiet -= usize::from(kind.is_none());
        let needed = needed(kind);
        let missing: Vec<String> = needed
            .iter()
            .filter(|field| !given.iter().any(|(f, ..)| *f == **field))
            .map(|field| field.name().to_owned())
            .collect();
        let sound = self.error_count() == errors;
        if sound && !missing.is_empty() {
            self.report(errors::missing_arguments(
                &format!("the cutter `{}`", name.text),
                &missing,
                name.span,
            ));
        }
        let given: Vec<(CutterField, Expr)> = given.into_iter().map(|(f, e, _)| (f, e)).collect();
        if let (Some(kind), true, true) = (kind, sound, missing.is_empty()) {
            self.check_tool(kind, &given);
            self.refuse_fields_of_other_kinds(kind, &given);
            let fields = with_defaults(kind, given, span);
            scope.tools.push(Tool { name: name.text.clone(), kind, fields, span });
            let value = Value::Tool(scope.tools.len() - 1);
            self.introduce(scope, name, Origin::Tool, value);
        } else {
            self.introduce(scope, name, Origin::Tool, Value::Invalid);
        }
    }

    /// Refuses what no cutter can be, where the fields are numbers.
    fn check_tool(&mut self, kind: CutterKind, given: &[(CutterField, Expr)]) {
        let value = |field: CutterField| {
            given.iter().find(|(f, _)| *f == field).and_then(|(_, e)| constant::number(e))
        };
        let diameter = value(CutterField::Diameter);
        for (field, e) in given {
            let Some(number) = constant::number(e) else { continue };
            let limit = diameter.as_ref().filter(|_| *field == CutterField::Dead).cloned().or_else(|| {
                let half = diameter.as_ref().map(|d| d / &Rational::from(2));
                half.filter(|_| matches!(field, CutterField::Corner | CutterField::Wear | CutterField::Tooth))
            });
            let limit = limit.or_else(|| diameter.clone().filter(|_| *field == CutterField::Tip));
            let positive = matches!(
                field,
                CutterField::Diameter
                    | CutterField::Flutes
                    | CutterField::Reach
                    | CutterField::Teeth
                    | CutterField::Pocket
                    | CutterField::Pitch
                    | CutterField::Rows
                    | CutterField::Tooth
                    | CutterField::Angle
            );
            let problem = if positive && number.signum() <= 0 {
                "must be above 0"
            } else if number.signum() < 0 && *field != CutterField::Hand {
                "must not be below 0"
            } else if limit.is_some_and(|limit| number > limit) {
                "does not fit its diameter"
            } else {
                continue;
            };
            self.report(errors::impossible_cutter(field.name(), problem, e.span));
        }
        let ramp = value(CutterField::Ramp);
        if let (Some(ramp), Some((_, e))) = (ramp, given.iter().find(|(f, _)| *f == CutterField::Ramp))
            && ramp >= Rational::from(90)
        {
            self.report(errors::impossible_cutter("ramp", "must be below 90deg; say `plunges: yes`", e.span));
        }
        // What is proved of the neck would speak of one that wears as the disc does.
        if let Some((_, e)) = given.iter().find(|(f, _)| *f == CutterField::Wear && kind == CutterKind::Disc)
        {
            self.report(errors::impossible_cutter(
                "wear",
                "is not for the kind `disc`: its neck does not wear",
                e.span,
            ));
        }
        let corner = given.iter().find(|(f, _)| *f == CutterField::Corner);
        if let Some((_, e)) = corner.filter(|_| kind != CutterKind::Corner) {
            let problem = "belongs to the kind `corner` only";
            self.report(errors::impossible_cutter("corner", problem, e.span));
        }
    }

    /// Refuses fields of thread cutters and of pointed ones on others.
    fn refuse_fields_of_other_kinds(&mut self, kind: CutterKind, given: &[(CutterField, Expr)]) {
        for (field, e) in given {
            let problem = if THREAD_FIELDS.contains(field) && kind != CutterKind::Thread {
                "belongs to the kind `thread` only"
            } else if *field == CutterField::Tooth && !matches!(kind, CutterKind::Thread | CutterKind::Disc) {
                "belongs to the kinds `thread` and `disc` only"
            } else if POINT_FIELDS.contains(field) && kind != CutterKind::Point {
                "belongs to the kind `point` only"
            } else {
                continue;
            };
            self.report(errors::impossible_cutter(field.name(), problem, e.span));
        }
    }

    /// `finisher.diameter`
    pub(crate) fn tool_field(&mut self, scope: &Scope, index: usize, field: &Name) -> Value {
        let Some(wanted) = self.cutter_field(field) else { return Value::Invalid };
        let tool = scope.tools.get(index);
        let value = tool.and_then(|t| t.fields.iter().find(|(f, _)| *f == wanted));
        value.map_or(Value::Invalid, |(_, e)| Value::Number(Expr { span: field.span, ..e.clone() }))
    }
}

/// What must be said of a tool of that kind.
fn needed(kind: Option<CutterKind>) -> &'static [CutterField] {
    match kind {
        Some(CutterKind::Thread) => &[
            CutterField::Pocket,
            CutterField::Diameter,
            CutterField::Pitch,
            CutterField::Tooth,
            CutterField::Reach,
        ],
        Some(CutterKind::Disc) => &[
            CutterField::Pocket,
            CutterField::Diameter,
            CutterField::Flutes,
            CutterField::Tooth,
            CutterField::Reach,
        ],
        Some(CutterKind::Point) => {
            &[CutterField::Pocket, CutterField::Diameter, CutterField::Flutes, CutterField::Angle]
        }
        Some(CutterKind::Flat | CutterKind::Corner | CutterKind::Ball) | None => {
            &[CutterField::Pocket, CutterField::Diameter, CutterField::Flutes]
        }
    }
}

fn words(list: [&str; 2]) -> Words {
    list.iter().map(|w| (*w).to_owned()).collect()
}

/// One number for the first word of a choice, another for the second.
fn by_word(code: Expr, first: i32, second: i32) -> Expr {
    let span = code.span;
    let number = |n: i32| Expr::number(Rational::from(n), Dimension::RATIO, span);
    match constant::number(&code) {
        _ if code.is_invalid() => code,
        Some(value) if value == Rational::ONE => number(first),
        Some(_) => number(second),
        None => {
            let is_first = Condition::Compare(Compare::Equal, code, number(1));
            Expr::new(
                ExprKind::If(is_first, number(first), number(second)),
                Some(Dimension::RATIO),
                true,
                span,
            )
        }
    }
}

/// `name: e`, or `name: name`.
pub(crate) fn argument_value(argument: &TreeArgument) -> ast::Expr {
    argument.value.clone().unwrap_or_else(|| ast::Expr {
        kind: Box::new(ast::ExprKind::Name(argument.name.clone())),
        span: argument.name.span,
    })
}

/// Every field, those not given by their careful defaults: no reach beyond the flutes, an end that does not
/// cut, no ramp, no plunge, no correction.
fn with_defaults(kind: CutterKind, given: Vec<(CutterField, Expr)>, span: Span) -> Vec<(CutterField, Expr)> {
    let find = |field: CutterField| given.iter().find(|(f, _)| *f == field).map(|(_, e)| e.clone());
    let ratio = |n: i32| Expr::number(Rational::from(n), Dimension::RATIO, span);
    let zero = |dimension: Dimension| Expr::zero(span).of(dimension);
    let length = |field: CutterField| find(field).unwrap_or_else(|| zero(Dimension::LENGTH));
    let default = |field: CutterField| match field {
        // The teeth of a thread cutter, from its end to the upper edge of the highest.
        CutterField::Flutes if kind == CutterKind::Thread => length(CutterField::Reach),
        CutterField::Nose if kind == CutterKind::Thread => {
            let (pitch, two) = (length(CutterField::Pitch), ratio(2));
            let half = ExprKind::Arithmetic(Arithmetic::Div, pitch, two);
            Expr::new(half, Some(Dimension::LENGTH), false, span)
        }
        CutterField::Reach => length(CutterField::Flutes),
        CutterField::Dead => length(CutterField::Diameter),
        CutterField::Ramp => zero(Dimension::ANGLE),
        CutterField::Plunges => ratio(0),
        CutterField::Teeth | CutterField::Hand | CutterField::Rows => ratio(1),
        CutterField::Corner if kind == CutterKind::Ball => {
            let (diameter, two) = (length(CutterField::Diameter), ratio(2));
            let half = ExprKind::Arithmetic(Arithmetic::Div, diameter, two);
            Expr::new(half, Some(Dimension::LENGTH), false, span)
        }
        CutterField::Diameter
        | CutterField::Flutes
        | CutterField::Corner
        | CutterField::Wear
        | CutterField::Pitch
        | CutterField::Nose
        | CutterField::Tooth
        | CutterField::Tip => zero(Dimension::LENGTH),
        CutterField::Angle => zero(Dimension::ANGLE),
        CutterField::Pocket | CutterField::Taper => ratio(0),
    };
    FIELDS.iter().map(|(_, field)| (*field, find(*field).unwrap_or_else(|| default(*field)))).collect()
}
