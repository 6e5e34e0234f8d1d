"""The path of the library's tapered pipe threads against the cone and the helix, in a reference library for numbers.

Oracle: numpy. A taper of 1 in 16 on the diameter (ASME B1.20.1 and ISO 7-1: half angle 1.7899 degrees) makes the
radius at a height z below the top face smaller by z / 32; a helix of pitch P rises by P a / 360 at the angle a. So each
tooth, which is as far out as the cutter is wide at its height, must be on that cone and on that helix, but for what the
program says of itself. Pitches and lengths are those of the standard in stdlib/threads.bore; the diameters at the top face are worked out from
E1 and L1 only where that matters, which it does not here.
"""

import math
import re

import numpy
import pytest

from conftest import FULL, build, trace
from test_thread_helix import ROUNDING, along

SIZES = 200 if FULL else 20


def sizes(rng):
    """Admitted sizes: pitches of 27, 18, 14, 11.5 and 11 threads per inch, one tooth to a full row."""
    pitch = round(25.4 / rng.choice([27, 18, 14, 11.5, 11]), 4)
    major = round(rng.uniform(8 * pitch, 120), 3)
    depth = round(rng.uniform(3, 9) * pitch, 3)
    minor = round(major - depth / 16 - rng.uniform(0.5, 1.2) * pitch, 3)
    tool = round(max(2, rng.uniform(0.4, 1) * min(0.75 * major, minor - 0.2, 60)), 3)
    rows = rng.choice([1, 2, 5, math.ceil(depth / pitch) + 1])
    values = {
        "major": f"{major}mm", "minor": f"{minor}mm", "pitch": f"{pitch}mm", "tool": f"{tool}mm", "depth": f"{depth}mm",
        "rows": f"{rows}", "drilled": f"{depth + 2 * pitch:.3f}mm", "start": f"{rng.choice([0, 90, -37.5])}deg", "cut": "150mm/min",
    }
    return pitch, major, minor, tool, rows, values


@pytest.mark.parametrize("number", range(SIZES))
def test_teeth_are_on_the_cone_and_on_the_helix_but_for_what_is_printed(tmp_path, rng, number):
    pitch, major, minor, tool, rows, values = sizes(rng)
    [file] = build(tmp_path, "stdlib/threading.bore", "pipe_thread_hole", "blocks", "blocks-mm", values)
    text = open(file["path"]).read()
    said = re.search(r"UP TO ERROR = PITCH / ([0-9]+) BESIDE", text)
    assert said, "the program does not say how far its arcs leave the cone"
    error = pitch / int(said[1])
    moves = [m for m in trace(file["path"], "blocks-mm")["moves"] if m["kind"] == "arc" and m["from"] != m["to"]]
    points = numpy.concatenate([along(m) for m in moves])
    far = numpy.hypot(points[:, 0], points[:, 1])
    highest = pitch / 2 + (rows - 1) * pitch
    cone = major / 2 + (points[:, 2] + highest) / 32 - tool / 2
    bites = far + tool / 2 > minor / 2 + 0.002
    slack = 2 * ROUNDING + error
    assert (far[bites] <= cone[bites] + slack).all(), f"a tooth goes {(far - cone)[bites].max()} mm past the cone"
    # Between entry and exit every tooth is on the cone, inwards too.
    round_moves = numpy.concatenate([along(m) for m in moves[1:-1]])
    depth = numpy.hypot(round_moves[:, 0], round_moves[:, 1]) - (major / 2 + (round_moves[:, 2] + highest) / 32 - tool / 2)
    assert (numpy.abs(depth) <= slack).all(), f"the thread is {numpy.abs(depth).max()} mm off its cone"
    turned = numpy.arctan2(points[bites, 1], points[bites, 0]) / (2 * math.pi)
    heights = points[bites, 2] - pitch * turned
    off = heights - heights[numpy.argmax(far[bites])]
    off = numpy.abs(off - numpy.round(off / pitch) * pitch)
    allowed = slack + error + pitch / (2 * math.pi) * ROUNDING / far[bites]
    assert (off <= allowed).all(), f"a tooth is {float((off - allowed).max())} mm beside the groove"
    # One turn after another: the path rises by a pitch and grows by a thirty-second of it.
    starts = [m["from"] for m in moves[1:-1]]
    for a, b in zip(starts, starts[2:]):
        assert abs(b[2] - a[2] - pitch) <= 2 * ROUNDING
        assert abs(math.hypot(*b[:2]) - math.hypot(*a[:2]) - pitch / 32) <= 2 * ROUNDING
