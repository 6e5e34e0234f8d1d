//! Constants and functions of the top level. A function is put in where it is called.

use std::sync::Arc;

use borewright_base::Span;
use borewright_number::Dimension;
use borewright_syntax::ast::{self, Argument as TreeArgument, ItemKind, Name};

use crate::checker::{Checker, Lazy};
use crate::constant;
use crate::errors;
use crate::expr::at;
use crate::module::{Global, ItemId};
use crate::operator::{FUNCTIONS, PATTERNS};
use crate::scope::{Origin, Scope};
use crate::size;
use crate::typed::{ColumnType, Expr, ExprKind, Local, RowExpr};
use crate::value::Value;

impl Checker<'_> {
    pub(crate) fn check_constants(&mut self) {
        for id in self.items(|kind| matches!(kind, ItemKind::Let(_))) {
            self.constant(id);
        }
    }

    /// Understands each function once by itself, so that what is wrong in it is said even if nobody calls it.
    pub(crate) fn check_functions(&mut self) {
        for id in self.items(|kind| matches!(kind, ItemKind::Function(_))) {
            let Some((file, index)) = self.item(id) else { continue };
            let Some(ItemKind::Function(function)) = file.items.get(index).map(|i| &i.kind) else { continue };
            let mut scope = Scope::new(id.module);
            scope.errors_before = self.error_count();
            for (name, kind) in &function.parameters {
                let value = match self.column_type(id.module, kind) {
                    Some(kind) => stand_in(name, &kind),
                    None => Value::Invalid,
                };
                self.introduce(&mut scope, name, Origin::Parameter, value);
            }
            self.function_body(id, &function.name, &function.value, &mut scope);
            self.leave_all(&mut scope);
        }
    }

    /// The items of all files of one sort.
    pub(crate) fn items(&self, sort: impl Fn(&ItemKind) -> bool) -> Vec<ItemId> {
        let files = self.modules.iter().enumerate();
        files
            .flat_map(|(module, m)| {
                let items = m.file.items.iter().enumerate().filter(|(_, i)| sort(&i.kind));
                items.map(move |(item, _)| ItemId { module, item }).collect::<Vec<_>>()
            })
            .collect()
    }

    /// The value of a constant.
    pub(crate) fn constant(&mut self, id: ItemId) -> Value {
        let Some((file, index)) = self.item(id) else { return Value::Invalid };
        let Some(ItemKind::Let(constant)) = file.items.get(index).map(|i| &i.kind) else {
            return Value::Invalid;
        };
        match self.constants.get(&id) {
            Some(Lazy::Done(value)) => return value.clone(),
            Some(Lazy::InProgress) => {
                self.report(errors::recursion("constant", &constant.name.text, constant.name.span));
                return Value::Invalid;
            }
            None => {}
        }
        self.constants.insert(id, Lazy::InProgress);
        let value = self.value(&mut Scope::new(id.module), &constant.value);
        let value = self.nameable(value, constant.value.span);
        let value = self.fair(folded(value), constant.name.span);
        self.constants.insert(id, Lazy::Done(value.clone()));
        value
    }

    /// Refuses what would be too large for every later step.
    fn fair(&mut self, value: Value, span: Span) -> Value {
        if size::is_fair(&value) {
            return value;
        }
        self.outgrown |= self.quiet > 0;
        self.report(errors::too_large(span));
        Value::Invalid
    }

    /// Refuses to name what is no value: a condition, or a table.
    pub(crate) fn nameable(&mut self, value: Value, span: Span) -> Value {
        match value {
            Value::Condition(_) => {
                self.report(errors::misplaced_value(
                    "a condition has no name",
                    "write it where it is needed, or make a choice: `if a < b then yes else no` for a parameter `no or yes`",
                    span,
                ));
                Value::Invalid
            }
            Value::Table(_) | Value::Tool(_) => {
                self.report(errors::misplaced_value("this has a name already", "use that name", span));
                Value::Invalid
            }
            Value::Number(e) => {
                let dimension = e.settled();
                Value::Number(e.of(dimension))
            }
            value @ (Value::Point(_)
            | Value::Places(_)
            | Value::Choice(..)
            | Value::Row(_)
            | Value::Invalid) => value,
        }
    }

    /// `f(a, b)`: a built-in function, one of the file, or a pattern of bare names.
    pub(crate) fn function_call(
        &mut self,
        scope: &mut Scope,
        name: &Name,
        arguments: &[ast::Expr],
        span: Span,
    ) -> Value {
        if let Some(value) = self.built_in(scope, name, arguments, span) {
            return value;
        }
        if PATTERNS.contains(&name.text.as_str()) {
            // `circle(count, diameter)` with bare names reads as a call in order.
            let bare: Option<Vec<TreeArgument>> = arguments.iter().map(bare_argument).collect();
            return self.pattern(scope, name, &bare.unwrap_or_default(), span);
        }
        let Some(Global::Function(id)) = self.global(scope.module, &name.text) else {
            return self.unknown_function(scope, name);
        };
        let Some((file, index)) = self.item(id) else { return Value::Invalid };
        let Some(ItemKind::Function(function)) = file.items.get(index).map(|i| &i.kind) else {
            return Value::Invalid;
        };
        if arguments.len() != function.parameters.len() {
            self.report(errors::argument_count(name, function.parameters.len(), arguments.len(), span));
            return Value::Invalid;
        }
        let mut inner = Scope::new(id.module);
        for ((parameter, kind), argument) in function.parameters.iter().zip(arguments) {
            self.quiet += 1;
            let kind = self.column_type(id.module, kind);
            self.quiet -= 1;
            let Some(kind) = kind else { return Value::Invalid };
            let what = format!("the `{}` of `{}`", parameter.text, name.text);
            let value = self.typed_value(scope, argument, &kind, &what);
            if matches!(value, Value::Invalid)
                || matches!(&value, Value::Number(e) | Value::Choice(_, e) if e.is_invalid())
            {
                return Value::Invalid;
            }
            inner.bind(&parameter.text, parameter.span, Origin::Parameter, value);
        }
        self.quiet += 1;
        let value = self.function_body(id, name, &function.value, &mut inner);
        self.quiet -= 1;
        if self.quiet == 0 && std::mem::take(&mut self.outgrown) {
            self.report(errors::too_large(span));
            return Value::Invalid;
        }
        self.fair(at(value, span), span)
    }

    fn function_body(&mut self, id: ItemId, name: &Name, body: &ast::Expr, scope: &mut Scope) -> Value {
        if self.functions.contains(&id) {
            // Said once, by the check of the function itself.
            let quiet = std::mem::replace(&mut self.quiet, usize::from(self.functions.first() != Some(&id)));
            self.report(errors::recursion("function", &name.text, name.span));
            self.quiet = quiet;
            return Value::Invalid;
        }
        self.functions.push(id);
        let value = self.value(scope, body);
        self.functions.pop();
        self.nameable(value, body.span)
    }

    fn unknown_function(&mut self, scope: &Scope, name: &Name) -> Value {
        let mut known = self.global_names(scope.module, |g| matches!(g, Global::Function(_)));
        known.extend(FUNCTIONS.map(str::to_owned));
        known.extend(PATTERNS.map(str::to_owned));
        self.report(errors::unknown_function(name, &known));
        Value::Invalid
    }

    fn pattern(&mut self, scope: &mut Scope, name: &Name, arguments: &[TreeArgument], span: Span) -> Value {
        match name.text.as_str() {
            "grid" => self.grid(scope, name, arguments, span),
            _ => self.circle(scope, name, arguments, span),
        }
    }

    /// `circle(count: 6, ...)`; functions take their arguments in order.
    pub(crate) fn named_call(
        &mut self,
        scope: &mut Scope,
        name: &Name,
        arguments: &[TreeArgument],
        span: Span,
    ) -> Value {
        if PATTERNS.contains(&name.text.as_str()) {
            return self.pattern(scope, name, arguments, span);
        }
        let is_function = FUNCTIONS.contains(&name.text.as_str())
            || matches!(self.global(scope.module, &name.text), Some(Global::Function(_)));
        if is_function {
            self.report(errors::named_for_function(name, span));
            return Value::Invalid;
        }
        self.unknown_function(scope, name)
    }
}

