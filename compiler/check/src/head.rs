//! A routine or a job: its head, line by line, then its body.

use std::sync::Arc;

use borewright_base::Span;
use borewright_number::Dimension;
use borewright_syntax::ast::{self, HeadKind, ItemKind};

use crate::checker::Checker;
use crate::errors;
use crate::module::Global;
use crate::scope::{Origin, Scope};
use crate::signature::Signature;
use crate::typed::{
    Demands, Expr, ExprKind, Feature, Head, Job, Let, LetValue, Made, Point, Routine, RoutineId,
};
use crate::value::Value;

/// What the head has said so far.
#[derive(Debug, Default)]
struct Draft {
    program: Option<(Expr, Span)>,
    work: Option<(Expr, Span)>,
    travel: Option<(Expr, Span)>,
    demands: Option<(Option<Demands>, Span)>,
    head: Vec<Head>,
    made: Vec<Made>,
    given: Vec<Feature>,
    /// Names of the features, made or given.
    features: Vec<ast::Name>,
}

impl Checker<'_> {
    /// Understands a routine or a job.
    pub(crate) fn routine(&mut self, id: RoutineId) -> Routine {
        let item = self.routines.get(id.0).and_then(|item| self.item(*item));
        let tree = item.as_ref().and_then(|(file, index)| file.items.get(*index));
        let (tree, documentation) = match tree.map(|item| (&item.kind, &item.documentation)) {
            Some((ItemKind::Routine(tree) | ItemKind::Job(tree), documentation)) => (tree, documentation),
            Some((
                ItemKind::Use(_)
                | ItemKind::Let(_)
                | ItemKind::Function(_)
                | ItemKind::Table(_)
                | ItemKind::Invalid,
                _,
            ))
            | None => return empty_routine(),
        };
        let Some((signature, mut scope)) = self.signature(id) else { return empty_routine() };
        let errors = self.error_count();
        let is_job = scope.is_job;
        if signature.sound {
            scope.errors_before = errors;
        }
        let draft = self.head(&mut scope, tree);
        if is_job {
            self.check_setup(tree, &draft);
        }
        let body = self.block(&mut scope, id, &tree.body);
        self.leave_all(&mut scope);
        let sound = signature.sound && self.error_count() == errors;
        finish(tree, documentation, &signature, scope, draft, body, sound)
    }

    fn head(&mut self, scope: &mut Scope, tree: &ast::Routine) -> Draft {
        let mut draft = Draft::default();
        for line in &tree.head {
            self.head_line(scope, line, &mut draft);
        }
        draft
    }

    fn head_line(&mut self, scope: &mut Scope, line: &ast::Head, draft: &mut Draft) {
        match &line.kind {
            HeadKind::Let(tree) => draft.head.extend(self.let_line(scope, tree, line.span).map(Head::Let)),
            HeadKind::Program(e) => {
                let number = self.whole(scope, e, "the program number");
                self.once(&mut draft.program, "the program number", number, line.span);
            }
            HeadKind::RequiresAll(name) => {
                let routine = self.called_routine(scope, name);
                draft.head.extend(routine.map(|routine| Head::RequiresAll { routine, span: line.span }));
            }
            HeadKind::Requires(e, text) | HeadKind::Practice(e, text) => {
                let condition = self.condition(scope, e, "what is required");
                let practice = matches!(line.kind, HeadKind::Practice(..));
                let alarm = text.text.clone();
                draft.head.push(Head::Requires { condition, alarm, practice, span: line.span });
            }
            HeadKind::Demand(kind, rules) => {
                if scope.is_job {
                    self.report(errors::routines_only("what is demanded of a cutter", line.span));
                }
                let demands = self.demands(scope, kind, rules, line.span);
                self.once(&mut draft.demands, "the cutter", demands, line.span);
            }
            HeadKind::Tool(name, kind, arguments) => {
                if !scope.is_job {
                    self.report(errors::jobs_only("a list of cutters", line.span));
                }
                self.tool(scope, name, kind, arguments, line.span);
            }
            HeadKind::Makes(feature, promises) => {
                self.feature_name(&feature.name, draft);
                draft.made.extend(self.made(scope, feature, promises));
            }
            HeadKind::Given(feature) => {
                self.feature_name(&feature.name, draft);
                draft.given.extend(self.feature(scope, feature));
            }
            HeadKind::Work(e) => {
                self.refuse_setup(scope, "the work offset", line.span);
                let number = self.whole(scope, e, "the work offset");
                self.once(&mut draft.work, "the work offset", number, line.span);
            }
            HeadKind::Travel(e) => {
                self.refuse_setup(scope, "the travel height", line.span);
                let height = self.quantity(scope, e, Dimension::LENGTH, "the travel height");
                self.once(&mut draft.travel, "the travel height", height, line.span);
            }
            HeadKind::Invalid => self.note_invalid(),
        }
    }

    fn refuse_setup(&mut self, scope: &Scope, what: &str, span: Span) {
        if !scope.is_job {
            self.report(errors::jobs_only(what, span));
        }
    }

    fn once<T>(&mut self, slot: &mut Option<(T, Span)>, what: &str, value: T, span: Span) {
        match slot {
            Some((_, first)) => self.report(errors::said_twice(what, span, *first)),
            None => *slot = Some((value, span)),
        }
    }

    fn feature_name(&mut self, name: &ast::Name, draft: &mut Draft) {
        if let Some(first) = draft.features.iter().find(|n| n.text == name.text) {
            self.report(errors::name_taken(&name.text, name.span, Some(first.span)));
        }
        draft.features.push(name.clone());
    }

    /// A job says where it works and how high it travels.
    fn check_setup(&mut self, tree: &ast::Routine, draft: &Draft) {
        if draft.work.is_none() {
            self.report(errors::missing_setup("which work offset it uses", "work 1", &tree.name));
        }
        if draft.travel.is_none() {
            self.report(errors::missing_setup(
                "how high it travels between places",
                "travel z 50mm",
                &tree.name,
            ));
        }
    }

    /// The routine that is called, or whose requirements are taken over.
    pub(crate) fn called_routine(&mut self, scope: &Scope, name: &ast::Name) -> Option<RoutineId> {
        match self.global(scope.module, &name.text) {
            Some(Global::Routine(id)) => Some(id),
            Some(Global::Job) => {
                self.report(errors::called_job(name));
                None
            }
            Some(Global::Constant(_) | Global::Function(_) | Global::Table(_)) | None => {
                let known = self.global_names(scope.module, |g| matches!(g, Global::Routine(_)));
                self.report(errors::unknown_routine(name, &known));
                None
            }
        }
    }

    /// `let n = e`. Quantities and points get a name; rows, words and places are put in where they are used.
    pub(crate) fn let_line(&mut self, scope: &mut Scope, tree: &ast::Let, span: Span) -> Option<Let> {
        let value = self.value(scope, &tree.value);
        let value = self.nameable(value, tree.value.span);
        let taken = self.error_count();
        let name_span = tree.name.span;
        let named = |name, value| Some(Let { name, value, span });
        let (made, meaning) = match value {
            Value::Number(e) => {
                let name = scope.fresh(&tree.name.text);
                let symbol = Expr::new(ExprKind::Name(name.clone()), Some(e.settled()), e.whole, name_span);
                (named(name, LetValue::Number(e)), Value::Number(symbol))
            }
            Value::Point(p) => {
                let name = scope.fresh(&tree.name.text);
                (named(name.clone(), LetValue::Point(p)), Value::Point(Point::Name(name)))
            }
            value @ (Value::Places(_)
            | Value::Choice(..)
            | Value::Row(_)
            | Value::Condition(_)
            | Value::Table(_)
            | Value::Tool(_)
            | Value::Invalid) => (None, value),
        };
        self.introduce(scope, &tree.name, Origin::Let, meaning);
        if self.error_count() == taken { made } else { None }
    }
}

