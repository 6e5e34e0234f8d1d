"""The area that the emitted program sweeps at the floor, against the exact disc, in a reference geometry library.

Oracle: shapely (GEOS), which replaces arcs by inscribed polygons: a circle of N = 4 quad_segs chords has the area
N/2 sin(2 pi/N) r^2 instead of pi r^2, so the tolerance below is that deficit, not a matter of taste.
"""

import math

import pytest
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union

from conftest import FULL, borewright, build, points, trace

CHORDS = 1024
QUAD_SEGS = 128
HAIRLINE = 0.01  # mm: sagitta of the polygons (2e-5 of the radius) and one unit of the third decimal
SIZES = 200 if FULL else 20
SIDES = 4 * QUAD_SEGS
DEFICIT = 1 - SIDES / (2 * math.pi) * math.sin(2 * math.pi / SIDES) + 1e-5


def blocks(out, source, routine, values):
    """Plain blocks of a routine, as a trace."""
    built = build(out, source, routine, "blocks", "blocks-mm", values)
    return trace(built[0]["path"], "blocks-mm")["moves"]


def at_the_floor(moves, depth, tool):
    """What the cutter sweeps on feed moves that stay at the floor."""
    flat = [m for m in moves if m["kind"] != "rapid" and abs(m["from"][2] - depth) < 1e-6 and abs(m["to"][2] - depth) < 1e-6]
    assert flat, "nothing is cut at the floor"
    return unary_union(
        [LineString(points(m, CHORDS)).buffer(tool / 2, quad_segs=QUAD_SEGS) for m in flat if m["from"] != m["to"]]
    )


def annulus(inner, outer):
    """The area between two diameters."""
    return math.pi * (outer**2 - inner**2) / 4


def sizes(rng):
    """Admitted sizes of the finishing bores, small, large and at the edge of what is admitted."""
    tool = rng.choice([2, 6, 10, 12.7, 16, 50])
    pilot = round(max(4, tool + rng.choice([0.2, 0.5, 3, tool])), 3)
    most = min(300, pilot + 2 * tool)
    bore = round(rng.uniform(max(6, tool + 0.8, pilot + 0.01), most), 3) if rng.random() < 0.7 else most
    depth = rng.choice([0.1, 5, 18, 37.3])
    return {
        "bore": f"{bore}mm",
        "pilot": f"{pilot}mm",
        "tool": f"{tool}mm",
        "depth": f"{depth}mm",
        "stepdown": f"{rng.choice([depth, max(0.1, round(depth / 3, 3))])}mm",
        "start": f"{rng.choice([0, 90, -45, 33.3])}deg",
        "cut": "400mm/min",
    }


def mm(text):
    return float(text.removesuffix("mm"))


@pytest.mark.parametrize("routine", ["finish_bore", "finish_bore_half", "finish_bore_straight"])
@pytest.mark.parametrize("number", range(SIZES))
def test_the_floor_is_exactly_the_disc(tmp_path, rng, routine, number):
    values = sizes(rng)
    if mm(values["pilot"]) >= mm(values["bore"]):
        values["bore"] = f"{mm(values['pilot']) + 1}mm"
    [file] = build(tmp_path, "stdlib/bores.bore", routine, "blocks", "blocks-mm", values)
    moves = trace(file["path"], "blocks-mm")["moves"]
    depth, tool, bore = -mm(values["depth"]), mm(values["tool"]), mm(values["bore"])
    swept = unary_union([at_the_floor(moves, depth, tool), Point(0, 0).buffer(mm(values["pilot"]) / 2, quad_segs=QUAD_SEGS)])
    disc = math.pi * bore**2 / 4
    rounding = 0.002 * math.pi * bore  # one unit of the third decimal on the wall, both ways
    assert disc * (1 - DEFICIT) - rounding <= swept.area <= disc + rounding
    # Where the stock is all that one turn can take, inscribed polygons and the last decimal leave a hairline.
    standing = [ring for ring in swept.interiors if not Polygon(ring).buffer(-HAIRLINE / 2).is_empty]
    assert not standing, "an island or a crescent is left"
    reach = max(math.hypot(x, y) for x, y in swept.exterior.coords)
    assert reach <= bore / 2 + 0.0015, f"the wall is passed by {reach - bore / 2}"


def solid(rng):
    tool = rng.choice([4, 6, 10, 12.7, 20])
    return tool, lambda *choices: round(rng.choice(choices), 3)


def from_helix(rng):
    tool, one = solid(rng)
    bore = one(tool + 0.4, 2 * tool, rng.uniform(tool + 0.4, 2 * tool))
    return 0, bore, {"bore": f"{bore}mm", "tool": f"{tool}mm", "depth": "4.2mm"}


def from_the_middle(rng):
    tool, one = solid(rng)
    bore = one(tool + 0.4, 3 * tool, rng.uniform(tool + 0.4, 3 * tool))
    return 0, bore, {"bore": f"{bore}mm", "tool": f"{tool}mm", "depth": "4.2mm", "stepdown": "2.1mm"}


