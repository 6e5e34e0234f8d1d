"""The groove that a disc leaves in the wall of a bore, height by height, in a reference geometry library.

Oracle: shapely (GEOS). At a height the disc is there or it is not: what it sweeps with the moves whose end lies at most
the disc's width below, together with the bore, must be the circle of the groove between the two sides, and the circle of
the bore above and below. The neck must stay in the bore all along. The deficit of inscribed polygons is that of
test_swept_area.
"""

import math

import pytest
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union

from conftest import FULL, build, points, trace

CHORDS = 1024
QUAD_SEGS = 128
SIZES = 200 if FULL else 20
SIDES = 4 * QUAD_SEGS
DEFICIT = 1 - SIDES / (2 * math.pi) * math.sin(2 * math.pi / SIDES) + 1e-5
HAIRLINE = 0.01  # mm, as in test_swept_area


def sizes(rng, relief):
    """Admitted sizes: grooves for circlips of small and large bores, shallow and deep, one width or many."""
    tool = round(rng.choice([3, 8, 12.7, 32, 80]), 3)
    bore = round(max(5, tool + rng.choice([0.8, 1, rng.uniform(0.8, 3 * tool)])), 3)
    bore = min(bore, 300)
    deep = round(rng.choice([0.05, 0.5, (tool - 0.2) / 2, rng.uniform(0.05, (tool - 0.2) / 2)]), 3)
    deep = min(deep, (tool - 0.2) / 2, 10)
    disc = round(rng.choice([0.3, 1.1, 2.15, 12]), 3)
    width = round(disc * rng.choice([1, 1.001, 2, rng.uniform(1, 4)]), 3) if relief else disc
    depth = round(width + rng.choice([0.4, 5, rng.uniform(0.4, 50)]) + 0.2, 3)
    values = {
        "groove": f"{bore + 2 * deep:.3f}mm", "bore": f"{bore}mm", "tool": f"{tool}mm", "width": f"{width}mm", "depth": f"{depth}mm", "cut": "200mm/min",
    }
    return float(f"{bore + 2 * deep:.3f}"), bore, tool, disc, width, depth, values | ({"disc": f"{disc}mm"} if relief else {})


def swept(moves, radius, least, most):
    """What a disc of that radius sweeps along the moves whose end lies between two heights."""
    there = [m for m in moves if m["from"] != m["to"] or m["kind"] == "arc"]
    there = [m for m in there if min(m["from"][2], m["to"][2]) <= most and max(m["from"][2], m["to"][2]) >= least]
    lines = [LineString(points(m, CHORDS)) for m in there if math.dist(m["from"][:2], m["to"][:2]) > 0 or m["kind"] == "arc"]
    return unary_union([line.buffer(radius, quad_segs=QUAD_SEGS) for line in lines])


@pytest.mark.parametrize("routine", ["bore_groove", "bore_relief"])
@pytest.mark.parametrize("number", range(SIZES))
def test_at_every_height_the_disc_leaves_the_circle_of_groove_or_bore(tmp_path, rng, routine, number):
    groove, bore, tool, disc, width, depth, values = sizes(rng, routine == "bore_relief")
    [file] = build(tmp_path, "stdlib/undercuts.bore", routine, "blocks", "blocks-mm", values)
    moves = [m for m in trace(file["path"], "blocks-mm")["moves"] if m["kind"] != "rapid"]
    hole = Point(0, 0).buffer(bore / 2, quad_segs=QUAD_SEGS)
    slack = 0.002  # mm: one unit of the third decimal, both ways
    for part in [0.001, 0.25, 0.5, 0.75, 0.999]:
        z = -depth + slack + part * (width - 2 * slack)
        area = unary_union([hole, swept(moves, tool / 2, z - disc - slack, z + slack)])
        circle = math.pi * groove**2 / 4
        rounding = 0.004 * math.pi * groove
        assert circle * (1 - DEFICIT) - rounding <= area.area <= circle + rounding, f"at {z}"
        standing = [ring for ring in area.interiors if not Polygon(ring).buffer(-HAIRLINE / 2).is_empty]
        assert not standing, f"something is left at {z}"
    for z in [-depth - slack - 1e-6, -depth + width + slack + 1e-6, -1e-3]:
        area = swept(moves, tool / 2, z - disc, z)
        reach = max((math.hypot(x, y) for x, y in area.exterior.coords), default=0) if not area.is_empty else 0
        assert reach <= bore / 2 + slack, f"the wall of the bore is cut at {z}"
    neck = tool / 2 - (groove - bore) / 2 - 0.1
    away = max(math.hypot(x, y) for m in moves for x, y in points(m, CHORDS))
    assert away + neck <= bore / 2 + slack, "the neck is in the wall"
