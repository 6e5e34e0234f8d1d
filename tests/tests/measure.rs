//! The measure itself: a good trace shows no fault, and each bad trace breaks just its own rule.

use borewright_tests::measure::{
    Act, Air, Contract, Cutter, Feature, Meant, Place, Promise, Rule, Shape, Spindle, Step, Tolerance,
    measure, measure_meant,
};

const CUTTER: Cutter = Cutter {
    diameter: 12.0,
    flutes: 6.0,
    reach: 20.0,
    dead: 12.0,
    ramp: 2.0,
    plunges: false,
    left_hand: false,
    teeth: None,
    neck: None,
    cone: None,
};

/// A hole of 50 over a pilot of 40, 10 deep, in two passes.
fn hole() -> Contract {
    use Promise::{Cleared, Climb, Sized, Smooth, Within};
    let shape = Shape::Hole { diameter: 50.0, pilot: Some(40.0) };
    let promises = vec![Within, Sized, Cleared, Smooth, Climb];
    let feature =
        Feature { name: "seat".to_owned(), centre: [0.0, 0.0], shape, floor: -10.0, top: 0.0, promises };
    Contract { features: vec![feature], given: Vec::new(), smallest_arc: 0.05, complete: true }
}

/// Steps from place to place.
struct Path {
    at: Place,
    cutter: Cutter,
    steps: Vec<Step>,
}

impl Path {
    fn new() -> Self {
        Self { at: [f64::NAN; 3], cutter: CUTTER, steps: Vec::new() }
    }

    fn step(mut self, act: Act, to: Place) -> Self {
        let (from, cutter) = (self.at, self.cutter);
        self.steps.push(Step { act, from, to, cutter, spindle: Spindle::Clockwise, offset: true });
        self.at = to;
        self
    }

    fn retract(self) -> Self {
        let [x, y, _] = self.at;
        self.step(Act::Rapid, [x, y, f64::INFINITY])
    }

    fn over(self, x: f64, y: f64) -> Self {
        let z = self.at[2];
        self.step(Act::Rapid, [x, y, z])
    }

    fn down(self, z: f64) -> Self {
        let [x, y, _] = self.at;
        self.step(Act::Rapid, [x, y, z])
    }

    fn line(self, x: f64, y: f64, z: f64) -> Self {
        self.step(Act::Line { feed: Some(400.0) }, [x, y, z])
    }

    fn arc(self, ccw: bool, x: f64, y: f64, centre: [f64; 2]) -> Self {
        let z = self.at[2];
        self.step(Act::Arc { centre, ccw, full: false, feed: Some(400.0) }, [x, y, z])
    }

    fn turn(self, ccw: bool, to_z: f64) -> Self {
        let [x, y, _] = self.at;
        self.step(Act::Arc { centre: [0.0, 0.0], ccw, full: true, feed: Some(400.0) }, [x, y, to_z])
    }

    fn enter(self) -> Self {
        self.retract().over(0.0, 0.0).down(5.0)
    }

    /// Onto the wall at (19, 0) by a quarter circle of 8, round, and off.
    fn pass(self, z: f64) -> Self {
        let onto = self.line(0.0, 0.0, z).line(11.0, -8.0, z).arc(true, 19.0, 0.0, [11.0, 0.0]);
        onto.turn(true, z).arc(true, 11.0, 8.0, [11.0, 0.0]).line(0.0, 0.0, z)
    }
}

fn good() -> Vec<Step> {
    Path::new().enter().pass(-5.0).pass(-10.0).retract().steps
}

fn broken(contract: &Contract, steps: &[Step]) -> Vec<Rule> {
    measure(contract, steps, Tolerance::EXACT).iter().map(|f| f.rule).collect()
}

/// The good trace with one step made otherwise.
fn with(index: usize, change: impl Fn(&mut Step)) -> Vec<Step> {
    let mut steps = good();
    change(&mut steps[index]);
    steps
}

const DOWN: usize = 3;
const ONTO: usize = 5;
const TURN: usize = 6;
const LAST_TURN: usize = 12;

#[test]
fn a_good_trace_shows_no_fault() {
    assert!(measure(&hole(), &good(), Tolerance::EXACT).is_empty());
}

#[test]
fn each_bad_trace_breaks_just_its_own_rule() {
    let cases: Vec<(&str, Vec<Step>, Vec<Rule>)> = vec![
        ("no retract", Path::new().over(0.0, 0.0).steps, vec![Rule::Position]),
        ("down before XY", Path::new().retract().down(5.0).steps, vec![Rule::Position]),
        ("no feed", with(DOWN, |s| s.act = Act::Line { feed: None }), vec![Rule::Feed]),
        ("feed of zero", with(DOWN, |s| s.act = Act::Line { feed: Some(0.0) }), vec![Rule::Feed]),
        ("spindle stands", with(TURN, |s| s.spindle = Spindle::Stopped), vec![Rule::Spindle]),
        ("no length offset", with(TURN, |s| s.offset = false), vec![Rule::Offset]),
    ];
    for (name, steps, rules) in cases {
        let mut contract = hole();
        if steps.len() < good().len() {
            contract.features[0].promises.clear();
        }
        assert_eq!(broken(&contract, &steps), rules, "{name}");
    }
}

