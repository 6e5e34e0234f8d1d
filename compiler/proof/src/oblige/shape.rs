//! Walls of features, and where the cutter's centre may be.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Feature, Field, Function, Node, Point, Shape, Way};

use super::Context;
use super::scope::{Goal, Scope};
use super::tidy::Sum;
use super::walk::{Path, flat};

/// A round wall of a feature.
#[derive(Debug, Clone)]
pub(crate) struct Wall {
    /// The cutter is inside it (a hole), or outside (a boss).
    pub inside: bool,
    /// Its centre.
    pub centre: Point,
    /// Distance of the cutter's centre when the edge touches it.
    pub path: Expr,
    /// Its radius.
    pub radius: Expr,
    /// `wall`, `outer wall`, `inner wall`
    pub name: &'static str,
}

/// A feature with what its rules need.
#[derive(Debug, Clone)]
pub(crate) struct Solid {
    /// Its name.
    pub name: String,
    /// Its centre.
    pub centre: Point,
    /// Its walls; a face has none.
    pub walls: Vec<Wall>,
    /// Z of its floor.
    pub floor: Expr,
    /// Z of its top face.
    pub top: Expr,
    /// Radius from which metal must go: pilot, inner wall, or 0.
    pub inner: Expr,
    /// Radius up to which metal must go.
    pub outer: Expr,
    /// What is air before: a disc, or all outside a disc.
    pub air: Option<Air>,
    /// Of a thread.
    pub thread: Option<Thread>,
    /// Of a chamfer; its walls hang on the height of the cutter.
    pub cone: Option<Cone>,
    /// Of a groove in the wall of a bore; its top is the upper side of the groove.
    pub slot: Option<Slot>,
    /// Where it is written.
    pub span: Span,
}

/// What a thread is besides its walls.
#[derive(Debug, Clone)]
pub(crate) struct Thread {
    /// In a hole, or on a boss.
    pub inside: bool,
    /// From one turn of the groove to the next.
    pub pitch: Expr,
    /// 1 where a counterclockwise turn goes up, -1 where it goes down.
    pub hand: Expr,
    /// Z below which nothing may go.
    pub bottom: Expr,
    /// How much its diameters change with height, over the change; 0 of a straight thread.
    pub taper: Expr,
    /// How far teeth may be beside the groove, or past its cone.
    pub error: Expr,
    /// How far its flanks go over to the side, at least, over how deep they go.
    pub lean: Expr,
    /// On this side of it no tooth bites.
    pub free: Wall,
}

/// What a groove in the wall of a bore is besides its wall.
#[derive(Debug, Clone)]
pub(crate) struct Slot {
    /// Z of the bottom of the bore.
    pub bottom: Expr,
    /// Z of the top face.
    pub face: Expr,
    /// On this side of it all of the cutter is in the bore.
    pub free: Wall,
    /// On this side of it the neck is, at whatever height.
    pub neck: Wall,
}

/// What a chamfer is besides its edges.
#[derive(Debug, Clone)]
pub(crate) struct Cone {
    /// On the edge of a hole, or on that of a boss.
    pub inside: bool,
    /// Half the angle of the cone.
    pub half: Expr,
    /// How far it reaches from the wall, by the side.
    pub width: Expr,
}

/// Air that is there before the routine.
#[derive(Debug, Clone)]
pub(crate) struct Air {
    /// Inside the disc (a pilot hole), or outside it (around a blank).
    pub inside: bool,
    /// Centre of the disc.
    pub centre: Point,
    /// Its radius.
    pub radius: Expr,
    /// Down to here.
    pub floor: Expr,
    /// A hole that is there is open up to here.
    pub top: Expr,
}

impl Cone {
    /// Radii of its inner and its outer edge, from that of the hole or the boss.
    fn edges(&self, radius: Expr) -> (Expr, Expr) {
        let width = self.width.clone();
        if self.inside { (radius.clone(), radius + width) } else { (radius.clone() - width, radius) }
    }
}

/// Half the cutter's diameter.
pub(crate) fn cutter_radius(scope: &Scope) -> Expr {
    scope.inline_once(&Expr::symbol(&Field::Diameter.symbol())) / Expr::from(2)
}

fn half(e: &Expr) -> Expr {
    e.clone() / Expr::from(2)
}

/// A feature at a place, while its solid is made.
struct Making<'a> {
    feature: &'a Feature,
    centre: Point,
    scope: &'a Scope,
}

