"""The path of the library's threads against the helix of the thread, in a reference library for numbers.

Oracle: numpy. A thread of pitch P winds by P in each turn, so a tooth whose middle stands at the angle a about the axis
belongs at the height P a / 360 from where it began, and all heights of a right-hand thread less that are one height,
but for whole pitches. Definition of a helix; the left hand has the sign changed.
"""

import math

import numpy
import pytest

from conftest import FULL, build, trace

SIZES = 200 if FULL else 20
# Three decimals on both ends of an arc, and what they shift the angle by where the arc is small.
ROUNDING = 0.0015

SHAPES = {
    "thread_hole": ("drilled", False),
    "thread_hole_passes": ("drilled", True),
    "thread_boss": ("shoulder", False),
    "thread_boss_winding": ("shoulder", False),
    "thread_boss_passes": ("shoulder", True),
}


def sizes(rng, routine):
    """Admitted sizes of one thread: sixty degrees, coarse to fine, both hands, one tooth or a row."""
    pitch = rng.choice([0.5, 0.8, 1, 1.25, 1.5, 2, 3, 4, 6])
    major = round(rng.uniform(max(4, 6 * pitch), 120), 3)
    height = 1.0825 if "hole" in routine else 1.2269
    minor = round(major - height * pitch, 3)
    most = 0.75 * major if "hole" in routine else 60
    tool = round(rng.uniform(0.3, 1) * min(most, minor - 0.2, 60), 3) if "hole" in routine else round(rng.uniform(4, 60), 3)
    tool = max(tool, 1.5 if "hole" in routine else 4)
    depth = round(rng.uniform(1, 12) * pitch, 3)
    deep = depth + 3 * pitch
    values = {
        "major": f"{major}mm", "minor": f"{minor}mm", "pitch": f"{pitch}mm", "tool": f"{tool}mm", "depth": f"{depth}mm",
        "hand": rng.choice(["1", "2"]), "rows": f"{rng.choice([1, 1, 2, 5])}", "start": f"{rng.choice([0, 90, -37.5])}deg",
        SHAPES[routine][0]: f"{deep:.3f}mm", "cut": "200mm/min",
    }
    return pitch, major, minor, tool, depth, values


def along(move, count=64):
    """Points of a feed move in space: an arc rises evenly as it goes round."""
    a, b = numpy.array(move["from"]), numpy.array(move["to"])
    part = numpy.linspace(0, 1, count)[:, None]
    if move["kind"] != "arc":
        return a + (b - a) * part
    centre = numpy.array(move["centre"][:2])
    u, v = a[:2] - centre, b[:2] - centre
    full = numpy.linalg.norm(a[:2] - b[:2]) < 1e-9
    sweep = math.atan2(v[1], v[0]) - math.atan2(u[1], u[0])
    sweep = (2 * math.pi if full else sweep % (2 * math.pi))
    if not move["ccw"]:
        sweep = -2 * math.pi if full else sweep - 2 * math.pi
    angle = math.atan2(u[1], u[0]) + sweep * part[:, 0]
    radius = numpy.linalg.norm(u)
    x, y = centre[0] + radius * numpy.cos(angle), centre[1] + radius * numpy.sin(angle)
    return numpy.column_stack([x, y, a[2] + (b[2] - a[2]) * part[:, 0]])


@pytest.mark.parametrize("routine", SHAPES)
@pytest.mark.parametrize("number", range(SIZES))
def test_where_a_tooth_bites_it_is_on_the_helix(tmp_path, rng, routine, number):
    pitch, major, minor, tool, depth, values = sizes(rng, routine)
    [file] = build(tmp_path, "stdlib/threading.bore", routine, "blocks", "blocks-mm", values)
    moves = [m for m in trace(file["path"], "blocks-mm")["moves"] if m["kind"] != "rapid"]
    inside = "hole" in routine
    points = numpy.concatenate([along(m) for m in moves if m["from"] != m["to"]])
    far = numpy.hypot(points[:, 0], points[:, 1])
    bites = far + tool / 2 > minor / 2 + 0.002 if inside else far - tool / 2 < major / 2 - 0.002
    bites &= (points[:, 2] < 0) & (far > 0.05)
    assert bites.any(), "nothing is cut"
    lead = pitch if values["hand"] == "1" else -pitch  # right, left, by their numbers
    turned = numpy.arctan2(points[bites, 1], points[bites, 0]) / (2 * math.pi)
    heights = points[bites, 2] - lead * turned
    first = heights[numpy.argmax(far[bites] if inside else -far[bites])]
    off = heights - first
    off = numpy.abs(off - numpy.round(off / pitch) * pitch)
    # The angle of a rounded point is off by the rounding over its distance from the axis.
    slack = 2 * ROUNDING + pitch / (2 * math.pi) * ROUNDING / far[bites]
    if routine == "thread_boss_winding":
        # A tooth that has drawn back has room on either side: on flanks of 14.5 degrees (29 in all: ASME B1.5, from memory)
        # a little more than a quarter of that, tan 14.5 = 0.2586.
        slack = slack + (far[bites] - far.min()) / 4
    assert (off <= slack).all(), f"a tooth is {float((off - slack).max())} mm beside the groove"
    # The deepest tooth reaches the full depth of the thread, and no further.
    reach = far.max() + tool / 2 - major / 2 if inside else minor / 2 - (far.min() - tool / 2)
    assert abs(reach) <= ROUNDING, f"the thread is {reach} mm too deep"


@pytest.mark.parametrize("number", range(SIZES))
def test_a_way_in_and_out_joins_an_outer_thread_with_one_direction_in_space(tmp_path, rng, number):
    values = sizes(rng, "thread_boss_winding")[-1]
    [file] = build(tmp_path, "stdlib/threading.bore", "thread_boss_winding", "blocks", "blocks-mm", values)
    arcs = [m for m in trace(file["path"], "blocks-mm")["moves"] if m["kind"] == "arc" and m["from"] != m["to"]]
    points = [along(m, 2049) for m in arcs]
    for a, b in zip(points, points[1:]):
        u, v = a[-1] - a[-2], b[1] - b[0]
        angle = math.acos(min(1, numpy.dot(u, v) / numpy.linalg.norm(u) / numpy.linalg.norm(v)))
        # Each of the two chords is off its arc by half of a 2048th of it; what rounding adds is less where arcs are long.
        bend = 2 * math.pi / 2048 + 4 * ROUNDING / min(numpy.hypot(*a[-1][:2]), numpy.hypot(*b[0][:2]))
        assert angle <= bend, f"the path turns by {math.degrees(angle)} degrees where two arcs meet"
