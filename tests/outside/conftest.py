"""Helpers for the outside checks: run the command, read its JSON, measure a trace in a reference geometry library."""

import json
import math
import os
import pathlib
import random
import subprocess

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
COMMAND = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release" / "borewright"
FULL = os.environ.get("BOREWRIGHT_FULL") == "1"


def borewright(*arguments, check=True):
    """Runs the command; returns the finished process."""
    done = subprocess.run([COMMAND, *map(str, arguments)], cwd=ROOT, capture_output=True, text=True)
    if check:
        assert done.returncode == 0, f"{arguments}\n{done.stdout}\n{done.stderr}"
    return done


def build(out, source, routine, form, machine, values, check=True):
    """Builds one routine; returns the report's file entries."""
    sets = [part for name, value in values.items() for part in ("--set", f"{name}={value}")]
    done = borewright(
        "build", source, "--routine", routine, "--form", form, "--machine", machine, "--out", out, *sets,
        "--format", "json", check=check,
    )
    return json.loads(done.stdout)["files"] if done.returncode == 0 else None


def trace(path, machine, *more):
    """Runs a program on the virtual controller; returns its JSON trace."""
    return json.loads(borewright("run", path, "--machine", machine, "--format", "json", *more).stdout)


def sample_arc(move, count):
    """Points of an arc move from its centre, `count` chords for a whole turn."""
    (cx, cy, _), (x0, y0, _), (x1, y1, _) = move["centre"], move["from"], move["to"]
    radius = math.hypot(x0 - cx, y0 - cy)
    start = math.atan2(y0 - cy, x0 - cx)
    sweep = math.atan2(y1 - cy, x1 - cx) - start
    full = math.hypot(x1 - x0, y1 - y0) < 1e-9
    if move["ccw"]:
        sweep = 2 * math.pi if full else sweep % (2 * math.pi)
    else:
        sweep = -2 * math.pi if full else -((-sweep) % (2 * math.pi))
    steps = max(2, math.ceil(abs(sweep) / (2 * math.pi) * count))
    return [
        (cx + radius * math.cos(start + sweep * k / steps), cy + radius * math.sin(start + sweep * k / steps))
        for k in range(steps + 1)
    ]


def points(move, count):
    """Points of a feed move in the plane."""
    if move["kind"] == "arc":
        return sample_arc(move, count)
    return [tuple(move["from"][:2]), tuple(move["to"][:2])]


@pytest.fixture
def rng(request):
    """A generator seeded by the test's name: the same sizes in every run."""
    return random.Random(request.node.name)
