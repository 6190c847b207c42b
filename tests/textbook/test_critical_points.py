"""Critical points of all pairs and of comparisons with a reference, by trial file and command.

A trial has the degrees of freedom that its plots leave: each response below was measured in
so many whole blocks of equal arms that they are those of the tables. Three arms go through
the command, more arms through the functions that it calls (two points of theirs go through
the command in ``test_check_values``); the trials are called not random, which changes no
interval and spares the re-randomization. One-sided points are those of a plan that asks only
whether better; infinite degrees of freedom those of trials of thousands of plots.
"""

import numpy as np
import pandas as pd
import pytest
from support import analyze, analyze_by_command, response
from test_design_tables import levels

# base R 4.2.2, qtukey(0.95, k, df)
TUKEY = {
    10: {3: 3.877, 4: 4.327, 5: 4.654, 6: 4.912},
    20: {3: 3.578, 4: 3.958, 5: 4.232, 6: 4.445},
    30: {3: 3.486, 4: 3.845, 5: 4.102, 6: 4.301},
}
# two-sided, p treatments beside the control, by independent numerical integration (computed)
DUNNETT = {
    10: {2: 2.568, 3: 2.759, 4: 2.890, 5: 2.990},
    15: {2: 2.439, 3: 2.610, 4: 2.727, 5: 2.816},
    20: {2: 2.379, 3: 2.540, 4: 2.651, 5: 2.735},
    30: {2: 2.321, 3: 2.474, 4: 2.578, 5: 2.657},
}
# arms: error df -> plots of each arm in each block that was measured; df = k R - b - (k - 1)
BLOCKS = {
    3: {10: [3, 1, 1], 15: [6], 20: [7, 1], 30: [11]},
    4: {10: [2, 1, 1], 15: [4, 1], 20: [6], 30: [7, 1, 1]},
    5: {10: [3], 15: [4], 20: [5], 30: [7]},
    6: {10: [1, 1, 1], 15: [1, 1, 1, 1], 20: [1, 1, 1, 1, 1], 30: [6]},
}


def make(folder, arms):
    """One layout in blocks of every size needed, one response for each number of df."""
    sizes = {}  # name of block -> plots of each arm; each response has its own blocks
    for df, held in BLOCKS[arms].items():
        sizes |= {f"{df}-{k}": each for k, each in enumerate(held)}
    rng = np.random.default_rng(arms)
    rows = [
        {"plot": f"p{block}{arm}{i}", "block": block, "drug": f"g{arm}"}
        for block, each in sizes.items()
        for arm in range(arms)
        for i in range(each)
    ]
    layout = pd.DataFrame(rows)
    values = layout[["plot"]].copy()
    for df in BLOCKS[arms]:
        mine = layout["block"].str.startswith(f"{df}-")
        drawn = np.round(rng.normal(10.0, 1.0, len(layout)), 3)
        values[f"y{df}"] = pd.Series(drawn).where(mine)
    folder.mkdir(parents=True)
    layout.to_csv(folder / "layout.csv", index=False)
    values.to_csv(folder / "values.csv", index=False)
    told = "".join(
        f"  - {{name: y{df}, kind: measurement, column: y{df}, measured_in: '1'}}\n"
        for df in BLOCKS[arms]
    )
    named = levels("drug", [f"g{k}" for k in range(arms)]).replace(
        "'g0'", "'g0', reference: true", 1
    )
    (folder / "trial.yaml").write_text(
        f"format: 1\ntrial: {{id: {folder.name}}}\nfactors:\n{named}"
        "design: {type: randomized complete block, layout: layout.csv, drawn: not at random}\n"
        f"records: {{measurements: {{file: values.csv}}}}\nresponses:\n{told}"
        "plan:\n  comparisons:\n"
        "    - {factor: drug, compare: all pairs, adjustment: tukey}\n"
        "    - {factor: drug, compare: each with the reference, adjustment: dunnett}\n"
    )
    return folder


