//! Features: what is made, what is there before, and what is promised.

use borewright_base::Span;
use borewright_number::{Dimension, Rational};
use borewright_syntax::ast::{self, Argument as TreeArgument, Name};

use crate::checker::Checker;
use crate::cutter::argument_value;
use crate::errors;
use crate::scope::Scope;
use crate::typed::{Expr, Feature, Made, Promise, Shape};

/// A kind of feature: its name, its sizes in order, and how many of them must be given.
const KINDS: [(&str, &[&str], &[&str]); 9] = [
    ("hole", &["diameter", "floor", "top", "pilot"], &["diameter", "floor"]),
    ("boss", &["diameter", "blank", "floor", "top"], &["diameter", "blank", "floor"]),
    ("ring", &["outer", "inner", "floor", "top"], &["outer", "inner", "floor"]),
    ("face", &["diameter", "floor", "top"], &["diameter", "floor"]),
    ("chamfer", &CHAMFER, &["diameter", "width", "angle", "floor"]),
    ("outer_chamfer", &CHAMFER, &["diameter", "width", "angle", "floor"]),
    ("undercut", &UNDERCUT, &["diameter", "bore", "floor", "roof"]),
    ("thread", &THREAD, &["major", "minor", "pitch", "floor"]),
    ("outer_thread", &THREAD, &["major", "minor", "pitch", "floor"]),
];

/// The sizes of a thread.
const THREAD: [&str; 10] =
    ["major", "minor", "pitch", "floor", "hand", "bottom", "top", "taper", "error", "lean"];

/// The sizes of a groove in the wall of a bore.
const UNDERCUT: [&str; 6] = ["diameter", "bore", "floor", "roof", "bottom", "top"];

/// The sizes of a chamfer.
const CHAMFER: [&str; 5] = ["diameter", "width", "angle", "floor", "top"];

const PROMISES: [&str; 7] = ["within", "sized", "cleared", "smooth", "climb", "conventional", "apart"];

