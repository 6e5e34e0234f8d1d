//! The moves.

use borewright_base::Span;
use borewright_check::typed::{self, Places, Statement, StatementKind};
use borewright_motion::{Action, Call, Coolant, Expr, Passes, Step, Symbol, Way};

use crate::names::Names;
use crate::routine::{Lower, in_grid};

impl Lower<'_, '_> {
    /// The steps of a block; a feed holds from its line to the brace, and not in inner blocks. `None` where a
    /// called routine could not be lowered.
    pub(crate) fn block(&mut self, statements: &[Statement]) -> Option<Vec<Step>> {
        let mut feed = None;
        let mut steps = Vec::new();
        for statement in statements {
            let span = statement.span;
            if let StatementKind::Feed(e) = &statement.kind {
                feed = Some(self.expr(e));
            } else if let StatementKind::Let(l) = &statement.kind {
                let lets = self.named(l);
                steps.extend(lets.into_iter().map(|l| Step { action: Action::Let(l), span }));
            } else {
                let action = self.action(&statement.kind, feed.as_ref(), span)?;
                steps.push(Step { action, span });
            }
        }
        Some(steps)
    }

    fn action(&mut self, kind: &StatementKind, feed: Option<&Expr>, span: Span) -> Option<Action> {
        let feed = feed.cloned();
        Some(match kind {
            StatementKind::Retract => Action::Retract,
            StatementKind::RapidTo(p) => Action::RapidTo(self.point(p)),
            StatementKind::RapidZ(z) => Action::RapidZ(self.expr(z)),
            StatementKind::Line(to, z) => {
                let to = to.as_ref().map(|p| self.point(p));
                Action::Line { to, z: self.optional(z.as_ref()), feed }
            }
            StatementKind::Arc(turning, to, z, about) => Action::Arc {
                way: way(*turning),
                to: self.point(to),
                z: self.optional(z.as_ref()),
                about: self.point(about),
                feed,
            },
            StatementKind::Turn(turning, z, about) => {
                let z = self.optional(z.as_ref());
                Action::Turn { way: way(*turning), z, about: self.point(about), feed }
            }
            StatementKind::Passes(passes) => self.passes(passes)?,
            StatementKind::Repeat(index, count, body) => {
                let count = self.expr(count);
                Action::Repeat { index: Names::symbol(index), count, body: self.block(body)? }
            }
            StatementKind::Call(call) => self.call(call, span)?,
            StatementKind::Dwell(e) => Action::Dwell(self.expr(e)),
            StatementKind::With(tool, body) => Action::With { tool: *tool, body: self.block(body)? },
            StatementKind::Spindle(turning, e) => Action::Spindle { way: way(*turning), speed: self.expr(e) },
            StatementKind::Coolant(typed::Coolant::Flood) => Action::Coolant(Coolant::Flood),
            StatementKind::Coolant(typed::Coolant::Mist) => Action::Coolant(Coolant::Mist),
            StatementKind::Stop(text) => Action::Stop(text.clone()),
            // The block has dealt with the first two; a sound routine has no third.
            StatementKind::Feed(_) | StatementKind::Let(_) | StatementKind::Invalid => return None,
        })
    }

    fn passes(&mut self, passes: &typed::Passes) -> Option<Action> {
        let (from, to) = (self.expr(&passes.from), self.expr(&passes.to));
        Some(Action::Passes(Passes {
            value: Names::symbol(&passes.value),
            index: self.names.part(&passes.value, "index"),
            count: self.names.part(&passes.value, "count"),
            whole: passes.remainder_last.then(|| Passes::direction(&from, &to)),
            from,
            to,
            by: self.expr(&passes.by),
            body: self.block(&passes.body)?,
        }))
    }

    fn call(&mut self, call: &typed::Call, span: Span) -> Option<Action> {
        let routine = self.run.routine(call.routine)?;
        let mut arguments = Vec::new();
        for (name, value) in &call.arguments {
            arguments.push((Symbol::new(name), self.argument(value)));
        }
        let around = call.counted.then(|| self.around(&call.at)).flatten();
        let counts: Vec<Expr> = match &call.at {
            Places::List(_) => Vec::new(),
            Places::Circle { count, .. } => vec![self.expr(count)],
            Places::Grid { columns, rows, .. } => vec![self.expr(columns), self.expr(rows)],
        };
        if counts.iter().all(|count| count.as_number().is_some()) {
            return Some(Action::Call(Call { routine, arguments, at: self.listed(&call.at), around }));
        }
        // At a number of places that is a parameter: once for each, counted.
        let loops: Vec<(Symbol, Expr)> =
            counts.into_iter().map(|count| (self.place_counter(), count)).collect();
        let indices: Vec<Expr> = loops.iter().map(|(index, _)| Expr::symbol(index)).collect();
        let place = match (&call.at, indices.as_slice()) {
            (Places::Grid { wide, high, .. }, [column, row]) => {
                in_grid((column, &self.expr(wide)), (row, &self.expr(high)))
            }
            (Places::Circle { .. }, [index]) => self.on_circle(&call.at, index),
            (Places::List(_) | Places::Circle { .. } | Places::Grid { .. }, _) => return None,
        };
        let once = Action::Call(Call { routine, arguments, at: vec![place], around });
        let repeated =
            |body, (index, count)| Action::Repeat { index, count, body: vec![Step { action: body, span }] };
        Some(loops.into_iter().rev().fold(once, repeated))
    }

    fn place_counter(&mut self) -> Symbol {
        self.patterns += 1;
        Symbol::new(format!("{}{}", Symbol::PLACES, self.patterns))
    }
}

fn way(way: typed::Way) -> Way {
    match way {
        typed::Way::Ccw => Way::Ccw,
        typed::Way::Cw => Way::Cw,
    }
}
