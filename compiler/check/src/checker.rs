//! The state of one run, and its order.

use std::collections::BTreeMap;
use std::sync::Arc;

use borewright_base::{Diagnostic, Diagnostics, Span};
use borewright_syntax::ast;

use crate::Loader;
use crate::errors;
use crate::module::{ItemId, Module};
use crate::scope::Scope;
use crate::signature::Signature;
use crate::typed::{Checked, Routine, RoutineId, Table};
use crate::value::Value;

/// Something of the top level that is understood when it is first needed.
#[derive(Debug, Clone)]
pub(crate) enum Lazy<T> {
    InProgress,
    Done(T),
}

pub(crate) struct Checker<'a> {
    pub(crate) loader: &'a dyn Loader,
    pub(crate) modules: Vec<Module>,
    /// Where each routine and job stands.
    pub(crate) routines: Vec<ItemId>,
    pub(crate) constants: BTreeMap<ItemId, Lazy<Value>>,
    pub(crate) tables: BTreeMap<ItemId, Lazy<Option<Arc<Table>>>>,
    pub(crate) signatures: BTreeMap<RoutineId, (Arc<Signature>, Scope)>,
    /// Functions that are being put in, outermost first.
    pub(crate) functions: Vec<ItemId>,
    /// Who calls whom, and where.
    pub(crate) calls: Vec<(RoutineId, RoutineId, Span)>,
    /// Something outgrew all bounds while nothing was said.
    pub(crate) outgrown: bool,
    out: Diagnostics,
    errors: usize,
    /// Above 0 while something is understood a second time: what there is to say has been said.
    pub(crate) quiet: usize,
}

impl<'a> Checker<'a> {
    pub(crate) fn new(loader: &'a dyn Loader) -> Self {
        Self {
            loader,
            modules: Vec::new(),
            routines: Vec::new(),
            constants: BTreeMap::new(),
            tables: BTreeMap::new(),
            signatures: BTreeMap::new(),
            functions: Vec::new(),
            calls: Vec::new(),
            outgrown: false,
            out: Diagnostics::default(),
            errors: 0,
            quiet: 0,
        }
    }

    /// The whole run, top to bottom.
    pub(crate) fn run(mut self, file: &ast::File) -> (Checked, Diagnostics) {
        self.collect(file);
        self.check_constants();
        self.check_functions();
        self.check_tables();
        let ids: Vec<RoutineId> = (0..self.routines.len()).map(RoutineId).collect();
        let mut routines: Vec<Routine> = ids.iter().map(|id| self.routine(*id)).collect();
        for id in self.recursive_routines() {
            if let Some(routine) = routines.get_mut(id.0) {
                routine.sound = false;
            }
        }
        self.warn_unused_files();
        let own = ids.into_iter().filter(|id| self.routines.get(id.0).is_some_and(|i| i.module == 0));
        let checked = Checked { own: own.collect(), routines, tables: self.own_tables() };
        (checked, self.out)
    }

    pub(crate) fn report(&mut self, diagnostic: Diagnostic) {
        self.errors += 1;
        if self.quiet == 0 {
            let _said = self.out.report(diagnostic);
        }
    }

    /// What the parser could not understand makes its routine unsound; it has been reported.
    pub(crate) fn note_invalid(&mut self) {
        self.errors += 1;
    }

    /// Warns about a file that the user is checking; a library's warnings are its own business.
    pub(crate) fn warn(&mut self, module: usize, diagnostic: Diagnostic) {
        if self.quiet == 0 && module == 0 {
            self.out.warn(diagnostic);
        }
    }

    /// How many errors there have been: equal before and after something sound.
    pub(crate) fn error_count(&self) -> usize {
        self.errors
    }

    /// The tree of a top-level item, its file kept alive.
    pub(crate) fn item(&self, id: ItemId) -> Option<(Arc<ast::File>, usize)> {
        let module = self.modules.get(id.module)?;
        Some((module.file.clone(), id.item))
    }

    /// Reports each routine that needs itself, at the call that closes the circle, and names all on a circle.
    fn recursive_routines(&mut self) -> Vec<RoutineId> {
        let reaches = |from: RoutineId, to: RoutineId, calls: &[(RoutineId, RoutineId, Span)]| {
            let mut seen = vec![from];
            let mut next = 0;
            while let Some(at) = seen.get(next).copied() {
                if at == to {
                    return true;
                }
                let called = calls.iter().filter(|(caller, ..)| *caller == at).map(|(_, callee, _)| *callee);
                let new: Vec<_> = called.filter(|c| !seen.contains(c)).collect();
                seen.extend(new);
                next += 1;
            }
            false
        };
        let calls = self.calls.clone();
        let mut found = Vec::new();
        for (caller, callee, span) in &calls {
            if reaches(*callee, *caller, &calls) {
                if !found.contains(callee) {
                    let name = self.signatures.get(callee).map_or(String::new(), |(s, _)| s.name.clone());
                    self.report(errors::recursion("routine", &name, *span));
                }
                found.extend([*caller, *callee]);
            }
        }
        found
    }
}