#[test]
fn a_backward_spindle_is_wrong_and_so_is_the_side_of_its_chip() {
    let steps = with(TURN, |s| s.spindle = Spindle::Counterclockwise);
    assert_eq!(broken(&hole(), &steps), [Rule::Spindle, Rule::Side]);
    let mut left = good();
    for s in &mut left {
        (s.spindle, s.cutter.left_hand) = (Spindle::Counterclockwise, true);
    }
    assert_eq!(broken(&hole(), &left), [Rule::Side], "a left-hand cutter climbs the other way round");
}

#[test]
fn an_arc_must_be_a_real_one() {
    // Half a hundredth too far from the centre at its end, away from the wall.
    let path = Path::new().enter().line(0.0, 0.0, -5.0).line(8.0, 0.0, -5.0);
    let steps = path.arc(true, -8.01, 0.0, [0.0, 0.0]).line(0.0, 0.0, -5.0).retract().steps;
    let mut contract = hole();
    contract.features[0].promises = vec![Promise::Within];
    assert_eq!(broken(&contract, &steps), [Rule::Arc]);
    let path = Path::new().enter().line(0.0, 0.0, -5.0).line(0.04, 0.0, -5.0);
    let small = path.arc(true, -0.04, 0.0, [0.0, 0.0]).line(0.0, 0.0, -5.0).retract().steps;
    assert_eq!(broken(&contract, &small), [Rule::ArcSize]);
}

#[test]
fn rapids_run_through_air_in_their_whole_box() {
    let mut contract = hole();
    contract.features[0].promises.clear();
    let below = |x: f64, y: f64| Path::new().enter().line(0.0, 0.0, -5.0).over(x, y).retract().steps;
    assert_eq!(broken(&contract, &below(9.0, 9.0)), []);
    assert_eq!(broken(&contract, &below(10.0, 10.0)), [Rule::Rapid], "the corner stands in metal");
    let into = Path::new().retract().over(9.0, 0.0).down(-5.0).steps;
    assert_eq!(broken(&contract, &into), []);
    let into = Path::new().retract().over(15.0, 0.0).down(-5.0).steps;
    assert_eq!(broken(&contract, &into), [Rule::Rapid]);
    let cut = Path::new().enter().pass(-5.0).over(11.0, 0.0).steps;
    assert_eq!(broken(&contract, &cut), [], "through space that was cut before");
}

#[test]
fn down_through_air_only_and_no_steeper_than_it_may() {
    let mut contract = hole();
    contract.features[0].promises.clear();
    let down = |cutter: Cutter, x: f64, z: f64| {
        let path = Path { cutter, ..Path::new() };
        path.retract().over(x, 0.0).down(5.0).line(x, 0.0, z).steps
    };
    assert_eq!(broken(&contract, &down(CUTTER, 13.9, -5.0)), []);
    assert_eq!(broken(&contract, &down(CUTTER, 14.5, -5.0)), [Rule::Plunge]);
    assert_eq!(broken(&contract, &down(Cutter { plunges: true, ..CUTTER }, 14.5, -5.0)), []);
    let slant = |z: f64| {
        let path = Path::new().retract().over(17.0, 0.0).down(0.0);
        path.turn(true, z).steps
    };
    // tan(2deg) * 2 pi * 17 = 3.73
    assert_eq!(broken(&contract, &slant(-3.7)), []);
    assert_eq!(broken(&contract, &slant(-3.8)), [Rule::Ramp]);
}

#[test]
fn the_flutes_and_the_reach_are_long_enough() {
    let steps = |cutter: Cutter, levels: &[f64]| {
        let path = Path { cutter, ..Path::new() }.enter();
        levels.iter().fold(path, |path, z| path.pass(*z)).retract().steps
    };
    let mut contract = hole();
    assert_eq!(broken(&contract, &steps(CUTTER, &[-10.0])), [Rule::Flutes, Rule::Meeting, Rule::Cleared]);
    contract.features[0].promises.clear();
    assert_eq!(broken(&contract, &steps(CUTTER, &[-10.0])), [Rule::Flutes]);
    let drill = Cutter { plunges: true, ..CUTTER };
    let deep =
        |z: f64| Path { cutter: drill, ..Path::new() }.retract().over(40.0, 0.0).down(5.0).line(40.0, 0.0, z);
    assert_eq!(broken(&contract, &deep(-6.0).steps), []);
    assert_eq!(broken(&contract, &deep(-6.5).steps), [Rule::Flutes], "its neck stands in metal");
    let short = Cutter { reach: 9.9, ..CUTTER };
    assert_eq!(broken(&hole(), &steps(short, &[-5.0, -10.0])), [Rule::Shank]);
}