impl Checker<'_> {
    /// `makes hole seat(diameter: bore, floor: -depth) promises within, sized`
    pub(crate) fn made(
        &mut self,
        scope: &mut Scope,
        tree: &ast::Feature,
        promises: &[ast::Promise],
    ) -> Option<Made> {
        let errors = self.error_count();
        let feature = self.feature(scope, tree);
        let mut kept: Vec<(Promise, Span)> = Vec::new();
        for promise in promises {
            let Some(quality) = self.promise(scope, promise) else { continue };
            let name = promise.name.text.as_str();
            if let Some((_, first)) = kept.iter().find(|(p, _)| p.name() == name) {
                self.report(errors::said_twice(&format!("the promise `{name}`"), promise.name.span, *first));
                continue;
            }
            kept.push((quality, promise.name.span));
        }
        let made = Made { feature: feature?, promises: kept };
        self.refuse_walls_of_a_face(&made);
        if self.error_count() == errors {
            self.weigh(scope.module, &made);
        }
        Some(made)
    }

    /// A face has no wall that an edge could touch, round which it could go, or that could be marked.
    fn refuse_walls_of_a_face(&mut self, made: &Made) {
        let Shape::Face { .. } = made.feature.shape else { return };
        for (promise, span) in &made.promises {
            if !matches!(promise, Promise::Within | Promise::Cleared) {
                let message = format!(
                    "a face has no wall: it can promise `within` and `cleared`, not `{}`",
                    promise.name()
                );
                self.report(errors::bad_promise(&message, *span));
            }
        }
    }

    /// Says where promises contradict each other, or promise less than they seem to.
    fn weigh(&mut self, module: usize, made: &Made) {
        let find = |name: &str| made.promises.iter().find(|(p, _)| p.name() == name).map(|(_, span)| *span);
        if let (Some(_), Some(span)) = (find("climb"), find("conventional")) {
            self.report(errors::bad_promise("a cut cannot be `climb` and `conventional` at once", span));
        }
        let name = &made.feature.name;
        let pilot = matches!(made.feature.shape, Shape::Hole { pilot: Some(_), .. });
        match (find("cleared"), find("sized")) {
            (None, None) => {
                let message = format!(
                    "`{name}` promises neither `cleared` nor `sized`: all of it may be left standing"
                );
                self.warn(module, errors::weak_promise(&message, made.feature.span));
            }
            (None, Some(span)) if pilot => {
                let message =
                    format!("`{name}` is sized, but metal may be left between the pilot and the wall");
                self.warn(module, errors::weak_promise(&message, span));
            }
            (Some(_), _) | (None, Some(_)) => {}
        }
    }

    fn promise(&mut self, scope: &mut Scope, tree: &ast::Promise) -> Option<Promise> {
        let wall = tree
            .argument
            .as_ref()
            .map(|e| self.quantity(scope, e, Dimension::LENGTH, "the wall between features"));
        let quality = match tree.name.text.as_str() {
            "within" => Promise::Within,
            "sized" => Promise::Sized,
            "cleared" => Promise::Cleared,
            "smooth" => Promise::Smooth,
            "climb" => Promise::Climb,
            "conventional" => Promise::Conventional,
            "apart" => match wall {
                Some(wall) if wall.is_invalid() => return None,
                Some(wall) => return Some(Promise::Apart(wall)),
                None => {
                    let message = "`apart` must say how thick the wall between is: `apart(3mm)`";
                    self.report(errors::bad_promise(message, tree.name.span));
                    return None;
                }
            },
            _ => {
                let known: Vec<String> = PROMISES.map(str::to_owned).to_vec();
                self.report(errors::unknown_promise(&tree.name, &known));
                return None;
            }
        };
        if let Some(wall) = wall {
            self.report(errors::bad_promise(
                &format!("`{}` takes nothing in brackets", tree.name.text),
                wall.span,
            ));
        }
        Some(quality)
    }

    pub(crate) fn feature(&mut self, scope: &mut Scope, tree: &ast::Feature) -> Option<Feature> {
        let span = tree.kind.span.to(tree.name.span);
        let at = self.places(scope, tree.at.as_ref(), span);
        let Some((kind, sizes, needed)) = KINDS.iter().find(|(name, ..)| *name == tree.kind.text) else {
            self.unknown_kind(scope, tree);
            return None;
        };
        let what = format!("the {kind} `{}`", tree.name.text);
        let given = self.arguments(scope, &what, sizes, needed, &tree.arguments, tree.name.span);
        let mut values = Vec::new();
        for (size, e) in sizes.iter().zip(given) {
            let what = format!("the `{size}` of the {kind}");
            values.push(e.map(|e| match *size {
                "hand" => self.hand(scope, &e, &what),
                "angle" => self.quantity(scope, &e, Dimension::ANGLE, &what),
                "taper" | "lean" => self.quantity(scope, &e, Dimension::RATIO, &what),
                _ => self.quantity(scope, &e, Dimension::LENGTH, &what),
            }));
        }
        let shape = shape(kind, values, span)?;
        Some(Feature { name: tree.name.text.clone(), shape, at, span })
    }

    fn unknown_kind(&mut self, scope: &mut Scope, tree: &ast::Feature) {
        let known: Vec<String> = KINDS.iter().map(|(name, ..)| (*name).to_owned()).collect();
        self.report(errors::unknown_feature_kind(&tree.kind, &known));
        // Its names are used none the less.
        self.quiet += 1;
        for argument in &tree.arguments {
            let _ignored = self.value(scope, &argument_value(argument));
        }
        self.quiet -= 1;
    }

    /// Sorts arguments by name into the order of `known`, and says which are unknown, missing or given twice.
    pub(crate) fn arguments(
        &mut self,
        scope: &mut Scope,
        what: &str,
        known: &[&str],
        needed: &[&str],
        given: &[TreeArgument],
        span: Span,
    ) -> Vec<Option<ast::Expr>> {
        let mut sorted: Vec<Option<ast::Expr>> = vec![None; known.len()];
        let mut seen: Vec<&Name> = Vec::new();
        let mut all_known = true;
        for argument in given {
            let name = &argument.name;
            let Some(slot) = known.iter().position(|k| *k == name.text).and_then(|i| sorted.get_mut(i))
            else {
                let known: Vec<String> = known.iter().map(|k| (*k).to_owned()).collect();
                self.report(errors::unknown_argument(what, name, &known));
                all_known = false;
                self.quiet += 1;
                let _used = self.value(scope, &argument_value(argument));
                self.quiet -= 1;
                continue;
            };
            if let Some(first) = seen.iter().find(|n| n.text == name.text) {
                self.report(errors::argument_twice(name, first.span));
                continue;
            }
            seen.push(name);
            *slot = Some(argument_value(argument));
        }
        let missing: Vec<String> = known
            .iter()
            .zip(&sorted)
            .filter(|(name, slot)| slot.is_none() && needed.contains(name))
            .map(|(name, _)| (*name).to_owned())
            .collect();
        // A misspelt argument is not missing as well.
        if all_known && !missing.is_empty() {
            self.report(errors::missing_arguments(what, &missing, span));
        }
        sorted
    }
}