/// A constant that is an exact number is kept as one.
fn folded(value: Value) -> Value {
    match value {
        Value::Number(e) => match constant::number(&e) {
            Some(exact) => Value::Number(Expr::new(ExprKind::Number(exact), e.dimension, e.whole, e.span)),
            None => Value::Number(e),
        },
        value @ (Value::Point(_)
        | Value::Places(_)
        | Value::Condition(_)
        | Value::Choice(..)
        | Value::Row(_)
        | Value::Table(_)
        | Value::Tool(_)
        | Value::Invalid) => value,
    }
}

fn bare_argument(e: &ast::Expr) -> Option<TreeArgument> {
    let ast::ExprKind::Name(name) = &*e.kind else { return None };
    Some(TreeArgument { name: name.clone(), value: None })
}

/// What stands for a function's argument while the function is checked by itself.
fn stand_in(name: &Name, kind: &ColumnType) -> Value {
    let local = Local::from(name.text.as_str());
    match kind {
        ColumnType::Number { dimension, whole } => {
            Value::Number(Expr::new(ExprKind::Name(local), Some(*dimension), *whole, name.span))
        }
        ColumnType::Choice(words) => {
            let code = Expr::new(ExprKind::Name(local), Some(Dimension::RATIO), true, name.span);
            Value::Choice(words.clone(), code)
        }
        ColumnType::Row(table) => Value::Row(RowExpr::Parameter(local, Arc::clone(table))),
    }
}