#[test]
fn within_means_wall_and_floor() {
    let below = Path::new().enter().pass(-5.0).pass(-10.0).line(0.0, 0.0, -10.01).retract().steps;
    let mut contract = hole();
    contract.features[0].promises = vec![Promise::Within];
    // What lies under the floor is metal, so it is a plunge too.
    assert_eq!(broken(&contract, &below), [Rule::Plunge, Rule::Floor]);
    let past = Path::new().enter().line(0.0, 0.0, -5.0).line(19.01, 0.0, -5.0).line(0.0, 0.0, -5.0).steps;
    assert_eq!(broken(&contract, &past), [Rule::Wall]);
    // Both ends are inside; the arc between them is not.
    let path = Path::new().enter().line(0.0, 0.0, -5.0).line(12.0, -8.0, -5.0);
    let bulge = path.arc(true, 12.0, 8.0, [12.0, 0.0]).line(0.0, 0.0, -5.0).steps;
    assert_eq!(broken(&contract, &bulge), [Rule::Wall]);
}

#[test]
fn sized_means_all_round_at_the_floor_and_passes_that_meet() {
    let mut contract = hole();
    contract.features[0].promises = vec![Promise::Sized];
    let mut arc = good();
    let half = Act::Arc { centre: [0.0, 0.0], ccw: true, full: false, feed: Some(400.0) };
    (arc[LAST_TURN].act, arc[LAST_TURN].to) = (half, [-19.0, 0.0, -10.0]);
    (arc[LAST_TURN + 1].act, arc[LAST_TURN + 1].from) =
        (Act::Line { feed: Some(400.0) }, [-19.0, 0.0, -10.0]);
    assert_eq!(broken(&contract, &arc), [Rule::Sized, Rule::Meeting]);
    let shallow = Path::new().enter().pass(-5.0).pass(-9.99).retract().steps;
    assert_eq!(broken(&contract, &shallow), [Rule::Sized, Rule::Meeting]);
    let apart = Path::new().enter().pass(-3.5).pass(-10.0).retract().steps;
    assert_eq!(broken(&contract, &apart), [Rule::Flutes, Rule::Meeting]);
    // A helix on the wall, then a flat turn: nothing is missed.
    let cutter = Cutter { ramp: 10.0, ..CUTTER };
    let path = Path { cutter, ..Path::new() }.retract().over(19.0, 0.0).down(1.0);
    let helix = path.turn(true, -2.0).turn(true, -6.0).turn(true, -10.0).turn(true, -10.0);
    assert_eq!(broken(&contract, &helix.steps), []);
}

#[test]
fn cleared_means_no_island_no_crescent_no_pin() {
    let only = |promise: Promise, pilot: Option<f64>| {
        let mut contract = hole();
        contract.features[0].promises = vec![promise];
        contract.features[0].shape = Shape::Hole { diameter: 50.0, pilot };
        contract
    };
    // The turn on radius 19 with a cutter of 12 sweeps from 13 to 25.
    let round = |cutter: Cutter| {
        let path = Path { cutter, ..Path::new() }.enter();
        path.line(0.0, 0.0, -10.0).line(19.0, 0.0, -10.0).turn(true, -10.0).steps
    };
    let tall = Cutter { flutes: 12.0, plunges: true, ..CUTTER };
    assert_eq!(broken(&only(Promise::Cleared, Some(26.0)), &round(tall)), []);
    assert_eq!(broken(&only(Promise::Cleared, Some(25.9)), &round(tall)), [Rule::Cleared]);
    assert_eq!(
        broken(&only(Promise::Cleared, None), &round(tall)),
        [Rule::Cleared],
        "a ring is left standing"
    );
    // Solid, on a path of 4: what does not cut in the middle must be smaller than the path.
    let solid = |dead: f64| {
        let path = Path { cutter: Cutter { dead, ramp: 90.0, ..tall }, ..Path::new() };
        let path = path.retract().over(4.0, 0.0).down(0.0);
        path.turn(true, -10.0).turn(true, -10.0).steps
    };
    let mut contract = only(Promise::Cleared, None);
    contract.features[0].shape = Shape::Hole { diameter: 20.0, pilot: None };
    assert_eq!(broken(&contract, &solid(7.9)), []);
    assert_eq!(broken(&contract, &solid(8.1)), [Rule::Cleared], "a pin");
}