@pytest.mark.parametrize("arms", sorted(BLOCKS))
def test_critical_points(arms, tmp_path):
    made = make(tmp_path / f"arms-{arms}", arms)
    tree = analyze_by_command(made, tmp_path / "out") if arms == 3 else analyze(made)
    for df, held in BLOCKS[arms].items():
        assert arms * sum(held) - len(held) - (arms - 1) == df
        item = response(tree, f"y{df}")
        (test,) = item["tests"]
        assert test["df_den"] == df
        wanted = {"dunnett": DUNNETT[df][arms - 1]}
        if df in TUKEY:
            wanted["tukey"] = TUKEY[df][arms] / np.sqrt(2.0)
        for adjustment, critical in wanted.items():
            rows = [r for r in item["comparisons"] if r["adjustment"] == adjustment]
            assert (
                len(rows) == {"dunnett": arms - 1, "tukey": arms * (arms - 1) // 2}[adjustment]
            )
            for row in rows:
                half = (row["high_adjusted"] - row["low_adjusted"]) / 2.0
                assert half / row["se"] == pytest.approx(critical, abs=6e-4), (df, adjustment)


# one-sided, p treatments beside the control, by independent numerical integration (computed)
ONE_SIDED = {10: {2: 2.151, 3: 2.338, 4: 2.466}, 20: {2: 2.027, 3: 2.192, 4: 2.304}}
# infinite df: normal variates (computed); Dunnett (1964) prints 2.21 two-sided, from memory
INFINITE = {
    "tukey": {3: 3.314, 4: 3.633, 5: 3.858, 6: 4.030},
    "dunnett": {2: 2.212, 3: 2.349, 4: 2.442, 5: 2.511},
    "one-sided": {2: 1.916, 3: 2.062, 4: 2.160},
}
WIDE = "    - {factor: drug, compare: each with the reference, adjustment: dunnett}\n"
ASKED = WIDE.replace("dunnett}", "dunnett, asks: only whether better}")


def one_sided(made):
    """The comparisons with the reference twice, as they are and one-sided."""
    file = made / "trial.yaml"
    file.write_text(
        file.read_text().replace("measured_in: '1'}", "measured_in: '1', better: more}") + ASKED
    )
    return made


def limits(item):
    """Critical values of each kind, from the intervals in standard errors."""
    out = {}
    for row in item["comparisons"]:
        kind = "one-sided" if row.get("bound") else row["adjustment"]
        reach = (row["estimate"] - row["low_adjusted"]) / row["se"]
        out.setdefault(kind, set()).add(round(reach, 6))
        assert (row["high_adjusted"] is None) == (kind == "one-sided")
    return {kind: max(found) for kind, found in out.items() if np.ptp(list(found)) < 1e-5}


@pytest.mark.parametrize("arms", [3, 4, 5])
def test_one_sided_points(arms, tmp_path):
    made = one_sided(make(tmp_path / f"arms-{arms}", arms))
    tree = analyze_by_command(made, tmp_path / "out") if arms == 3 else analyze(made)
    for df, points in ONE_SIDED.items():
        found = limits(response(tree, f"y{df}"))
        assert found["one-sided"] == pytest.approx(points[arms - 1], abs=6e-4), df
        assert found["dunnett"] == pytest.approx(DUNNETT[df][arms - 1], abs=6e-4), df


@pytest.mark.parametrize("arms", [3, 4, 5, 6])
def test_points_of_infinite_degrees_of_freedom(arms, tmp_path):
    """So many plots that more degrees of freedom change little: points of normal variates."""
    total, near = (7_500, 1.5e-3) if arms == 3 else (20_000, 1e-3)  # by command, by function
    each = total // arms + 1
    rng = np.random.default_rng(arms)
    layout = pd.DataFrame({"drug": np.repeat([f"g{k}" for k in range(arms)], each)})
    layout.insert(0, "plot", [f"p{k}" for k in range(len(layout))])
    folder = tmp_path / f"many-{arms}"
    folder.mkdir()
    layout.to_csv(folder / "layout.csv", index=False)
    values = layout[["plot"]].assign(y=np.round(rng.normal(10.0, 1.0, len(layout)), 3))
    values.to_csv(folder / "values.csv", index=False)
    named = levels("drug", [f"g{k}" for k in range(arms)])
    (folder / "trial.yaml").write_text(
        f"format: 1\ntrial: {{id: {folder.name}}}\nfactors:\n"
        + named.replace("'g0'", "'g0', reference: true", 1)
        + "design: {type: completely randomized, layout: layout.csv, drawn: not at random}\n"
        "records: {measurements: {file: values.csv}}\n"
        "responses: [{name: y, kind: measurement, column: y, measured_in: '1', better: more}]\n"
        "plan:\n  comparisons:\n"
        "    - {factor: drug, compare: all pairs, adjustment: tukey}\n" + WIDE + ASKED
    )
    tree = analyze_by_command(folder, tmp_path / "out") if arms == 3 else analyze(folder)
    item = response(tree, "y")
    assert item["tests"][0]["df_den"] >= total - arms
    found = limits(item)
    # these points lie 7e-4 (of 7,500 df) and 3e-4 above those of infinitely many
    assert found["tukey"] * np.sqrt(2.0) == pytest.approx(INFINITE["tukey"][arms], abs=near)
    assert found["dunnett"] == pytest.approx(INFINITE["dunnett"][arms - 1], abs=near)
    if arms < 6:
        assert found["one-sided"] == pytest.approx(INFINITE["one-sided"][arms - 1], abs=near)
