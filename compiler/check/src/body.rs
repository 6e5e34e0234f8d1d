//! The statements of a block.

use borewright_base::Span;
use borewright_number::Dimension;
use borewright_syntax::ast::{self, Name, StatementKind as Tree};

use crate::checker::Checker;
use crate::errors;
use crate::scope::{Origin, Scope};
use crate::typed::{Coolant, Expr, ExprKind, Passes, RoutineId, Statement, StatementKind};
use crate::value::Value;

impl Checker<'_> {
    /// The statements of a block; its names are the caller's to take away.
    pub(crate) fn block(&mut self, scope: &mut Scope, id: RoutineId, block: &ast::Block) -> Vec<Statement> {
        let mut statements = Vec::new();
        for tree in &block.statements {
            self.refuse_without_cutter(scope, tree);
            let kind = self.statement(scope, id, tree);
            statements.extend(kind.map(|kind| Statement { kind, span: tree.span }));
        }
        statements
    }

    /// A block with names of its own.
    fn inner_block(
        &mut self,
        scope: &mut Scope,
        id: RoutineId,
        own: Option<(&Name, Value)>,
        block: &ast::Block,
    ) -> Vec<Statement> {
        let mark = scope.bindings.len();
        if let Some((name, value)) = own {
            self.introduce(scope, name, Origin::LoopValue, value);
        }
        let body = self.block(scope, id, block);
        scope.leave(mark);
        body
    }

    /// One statement; `None` for a let that needs no name of its own.
    fn statement(
        &mut self,
        scope: &mut Scope,
        id: RoutineId,
        tree: &ast::Statement,
    ) -> Option<StatementKind> {
        let length = Dimension::LENGTH;
        Some(match &tree.kind {
            Tree::Let(l) => return self.let_line(scope, l, tree.span).map(StatementKind::Let),
            Tree::Feed(e) => {
                StatementKind::Feed(self.quantity(scope, e, Dimension::FEED, "what follows `feed`"))
            }
            Tree::Retract => StatementKind::Retract,
            Tree::RapidTo(p) => StatementKind::RapidTo(self.point(scope, p, "where a rapid move ends")),
            Tree::RapidZ(e) => StatementKind::RapidZ(self.quantity(scope, e, length, "the height of a move")),
            Tree::Line(target) => {
                let to = target.point.as_ref().map(|p| self.point(scope, p, "where a line ends"));
                StatementKind::Line(to, self.height(scope, target.z.as_ref()))
            }
            Tree::Arc(way, target, about) => {
                let to = match &target.point {
                    Some(p) => self.point(scope, p, "where an arc ends"),
                    None => {
                        self.report(errors::arc_without_end(tree.span));
                        crate::typed::Point::Invalid
                    }
                };
                let z = self.height(scope, target.z.as_ref());
                StatementKind::Arc(*way, to, z, self.point(scope, about, "the centre of an arc"))
            }
            Tree::Turn(way, z, about) => {
                let z = self.height(scope, z.as_ref());
                StatementKind::Turn(*way, z, self.point(scope, about, "the centre of a turn"))
            }
            Tree::Passes(passes) => StatementKind::Passes(self.passes(scope, id, passes)?),
            Tree::Repeat(count, index, block) => self.repeat(scope, id, count, index.as_ref(), block),
            Tree::Call(call) => StatementKind::Call(self.call(scope, id, call, tree.span)?),
            Tree::Dwell(e) => {
                StatementKind::Dwell(self.quantity(scope, e, Dimension::TIME, "what follows `dwell`"))
            }
            Tree::With(name, block) => self.with(scope, id, name, block, tree.span)?,
            Tree::Spindle(way, e) => {
                self.refuse_in_routine(scope, "the spindle", tree.span);
                StatementKind::Spindle(
                    *way,
                    self.quantity(scope, e, Dimension::SPEED, "the speed of the spindle"),
                )
            }
            Tree::Coolant(name) => StatementKind::Coolant(self.coolant(scope, name, tree.span)?),
            Tree::Stop(text) => {
                self.refuse_in_routine(scope, "a stop", tree.span);
                if scope.with.is_some() {
                    self.report(errors::misplaced_stop(tree.span));
                }
                StatementKind::Stop(text.text.clone())
            }
            Tree::Invalid => {
                self.note_invalid();
                StatementKind::Invalid
            }
        })
    }

    fn height(&mut self, scope: &mut Scope, z: Option<&ast::Expr>) -> Option<Expr> {
        z.map(|e| self.quantity(scope, e, Dimension::LENGTH, "the height of a move"))
    }

    fn passes(&mut self, scope: &mut Scope, id: RoutineId, tree: &ast::Passes) -> Option<Passes> {
        let from = self.number(scope, &tree.from, "the start of `passes`");
        let to = self.number(scope, &tree.to, "the end of `passes`");
        let by = self.number(scope, &tree.by, "the step of `passes`");
        let dimension = self
            .common(&from, &to, "passes go from {a} to {b}", tree.from.span.to(tree.to.span))
            .map(|ends| ends.unwrap_or_else(|| by.settled()));
        let invalid = from.is_invalid() || to.is_invalid();
        let known = dimension.filter(|_| !invalid);
        let name = scope.fresh(&tree.value.text);
        let value = match known {
            Some(dimension) => Value::Number(Expr::new(
                ExprKind::Name(name.clone()),
                Some(dimension),
                false,
                tree.value.span,
            )),
            None => Value::Invalid,
        };
        let by = match known {
            Some(dimension) => self.fit(by, dimension, "the step of `passes`"),
            None => by,
        };
        let body = self.inner_block(scope, id, Some((&tree.value, value)), &tree.body);
        let dimension = known?;
        let (from, to) = (from.of(dimension), to.of(dimension));
        Some(Passes { value: name, from, to, by, remainder_last: tree.remainder_last, body })
    }

    fn repeat(
        &mut self,
        scope: &mut Scope,
        id: RoutineId,
        count: &ast::Expr,
        index: Option<&Name>,
        block: &ast::Block,
    ) -> StatementKind {
        let count = self.whole(scope, count, "how often something is repeated");
        let name = scope.fresh(index.map_or("turn", |n| n.text.as_str()));
        let own = index.map(|index| {
            let value = Expr::new(ExprKind::Name(name.clone()), Some(Dimension::RATIO), true, index.span);
            (index, Value::Number(value))
        });
        let body = self.inner_block(scope, id, own, block);
        StatementKind::Repeat(name, count, body)
    }

    /// `with finisher { ... }`
    fn with(
        &mut self,
        scope: &mut Scope,
        id: RoutineId,
        name: &Name,
        block: &ast::Block,
        span: Span,
    ) -> Option<StatementKind> {
        self.refuse_in_routine(scope, "`with`", span);
        if scope.with.is_some() {
            self.report(errors::nested_with(name.span));
        }
        let tool = match scope.look_up(&name.text) {
            Some(Value::Tool(index)) => Some(index),
            Some(Value::Invalid) => None,
            Some(_) | None => {
                if scope.is_job {
                    let known: Vec<String> = scope.tools.iter().map(|t| t.name.clone()).collect();
                    self.report(errors::unknown_cutter(name, &known));
                }
                None
            }
        };
        // An unknown cutter is still one: what its block says is not blamed on it.
        let before = scope.with.replace(tool.unwrap_or(usize::MAX));
        let body = self.inner_block(scope, id, None, block);
        scope.with = before;
        tool.map(|tool| StatementKind::With(tool, body))
    }

    fn coolant(&mut self, scope: &Scope, name: &Name, span: Span) -> Option<Coolant> {
        self.refuse_in_routine(scope, "coolant", span);
        match name.text.as_str() {
            "flood" => Some(Coolant::Flood),
            "mist" => Some(Coolant::Mist),
            other => {
                self.report(errors::unknown_word(other, &["flood".to_owned(), "mist".to_owned()], name.span));
                None
            }
        }
    }

    fn refuse_in_routine(&mut self, scope: &Scope, what: &str, span: Span) {
        if !scope.is_job {
            self.report(errors::jobs_only(what, span));
        }
    }

    /// In a job, whatever moves or sets the spindle stands inside `with`.
    fn refuse_without_cutter(&mut self, scope: &Scope, tree: &ast::Statement) {
        let what = match &tree.kind {
            Tree::Feed(_) => "a feed",
            Tree::Retract
            | Tree::RapidTo(_)
            | Tree::RapidZ(_)
            | Tree::Line(_)
            | Tree::Arc(..)
            | Tree::Turn(..) => "a move",
            Tree::Call(..) => "a call",
            Tree::Dwell(_) => "a dwell",
            Tree::Spindle(..) => "a spindle speed",
            Tree::Coolant(_) => "coolant",
            Tree::Let(_)
            | Tree::Passes(_)
            | Tree::Repeat(..)
            | Tree::With(..)
            | Tree::Stop(_)
            | Tree::Invalid => return,
        };
        if scope.is_job && scope.with.is_none() {
            self.report(errors::no_cutter(what, tree.span));
        }
    }
}
