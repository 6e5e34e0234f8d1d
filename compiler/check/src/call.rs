//! Calls of routines.

use borewright_base::Span;
use borewright_syntax::ast::{self, Name};

use crate::checker::Checker;
use crate::errors;
use crate::scope::Scope;
use crate::signature::{Signature, argument};
use crate::typed::{
    Argument, Call, ColumnType, CutterField, Domain, Expr, Parameter, Places, Point, RoutineId,
};

impl Checker<'_> {
    /// `call finish_bore(bore: 62mm, ...) at seats`
    pub(crate) fn call(
        &mut self,
        scope: &mut Scope,
        caller: RoutineId,
        tree: &ast::Call,
        span: Span,
    ) -> Option<Call> {
        let ast::Call { name, arguments: given, counted, .. } = tree;
        let at = self.places(scope, tree.at.as_ref(), span);
        if *counted {
            self.check_counted(scope, &at, tree.at.as_ref().map_or(span, |at| at.span));
        }
        let Some(routine) = self.called_routine(scope, name) else {
            self.quiet += 1;
            for argument in given {
                let _used = self.value(scope, &crate::cutter::argument_value(argument));
            }
            self.quiet -= 1;
            return None;
        };
        self.calls.push((caller, routine, name.span));
        let (signature, _) = self.signature(routine)?;
        if !signature.sound {
            // Its parameters are not all known: the reason has been reported there.
            self.note_invalid();
        }
        self.check_cutter(scope, caller, &signature, name);
        let filled = |p: &Parameter| p.tied.is_some() && scope.is_job;
        let known: Vec<&str> = signature.parameters.iter().map(|p| &*p.name).collect();
        let needed: Vec<&str> = signature
            .parameters
            .iter()
            .filter(|p| p.default.is_none() && !filled(p))
            .map(|p| &*p.name)
            .collect();
        let what = format!("`{}`", name.text);
        let sorted = self.arguments(scope, &what, &known, &needed, given, name.span);
        let mut arguments = Vec::new();
        for (parameter, e) in signature.parameters.iter().zip(sorted) {
            let value = match e {
                Some(e) => Some(self.passed(scope, parameter, &e, &what)),
                None => from_cutter(scope, parameter),
            };
            arguments.extend(value.map(|value| (parameter.name.clone(), value)));
        }
        Some(Call { routine, arguments, at, counted: *counted })
    }

    /// Places are counted in the main program of a job, and where they lie evenly round a circle.
    fn check_counted(&mut self, scope: &Scope, at: &Places, span: Span) {
        let of_circle = match at {
            Places::Circle { .. } => true,
            Places::Grid { .. } => false,
            // What is wrong with it has been told.
            Places::List(points) => points.iter().any(|p| matches!(p, Point::Invalid)),
        };
        if !scope.is_job {
            self.report(errors::counted_in_routine(span));
        } else if !of_circle {
            self.report(errors::counted_list(span));
        }
    }

    fn passed(&mut self, scope: &mut Scope, parameter: &Parameter, e: &ast::Expr, what: &str) -> Argument {
        let kind = match &parameter.domain {
            Domain::Number { dimension, whole, .. } => {
                ColumnType::Number { dimension: *dimension, whole: *whole }
            }
            Domain::Choice(words) => ColumnType::Choice(words.clone()),
            Domain::Row(table) => ColumnType::Row(table.clone()),
            Domain::Invalid => return Argument::Invalid,
        };
        let what = format!("the `{}` of {what}", parameter.name);
        argument(self.typed_value(scope, e, &kind, &what))
    }

    /// The cutter in the spindle must be of the kind that the routine works with.
    fn check_cutter(&mut self, scope: &Scope, caller: RoutineId, signature: &Signature, name: &Name) {
        let Some(wanted) = &signature.cutter else { return };
        if scope.is_job {
            let tool = scope.with.and_then(|index| scope.tools.get(index));
            if let Some(tool) = tool
                && tool.kind.name() != wanted.text
            {
                let d = errors::wrong_cutter(&signature.name, &wanted.text, tool.kind.name(), name.span);
                self.report(d.label(tool.span, "this cutter is in the spindle"));
            }
            return;
        }
        let own = self.signature(caller).and_then(|(own, _)| own.cutter.clone());
        match own {
            Some(own) if own.text == wanted.text => {}
            Some(own) => {
                let d = errors::wrong_cutter(&signature.name, &wanted.text, &own.text, name.span);
                self.report(d.label(own.span, "this routine works with it"));
            }
            None => self.report(errors::no_cutter_line(&signature.name, &wanted.text, name.span)),
        }
    }
}

/// A parameter that the routine's cutter line ties to a field is filled from the cutter in the spindle.
fn from_cutter(scope: &Scope, parameter: &Parameter) -> Option<Argument> {
    let field = parameter.tied?;
    let tool = scope.tools.get(scope.with?)?;
    let value = |field| tool.fields.iter().find(|(f, _)| *f == field).map(|(_, e)| e.clone());
    let is_zero = |wear: &Expr| crate::constant::number(wear).is_some_and(|n| n.is_zero());
    if field == CutterField::Diameter && value(CutterField::Wear).is_some_and(|wear| !is_zero(&wear)) {
        // The operator corrects it at the machine: its size then is no number of the text.
        return Some(Argument::Actual(field));
    }
    value(field).map(Argument::Number)
}
