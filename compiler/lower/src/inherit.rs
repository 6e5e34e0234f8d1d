//! `requires all r`: what each call of `r` demands becomes a demand on the caller's own caller.

use std::collections::{BTreeMap, BTreeSet};
use std::slice;
use std::sync::Arc;

use borewright_base::{Diagnostic, Span};
use borewright_motion::{
    Action, Call, Clause, Condition, Demand, Demands, Expr, Linear, Motion, Parameter, Relation, Requirement,
    Step, Symbol,
};

use crate::codes;

/// What a routine takes over from the ones that it calls.
#[derive(Debug, Default)]
pub(crate) struct Inherited {
    requirements: Vec<Requirement>,
    demands: Option<Demands>,
}

impl Inherited {
    /// Adds what is not demanded already, below the lines of the head so far.
    pub(crate) fn add_to(
        self,
        head: &mut Vec<Clause>,
        demands: &mut Option<Demands>,
        parameters: &[Parameter],
    ) -> Result<(), Box<Diagnostic>> {
        for requirement in self.requirements {
            let condition = requirement.condition.map(&|e| named(e, head));
            let requirement = Requirement { condition, ..requirement };
            if let Some(later) = undefined(&requirement.condition, head, parameters) {
                return Err(Box::new(named_below(&later, requirement.span)));
            }
            let known = head.iter().any(|c| match c {
                Clause::Require(r) => r.condition == requirement.condition,
                Clause::Let(_) => false,
            });
            if !known {
                head.push(Clause::Require(requirement));
            }
        }
        let Some(mut taken) = self.demands else { return Ok(()) };
        for rule in &mut taken.rules {
            rule.value = rule.value.map(&|e| named(e, head));
        }
        match demands {
            None => *demands = Some(taken),
            Some(own) => {
                for rule in taken.rules {
                    let same = |d: &Demand| {
                        d.field == rule.field && d.relation == rule.relation && d.value == rule.value
                    };
                    if !own.rules.iter().any(same) {
                        own.rules.push(rule);
                    }
                }
            }
        }
        Ok(())
    }
}

/// The name that a let of the head gives to this value, so that what is taken over reads as the caller's own.
fn named(e: &Expr, head: &[Clause]) -> Option<Expr> {
    let is_it = |c: &Clause| match c {
        Clause::Let(l) => (l.value == *e && l.value.as_number().is_none()).then(|| Expr::symbol(&l.symbol)),
        Clause::Require(_) => None,
    };
    head.iter().find_map(is_it)
}

/// A symbol that no line of the head so far has introduced.
fn undefined(condition: &Condition, head: &[Clause], parameters: &[Parameter]) -> Option<Symbol> {
    let known = |s: &Symbol| {
        parameters.iter().any(|p| p.symbol == *s)
            || head.iter().any(|c| matches!(c, Clause::Let(l) if l.symbol == *s))
    };
    condition.symbols().into_iter().find(|s| !known(s))
}

/// The ranges, requirements and cutter demands of every call of `callee` in `body`, arguments put in.
pub(crate) fn requirements(
    callee: &Arc<Motion>,
    body: &[Step],
    parameters: &[Parameter],
    span: Span,
) -> Result<Inherited, Box<Diagnostic>> {
    let mut block = Block::default();
    block.collect(body);
    let mut inherited = Inherited::default();
    let mut called = false;
    for call in block.calls.iter().filter(|c| Arc::ptr_eq(&c.routine, callee)) {
        called = true;
        inherited.take(&block, call, parameters, span)?;
    }
    if called { Ok(inherited) } else { Err(Box::new(uncalled(callee, span))) }
}

/// The calls of a body, and the names that it gives to values.
#[derive(Debug, Default)]
struct Block<'a> {
    calls: Vec<&'a Call>,
    lets: BTreeMap<Symbol, Expr>,
    loops: BTreeSet<Symbol>,
}

