"""Re-randomization of split-plots and strip-plots kept to restrictions, all layouts listed."""

from itertools import pairwise, permutations, product

import numpy as np
import pytest

import wickstats as ws

ACROSS = "no treatment beside itself across blocks"
WHOLE = {"A": 0.0, "B": 1.5, "C": 2.5}


def season(folder, design, tiers, rows, values):
    """Trial file, layout and values of two factors w (A, B, C) and n (x, y)."""
    outer, inner = tiers
    (folder / "trial.yaml").write_text(
        "format: 1\ntrial: {id: kept}\nfactors:\n"
        f"  w: {{applied_to: {outer}, levels: [{{name: A}}, {{name: B}}, {{name: C}}]}}\n"
        f"  n: {{applied_to: {inner}, levels: [{{name: x}}, {{name: y}}]}}\n"
        f"design: {{type: {design}, layout: layout.csv, drawn: elsewhere, "
        f'keep: ["{ACROSS}"]}}\n'
        "records: {measurements: {file: values.csv}}\n"
        "responses: [{name: answer, kind: measurement, column: answer, measured_in: '1'}]\n"
    )
    heads = list(rows[0])
    lines = [",".join(heads), *(",".join(str(row[h]) for h in heads) for row in rows)]
    (folder / "layout.csv").write_text("\n".join(lines) + "\n")
    told = [f"{row['plot']},{y:.6f}" for row, y in zip(rows, values, strict=True)]
    (folder / "values.csv").write_text("\n".join(["plot,answer", *told]) + "\n")
    trial = ws.read_trial(folder / "trial.yaml")
    (item,) = ws.analyze(trial, ws.read_records(trial)).responses
    return {test.term: test.redraws for test in item.tests}, item.comparisons


def f_of(table, labels):
    """F of labels (blocks, pieces) in blocks: two-way means of a table of piece values."""
    blocks, pieces = table.shape
    arms = sorted(set(labels[0]))
    means = np.array(
        [np.mean([table[b, labels[b].index(arm)] for b in range(blocks)]) for arm in arms]
    )
    grand = table.mean()
    between = blocks * np.sum((means - grand) ** 2)
    total = np.sum((table - grand) ** 2) - pieces * np.sum((table.mean(axis=1) - grand) ** 2)
    df = (blocks - 1) * (pieces - 1)
    return (between / (pieces - 1)) / ((total - between) / df)


def deranged(blocks, names):
    """All orders of the names in the blocks, none at the same place in two after another."""
    for held in product(list(permutations(names)), repeat=blocks):
        if all(x != y for a, b in pairwise(held) for x, y in zip(a, b, strict=True)):
            yield held


def test_whole_plots_move_among_the_allowed_orders(tmp_path):
    rng = np.random.default_rng(5)
    orders = ["ABC", "BCA", "CAB", "BCA"]
    rows, values = [], []
    for b, order in enumerate(orders, start=1):
        place = 0
        for k, w in enumerate(order):
            for n in ("xy", "yx")[int(rng.integers(2))]:
                place += 1
                plot = {"plot": f"p{b}{place}", "block": b, "row": b, "column": place}
                rows.append({**plot, "whole_plot": f"{b}-{k}", "w": w, "n": n})
                values.append(WHOLE[w] + (n == "y") + rng.normal())
    redraws, comparisons = season(
        tmp_path, "split-plot", ("whole plot", "subplot"), rows, values
    )
    table = np.array(values).round(6).reshape(4, 3, 2).mean(axis=2)
    every = list(deranged(4, "ABC"))
    assert len(every) == 6 * 2**3
    found = np.array([f_of(table, labels) for labels in every])
    seen = f_of(table, [tuple(order) for order in orders])
    told = redraws["w"]
    assert (told.kind, told.total) == ("exact", 48)
    assert told.p == pytest.approx(np.mean(found >= seen * (1 - 1e-9)))
    # sub-plots move inside whole plots whatever their neighbors: all 2^12
    assert redraws["n"].total == 2**12
    # of a pair only the two names change places; the third stays where it is in every block
    for row in (c for c in comparisons if c.term == "w" and c.within is None):
        (third,) = set("ABC") - {row.treatment, row.versus}
        left = [
            held
            for held in every
            if all(x.index(third) == y.index(third) for x, y in zip(held, orders, strict=True))
        ]
        assert row.redraws.total == (len(left) if len(left) > 1 else 0)
        assert (row.redraws.kind == "none") == (len(left) == 1)


def test_strips_move_among_the_allowed_orders(tmp_path):
    rng = np.random.default_rng(6)
    orders = ["ABC", "CAB", "BCA", "CAB"]
    rows, values = [], []
    for b, order in enumerate(orders, start=1):
        for i, w in enumerate(order, start=1):
            for j, n in enumerate(("xy", "yx")[b % 2], start=1):
                place = {"row": 3 * (b - 1) + i, "column": j, "row_strip": i, "column_strip": j}
                rows.append({"plot": f"p{b}{i}{j}", "block": b, **place, "w": w, "n": n})
                values.append(WHOLE[w] + (n == "y") + rng.normal())
    redraws, _ = season(tmp_path, "strip-plot", ("row strip", "column strip"), rows, values)
    table = np.array(values).round(6).reshape(4, 3, 2)
    found = np.array([f_of(table.mean(axis=2), labels) for labels in deranged(4, "ABC")])
    seen = f_of(table.mean(axis=2), [tuple(order) for order in orders])
    assert redraws["w"].total == 48
    assert redraws["w"].p == pytest.approx(np.mean(found >= seen * (1 - 1e-9)))
    # two columns that change sides from block to block: two ways only, which say the same
    assert (redraws["n"].total, redraws["n"].p) == (2, 1.0)
    # rows and columns of a block change places as wholes: (3! 2!)^4, those allowed
    crossing = redraws["w x n"]
    assert crossing.kind == "exact"
    assert crossing.total == 48 * 2


def test_a_layout_that_breaks_its_restriction_is_not_redrawn(tmp_path):
    rows, values = [], []
    for b in (1, 2, 3):
        for k, w in enumerate("ABC"):
            for j, n in enumerate("xy", start=1):
                place = {"row": b, "column": 2 * k + j}
                row = {"plot": f"p{b}{k}{j}", "block": b, **place, "whole_plot": f"{b}-{k}"}
                rows.append({**row, "w": w, "n": n})
                values.append(float(b * k + j**b))
    redraws, _ = season(tmp_path, "split-plot", ("whole plot", "subplot"), rows, values)
    assert {held.kind for held in redraws.values()} == {"none"}
    assert "does not keep the restrictions" in str(redraws["w"].reason)