#[test]
fn smooth_means_one_tangent_and_no_stop_on_the_wall() {
    let mut contract = hole();
    contract.features[0].promises = vec![Promise::Smooth];
    let straight = Path::new().enter().line(0.0, 0.0, -5.0).line(19.0, 0.0, -5.0).turn(true, -5.0);
    assert_eq!(broken(&contract, &straight.line(0.0, 0.0, -5.0).steps), [Rule::Smooth]);
    let mut dwell = good();
    let still = Step { act: Act::Pause, from: dwell[TURN].from, to: dwell[TURN].from, ..dwell[TURN] };
    dwell.insert(TURN, still);
    assert_eq!(broken(&contract, &dwell), [Rule::Smooth]);
    dwell.swap(ONTO, TURN); // the pause stands before the arc now, and its places with it
    dwell[ONTO].from = dwell[TURN].from;
    dwell[ONTO].to = dwell[TURN].from;
    assert_eq!(broken(&contract, &dwell), [], "a pause off the wall leaves no mark");
    let up =
        Path::new().enter().line(0.0, 0.0, -5.0).line(11.0, -8.0, -5.0).arc(true, 19.0, 0.0, [11.0, 0.0]);
    assert_eq!(broken(&contract, &up.turn(true, -5.0).retract().steps), [Rule::Smooth]);
    let one_degree = 1f64.to_radians();
    let centre = [19.0 - 8.0 * one_degree.cos(), -8.0 * one_degree.sin()];
    let start = [centre[0] + 8.0 * one_degree.sin(), centre[1] - 8.0 * one_degree.cos()];
    let path = Path::new().enter().line(0.0, 0.0, -5.0).line(start[0], start[1], -5.0);
    let off = path.arc(true, 19.0, 0.0, centre).turn(true, -5.0).arc(true, 11.0, 8.0, [11.0, 0.0]);
    assert_eq!(broken(&contract, &off.line(0.0, 0.0, -5.0).steps), [Rule::Smooth]);
}

#[test]
fn climb_and_conventional_are_told_apart_on_both_kinds_of_wall() {
    let ring = |promise: Promise| {
        let shape = Shape::Ring { outer: 60.0, inner: 20.0 };
        let promises = vec![promise];
        let feature =
            Feature { name: "groove".to_owned(), centre: [0.0, 0.0], shape, floor: -5.0, top: 0.0, promises };
        Contract { features: vec![feature], given: Vec::new(), smallest_arc: 0.05, complete: false }
    };
    // Outer wall on radius 24, inner on 16.
    let rounds = |outer: bool, inner: bool| {
        let cutter = Cutter { plunges: true, ..CUTTER };
        let path = Path { cutter, ..Path::new() }.retract().over(24.0, 0.0).down(5.0).line(24.0, 0.0, -5.0);
        path.turn(outer, -5.0).line(16.0, 0.0, -5.0).turn(inner, -5.0).retract().steps
    };
    assert_eq!(broken(&ring(Promise::Climb), &rounds(true, false)), []);
    assert_eq!(broken(&ring(Promise::Climb), &rounds(true, true)), [Rule::Side]);
    assert_eq!(broken(&ring(Promise::Climb), &rounds(false, false)), [Rule::Side]);
    assert_eq!(broken(&ring(Promise::Conventional), &rounds(false, true)), []);
    assert_eq!(broken(&ring(Promise::Conventional), &rounds(true, true)), [Rule::Side]);
}

#[test]
fn a_boss_is_air_all_around_its_blank() {
    use Promise::{Cleared, Sized, Within};
    let shape = Shape::Boss { diameter: 30.0, blank: 40.0 };
    let promises = vec![Within, Sized, Cleared];
    let feature =
        Feature { name: "spigot".to_owned(), centre: [0.0, 0.0], shape, floor: -5.0, top: 0.0, promises };
    let contract =
        Contract { features: vec![feature], given: Vec::new(), smallest_arc: 0.05, complete: false };
    let round = |x: f64| {
        let path = Path::new().retract().over(30.0, 0.0).down(5.0).line(30.0, 0.0, -5.0);
        path.line(x, 0.0, -5.0).turn(false, -5.0).line(30.0, 0.0, -5.0).retract().steps
    };
    assert_eq!(broken(&contract, &round(21.0)), []);
    assert_eq!(broken(&contract, &round(20.9)), [Rule::Wall, Rule::Sized]);
    let through =
        Path::new().retract().over(30.0, 0.0).down(5.0).line(30.0, 0.0, -5.0).line(-30.0, 0.0, -5.0);
    let mut within = contract.clone();
    within.features[0].promises = vec![Within];
    assert_eq!(
        broken(&within, &through.steps),
        [Rule::Wall],
        "both ends are outside, the way between is not"
    );
    // Beside the boss a clockwise turn touches it where it runs counterclockwise about it.
    let turn = |ccw| Act::Arc { centre: [25.0, 0.0], ccw, full: true, feed: Some(400.0) };
    let turned = |ccw| {
        Path { at: [25.0, 4.0, -1.0], cutter: CUTTER, steps: Vec::new() }
            .step(turn(ccw), [25.0, 4.0, -1.0])
            .steps
    };
    let mut climb = contract.clone();
    climb.features[0].promises = vec![Promise::Climb];
    assert_eq!(broken(&climb, &turned(true)), []);
    assert_eq!(broken(&climb, &turned(false)), [Rule::Side]);
}

