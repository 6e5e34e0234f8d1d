"""Obligations in SMT-LIB 2 for a solver that knows neither sqrt nor sin and cos (z3 here).

`sqrt(a)` becomes a fresh constant w with `w >= 0`, `w * w = a`: the same meaning wherever the root is defined. Sines and
cosines become fresh constants of which only some things are said (they are a point of the unit circle; in the first
quarter sin x <= x, and so on), so an answer `sat` of a file with them says nothing.
"""

import re
import time

import z3

TOKEN = re.compile(r"\|[^|]*\||[()]|[^\s()]+")
TRIGONOMETRIC = {"sin": "sin", "cos": "cos", "tan": "tan", "arctan": "arctan", "arccos": "arccos"}


def read(text):
    """The commands of a file as nested lists."""
    text = "\n".join(line.split(";")[0] for line in text.splitlines())
    stack = [[]]
    for token in TOKEN.findall(text):
        if token == "(":
            stack.append([])
        elif token == ")":
            done = stack.pop()
            stack[-1].append(done)
        else:
            stack[-1].append(token)
    assert len(stack) == 1, "a parenthesis is missing"
    return stack[0]


def write(tree):
    return tree if isinstance(tree, str) else "(" + " ".join(map(write, tree)) + ")"


class Translation:
    """The text for the solver; `exact` tells whether `sat` counts."""

    def __init__(self, text):
        self.fresh, self.lines, self.exact, self.uses_pi = {}, [], True, False
        for command in read(text):
            if command[0] in ("set-info", "set-logic", "set-option", "check-sat", "get-model", "exit"):
                continue
            if command[0] == "define-fun":
                command = command[:-1] + [self.term(command[-1])]
            elif command[0] == "assert":
                command = ["assert", self.term(command[1])]
            self.lines.append(write(command))
        if self.uses_pi:
            bounds = "(assert (and (< 3.14159265358979 real.pi) (< real.pi 3.14159265358980)))"
            self.lines[:0] = ["(declare-const real.pi Real)", bounds]
        self.text = "\n".join(self.lines)

    def term(self, tree):
        if isinstance(tree, str):
            self.uses_pi |= tree == "real.pi"
            return tree
        parts = [tree[0] if isinstance(tree[0], str) else self.term(tree[0]), *map(self.term, tree[1:])]
        if parts[0] == "sqrt":
            return self.root(write(parts[1]))
        if parts[0] in TRIGONOMETRIC:
            self.exact = False
            return self.trigonometric(parts[0], write(parts[1]))
        return parts

    def name(self, function, argument):
        key = (function, argument)
        new = key not in self.fresh
        if new:
            self.fresh[key] = f"{function}!{len(self.fresh)}"
            self.lines.append(f"(declare-const {self.fresh[key]} Real)")
        return self.fresh[key], new

    def root(self, argument):
        name, new = self.name("root", argument)
        if new:
            self.lines.append(f"(assert (and (>= {name} 0.0) (= (* {name} {name}) {argument})))")
        return name

    def trigonometric(self, function, argument):
        if function in ("arctan", "arccos"):
            return self.name(function, argument)[0]
        (s, new), (c, _) = self.name("sin", argument), self.name("cos", argument)
        if new:
            self.uses_pi = True
            self.lines.append(f"(assert (= (+ (* {s} {s}) (* {c} {c})) 1.0))")
            quarter = f"(and (<= 0.0 {argument}) (<= {argument} (/ real.pi 2.0)))"
            bounds = f"(and (<= 0.0 {s}) (<= 0.0 {c}) (<= {s} {argument}) (>= {s} (* {argument} {c})))"
            self.lines.append(f"(assert (=> {quarter} {bounds}))")
        return {"sin": s, "cos": c, "tan": f"(/ {s} {c})"}[function]


def solve(text, seconds):
    """z3's answer, whether it counts, and the time it took to solve (not to read)."""
    translation = Translation(text)
    solver = z3.Solver()
    solver.set("timeout", int(seconds * 1000))
    # A text that it can't read must never look like an answer.
    solver.from_string(translation.text)
    assert solver.assertions(), "nothing was read"
    start = time.perf_counter()
    answer = str(solver.check())
    elapsed = time.perf_counter() - start
    return answer, answer == "unsat" or translation.exact, elapsed
