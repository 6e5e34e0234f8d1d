"""What the cone of a pointed cutter leaves of an edge, height by height, in a reference geometry library.

Oracle: shapely (GEOS). So far below the top face the cone is a disc, and it sweeps the path widened by that disc. What
is left there must be the chamfer's own circle: half of the hole's diameter and the width at the top face, less by the
tangent of half the angle for each millimetre down, and the hole as it was below the foot. Geometry of the cone; the
deficit of inscribed polygons is that of test_swept_area.
"""

import math

import pytest
from shapely.geometry import LineString, Point
from shapely.ops import unary_union

from conftest import FULL, build, points, trace

CHORDS = 1024
QUAD_SEGS = 128
SIZES = 200 if FULL else 20
SIDES = 4 * QUAD_SEGS
DEFICIT = 1 - SIDES / (2 * math.pi) * math.sin(2 * math.pi / SIDES) + 1e-5
HEIGHTS = 9


def sizes(rng, inside):
    """Admitted sizes: from a broken edge to a countersink, sharp and blunt points, three angles."""
    angle = rng.choice([60, 90, 120])
    slope = math.tan(math.radians(angle / 2))
    width = round(rng.choice([0.05, 0.3, 1, rng.uniform(0.05, 4)]), 3)
    tip = round(rng.choice([0, 0, 0.2, 1.5]), 3)
    sink = round((width + 0.1) / slope + rng.choice([0.001, 0.5, rng.uniform(0.001, 2)]), 3)
    wide = tip / 2 + sink * slope
    tool = round(2 * wide + rng.choice([0.01, 4]) + 2, 3)
    size = round((2 * wide + 0.4 if inside else 2 * width) + rng.choice([0.01, 20, rng.uniform(0.01, 100)]) + 3, 3)
    values = {
        "size": f"{size}mm", "width": f"{width}mm", "angle": f"{angle}deg", "tool": f"{tool}mm", "tip": f"{tip}mm", "sink": f"{sink}mm",
        "deep": f"{sink + 1:.3f}mm", "start": f"{rng.choice([0, 90, -37.5])}deg", "cut": "300mm/min",
    }
    return size, width, slope, tip, sink, values


def swept(moves, radius):
    """What a disc of that radius sweeps along the feed moves at the depth of the cut."""
    low = min(m["to"][2] for m in moves)
    flat = [m for m in moves if m["kind"] != "rapid" and m["from"][2] == low == m["to"][2] and m["from"] != m["to"]]
    assert flat, "nothing is cut"
    return unary_union([LineString(points(m, CHORDS)).buffer(radius, quad_segs=QUAD_SEGS) for m in flat])


@pytest.mark.parametrize("routine", ["chamfer_hole", "chamfer_boss"])
@pytest.mark.parametrize("number", range(SIZES))
def test_at_every_height_the_cone_leaves_the_circle_of_the_chamfer(tmp_path, rng, routine, number):
    inside = routine == "chamfer_hole"
    size, width, slope, tip, sink, values = sizes(rng, inside)
    [file] = build(tmp_path, "stdlib/edges.bore", routine, "blocks", "blocks-mm", values)
    moves = trace(file["path"], "blocks-mm")["moves"]
    deepest = min(sink - 1e-6, 1.5 * width / slope)
    disc = Point(0, 0).buffer(size / 2, quad_segs=QUAD_SEGS)
    for k in range(HEIGHTS):
        z = -deepest * k / (HEIGHTS - 1)
        cut = swept(moves, tip / 2 + (z + sink) * slope)
        more = max(0, width + z * slope)
        left = size / 2 + more if inside else size / 2 - more
        # A polygon's deficit, and one unit of the third decimal on the wall, both ways.
        slack = DEFICIT * math.pi * (size / 2 + width) ** 2 + 0.002 * math.pi * (size + 2 * width)
        area = unary_union([disc, cut]).area if inside else disc.difference(cut).area
        assert abs(area - math.pi * left**2) <= slack, f"{-z} mm down, {math.sqrt(area / math.pi) - left} mm beside the chamfer"
        if inside:
            reach = cut.hausdorff_distance(Point(0, 0))
            assert reach <= left + 0.0015, f"{-z} mm down the chamfer is passed by {reach - left}"
        else:
            assert cut.distance(Point(0, 0)) >= left - 0.0015, f"{-z} mm down the boss is cut"
