//! What a caller needs to know of a routine: its parameters and the kind of cutter it works with.

use std::sync::Arc;

use borewright_base::Span;
use borewright_number::{Dimension, Rational};
use borewright_syntax::ast::{self, Compare, ExprKind as Tree, HeadKind, ItemKind, Name};

use crate::checker::Checker;
use crate::constant;
use crate::cutter::field_named;
use crate::errors;
use crate::module::Global;
use crate::scope::{Origin, Scope};
use crate::typed::{
    Argument, ColumnType, CutterField, Domain, Expr, ExprKind, Local, Parameter, RoutineId, RowExpr,
};
use crate::value::Value;

/// What a caller needs to know of a routine.
#[derive(Debug, Clone)]
pub(crate) struct Signature {
    pub(crate) name: String,
    pub(crate) parameters: Vec<Parameter>,
    /// The name of the cutter kind that its cutter line asks for.
    pub(crate) cutter: Option<Name>,
    /// True when no error was found in the parameters.
    pub(crate) sound: bool,
}

impl Checker<'_> {
    /// The signature of a routine, and the scope in which its head begins.
    pub(crate) fn signature(&mut self, id: RoutineId) -> Option<(Arc<Signature>, Scope)> {
        if let Some(known) = self.signatures.get(&id) {
            return Some(known.clone());
        }
        let item = *self.routines.get(id.0)?;
        let (file, index) = self.item(item)?;
        let (routine, is_job) = match &file.items.get(index)?.kind {
            ItemKind::Routine(routine) => (routine, false),
            ItemKind::Job(routine) => (routine, true),
            ItemKind::Use(_)
            | ItemKind::Let(_)
            | ItemKind::Function(_)
            | ItemKind::Table(_)
            | ItemKind::Invalid => return None,
        };
        let errors = self.error_count();
        let mut scope = Scope::new(item.module);
        scope.is_job = is_job;
        scope.errors_before = errors;
        let ties = ties(routine);
        let mut letters: Vec<&Name> = Vec::new();
        let mut parameters = Vec::new();
        for tree in &routine.parameters {
            let mut parameter = self.parameter(&mut scope, tree);
            parameter.letter = self.letter(tree.letter.as_ref(), &mut letters);
            parameter.tied = ties.iter().find(|(_, name)| *name == tree.name.text).map(|(field, _)| *field);
            parameters.push(parameter);
        }
        let cutter = demand_lines(routine).next().map(|(kind, _)| kind.clone());
        let sound = self.error_count() == errors;
        let signature = Signature { name: routine.name.text.clone(), parameters, cutter, sound };
        let known = (Arc::new(signature), scope);
        self.signatures.insert(id, known.clone());
        Some(known)
    }

    fn parameter(&mut self, scope: &mut Scope, tree: &ast::Parameter) -> Parameter {
        let kind = self.column_type(scope.module, &tree.kind);
        let literals = scope.literals;
        let domain = match &kind {
            Some(ColumnType::Number { dimension, whole }) => {
                self.number_domain(scope, tree, *dimension, *whole)
            }
            Some(ColumnType::Choice(words)) => Domain::Choice(words.clone()),
            Some(ColumnType::Row(table)) => Domain::Row(table.clone()),
            None => Domain::Invalid,
        };
        let inch = scope.literals.0 - literals.0 > scope.literals.1 - literals.1;
        if tree.range.is_some() && matches!(domain, Domain::Choice(_) | Domain::Row(_)) {
            self.report(errors::range_not_wanted(&tree.name));
        }
        let what = format!("the default of `{}`", tree.name.text);
        let default = match (&kind, &tree.default) {
            (Some(kind), Some(e)) => Some(argument(self.typed_value(scope, e, kind, &what))),
            (None, _) | (_, None) => None,
        };
        let name = scope.fresh(&tree.name.text);
        if let Domain::Number { greatest, .. } = &domain {
            scope.set_greatest(&name, greatest.clone());
        }
        let value = kind.map_or(Value::Invalid, |kind| parameter_value(&name, kind, tree.name.span));
        self.introduce(scope, &tree.name, Origin::Parameter, value);
        Parameter {
            name,
            domain,
            default,
            letter: None,
            meaning: tree.documentation.iter().map(|l| l.trim()).collect::<Vec<_>>().join(" "),
            inch,
            tied: None,
            span: tree.span,
        }
    }

    fn number_domain(
        &mut self,
        scope: &mut Scope,
        tree: &ast::Parameter,
        dimension: Dimension,
        whole: bool,
    ) -> Domain {
        let Some((from, to)) = &tree.range else {
            self.report(errors::missing_range(&tree.name, dimension));
            return Domain::Invalid;
        };
        let ends =
            (self.range_end(scope, from, dimension, whole), self.range_end(scope, to, dimension, whole));
        let (Some(least), Some(greatest)) = ends else { return Domain::Invalid };
        if least > greatest {
            self.report(errors::empty_range(from.span.to(to.span)));
            return Domain::Invalid;
        }
        Domain::Number { dimension, whole, least, greatest }
    }

    fn range_end(
        &mut self,
        scope: &mut Scope,
        e: &ast::Expr,
        dimension: Dimension,
        whole: bool,
    ) -> Option<Rational> {
        let what = "the end of a range";
        let end = if whole { self.whole(scope, e, what) } else { self.quantity(scope, e, dimension, what) };
        if end.is_invalid() {
            return None;
        }
        let value = constant::number(&end);
        if value.is_none() {
            self.report(errors::not_constant(what, end.span));
        }
        value
    }

    fn letter<'n>(&mut self, letter: Option<&'n Name>, seen: &mut Vec<&'n Name>) -> Option<char> {
        let letter = letter?;
        let mut chars = letter.text.chars();
        let (Some(c @ 'A'..='Z'), None) = (chars.next(), chars.next()) else {
            self.report(errors::bad_letter(letter));
            return None;
        };
        if let Some(first) = seen.iter().find(|n| n.text == letter.text) {
            self.report(errors::letter_twice(letter, first.span));
            return None;
        }
        seen.push(letter);
        Some(c)
    }

    /// Brings a new name into scope, unless it is taken.
    pub(crate) fn introduce(&mut self, scope: &mut Scope, name: &Name, origin: Origin, value: Value) {
        let global =
            matches!(self.global(scope.module, &name.text), Some(Global::Constant(_) | Global::Table(_)));
        let first: Option<Option<Span>> = match scope.find(&name.text) {
            Some(binding) => Some(Some(binding.span)),
            None if global => Some(self.global_span(scope.module, &name.text)),
            None if self.is_known(scope, &name.text) => Some(None),
            None => None,
        };
        match first {
            Some(first) => {
                self.report(errors::name_taken(&name.text, name.span, first));
                // Which of the two is meant below is anyone's guess: nothing is said about it.
                scope.bind(&name.text, name.span, origin, Value::Invalid);
            }
            None => scope.bind(&name.text, name.span, origin, value),
        }
    }

    /// Leaves the outermost scope: what nothing used is warned about, unless there was an error, since an
    /// unused name may then be the fault of what was not understood.
    pub(crate) fn leave_all(&mut self, scope: &mut Scope) {
        scope.leave(0);
        if self.error_count() == scope.errors_before {
            for (origin, name, span) in std::mem::take(&mut scope.unused) {
                self.warn(scope.module, errors::unused(origin.name(), &name, span));
            }
        }
    }
}