impl Making<'_> {
    fn wall(&self, inside: bool, diameter: &Expr, name: &'static str) -> Wall {
        let cutter = self.scope.inline_once(&Expr::symbol(&Field::Diameter.symbol()));
        let across = if inside { diameter.clone() - cutter } else { diameter.clone() + cutter };
        let path = self.scope.named(&half(&across));
        Wall { inside, centre: self.centre.clone(), path, radius: half(diameter), name }
    }

    fn air(&self, inside: bool, radius: Expr, floor: &Expr, top: &Expr) -> Option<Air> {
        let (floor, top) = (floor.clone(), top.clone());
        Some(Air { inside, centre: self.centre.clone(), radius, floor, top })
    }

    fn solid(
        &self,
        walls: Vec<Wall>,
        floor: &Expr,
        top: &Expr,
        (inner, outer): (Expr, Expr),
        air: Option<Air>,
    ) -> Solid {
        Solid {
            name: self.feature.name.clone(),
            centre: self.centre.clone(),
            walls,
            floor: floor.clone(),
            top: top.clone(),
            inner,
            outer,
            air,
            thread: None,
            cone: None,
            slot: None,
            span: self.feature.span,
        }
    }
}

impl Solid {
    /// A feature at one of its places.
    pub(crate) fn of(feature: &Feature, centre: &Point, scope: &Scope) -> Self {
        let centre = Point { x: scope.flatten(&centre.x), y: scope.flatten(&centre.y) };
        let making = Making { feature, centre, scope };
        match &feature.shape {
            Shape::Hole { diameter, floor, top, pilot } => {
                let inner = pilot.as_ref().map_or_else(Expr::zero, half);
                let air = pilot.as_ref().and_then(|p| making.air(true, half(p), floor, top));
                making.solid(
                    vec![making.wall(true, diameter, "wall")],
                    floor,
                    top,
                    (inner, half(diameter)),
                    air,
                )
            }
            Shape::Boss { diameter, blank, floor, top } => {
                let air = making.air(false, half(blank), floor, top);
                let walls = vec![making.wall(false, diameter, "wall")];
                making.solid(walls, floor, top, (half(diameter), half(blank)), air)
            }
            Shape::Thread { inside, major, minor, pitch, hand, floor, bottom, top, taper, error, lean } => {
                let (there, deep) = if *inside { (minor, major) } else { (major, minor) };
                let air = making.air(*inside, half(there), bottom, top);
                let (hand, bottom, pitch) = (scope.inline_once(hand), bottom.clone(), pitch.clone());
                let free = making.wall(*inside, there, "wall");
                let [taper, error, lean] = [taper, error, lean].map(Expr::clone);
                let thread = Thread { inside: *inside, pitch, hand, bottom, taper, error, lean, free };
                let walls = vec![making.wall(*inside, deep, "wall")];
                let made = making.solid(walls, floor, top, (half(minor), half(major)), air);
                Self { thread: Some(thread), ..made }
            }
            Shape::Face { diameter, floor, top } => {
                let air = making.air(false, half(diameter), floor, top);
                making.solid(Vec::new(), floor, top, (Expr::zero(), half(diameter)), air)
            }
            Shape::Chamfer { inside, diameter, width, angle, floor, top } => {
                let cone = Cone { inside: *inside, half: half(angle), width: width.clone() };
                let edges = cone.edges(half(diameter));
                Self { cone: Some(cone), ..making.solid(Vec::new(), floor, top, edges, None) }
            }
            Shape::Undercut { diameter, bore, floor, roof, bottom, top } => {
                let tooth = scope.inline_once(&Expr::symbol(&Field::Tooth.symbol()));
                let neck = making.wall(true, &(bore.clone() + tooth * Expr::from(2)), "wall of the bore");
                let free = making.wall(true, bore, "wall of the bore");
                let slot = Slot { bottom: bottom.clone(), face: top.clone(), free, neck };
                let air = making.air(true, half(bore), bottom, top);
                let walls = vec![making.wall(true, diameter, "wall")];
                Self {
                    slot: Some(slot),
                    ..making.solid(walls, floor, roof, (half(bore), half(diameter)), air)
                }
            }
            Shape::Ring { outer, inner, floor, top } => {
                let walls =
                    vec![making.wall(true, outer, "outer wall"), making.wall(false, inner, "inner wall")];
                making.solid(walls, floor, top, (half(inner), half(outer)), None)
            }
        }
    }
}

impl Solid {
    /// Z below which nothing of it goes.
    pub(crate) fn bottom(&self) -> &Expr {
        match (&self.thread, &self.slot) {
            (Some(thread), _) => &thread.bottom,
            (None, Some(slot)) => &slot.bottom,
            (None, None) => &self.floor,
        }
    }

    /// Z of the top face of the work, from where the cutter comes down.
    pub(crate) fn face(&self) -> &Expr {
        self.slot.as_ref().map_or(&self.top, |slot| &slot.face)
    }