#[test]
fn a_hole_that_was_there_before_is_air() {
    let mut contract = hole();
    contract.features[0].shape = Shape::Hole { diameter: 50.0, pilot: None };
    contract.features[0].promises = vec![Promise::Cleared];
    contract.given = vec![Air { inside: true, centre: [0.0, 0.0], radius: 20.0, floor: -12.0 }];
    assert_eq!(broken(&contract, &good()), []);
    contract.given[0].floor = -9.0;
    assert_eq!(broken(&contract, &good()), [Rule::Plunge, Rule::Cleared]);
}

#[test]
fn features_keep_a_wall_between_them() {
    let at = |x: f64| Feature {
        centre: [x, 0.0],
        promises: vec![Promise::Apart(3.0)],
        ..hole().features[0].clone()
    };
    let contract = |x: f64| Contract { features: vec![at(0.0), at(x)], ..hole() };
    assert_eq!(broken(&contract(53.0), &[]), []);
    assert_eq!(broken(&contract(52.99), &[]), [Rule::Apart]);
}

#[test]
fn what_rounding_brings_near_a_wall_is_no_contact() {
    // The edge touches at 19 mm; a corner a thousandth of a millimetre inside that, in text that is off by up to three.
    let corner =
        |x: f64| Path::new().enter().line(0.0, 0.0, -1.0).line(x, 0.0, -1.0).line(0.0, 5.0, -1.0).steps;
    let smooth = |text: &[Step], meant: Meant<'_>| {
        let faults = measure_meant(&hole(), text, meant, Tolerance::told(0.003, None));
        faults.iter().any(|f| f.rule == Rule::Smooth)
    };
    assert!(smooth(&corner(18.999), Meant::ITSELF), "nobody says that it is off the wall");
    assert!(!smooth(&corner(18.999), Meant::of(&corner(18.9985))), "the motion was off the wall");
    assert!(smooth(&corner(18.999), Meant::of(&corner(19.0))), "the motion was on the wall");
    assert!(smooth(&corner(19.0), Meant::of(&corner(18.5))), "the motion never came there");
}

#[test]
fn a_cut_beside_the_wall_is_not_taken_for_the_one_on_it() {
    // Clockwise, conventional, a thousandth of a millimetre inside the wall; then counterclockwise on it.
    let turns = |x: f64, first: bool| {
        let enter = Path::new().enter().line(x, 0.0, -1.0).turn(first, -1.0);
        enter.line(19.0, 0.0, -1.0).turn(true, -1.0).steps
    };
    let climbs = |text: &[Step], meant: Meant<'_>| {
        let faults = measure_meant(&hole(), text, meant, Tolerance::told(0.003, None));
        !faults.iter().any(|f| f.rule == Rule::Side)
    };
    let text = turns(18.999, false);
    assert!(!climbs(&text, Meant::ITSELF), "nobody says that it is off the wall");
    assert!(climbs(&text, Meant::of(&turns(18.9985, false))), "the motion was off the wall");
    assert!(!climbs(&text, Meant::of(&turns(19.0, false))), "the motion was on the wall");
    assert!(!climbs(&text, Meant::of(&turns(18.9985, true))), "the motion went the other way");
}

#[test]
fn a_joint_of_arcs_keeps_the_angle_that_its_text_tells() {
    // Onto the wall by a quarter circle whose centre is four thousandths of a millimetre aside.
    let path =
        Path::new().enter().line(11.0, -8.0, -1.0).arc(true, 19.0, 0.0, [11.0, 0.004]).turn(true, -1.0);
    let smooth = |joint| {
        let faults = measure(&hole(), &path.steps, Tolerance::told(0.005, joint));
        faults.iter().any(|f| f.rule == Rule::Smooth)
    };
    assert!(!smooth(None) && !smooth(Some(0.03)), "4 thousandths of 8 mm are 0.029 degrees");
    assert!(smooth(Some(0.02)), "more than is told");
}

/// The edge of a hole of 20, chamfered 1 wide at 90 degrees by a sharp point.
fn chamfer() -> Contract {
    use Promise::{Climb, Sized, Smooth, Within};
    let shape = Shape::Chamfer { inside: true, diameter: 20.0, width: 1.0, slope: 1.0 };
    let promises = vec![Within, Sized, Smooth, Climb];
    let feature =
        Feature { name: "edge".to_owned(), centre: [0.0, 0.0], shape, floor: -10.0, top: 0.0, promises };
    Contract { features: vec![feature], given: Vec::new(), smallest_arc: 0.05, complete: false }
}

