"""Identities and efficiencies of layouts, by trial file and the commands randomize and analyze.

b k = t r, lambda (t - 1) = r (k - 1): ASTM E1325-16 (as read at 123docz.net 13714918); what a
layout keeps of complete blocks is computed from them. Lattices, the bound of resolvable
layouts and the numbers of Latin squares: from memory. Full digits of the same layouts stand
in tests/unit/layout/test_efficiency.
"""

import csv
import re
from itertools import combinations
from math import factorial

import pytest
from support import analyze_by_command

from wickstats.cli.app import run

# t, b, r, k: lambda, E
BALANCED = {
    (4, 4, 3, 3): (2, 0.8889),
    (5, 10, 4, 2): (1, 0.6250),
    (6, 10, 5, 3): (2, 0.8000),
    (6, 15, 5, 2): (1, 0.6000),
    (7, 7, 3, 3): (1, 0.7778),
    (7, 7, 4, 4): (2, 0.8750),
    (9, 12, 4, 3): (1, 0.7500),
    (11, 11, 5, 5): (2, 0.8800),
    (13, 13, 4, 4): (1, 0.8125),
    (16, 20, 5, 4): (1, 0.8000),
}
# k, r: E
LATTICES = {
    (3, 2): 0.6667, (3, 3): 0.7273, (3, 4): 0.7500,
    (4, 2): 0.7143, (4, 3): 0.7692, (4, 4): 0.7895,
    (5, 2): 0.7500, (5, 3): 0.8000, (5, 4): 0.8182,
}  # fmt: skip
# t, r, s blocks a replicate: what must be reached, the bound
RESOLVABLE = {
    (12, 3, 4): (0.680, 0.7097),
    (20, 4, 5): (0.768, 0.7808),
    (24, 3, 6): (0.729, 0.7541),
}


def drawn(tmp_path, capsys, design, t):
    """Rows of the layout that the command drew, and what it said."""
    path = tmp_path / "trial.yaml"
    names = ", ".join(f"{{name: w{i}}}" for i in range(t))
    path.write_text(
        "format: 1\ntrial: {id: blocks}\n"
        f"factors: {{watering: [{names}]}}\n"
        f"design: {{{design}, layout: layout.csv}}\n"
        "records: {measurements: {file: values.csv}}\n"
        "responses: [{name: answer, kind: measurement, column: answer, measured_in: '1'}]\n"
    )
    assert run(["randomize", str(path)]) == 0
    told = " ".join(capsys.readouterr().out.split())  # spaces that do not break, too
    with (tmp_path / "layout.csv").open() as file:
        return list(csv.DictReader(file)), told


def held_by(rows):
    out = {}
    for row in rows:
        out.setdefault(row["block"], []).append(row["watering"])
    return out


def kept(rows, r, k):
    """Average efficiency factor from the layout as written: harmonic mean of the canonical
    efficiency factors of equal replication (James & Wilkinson 1971, from memory)."""
    import numpy as np

    names = sorted({row["watering"] for row in rows})
    blocks = held_by(rows)
    n = np.array([[block.count(name) for block in blocks.values()] for name in names])
    values = np.linalg.eigvalsh(np.eye(len(names)) - n @ n.T / (r * k))[1:]
    return float(values.size / (1.0 / values).sum())


@pytest.mark.parametrize("sizes", BALANCED)
def test_balanced_blocks_by_command(sizes, tmp_path, capsys):
    t, b, r, k = sizes
    meet, e = BALANCED[sizes]
    design = f"type: incomplete block, block_size: {k}, replicates: {r}"
    rows, told = drawn(tmp_path, capsys, design, t)
    assert b * k == t * r
    assert meet * (t - 1) == r * (k - 1)
    assert b >= t
    blocks = held_by(rows)
    assert len(blocks) == b
    assert all(len(set(block)) == len(block) == k for block in blocks.values())
    names = sorted({row["watering"] for row in rows})
    met = {
        sum({x, y} <= set(block) for block in blocks.values())
        for x, y in combinations(names, 2)
    }
    assert met == {meet}
    assert round(kept(rows, r, k), 4) == e
    said = re.search(
        r"keeps (\d+) % of the information of complete blocks; no layout of this size keeps",
        told,
    )
    assert said
    assert float(said[1]) == pytest.approx(100 * t * (k - 1) / (k * (t - 1)), abs=0.5)


@pytest.mark.parametrize(("k", "r"), LATTICES)
def test_square_lattices_by_command(k, r, tmp_path, capsys):
    design = f"type: incomplete block, block_size: {k}, replicates: {r}, resolvable: true"
    rows, told = drawn(tmp_path, capsys, design, k * k)
    assert round(kept(rows, r, k), 4) == LATTICES[k, r]
    assert "no layout of this size keeps more" in told


@pytest.mark.parametrize("sizes", RESOLVABLE)
def test_resolvable_layouts_by_command(sizes, tmp_path, capsys):
    t, r, s = sizes
    least, bound = RESOLVABLE[sizes]
    k = t // s
    design = f"type: incomplete block, block_size: {k}, replicates: {r}, resolvable: true"
    rows, told = drawn(tmp_path, capsys, design, t)
    for replicate in {row["replicate"] for row in rows}:
        held = [row["watering"] for row in rows if row["replicate"] == replicate]
        assert len(held) == len(set(held)) == t
    found = kept(rows, r, k)
    assert least <= found < bound
    assert f"the best possible at this size is {100 * bound:.0f} %" in told


@pytest.mark.parametrize(("order", "reduced"), [(4, 4), (5, 56), (6, 9408)])
def test_numbers_of_latin_squares_by_command(order, reduced, tmp_path, capsys):
    # all: reduced p! (p - 1)!, which is 576 and 161,280 at orders 4 and 5
    rows, told = drawn(tmp_path, capsys, "type: Latin square", order)
    count = reduced * factorial(order) * factorial(order - 1)
    assert {4: 576, 5: 161_280, 6: 812_851_200}[order] == count
    assert f"{count:,}" in told
    for line in ("row", "column"):
        places = {(row[line], row["watering"]) for row in rows}
        assert len(places) == order * order


def test_all_layouts_of_two_blocks_of_three_by_command(tmp_path, capsys):
    # t!^b layouts: 36
    rows, told = drawn(tmp_path, capsys, "type: randomized complete block, blocks: 2", 3)
    assert "no test by re-randomization can give a p below 0.17" in told  # 3! of 36
    values = [f"{row['plot']},{y}" for row, y in zip(rows, (1, 4, 2, 8, 5, 7), strict=True)]
    (tmp_path / "values.csv").write_text("\n".join(["plot,answer", *values]) + "\n")
    capsys.readouterr()
    (item,) = analyze_by_command(tmp_path, tmp_path.with_name("out"))["responses"]
    (test,) = item["tests"]
    assert test["redraws"]["kind"] == "exact"
    assert test["redraws"]["total"] == 36
    assert test["redraws"]["smallest_possible_p"] == pytest.approx(6 / 36)