    /// Its walls for a cutter whose end is at `z`: of a chamfer, the wide end.
    pub(crate) fn walls_at(&self, scope: &Scope, z: Option<&Expr>) -> Vec<Wall> {
        match (&self.cone, z) {
            (Some(cone), Some(z)) => vec![super::chamfer::edge(self, cone, scope, z)],
            (Some(_), None) => Vec::new(),
            (None, _) => self.walls.clone(),
        }
    }
}

/// The length of a vector: simple where its square is one, else a root.
pub(crate) fn length(context: &Context<'_>, scope: &Scope, v: &Point) -> Expr {
    match signed_length(v) {
        Some(root) => context.magnitude(scope, &root),
        // Squares are left as such: that their sum has a root can be seen.
        None => v.square().call(Function::Sqrt),
    }
}

/// The square of a vector's length, in one form.
pub(crate) fn flat_square(v: &Point) -> Expr {
    super::tidy::tidy(&v.square())
}

/// A simple expression whose square is the square of the vector's length; it may be negative.
pub(crate) fn signed_length(v: &Point) -> Option<Expr> {
    Some(Sum::of(&v.square())?.root()?.to_expr())
}

/// `abs(v) <= radius`
pub(crate) fn within_disc(v: &Point, radius: &Expr) -> Condition {
    match signed_length(v) {
        Some(root) if root == Expr::zero() => Condition::at_least(radius.clone(), Expr::zero()),
        Some(root) => Condition::all([
            Condition::at_least(radius.clone() - root.clone(), Expr::zero()),
            Condition::at_least(radius.clone() + root, Expr::zero()),
        ]),
        None => Condition::all([
            Condition::at_least(radius.clone(), Expr::zero()),
            Condition::at_most(flat_square(v), radius.squared()),
        ]),
    }
}

/// `abs(v) < radius`
pub(crate) fn strictly_within_disc(v: &Point, radius: &Expr) -> Condition {
    match signed_length(v) {
        Some(root) if root == Expr::zero() => Condition::greater(radius.clone(), Expr::zero()),
        Some(root) => Condition::all([
            Condition::greater(radius.clone() - root.clone(), Expr::zero()),
            Condition::greater(radius.clone() + root, Expr::zero()),
        ]),
        None => Condition::all([
            Condition::greater(radius.clone(), Expr::zero()),
            Condition::less(flat_square(v), radius.squared()),
        ]),
    }
}

/// `abs(v) >= radius`
pub(crate) fn outside_disc(v: &Point, radius: &Expr) -> Condition {
    match signed_length(v) {
        Some(root) => Condition::any([
            Condition::at_least(root.clone() - radius.clone(), Expr::zero()),
            Condition::at_most(root + radius.clone(), Expr::zero()),
        ]),
        None => Condition::any([
            Condition::at_least(flat_square(v), radius.squared()),
            Condition::less(radius.clone(), Expr::zero()),
        ]),
    }
}

impl Wall {
    /// The edge of a disc in which the cutter's centre may be.
    pub(crate) fn disc(centre: Point, radius: Expr) -> Self {
        Self { inside: true, centre, path: radius.clone(), radius, name: "disc" }
    }

    /// The point in coordinates about the wall's centre.
    pub(crate) fn about(&self, p: &Point) -> Point {
        flat(&p.minus(&self.centre))
    }

    /// Whether the cutter's centre may be there.
    pub(crate) fn allows_point(&self, p: &Point) -> Condition {
        let v = self.about(p);
        if self.inside { within_disc(&v, &self.path) } else { outside_disc(&v, &self.path) }
    }

    /// Whether the edge stays off the wall there.
    pub(crate) fn clear_of(&self, p: &Point) -> Condition {
        let v = self.about(p);
        if self.inside {
            return strictly_within_disc(&v, &self.path);
        }
        match signed_length(&v) {
            Some(root) => Condition::any([
                Condition::greater(root.clone() - self.path.clone(), Expr::zero()),
                Condition::less(root + self.path.clone(), Expr::zero()),
            ]),
            None => Condition::greater(flat_square(&v), self.path.squared()),
        }
    }

    /// Whether the cutter's centre may take that way.
    pub(crate) fn allows(&self, context: &Context<'_>, scope: &Scope, way: &Course<'_>) -> Goal {
        let ends = |with_start: bool| {
            let start = with_start.then(|| self.allows_point(way.from));
            Condition::all(start.into_iter().chain([self.allows_point(way.to)]))
        };
        match way.path {
            Path::Rapid | Path::Line if self.inside => ends(way.sloped).into(),
            Path::Rapid | Path::Line => self.allows_segment(way),
            Path::Turn(_, about) => self.allows_circle(context, scope, way.from, about).into(),
            Path::Arc(direction, about) => {
                let whole = self.allows_circle(context, scope, way.from, about);
                let (u, v) = (flat(&way.from.minus(about)), flat(&way.to.minus(about)));
                let (first, last) = if *direction == Way::Ccw { (u, v) } else { (v, u) };
                let out = self.about(about);
                let towards = if self.inside { out } else { Point { x: -out.x, y: -out.y } };
                let part = Condition::all([ends(true), off_arc(&first, &last, &towards)]);
                Goal { exact: Condition::any([whole.clone(), part]), easier: Some(whole) }
            }
        }
    }