const POINT: Cutter = Cutter { diameter: 10.0, flutes: 5.0, dead: 0.0, cone: Some([1.0, 0.0]), ..CUTTER };

/// In from the middle by a half circle, round the edge with the end at `-sink`, and off again.
fn round_the_edge(cutter: Cutter, sink: f64, path: f64, ccw: bool) -> Vec<Step> {
    let pivot = [path / 2.0, 0.0];
    let steps = Path { cutter, ..Path::new() }.enter().line(0.0, 0.0, -sink);
    let round = steps.arc(ccw, path, 0.0, pivot).turn(ccw, -sink).arc(ccw, 0.0, 0.0, pivot);
    round.retract().steps
}

#[test]
fn a_chamfer_is_measured_along_its_whole_cone() {
    let round = |sink, path, ccw| broken(&chamfer(), &round_the_edge(POINT, sink, path, ccw));
    assert_eq!(round(2.0, 9.0, true), []);
    assert_eq!(round(3.0, 8.0, true), [], "deeper and nearer is the same cone");
    assert_eq!(round(2.0, 9.01, true), [Rule::Wall, Rule::Sized], "too wide");
    assert_eq!(round(2.0, 8.99, true), [Rule::Sized], "too narrow");
    assert_eq!(round(2.0, 9.0, false), [Rule::Side], "the other way round");
    assert_eq!(round(0.5, 10.5, true), [Rule::Sized], "the end lies above the foot");
    let steep = Cutter { cone: Some([0.9, 0.0]), ..POINT };
    assert_eq!(broken(&chamfer(), &round_the_edge(steep, 2.0, 9.2, true)), [Rule::Wall, Rule::Sized]);
    let blunt = Cutter { cone: Some([1.0, 0.01]), ..POINT };
    assert_eq!(broken(&chamfer(), &round_the_edge(blunt, 2.0, 9.0, true)), [Rule::Wall, Rule::Sized]);
    let short = Cutter { diameter: 3.9, ..POINT };
    assert_eq!(
        broken(&chamfer(), &round_the_edge(short, 2.0, 9.0, true)),
        [Rule::Sized],
        "the cone ends below the top face"
    );
}

#[test]
fn a_chamfer_is_met_on_a_tangent_and_its_hole_has_a_bottom() {
    let path = Path { cutter: POINT, ..Path::new() }.enter().line(0.0, 0.0, -2.0);
    let straight = path.line(9.0, 0.0, -2.0).turn(true, -2.0).line(0.0, 0.0, -2.0).retract();
    assert_eq!(broken(&chamfer(), &straight.steps), [Rule::Smooth]);
    let mut only_within = chamfer();
    only_within.features[0].promises = vec![Promise::Within];
    let low = |z| Path { cutter: POINT, ..Path::new() }.enter().line(0.0, 0.0, z).retract().steps;
    assert_eq!(broken(&only_within, &low(-10.0)), []);
    let deep = broken(&only_within, &low(-10.01));
    assert!(deep.contains(&Rule::Floor), "{deep:?}");
}

#[test]
fn a_chamfer_on_a_boss_stays_on_its_edge() {
    let mut contract = chamfer();
    contract.features[0].shape = Shape::Chamfer { inside: false, diameter: 20.0, width: 1.0, slope: 1.0 };
    // At the top face the cone is 2 wide by half, so its middle goes round at 9 + 2.
    let round = |path: f64, ccw: bool| {
        let steps =
            Path { cutter: POINT, ..Path::new() }.retract().over(30.0, 0.0).down(5.0).line(30.0, 0.0, -2.0);
        let onto = steps.line(path + 3.0, 3.0, -2.0).arc(true, path, 0.0, [path + 3.0, 0.0]).turn(ccw, -2.0);
        onto.arc(true, path + 3.0, -3.0, [path + 3.0, 0.0]).line(30.0, 0.0, -2.0).retract().steps
    };
    assert_eq!(broken(&contract, &round(11.0, false)), []);
    assert_eq!(broken(&contract, &round(10.99, false)), [Rule::Wall, Rule::Sized]);
    assert_eq!(broken(&contract, &round(11.01, false)), [Rule::Sized]);
    let back = broken(&contract, &round(11.0, true));
    assert!(back.contains(&Rule::Side), "{back:?}");
}

