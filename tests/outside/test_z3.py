"""Verdicts against an independent solver: z3 (PyPI z3-solver). No verdict may contradict it.

One second a formula; where z3 does not answer in that time nothing is compared. A formula that z3 can't read is an
exception, and fails the run.
"""

import random
import re

import pytest
from conftest import FULL, ROOT, borewright
from smt2_to_z3 import solve

OBLIGATIONS = sorted((ROOT / "compiler/proof/tests/obligations").glob("*.smt2"))
# The tests of the proof crate hold each of our verdicts to be what the file states.
STATUS = re.compile(r"\(set-info :status (\w+)\)")


def sample(files, name):
    """All, or a seeded part of at most a tenth."""
    files = sorted(files)
    if FULL or len(files) < 40:
        return files
    return sorted(random.Random(name).sample(files, max(40, len(files) // 10)))



def test_no_stated_answer_contradicts_z3():
    compared = 0
    for path in OBLIGATIONS:
        text = path.read_text()
        answer, counts, _ = solve(text, 1)
        if answer == "unknown" or not counts:
            continue
        if answer == "sat" and re.search(r"declare-const [nk] Real", text):
            continue  # they count something: a counterexample between whole numbers is none
        stated = STATUS.search(text).group(1)
        assert answer == stated, path.name
        compared += 1
    assert compared > len(OBLIGATIONS) // 2, f"only {compared} of {len(OBLIGATIONS)} were compared"


EXPECTED = re.compile(r"expected answer: (sat|unsat|not known)")


@pytest.mark.parametrize(
    "source", ["stdlib/bores.bore", *(f"samples/{path.name}" for path in sorted((ROOT / "samples").glob("*.bore")))]
)
def test_no_verdict_on_a_routine_contradicts_z3(source, tmp_path):
    borewright("check", source, "--smt2", tmp_path)
    files = sample(tmp_path.rglob("*.smt2"), source)
    assert files, "no obligation was written"
    confirmed = 0
    for path in files:
        text = path.read_text()
        expected = EXPECTED.search(text).group(1)
        answer, counts, _ = solve(text, 1)
        if answer != "unknown" and counts and expected != "not known":
            assert answer == expected, f"{path.name}: z3 says {answer}"
            confirmed += 1
    assert confirmed, "z3 confirmed none"
    print(f"{source}: {confirmed} of {len(files)} confirmed")