    /// Whether the whole circle through `from` about `about` keeps to its side.
    fn allows_circle(&self, context: &Context<'_>, scope: &Scope, from: &Point, about: &Point) -> Condition {
        let radius = length(context, scope, &flat(&from.minus(about)));
        let offset = self.about(about);
        if self.inside {
            return within_disc(&offset, &(self.path.clone() - radius));
        }
        // Round the boss, or past it.
        let round = within_disc(&offset, &(radius.clone() - self.path.clone()));
        let past = outside_disc(&offset, &(radius + self.path.clone()));
        if offset == Point::centre() { round } else { Condition::any([past, round]) }
    }

    /// Both points lie beyond one tangent of the disc: then all between them does. Tried are the tangents along
    /// the axes and those across each direction that the points are written by.
    pub(crate) fn beyond_a_tangent(
        &self,
        a: &Point,
        b: &Point,
        compare: fn(Expr, Expr) -> Condition,
    ) -> Vec<Condition> {
        let axes = [(1, 0), (-1, 0), (0, 1), (0, -1)];
        let axes = axes.map(|(x, y)| Point { x: Expr::from(x), y: Expr::from(y) });
        let mut angles: Vec<Expr> = Vec::new();
        for e in [&a.x, &a.y, &b.x, &b.y] {
            e.walk(&mut |part| {
                if let Node::Call(Function::Cos | Function::Sin, angle) = part.node()
                    && !angles.contains(angle)
                {
                    angles.push(angle.clone());
                }
            });
        }
        let turned = angles.iter().flat_map(|angle| {
            let u = Point::polar(&Expr::from(1), angle);
            let minus = |p: &Point| Point { x: -p.x.clone(), y: -p.y.clone() };
            let left = Point { x: -u.y.clone(), y: u.x.clone() };
            [u.clone(), minus(&u), left.clone(), minus(&left)]
        });
        let beyond = |u: Point| {
            let far = |p: &Point| compare(super::tidy::tidy(&p.dot(&u)), self.path.clone());
            Condition::all([far(a), far(b)])
        };
        axes.into_iter().chain(turned).map(beyond).collect()
    }

    /// Past a boss: the nearest point of the segment counts.
    fn allows_segment(&self, way: &Course<'_>) -> Goal {
        let (a, b) = (self.about(way.from), self.about(way.to));
        let along = flat(&b.minus(&a));
        let ends = Condition::all([self.allows_point(way.from), self.allows_point(way.to)]);
        if along == Point::centre() {
            return self.allows_point(way.to).into();
        }
        let nearest = Condition::any([
            Condition::at_least(super::tidy::tidy(&a.dot(&along)), Expr::zero()),
            Condition::at_most(super::tidy::tidy(&b.dot(&along)), Expr::zero()),
            Condition::at_least(
                super::tidy::tidy(&a.cross(&b).squared()),
                self.path.squared() * flat_square(&along),
            ),
        ]);
        let easier = Condition::any(self.beyond_a_tangent(&a, &b, Condition::at_least));
        Goal { exact: Condition::all([ends, nearest]), easier: Some(easier) }
    }
}

/// The way of a move in the plane.
pub(crate) struct Course<'a> {
    /// How.
    pub path: &'a Path,
    /// From where.
    pub from: &'a Point,
    /// To where.
    pub to: &'a Point,
    /// Whether its height changes, so that its start has not been looked at in this height.
    pub sloped: bool,
}

/// Whether the direction `d` does not lie in the sweep from `first` counterclockwise to `last`.
pub(crate) fn off_arc(first: &Point, last: &Point, d: &Point) -> Condition {
    let cross = |a: &Point, b: &Point| super::tidy::tidy(&a.cross(b));
    let negative = |e: Expr| Condition::less(e, Expr::zero());
    let positive = |e: Expr| Condition::greater(e, Expr::zero());
    let turn = cross(first, last);
    let half = Condition::all([
        Condition::equal(turn.clone(), Expr::zero()),
        negative(super::tidy::tidy(&first.dot(last))),
    ]);
    let up_to_half = Condition::any([positive(turn.clone()), half]);
    let outside_short = Condition::any([negative(cross(first, d)), negative(cross(d, last))]);
    let outside_long = Condition::all([negative(turn), positive(cross(last, d)), positive(cross(d, first))]);
    Condition::any([Condition::all([up_to_half, outside_short]), outside_long])
}