def from_a_spot(rng):
    tool, one = solid(rng)
    face = one(tool + 1, 2 * tool, rng.uniform(tool + 1, 2 * tool))
    return 0, face, {"face": f"{face}mm", "tool": f"{tool}mm", "depth": "4.2mm"}


def in_rings(rng):
    tool, one = solid(rng)
    pilot = one(tool + 0.2, tool + 5)
    bore = one(pilot + 1, 8 * tool, rng.uniform(pilot + 1, 8 * tool))
    stock = one(0, 0.2)
    return pilot, bore - 2 * stock, {
        "bore": f"{bore}mm", "pilot": f"{pilot}mm", "tool": f"{tool}mm", "depth": "4.2mm", "stock": f"{stock}mm",
        "stepover": f"{one(0.9 * tool, tool / 2, tool / 5)}mm",
    }


def in_rings_from_solid(rng):
    tool, one = solid(rng)
    bore = one(2 * tool, 8 * tool, rng.uniform(2 * tool, 8 * tool))
    stock = one(0, 0.05)
    return 0, bore - 2 * stock, {
        "bore": f"{bore}mm", "tool": f"{tool}mm", "depth": "4.2mm", "stock": f"{stock}mm", "ramp": "5deg",
        "stepover": f"{one(0.9 * tool, tool / 2, tool / 5)}mm",
    }


def in_rounds(rng):
    tool, one = solid(rng)
    pilot = one(tool + 0.2, tool + 5)
    stock = one(0, 0.2)
    bore = one(pilot + 3, pilot + 2 * tool)
    return pilot, bore - 2 * stock, {
        "bore": f"{bore}mm", "pilot": f"{pilot}mm", "tool": f"{tool}mm", "depth": "4.2mm", "stock": f"{stock}mm",
        "sweep": f"{one(20, 90, 137.5, 180)}deg", "overlap": f"{one(2, 10, 90)}deg", "start": f"{one(-77.7, 0, 45)}deg", "spring": f"{rng.choice([0, 1, 2])}",
    }


def in_both_stages(rng):
    pilot, bore, values = in_rings(rng)
    values.pop("stock")
    tool, bore = mm(values["tool"]), mm(values["bore"])
    return pilot, max(bore, tool + 2), values | {"bore": f"{max(bore, tool + 2)}mm"}


FROM_INSIDE = {
    ("entries", "helix_bore"): from_helix,
    ("entries", "plunge_bore"): from_the_middle,
    ("counterbores", "spot_face"): from_a_spot,
    ("rough", "rough_bore"): in_rings,
    ("rough", "open_solid"): in_rings_from_solid,
    ("rough", "open_plunging"): in_rings_from_solid,
    ("rough", "open_bore"): in_both_stages,
    ("bores", "finish_bore_rounds"): in_rounds,
    ("bores", "finish_bore_conventional"): in_rounds,
}


@pytest.mark.parametrize("file, routine", FROM_INSIDE)
@pytest.mark.parametrize("number", range(SIZES))
def test_the_floor_of_a_hole_is_exactly_the_disc(tmp_path, rng, file, routine, number):
    pilot, bore, values = FROM_INSIDE[file, routine](rng)
    if routine == "open_plunging":
        values.pop("ramp")
    moves = blocks(tmp_path, f"stdlib/{file}.bore", routine, values | {"cut": "400mm/min"})
    swept = at_the_floor(moves, -4.2, mm(values["tool"]))
    swept = unary_union([swept, Point(0, 0).buffer(pilot / 2, quad_segs=QUAD_SEGS)])
    rounding = 0.002 * math.pi * bore
    assert annulus(0, bore) * (1 - DEFICIT) - rounding <= swept.area <= annulus(0, bore) + rounding
    standing = [ring for ring in swept.interiors if not Polygon(ring).buffer(-HAIRLINE / 2).is_empty]
    assert not standing, "an island or a crescent is left"


@pytest.mark.parametrize("number", range(SIZES))
def test_a_turn_that_is_refused_would_have_left_the_island_that_is_left(tmp_path, rng, number):
    """`plunge_bore` at its limit clears all; the motion of a larger hole, by hand, leaves a crescent."""
    tool = rng.choice([4, 6, 10])
    bore = round(rng.uniform(3.05, 4) * tool, 3)
    done = borewright(
        "build", "stdlib/entries.bore", "--routine", "plunge_bore", "--form", "blocks", "--machine", "blocks-mm", "--out", tmp_path,
        "--set", f"bore={bore}mm", "--set", f"tool={tool}mm", "--set", "depth=2mm", "--set", "cut=400mm/min", check=False,
    )
    assert done.returncode == 1 and "HOLE OVER 3 X THE CUTTER" in done.stdout + done.stderr
    wall, radius = (bore - tool) / 2, tool / 2
    circle = Point(0, 0).buffer(wall, quad_segs=QUAD_SEGS).exterior.buffer(radius, quad_segs=QUAD_SEGS)
    lead = Point(wall / 2, 0).buffer(wall / 2, quad_segs=QUAD_SEGS).exterior.buffer(radius, quad_segs=QUAD_SEGS)
    left = Point(0, 0).buffer(bore / 2, quad_segs=QUAD_SEGS).difference(unary_union([circle, lead]))
    assert left.area > 0.01, "nothing would have been left: the limit is stronger than needed"


