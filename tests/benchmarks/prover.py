#!/usr/bin/env python3
"""Solve times of the proof engine and of z3 (PyPI z3-solver) on the same obligations, in one run.

    cargo build --release -p borewright-proof --example smt2
    .venv/bin/python tests/benchmarks/prover.py [FILE...]

Without files: all of compiler/proof/tests/obligations. z3 has ten seconds a file, and only its solving is counted, not
its reading, in one process for all files; ours includes reading, in a new process for each file. z3 gets roots as fresh
constants and some axioms on sines: `sat` does not count then. Where a folder `axioms` beside a file has one of the same
name, z3 gets that instead: its bounding axioms are better, and there too only `unsat` counts.
"""

import os
import pathlib
import re
import statistics
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/outside"))
from smt2_to_z3 import solve  # noqa: E402

PROVER = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release/examples/smt2"
WORDS = {"unsat": "proved", "sat": "refuted"}
SECONDS = float(os.environ.get("SECONDS_A_FILE", "10"))


def ours(path):
    """The median of five runs in milliseconds."""
    times = []
    for _ in range(5):
        done = subprocess.run([PROVER, path], capture_output=True, text=True, check=True)
        _, answer, micros = done.stdout.split()[:3]
        times.append(int(micros) / 1000)
    return answer, statistics.median(times)


def by_z3(path):
    """z3's answer, whether it counts, and the time in milliseconds."""
    axioms = path.parent / "axioms" / path.name
    answer, counts, seconds = solve((axioms if axioms.exists() else path).read_text(), SECONDS)
    return answer, counts and (answer == "unsat" or not axioms.exists()), seconds * 1000


def main():
    paths = [pathlib.Path(p) for p in sys.argv[1:]] or sorted((ROOT / "compiler/proof/tests/obligations").glob("*.smt2"))
    mine, theirs, ratios, decided, wrong = [], [], [], [0, 0], [0, 0]
    for path in paths:
        text = path.read_text()
        stated = re.search(r":status (\w+)", text).group(1)
        answer, time = ours(path)
        other, counts, other_time = by_z3(path)
        mine.append(time)
        decided[0] += answer != "unknown"
        wrong[0] += answer not in ("unknown", WORDS[stated])
        if other != "unknown" and counts:
            decided[1] += 1
            wrong[1] += other != stated
            theirs.append(other_time)
            ratios.append(other_time / time)
        print(f"{path.stem:50} {answer:8} {time:9.2f} ms   z3 {other if counts else 'no answer':9} {other_time:9.2f} ms")
    mine.sort()
    print(f"\n{len(paths)} files: decided {decided[0]}, by z3 {decided[1]}; wrong {wrong[0]}, by z3 {wrong[1]}")
    print(f"ours: median {statistics.median(mine):.2f} ms, 95th percentile {mine[int(len(mine) * 0.95)]:.2f} ms, slowest {mine[-1]:.2f} ms")
    print(f"z3, where it answers: median {statistics.median(theirs):.2f} ms; median of z3's time over ours {statistics.median(ratios):.1f}")


if __name__ == "__main__":
    main()