/// The parameters that the routine's cutter line ties to a field: `diameter == tool`.
fn ties(routine: &ast::Routine) -> Vec<(CutterField, String)> {
    let rules = demand_lines(routine).flat_map(|(_, rules)| rules);
    rules
        .filter(|rule| rule.relation == Compare::Equal)
        .filter_map(|rule| {
            let Tree::Name(name) = &*rule.value.kind else { return None };
            Some((field_named(&rule.field.text)?, name.text.clone()))
        })
        .collect()
}

/// The cutter lines of a routine: there should be at most one.
fn demand_lines(routine: &ast::Routine) -> impl Iterator<Item = (&Name, &[ast::FieldRule])> {
    routine.head.iter().filter_map(|line| {
        let HeadKind::Demand(kind, rules) = &line.kind else { return None };
        Some((kind, rules.as_slice()))
    })
}

fn parameter_value(name: &Local, kind: ColumnType, span: Span) -> Value {
    match kind {
        ColumnType::Number { dimension, whole } => {
            Value::Number(Expr::new(ExprKind::Name(name.clone()), Some(dimension), whole, span))
        }
        ColumnType::Choice(words) => {
            Value::Choice(words, Expr::new(ExprKind::Name(name.clone()), Some(Dimension::RATIO), true, span))
        }
        ColumnType::Row(table) => Value::Row(RowExpr::Parameter(name.clone(), table)),
    }
}

/// A value as it is passed to a parameter.
pub(crate) fn argument(value: Value) -> Argument {
    match value {
        Value::Number(e) | Value::Choice(_, e) if !e.is_invalid() => Argument::Number(e),
        Value::Row(row) => Argument::Row(row),
        Value::Number(_)
        | Value::Choice(..)
        | Value::Point(_)
        | Value::Places(_)
        | Value::Condition(_)
        | Value::Table(_)
        | Value::Tool(_)
        | Value::Invalid => Argument::Invalid,
    }
}