@pytest.mark.parametrize("routine", ["boss", "boss_half"])
@pytest.mark.parametrize("number", range(SIZES))
def test_around_a_boss_its_blank_is_gone_and_the_boss_stands(tmp_path, rng, routine, number):
    tool = rng.choice([6, 10, 12.7, 20])
    boss = round(rng.uniform(3, 120), 3)
    blank = round(boss + rng.choice([0.01, 2 * tool, rng.uniform(0.01, 2 * tool)]), 3)
    if blank - boss > 2 * tool:
        blank -= 0.001
    values = {"size": f"{boss}mm", "blank": f"{blank:.3f}mm", "tool": f"{tool}mm", "depth": "5mm", "cut": "400mm/min"}
    [file] = build(tmp_path, "stdlib/bosses.bore", routine, "blocks", "blocks-mm", values)
    swept = at_the_floor(trace(file["path"], "blocks-mm")["moves"], -5, tool)
    disc = lambda d: Point(0, 0).buffer(d / 2, quad_segs=QUAD_SEGS)
    slack = DEFICIT * math.pi * blank**2 / 4 + 0.002 * math.pi * (boss + blank)
    assert swept.intersection(disc(boss)).area <= slack, "the boss is cut"
    assert abs(swept.intersection(disc(blank)).area - annulus(boss, blank)) <= slack, "a part of the blank stands"


@pytest.mark.parametrize("number", range(SIZES))
def test_rings_around_a_boss_leave_nothing_of_its_blank(tmp_path, rng, number):
    tool = rng.choice([6, 10, 12.7, 20])
    size = round(rng.uniform(3, 120), 3)
    stock = rng.choice([0, 0.2])
    blank = round(size + 2 * stock + rng.choice([0.01, 8 * tool, rng.uniform(0.01, 8 * tool)]), 3)
    stepover = round(rng.choice([0.9, 0.5, 0.2]) * tool, 3)
    values = {
        "size": f"{size}mm", "blank": f"{blank}mm", "tool": f"{tool}mm", "stock": f"{stock}mm", "stepover": f"{stepover}mm",
        "depth": "5mm", "start": f"{rng.choice([0, 90, -33.3])}deg", "cut": "400mm/min",
    }
    swept = at_the_floor(blocks(tmp_path, "stdlib/bosses.bore", "rough_boss", values), -5, tool)
    left = size + 2 * stock
    disc = lambda d: Point(0, 0).buffer(d / 2, quad_segs=QUAD_SEGS)
    slack = DEFICIT * math.pi * blank**2 / 4 + 0.002 * math.pi * (size + blank)
    assert swept.intersection(disc(left)).area <= slack, "the boss is cut"
    assert abs(swept.intersection(disc(blank)).area - annulus(left, blank)) <= slack, "a part of the blank stands"


@pytest.mark.parametrize("routine", ["ring_groove", "narrow_groove"])
@pytest.mark.parametrize("number", range(SIZES))
def test_a_groove_is_exactly_the_ring(tmp_path, rng, routine, number):
    tool = rng.choice([3, 6, 10])
    widest = (6 if routine == "ring_groove" else 4) * tool
    inner = round(rng.uniform(10, 100), 3)
    outer = round(inner + rng.choice([2 * tool + 1.6, widest, rng.uniform(2 * tool + 1.6, widest)]), 3)
    values = {"outer": f"{outer}mm", "inner": f"{inner}mm", "tool": f"{tool}mm", "depth": "2.5mm", "cut": "400mm/min"}
    swept = at_the_floor(blocks(tmp_path, "stdlib/grooves.bore", routine, values), -2.5, tool)
    ring = annulus(inner, outer)
    slack = DEFICIT * math.pi * outer**2 / 4 + 0.002 * math.pi * (inner + outer)
    assert abs(swept.area - ring) <= slack
    assert len([r for r in swept.interiors if not Polygon(r).buffer(-HAIRLINE / 2).is_empty]) == 1, "more than the middle stands"


@pytest.mark.parametrize("number", range(SIZES))
def test_a_face_is_swept_whole(tmp_path, rng, number):
    tool = rng.choice([8, 20, 50, 63.5])
    size = round(rng.choice([5, 400, rng.uniform(5, 200)]), 3)
    stepover = round(rng.choice([0.9, 0.7, 0.35]) * tool, 3)
    values = {
        "size": f"{size}mm", "tool": f"{tool}mm", "stock": "2mm", "stepdown": f"{rng.choice([2, 0.7])}mm",
        "stepover": f"{stepover}mm", "start": f"{rng.choice([0, 45, -77.7])}deg", "cut": "400mm/min",
    }
    swept = at_the_floor(blocks(tmp_path, "stdlib/faces.bore", "face_round", values), 0, tool)
    disc = Point(0, 0).buffer(size / 2, quad_segs=QUAD_SEGS)
    left = disc.difference(swept.buffer(HAIRLINE / 2, quad_segs=QUAD_SEGS))
    assert left.area <= 1e-6 * disc.area, f"{left.area} mm2 of the face stand"