fn finish(
    tree: &ast::Routine,
    documentation: &[String],
    signature: &Arc<Signature>,
    scope: Scope,
    draft: Draft,
    body: Vec<crate::typed::Statement>,
    sound: bool,
) -> Routine {
    let invalid = || Expr::invalid(tree.name.span);
    let value = |slot: Option<(Expr, Span)>| slot.map(|(e, _)| e);
    let job = scope.is_job.then(|| Job {
        work: value(draft.work).unwrap_or_else(invalid),
        travel: value(draft.travel).unwrap_or_else(invalid),
        tools: scope.tools,
    });
    Routine {
        name: tree.name.text.clone(),
        documentation: documentation.to_vec(),
        span: tree.name.span,
        sound,
        inch: scope.literals.0 > scope.literals.1,
        program: value(draft.program),
        parameters: signature.parameters.clone(),
        head: draft.head,
        demands: draft.demands.and_then(|(demands, _)| demands),
        job,
        made: draft.made,
        given: draft.given,
        body,
    }
}

/// Stands where an item turned out to be no routine.
fn empty_routine() -> Routine {
    Routine {
        name: String::new(),
        documentation: Vec::new(),
        span: Span::default(),
        sound: false,
        inch: false,
        program: None,
        parameters: Vec::new(),
        head: Vec::new(),
        demands: None,
        job: None,
        made: Vec::new(),
        given: Vec::new(),
        body: Vec::new(),
    }
}
