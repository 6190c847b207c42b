"""Critical points of all pairs and of comparisons with a reference, by trial file and command.

A trial has the degrees of freedom that its plots leave: each response below was measured in
so many whole blocks of equal arms that they are those of the tables. Three arms go through
the command, more arms through the functions that it calls (two points of theirs go through
the command in ``test_check_values``); the trials are called not random, which changes no
interval and spares the re-randomization. Infinite degrees of
freedom and one-sided comparisons have no trial file; they stand at the engine's interface
(tests/reference/test_multiplicity_published).
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