#[test]
fn a_face_is_cleared_to_its_middle_and_no_lower() {
    use Promise::{Cleared, Within};
    let shape = Shape::Face { diameter: 60.0 };
    let promises = vec![Within, Cleared];
    let feature =
        Feature { name: "top".to_owned(), centre: [0.0, 0.0], shape, floor: 0.0, top: 2.0, promises };
    let contract =
        Contract { features: vec![feature], given: Vec::new(), smallest_arc: 0.05, complete: false };
    let rings = |cutter: Cutter, rings: &[f64], z: f64| {
        let path = Path { cutter, ..Path::new() }.retract().over(40.0, 0.0).down(7.0).line(40.0, 0.0, z);
        rings.iter().fold(path, |path, r| path.line(*r, 0.0, z).turn(false, z)).retract().steps
    };
    let facer = Cutter { dead: 6.0, ..CUTTER };
    let all = [36.0, 27.0, 18.0, 9.0, 3.0];
    assert_eq!(broken(&contract, &rings(facer, &all, 0.0)), []);
    assert_eq!(
        broken(&contract, &rings(facer, &[36.0, 27.0, 9.0, 3.0], 0.0)),
        [Rule::Cleared],
        "a ring stands"
    );
    assert_eq!(
        broken(&contract, &rings(facer, &[36.0, 27.0, 18.0, 9.0], 0.0)),
        [Rule::Cleared],
        "a pin stands"
    );
    assert_eq!(
        broken(&contract, &rings(CUTTER, &all, 0.0)),
        [],
        "the edge has come over the middle from the side"
    );
    assert_eq!(broken(&contract, &rings(facer, &[18.0, 9.0, 3.0], 0.0)), [Rule::Cleared], "the rim stands");
    assert_eq!(broken(&contract, &rings(facer, &all, 0.01)), [Rule::Cleared], "not deep enough");
    let low = broken(&contract, &rings(facer, &all, -0.01));
    assert!(low.contains(&Rule::Floor), "{low:?}");
}

/// A groove of 44 in a bore of 40, from 10 below the face up to 8.
fn groove_in_bore() -> Contract {
    use Promise::{Cleared, Climb, Sized, Smooth, Within};
    let shape = Shape::Undercut { diameter: 44.0, bore: 40.0, low: -10.0, roof: -8.0 };
    let promises = vec![Within, Sized, Cleared, Smooth, Climb];
    let feature =
        Feature { name: "groove".to_owned(), centre: [0.0, 0.0], shape, floor: -20.0, top: 0.0, promises };
    Contract { features: vec![feature], given: Vec::new(), smallest_arc: 0.05, complete: false }
}

const DISC: Cutter = Cutter { diameter: 20.0, flutes: 2.0, dead: 20.0, neck: Some(7.5), ..CUTTER };

/// Down in the middle, out by a half circle, round, back by another.
fn round_the_groove(cutter: Cutter, z: f64, path: f64, ccw: bool) -> Path {
    let pivot = [path / 2.0, 0.0];
    let path_out = Path { cutter, ..Path::new() }.enter().line(0.0, 0.0, z).arc(ccw, path, 0.0, pivot);
    path_out.turn(ccw, z).arc(ccw, 0.0, 0.0, pivot)
}

#[test]
fn a_groove_in_a_bore_has_room_for_the_disc_and_the_neck() {
    let round = |cutter, z, path, ccw| {
        broken(&groove_in_bore(), &round_the_groove(cutter, z, path, ccw).retract().steps)
    };
    assert_eq!(round(DISC, -10.0, 12.0, true), []);
    assert_eq!(round(DISC, -10.0, 12.01, true), [Rule::Wall, Rule::Sized], "past the wall of the groove");
    assert_eq!(round(DISC, -10.0, 11.99, true), [Rule::Sized], "not to size");
    assert_eq!(round(DISC, -10.01, 12.0, true), [Rule::Wall, Rule::Sized], "below its lower side");
    assert_eq!(round(DISC, -9.99, 12.0, true), [Rule::Wall, Rule::Sized], "above its upper side");
    assert_eq!(round(DISC, -10.0, 12.0, false), [Rule::Side], "the other way round");
    let thick = Cutter { flutes: 2.01, ..DISC };
    assert_eq!(round(thick, -10.0, 12.0, true), [Rule::Wall], "the disc is wider than the groove");
    let thin = Cutter { flutes: 1.9, ..DISC };
    assert_eq!(round(thin, -10.0, 12.0, true), [Rule::Sized], "a band is left under the upper side");
    assert_eq!(round(Cutter { neck: Some(8.0), ..DISC }, -10.0, 12.0, true), [], "the neck just clears");
    assert_eq!(round(Cutter { neck: Some(8.01), ..DISC }, -10.0, 12.0, true), [Rule::Wall], "a thick neck");
}

#[test]
fn a_disc_leaves_its_groove_before_it_goes_up() {
    let pivot = [6.0, 0.0];
    let inside =
        Path { cutter: DISC, ..Path::new() }.enter().line(0.0, 0.0, -10.0).arc(true, 12.0, 0.0, pivot);
    let up = broken(&groove_in_bore(), &inside.turn(true, -10.0).retract().steps);
    assert!(up.contains(&Rule::Wall), "{up:?}");
    let deep = Path { cutter: DISC, ..Path::new() }.enter().line(0.0, 0.0, -20.01).retract().steps;
    let mut only_within = groove_in_bore();
    only_within.features[0].promises = vec![Promise::Within];
    let deep = broken(&only_within, &deep);
    assert!(deep.contains(&Rule::Floor), "{deep:?}");
}