impl<'a> Block<'a> {
    fn collect(&mut self, steps: &'a [Step]) {
        for step in steps {
            match &step.action {
                Action::Call(call) => self.calls.push(call),
                Action::Let(l) => {
                    let value = self.expanded(&l.value);
                    self.lets.insert(l.symbol.clone(), value);
                }
                Action::Passes(passes) => {
                    self.loops.extend([passes.value.clone(), passes.index.clone(), passes.count.clone()]);
                    self.collect(&passes.body);
                }
                Action::Repeat { index, body, .. } => {
                    self.loops.insert(index.clone());
                    self.collect(body);
                }
                Action::With { body, .. } => self.collect(body),
                Action::Retract
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
        }
    }

    /// A value in the names of the head.
    fn expanded(&self, e: &Expr) -> Expr {
        e.substitute(&|s| self.lets.get(s).cloned())
    }
}

impl Inherited {
    fn take(
        &mut self,
        block: &Block<'_>,
        call: &Call,
        parameters: &[Parameter],
        span: Span,
    ) -> Result<(), Box<Diagnostic>> {
        let mut bound: Vec<(Symbol, Expr)> =
            call.bindings().into_iter().map(|(s, e)| (s, block.expanded(&e))).collect();
        for parameter in &call.routine.parameters {
            let condition = put_in(&parameter.range(), &bound);
            let name = parameter.symbol.name().to_uppercase().replace('_', " ");
            let alarm = format!("{name} OUT OF RANGE");
            let range = Requirement { condition, alarm, practice: false, span };
            self.require(block, call, parameters, range)?;
        }
        for clause in &call.routine.head {
            match clause {
                Clause::Let(l) => {
                    let value = l.value.substitute(&|s| find(&bound, s));
                    bound.push((l.symbol.clone(), value));
                }
                Clause::Require(r) => {
                    let condition = put_in(&r.condition, &bound);
                    self.require(block, call, parameters, Requirement { condition, span, ..r.clone() })?;
                }
            }
        }
        if let Some(demands) = &call.routine.demands {
            let own = self.demands.get_or_insert(Demands { kind: demands.kind, rules: Vec::new(), span });
            for rule in &demands.rules {
                let value = rule.value.substitute(&|s| find(&bound, s));
                own.rules.push(Demand { value, span, ..rule.clone() });
            }
        }
        Ok(())
    }

    fn require(
        &mut self,
        block: &Block<'_>,
        call: &Call,
        parameters: &[Parameter],
        requirement: Requirement,
    ) -> Result<(), Box<Diagnostic>> {
        let Requirement { condition, alarm, span, .. } = &requirement;
        if let Some(symbol) = condition.symbols().iter().find(|s| block.loops.contains(s)) {
            return Err(Box::new(loop_value(call, symbol, *span)));
        }
        let parts =
            if let Condition::And(parts) = condition { parts.as_slice() } else { slice::from_ref(condition) };
        let needed = Condition::all(parts.iter().filter(|c| !granted(c, parameters)).cloned());
        if needed == Condition::False {
            return Err(Box::new(never_met(call, alarm, *span)));
        }
        if needed != Condition::True {
            self.requirements.push(Requirement { condition: needed, ..requirement });
        }
        Ok(())
    }
}

fn find(bound: &[(Symbol, Expr)], symbol: &Symbol) -> Option<Expr> {
    bound.iter().find(|(s, _)| s == symbol).map(|(_, e)| e.clone())
}

fn put_in(condition: &Condition, bound: &[(Symbol, Expr)]) -> Condition {
    condition.substitute(&|s| find(bound, s))
}

/// Whether a comparison holds for every value of the parameters' ranges, as far as can be seen without a proof: a side
/// compared with itself, or sums of multiples of parameters.
fn granted(condition: &Condition, parameters: &[Parameter]) -> bool {
    let Condition::Compare(relation, a, b) = condition else { return *condition == Condition::True };
    if a == b {
        // `x / y <= x / y` says nothing new: the divisor is an obligation where it is used.
        return matches!(relation, Relation::Equal | Relation::LessEqual | Relation::GreaterEqual);
    }
    let of = |symbol: &Symbol| {
        let parameter = parameters.iter().find(|p| p.symbol == *symbol)?;
        Some((parameter.least.clone(), parameter.greatest.clone()))
    };
    let difference = Linear::of(&(a.clone() - b.clone())).and_then(|sum| sum.range(&of));
    let Some((least, greatest)) = difference else { return false };
    match relation {
        Relation::GreaterEqual => least.signum() >= 0,
        Relation::Greater => least.signum() > 0,
        Relation::LessEqual => greatest.signum() <= 0,
        Relation::Less => greatest.signum() < 0,
        Relation::Equal => least.is_zero() && greatest.is_zero(),
        Relation::NotEqual => least.signum() > 0 || greatest.signum() < 0,
    }
}

fn loop_value(call: &Call, symbol: &Symbol, span: Span) -> Diagnostic {
    let name = &call.routine.name;
    Diagnostic::error(
        codes::REQUIRES_LOOP_VALUE,
        span,
        format!(
            "what `{name}` requires depends on `{symbol}`, which changes in a loop: no caller can grant it"
        ),
    )
    .hint("write the requirement yourself, for the value that asks for most")
}

fn uncalled(callee: &Motion, span: Span) -> Diagnostic {
    let name = &callee.name;
    Diagnostic::error(
        codes::REQUIRES_UNCALLED,
        span,
        format!("nothing here calls `{name}`, so there is nothing to require"),
    )
}

fn named_below(symbol: &Symbol, span: Span) -> Diagnostic {
    Diagnostic::error(
        codes::REQUIRES_LATER_LET,
        span,
        format!("what is required here uses `{symbol}`, which is named below this line"),
    )
    .hint("put this line under that `let`")
}

fn never_met(call: &Call, alarm: &str, span: Span) -> Diagnostic {
    let name = &call.routine.name;
    Diagnostic::error(codes::NEVER_MET, span, format!("the call of `{name}` can never be made: {alarm}"))
}
