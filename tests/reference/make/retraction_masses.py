"""Masses of the breast-retraction curves to 40 digits, by Newton's method on decimals.

Run from the repository's root: python tests/reference/make/retraction_masses.py
Writes tests/reference/expected/retraction-masses.json. Standard library only. A known day t
is (t - 1/1000, t]. All innermost intervals (Peto 1973; Turnbull 1976) are formed; masses
that the self-consistency steps drive to zero are left out, the rest solve
sum_i a_ij / sum_k a_ik p_k = n; the Kuhn-Tucker conditions are checked on all intervals.
"""

import json
import platform
import sys
from decimal import Decimal, getcontext
from fractions import Fraction
from itertools import pairwise
from math import isinf
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
from lifetimes_data import RETRACTION  # noqa: E402 (beside the tests, not installed)

getcontext().prec = 60
FAR = Fraction(10**6)


def ends(low: float, high: float) -> tuple[Fraction, Fraction]:
    a, b = Fraction(low), FAR if isinf(high) else Fraction(high)
    return (a - Fraction(1, 1000), b) if a == b else (a, b)


def innermost(lives: list[tuple[Fraction, Fraction]]) -> list[tuple[Fraction, Fraction]]:
    # at one time an end comes before a beginning: (a, t] and (t, b] share nothing
    marks = sorted({(b, 0) for _, b in lives} | {(a, 1) for a, _ in lives})
    return [(one[0], two[0]) for one, two in pairwise(marks) if one[1] == 1 and two[1] == 0]


def solve(matrix: list[list[Decimal]], right: list[Decimal]) -> list[Decimal]:
    n = len(right)
    rows = [[*row, r] for row, r in zip(matrix, right, strict=True)]
    for k in range(n):
        best = max(range(k, n), key=lambda i: abs(rows[i][k]))
        rows[k], rows[best] = rows[best], rows[k]
        for i in range(k + 1, n):
            by = rows[i][k] / rows[k][k]
            rows[i] = [x - by * y for x, y in zip(rows[i], rows[k], strict=True)]
    out = [Decimal(0)] * n
    for k in reversed(range(n)):
        rest = sum((rows[k][j] * out[j] for j in range(k + 1, n)), Decimal(0))
        out[k] = (rows[k][n] - rest) / rows[k][k]
    return out


def masses(arm: int) -> dict[tuple[Fraction, Fraction], Decimal]:
    lives = [ends(a, b) for a, b in zip(*RETRACTION[arm], strict=True)]
    cells = innermost(lives)
    inside = [[int(a <= c and d <= b) for c, d in cells] for a, b in lives]
    p = [1.0 / len(cells)] * len(cells)
    for _ in range(20000):
        sums = [sum(x * y for x, y in zip(row, p, strict=True)) for row in inside]
        p = [
            q * sum(row[j] / s for row, s in zip(inside, sums, strict=True)) / len(lives)
            for j, q in enumerate(p)
        ]
    held = [j for j, q in enumerate(p) if q > 1e-4]
    total = sum(p[j] for j in held)
    mass = [Decimal(p[j] / total) for j in held]
    n = Decimal(len(lives))
    for _ in range(12):
        sums = [
            sum(Decimal(row[j]) * q for j, q in zip(held, mass, strict=True)) for row in inside
        ]
        slope = [
            sum((row[j] / s for row, s in zip(inside, sums, strict=True)), Decimal(0)) - n
            for j in held
        ]
        bend = [
            [
                sum(
                    (row[j] * row[k] / (s * s) for row, s in zip(inside, sums, strict=True)),
                    Decimal(0),
                )
                for k in held
            ]
            for j in held
        ]
        mass = [q + x for q, x in zip(mass, solve(bend, slope), strict=True)]
    assert max(abs(x) for x in slope) < Decimal(10) ** -45
    assert min(mass) > 0
    assert abs(sum(mass) - 1) < Decimal(10) ** -45
    for j in range(len(cells)):  # no cell without mass would gain from some
        gain = sum((row[j] / s for row, s in zip(inside, sums, strict=True)), Decimal(0)) - n
        assert gain < Decimal(10) ** -40, (arm, cells[j], gain)
    return {cells[j]: q for j, q in zip(held, mass, strict=True)}


def main() -> None:
    cases = []
    for arm in (1, 2):
        for (low, high), mass in masses(arm).items():
            known = low.denominator > 1
            name = f"({float(high if known else low):g}, {float(high):g}]"
            cases.append({
                "quantity": f"retraction {arm} {name} mass",
                "value": f"{mass:.40f}",
                "kind": "computed",
                "absolute": "1e-12",
            })  # fmt: skip
    header = {
        "set": "retraction-masses",
        "data": ["KMsurv bcdeter"],
        "source": ["Klein & Moeschberger (1997) as cited by the package"],
        "program": f"Python {platform.python_version()}, decimal, 60 digits",
        "script": "tests/reference/make/retraction_masses.py",
        "digits": 40,
    }
    text = json.dumps({"header": header, "cases": cases}, indent=2) + "\n"
    (HERE.parent / "expected" / "retraction-masses.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