/// A tooth at 0.9 above the end of a cutter of 12.
const TOOTH: Cutter = Cutter { teeth: Some([0.9, 1.0, 1.8]), reach: 40.0, ..CUTTER };

fn thread(shape: Shape, bottom: f64) -> Contract {
    let promises = vec![Promise::Within, Promise::Sized, Promise::Climb];
    let feature =
        Feature { name: "thread".to_owned(), centre: [0.0, 0.0], shape, floor: bottom, top: 0.0, promises };
    Contract { features: vec![feature], given: Vec::new(), smallest_arc: 0.05, complete: true }
}

fn half(path: Path, ccw: bool, [from, to]: [f64; 2], z: f64) -> Path {
    let act = Act::Arc { centre: [(from + to) / 2.0, 0.0], ccw, full: false, feed: Some(400.0) };
    path.step(act, [to, 0.0, z])
}

#[test]
fn half_circles_wind_into_an_outer_thread_with_its_slope() {
    let shape = |lean: f64| Shape::Thread {
        inside: false,
        major: 20.0,
        minor: 17.6,
        lead: 1.8,
        whole: -5.0,
        grows: 0.0,
        error: 0.0,
        lean,
    };
    // The teeth are on the groove at 14.8, and 1.7 outside at 16.5; three turns down from 5.4 - 5 - 0.9.
    let (path, out, first) = (14.8, 16.5, -0.5 + 1.8);
    let steps = |part: f64, turns: i32| {
        let rise = part * 1.8;
        let start = Path { cutter: TOOTH, ..Path::new() }.retract().over(-out, 0.0).down(5.0);
        let onto = half(start.line(-out, 0.0, first + rise), false, [-out, path], first);
        let (round, low) = (0..turns).fold((onto, first), |(p, z), _| (p.turn(false, z - 1.8), z - 1.8));
        half(round, false, [path, -out], low - rise).retract().steps
    };
    let part = (out + path) / (4.0 * path);
    assert_eq!(broken(&thread(shape(0.25), -20.0), &steps(part, 4)), []);
    assert_eq!(broken(&thread(shape(0.25), -20.0), &steps(part, 2)), [Rule::Thread], "two turns too few");
    for (lean, part, why) in
        [(0.25, 0.5, "by half a pitch"), (0.25, 0.0, "without rise"), (0.0, part, "where nothing leans")]
    {
        let found = broken(&thread(shape(lean), -20.0), &steps(part, 4));
        assert!(!found.is_empty() && found.iter().all(|rule| *rule == Rule::Lead), "{why}: {found:?}");
    }
}

#[test]
fn half_circles_go_round_a_tapered_thread_beside_its_cone() {
    let shape = |error: f64| Shape::Thread {
        inside: true,
        major: 20.0,
        minor: 17.5,
        lead: 1.8,
        whole: -5.0,
        grows: 1.0 / 32.0,
        error,
        lean: 0.0,
    };
    // At the floor the cone is 5 / 32 narrower than at the top.
    let (path, out, first) = (4.0 - 5.0 / 32.0, 1.8 / 64.0, -5.9);
    let steps = |path: f64, out: f64, turns: i32| {
        let start = Path { cutter: TOOTH, ..Path::new() }.enter().line(0.0, 0.0, first - 0.45);
        let onto = half(start, true, [0.0, path], first);
        let turn = |(p, far, z): (Path, f64, f64), _| {
            let there = half(p, true, [far, -far - out], z + 0.9);
            (half(there, true, [-far - out, far + 2.0 * out], z + 1.8), far + 2.0 * out, z + 1.8)
        };
        let (round, far, high) = (0..turns).fold((onto, path, first), turn);
        half(round, true, [far, 0.0], high + 0.45).retract().steps
    };
    let error = 1.8 / 512.0;
    let found = |error: f64, steps: &[Step]| broken(&thread(shape(error), -20.0), steps);
    assert_eq!(found(error, &steps(path, out, 4)), []);
    assert_eq!(found(error, &steps(path, out, 2)), [Rule::Thread], "a turn too few");
    assert!(found(0.0, &steps(path, out, 4)).contains(&Rule::Wall), "no half circle stays on the cone");
    assert!(found(error, &steps(path + 0.01, out, 4)).contains(&Rule::Wall), "too far out");
    assert!(found(error, &steps(path, 2.0 * out, 4)).contains(&Rule::Wall), "it grows too fast");
    assert!(found(error, &steps(path, 0.0, 4)).contains(&Rule::Thread), "it does not grow");
}
