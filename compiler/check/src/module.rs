//! Files, and the names that are visible at their top level.

use std::collections::BTreeMap;
use std::sync::Arc;

use borewright_base::Span;
use borewright_syntax::ast::{self, ItemKind};

use crate::checker::Checker;
use crate::errors;
use crate::typed::RoutineId;

/// The place of a top-level item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct ItemId {
    pub(crate) module: usize,
    pub(crate) item: usize,
}

/// What a top-level name means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Global {
    Constant(ItemId),
    Function(ItemId),
    Table(ItemId),
    Routine(RoutineId),
    Job,
}

/// A file that is being checked, or used.
#[derive(Debug)]
pub(crate) struct Module {
    /// The name by which it is used; empty for the first file.
    name: String,
    pub(crate) file: Arc<ast::File>,
    /// Its own items, then those of the files that it uses.
    pub(crate) names: BTreeMap<String, (Global, Span)>,
    /// The files it uses: where it says so, which, and whether any name of theirs was needed.
    uses: Vec<(ast::Name, usize, bool)>,
}

impl Checker<'_> {
    /// Reads the file and all that it uses, and says what each top-level name means where.
    pub(crate) fn collect(&mut self, file: &ast::File) {
        self.add_module(String::new(), Arc::new(file.clone()));
        let mut next = 0;
        while next < self.modules.len() {
            self.load_used_files(next);
            next += 1;
        }
        for module in 0..self.modules.len() {
            self.declare_own(module);
        }
        for module in 0..self.modules.len() {
            self.import(module);
        }
    }

    fn add_module(&mut self, name: String, file: Arc<ast::File>) -> usize {
        self.modules.push(Module { name, file, names: BTreeMap::new(), uses: Vec::new() });
        self.modules.len() - 1
    }

    fn load_used_files(&mut self, module: usize) {
        let Some(file) = self.modules.get(module).map(|m| m.file.clone()) else { return };
        for item in &file.items {
            let ItemKind::Use(name) = &item.kind else { continue };
            let known = self.modules.iter().position(|m| m.name == name.text);
            let used = match (known, self.loader.load(&name.text)) {
                (Some(known), _) => known,
                (None, Some(file)) => self.add_module(name.text.clone(), file),
                (None, None) => {
                    self.report(errors::unknown_file(name));
                    continue;
                }
            };
            if let Some(module) = self.modules.get_mut(module) {
                module.uses.push((name.clone(), used, false));
            }
        }
    }

    fn declare_own(&mut self, module: usize) {
        let Some(file) = self.modules.get(module).map(|m| m.file.clone()) else { return };
        for (index, item) in file.items.iter().enumerate() {
            let id = ItemId { module, item: index };
            let (name, global) = match &item.kind {
                ItemKind::Let(l) => (&l.name, Global::Constant(id)),
                ItemKind::Function(f) => (&f.name, Global::Function(id)),
                ItemKind::Table(t) => (&t.name, Global::Table(id)),
                ItemKind::Routine(r) => (&r.name, Global::Routine(self.add_routine(id))),
                ItemKind::Job(r) => {
                    self.add_routine(id);
                    (&r.name, Global::Job)
                }
                ItemKind::Use(_) | ItemKind::Invalid => continue,
            };
            self.declare(module, &name.text, global, name.span);
        }
    }

    fn add_routine(&mut self, id: ItemId) -> RoutineId {
        self.routines.push(id);
        RoutineId(self.routines.len() - 1)
    }

    fn declare(&mut self, module: usize, name: &str, global: Global, span: Span) {
        let first = self.modules.get(module).and_then(|m| m.names.get(name)).copied();
        match first {
            Some((other, _)) if other == global => {}
            Some((_, first)) => self.report(errors::name_taken(name, span, Some(first))),
            None => {
                if let Some(module) = self.modules.get_mut(module) {
                    module.names.insert(name.to_owned(), (global, span));
                }
            }
        }
    }

    /// Makes the items of used files visible; not those that they use themselves.
    fn import(&mut self, module: usize) {
        let Some(uses) = self.modules.get(module).map(|m| m.uses.clone()) else { return };
        for (name, used, _) in uses {
            let Some(other) = self.modules.get(used) else { continue };
            let own = |g: &Global| match g {
                Global::Constant(i) | Global::Function(i) | Global::Table(i) => i.module == used,
                Global::Routine(r) => self.routines.get(r.0).is_some_and(|i| i.module == used),
                Global::Job => false,
            };
            let visible: Vec<(String, Global)> =
                other.names.iter().filter(|(_, (g, _))| own(g)).map(|(n, (g, _))| (n.clone(), *g)).collect();
            for (item, global) in visible {
                self.declare(module, &item, global, name.span);
            }
        }
    }

    /// What a top-level name means in a file; needing a name of a used file makes that file needed.
    pub(crate) fn global(&mut self, module: usize, name: &str) -> Option<Global> {
        let (global, _) = *self.modules.get(module)?.names.get(name)?;
        let home = match global {
            Global::Constant(i) | Global::Function(i) | Global::Table(i) => i.module,
            Global::Routine(r) => self.routines.get(r.0)?.module,
            Global::Job => module,
        };
        for (_, used, needed) in &mut self.modules.get_mut(module)?.uses {
            *needed |= *used == home;
        }
        Some(global)
    }

    /// Where a name of the top level was introduced.
    pub(crate) fn global_span(&self, module: usize, name: &str) -> Option<Span> {
        Some(self.modules.get(module)?.names.get(name)?.1)
    }

    /// The visible top-level names of one sort, for suggestions.
    pub(crate) fn global_names(&self, module: usize, sort: impl Fn(Global) -> bool) -> Vec<String> {
        let names = self.modules.get(module).map(|m| &m.names);
        names.into_iter().flatten().filter(|(_, (g, _))| sort(*g)).map(|(n, _)| n.clone()).collect()
    }

    pub(crate) fn warn_unused_files(&mut self) {
        let uses = self.modules.first().map(|m| m.uses.clone()).unwrap_or_default();
        // After an error, it may be the fault of what was not understood.
        let sound = self.error_count() == 0;
        for (name, _, needed) in uses {
            if sound && !needed {
                self.warn(0, errors::unused("used file", &name.text, name.span));
            }
        }
    }
}