/// The shape, where all that it needs is there.
fn shape(kind: &str, values: Vec<Option<Expr>>, span: Span) -> Option<Shape> {
    if kind == "thread" || kind == "outer_thread" {
        return thread(kind == "thread", values, span);
    }
    if kind == "undercut" {
        return undercut(values, span);
    }
    if kind == "chamfer" || kind == "outer_chamfer" {
        return chamfer(kind == "chamfer", values, span);
    }
    let zero = || Expr::zero(span).of(Dimension::LENGTH);
    let mut values = values.into_iter();
    let (first, second, third, fourth) =
        (values.next().flatten(), values.next().flatten(), values.next().flatten(), values.next().flatten());
    Some(match kind {
        "hole" => {
            Shape::Hole { diameter: first?, floor: second?, top: third.unwrap_or_else(zero), pilot: fourth }
        }
        "boss" => {
            Shape::Boss { diameter: first?, blank: second?, floor: third?, top: fourth.unwrap_or_else(zero) }
        }
        "face" => Shape::Face { diameter: first?, floor: second?, top: third.unwrap_or_else(zero) },
        _ => Shape::Ring { outer: first?, inner: second?, floor: third?, top: fourth.unwrap_or_else(zero) },
    })
}

/// A chamfer: from a top face at zero where nothing else is said.
fn chamfer(inside: bool, values: Vec<Option<Expr>>, span: Span) -> Option<Shape> {
    let [diameter, width, angle, floor, top] = <[Option<Expr>; 5]>::try_from(values).ok()?;
    Some(Shape::Chamfer {
        inside,
        diameter: diameter?,
        width: width?,
        angle: angle?,
        floor: floor?,
        top: top.unwrap_or_else(|| Expr::zero(span).of(Dimension::LENGTH)),
    })
}

/// A groove in the wall of a bore: that goes no deeper than the groove, from a top face at zero, where nothing else
/// is said.
fn undercut(values: Vec<Option<Expr>>, span: Span) -> Option<Shape> {
    let [diameter, bore, floor, roof, bottom, top] = <[Option<Expr>; 6]>::try_from(values).ok()?;
    let floor = floor?;
    Some(Shape::Undercut {
        diameter: diameter?,
        bore: bore?,
        roof: roof?,
        bottom: bottom.unwrap_or_else(|| floor.clone()),
        floor,
        top: top.unwrap_or_else(|| Expr::zero(span).of(Dimension::LENGTH)),
    })
}

/// A thread: right-hand, down to the bottom, straight, and from a top face at zero where nothing else is said.
fn thread(inside: bool, values: Vec<Option<Expr>>, span: Span) -> Option<Shape> {
    let [major, minor, pitch, floor, hand, bottom, top, taper, error, lean] =
        <[Option<Expr>; 10]>::try_from(values).ok()?;
    let floor = floor?;
    Some(Shape::Thread {
        inside,
        major: major?,
        minor: minor?,
        pitch: pitch?,
        hand: hand.unwrap_or_else(|| Expr::number(Rational::ONE, Dimension::RATIO, span)),
        bottom: bottom.unwrap_or_else(|| floor.clone()),
        floor,
        top: top.unwrap_or_else(|| Expr::zero(span).of(Dimension::LENGTH)),
        taper: taper.unwrap_or_else(|| Expr::zero(span).of(Dimension::RATIO)),
        error: error.unwrap_or_else(|| Expr::zero(span).of(Dimension::LENGTH)),
        lean: lean.unwrap_or_else(|| Expr::zero(span).of(Dimension::RATIO)),
    })
}

impl Promise {
    /// The promise's word in the language.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Sized => "sized",
            Self::Cleared => "cleared",
            Self::Smooth => "smooth",
            Self::Climb => "climb",
            Self::Conventional => "conventional",
            Self::Apart(_) => "apart",
        }
    }
}
