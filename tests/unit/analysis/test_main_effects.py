"""Interactions left out: main effects alone, in every kind of layout, against other code."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm
from support import analyze, find

import wickstats as ws
from wickstats.core.errors import TrialError

PLAN = (
    "plan: {interactions: left out, comparisons: [{factor: water, compare: all pairs, "
    "adjustment: none}, {factor: mulch, compare: all pairs, adjustment: none}]}\n"
)
GROUND = {
    "completely randomized": "",
    "randomized complete block": " + C(block)",
    "incomplete block": " + C(block)",
    "row-column": " + C(row) + C(column)",
    "Latin square": " + C(row) + C(column)",
}


def ground(kind, rng):
    """Plots of six treatments (water x mulch) as the type of design has them."""
    cells = [(f"w{a}", f"m{b}") for a in range(3) for b in range(2)]
    rows = []
    if kind == "Latin square":
        for r in range(6):
            rows += [{"row": r + 1, "column": c + 1, "cell": (r + c) % 6} for c in range(6)]
    elif kind == "row-column":
        for r in range(4):
            rows += [{"row": r + 1, "column": c + 1, "cell": (r + c) % 6} for c in range(6)]
    elif kind == "incomplete block":
        for b, held in enumerate(
            ((0, 1, 2), (3, 4, 5), (0, 3, 4), (1, 2, 5), (0, 2, 4), (1, 3, 5))
        ):
            rows += [{"block": f"b{b}", "cell": k} for k in held]
    else:
        rows = [{"block": f"b{b}", "cell": k} for b in range(4) for k in range(6)]
    frame = pd.DataFrame(rows)
    frame["water"] = [cells[k][0] for k in frame["cell"]]
    frame["mulch"] = [cells[k][1] for k in frame["cell"]]
    frame["plot"] = [f"p{k:02d}" for k in range(len(frame))]
    if kind == "completely randomized":
        frame = frame.drop(columns="block")
    frame["y"] = rng.normal(10, 1, len(frame)) + frame["cell"].mod(3)
    return frame.drop(columns="cell")


def folder(where, kind, frame, plan=PLAN):
    where.mkdir(parents=True, exist_ok=True)
    frame.drop(columns="y").to_csv(where / "layout.csv", index=False)
    frame[["plot", "y"]].dropna().to_csv(where / "values.csv", index=False)
    (where / "trial.yaml").write_text(
        "format: 1\ntrial: {id: mulch-by-water, invented: true}\nfactors:\n"
        "  water: [w0, w1, w2]\n  mulch: [m0, m1]\n"
        f"design: {{type: {kind}, layout: layout.csv, drawn: elsewhere}}\n"
        "records: {measurements: {file: values.csv}}\n"
        "responses: [{name: answer, kind: measurement, column: y, measured_in: cm}]\n" + plan
    )
    return where


@pytest.mark.parametrize("gaps", [False, True])
@pytest.mark.parametrize("kind", sorted(GROUND))
def test_least_squares_of_main_effects(kind, gaps, tmp_path):
    frame = ground(kind, np.random.default_rng(3))
    if gaps:
        frame.loc[[1, 8], "y"] = np.nan
    tree = analyze(folder(tmp_path, kind, frame))
    (item,) = tree["responses"]
    left = frame.dropna(subset="y")
    fit = smf.ols(f"y ~ C(water) + C(mulch){GROUND[kind]}", left).fit()
    for name, row in (("w1 against w0", "C(water)[T.w1]"), ("m1 against m0", "C(mulch)[T.m1]")):
        found = find(item["comparisons"], name=name)
        assert found["estimate"] == pytest.approx(fit.params[row], rel=1e-8)
        assert found["se"] == pytest.approx(fit.bse[row], rel=1e-8)
        assert found["df"] == pytest.approx(fit.df_resid)
    table = anova_lm(fit, typ=2)
    for factor in ("water", "mulch"):
        test = find(item["tests"], term=factor)
        assert test["value"] == pytest.approx(table.loc[f"C({factor})", "F"], rel=1e-8)
    assert [t["term"] for t in item["tests"]] == ["water", "mulch"]
    assert {m["term"] for m in item["means"]} == {"water", "mulch"}
    assert {c["term"] for c in item["comparisons"]} == {"water", "mulch"}
    assert not [r for r in tree["second_engine"] if r["agrees"] is False]
    error = [d["df"] for d in tree["degrees_of_freedom"] if d["term"] == "residual"]
    assert gaps or error == [fit.df_resid]


def test_a_lost_combination_is_told_by_its_levels(tmp_path):
    frame = ground("randomized complete block", np.random.default_rng(4))
    frame.loc[(frame["water"] == "w2") & (frame["mulch"] == "m1"), "y"] = np.nan
    (item,) = analyze(folder(tmp_path, "randomized complete block", frame))["responses"]
    fit = smf.ols("y ~ C(water) + C(mulch) + C(block)", frame.dropna(subset="y")).fit()
    found = find(item["comparisons"], name="w2 against w0")
    assert found["estimate"] == pytest.approx(fit.params["C(water)[T.w2]"], rel=1e-8)
    kept = folder(tmp_path / "kept", "randomized complete block", frame, plan="")
    (item,) = analyze(kept)["responses"]
    assert find(item["comparisons"], name="w2 against w0", within=None)["estimate"] is None


def test_redraws_of_the_main_effect(tmp_path):
    """Two blocks of four plots: every layout of 24 x 24, F of least squares, counted anew."""
    from itertools import permutations, product

    rng = np.random.default_rng(5)
    cells = [("w0", "m0"), ("w0", "m1"), ("w1", "m0"), ("w1", "m1")]
    frame = pd.DataFrame(
        [
            {"plot": f"{b}{k}", "block": b, "water": w, "mulch": m}
            for b in "ab"
            for k, (w, m) in enumerate(cells)
        ]
    )
    frame["y"] = np.round(rng.normal(10, 1, 8), 2)
    made = folder(tmp_path, "randomized complete block", frame)
    text = (made / "trial.yaml").read_text().replace("[w0, w1, w2]", "[w0, w1]")
    (made / "trial.yaml").write_text(text)
    (item,) = analyze(made)["responses"]
    y = frame["y"].to_numpy().reshape(2, 4)
    y = (y - y.mean(axis=1, keepdims=True)).ravel()
    water, mulch = np.array([-1, -1, 1, 1]), np.array([-1, 1, -1, 1])
    found = []
    for one, two in product(permutations(range(4)), repeat=2):
        place = np.r_[list(one), list(two)]
        a, b = (water[place] @ y) ** 2 / 8, (mulch[place] @ y) ** 2 / 8
        found.append(a / ((y @ y - a - b) / 4))
    p = np.mean(np.array(found) >= found[0] * (1 - 1e-9))
    redraws = find(item["tests"], term="water")["redraws"]
    assert redraws["kind"] == "exact"
    assert redraws["p"] == pytest.approx(p, abs=1e-12)


def test_the_plan_is_told_in_the_methods_and_the_facts(tmp_path):
    frame = ground("randomized complete block", np.random.default_rng(6))
    made = folder(tmp_path / "t", "randomized complete block", frame)
    trial = ws.read_trial(made / "trial.yaml")
    results = ws.analyze(trial, ws.read_records(trial))
    assert results.trial.interactions == "left out"
    page = (ws.write_report(results, tmp_path / "out") / "report.html").read_text()
    assert "The plan leaves out the interactions of the factors" in page


@pytest.mark.parametrize(
    ("plan", "found"),
    [
        ("plan: {interactions: none}\n", '"none" for plan.interactions'),
        (
            "plan: {interactions: left out, comparisons: [{factor: water, within: mulch}]}\n",
            "within beside interactions left out",
        ),
        (
            "plan: {interactions: left out, comparisons: [{factor: mulch, differs_by: water}]}",
            "differs_by beside interactions left out",
        ),
    ],
)
def test_what_the_plan_cannot_say(plan, found, tmp_path):
    frame = ground("randomized complete block", np.random.default_rng(6))
    made = folder(tmp_path, "randomized complete block", frame, plan)
    with pytest.raises(TrialError) as caught:
        ws.read_trial(made / "trial.yaml")
    assert any(found in p.found for p in caught.value.problems)


def test_one_factor_has_no_interactions_to_leave_out(tmp_path):
    frame = ground("randomized complete block", np.random.default_rng(6)).drop(columns="mulch")
    made = folder(
        tmp_path, "randomized complete block", frame, "plan: {interactions: left out}\n"
    )
    text = (made / "trial.yaml").read_text().replace("  mulch: [m0, m1]\n", "")
    (made / "trial.yaml").write_text(text)
    with pytest.raises(TrialError) as caught:
        ws.read_trial(made / "trial.yaml")
    assert "interactions left out in a trial of one factor" in [
        p.found for p in caught.value.problems
    ]


@pytest.mark.parametrize(
    ("design", "kind"),
    [("blocks: 4", "randomized complete block"), ("replicates: 4", "completely randomized")],
)
def test_power_has_the_degrees_of_freedom_of_the_analysis(design, kind, tmp_path):
    (tmp_path / "trial.yaml").write_text(
        "format: 1\ntrial: {id: planned, invented: true}\n"
        "factors:\n  water: [w0, w1, w2]\n  mulch: [m0, m1]\n"
        f"design: {{type: {kind}, {design}, layout: layout.csv, seed: 3}}\n"
        "responses: [{name: answer, kind: measurement, column: y, measured_in: cm}]\n"
        "plan: {interactions: left out, primary: answer, matters: {answer: {difference: 2}}, "
        "comparisons: [{factor: mulch, compare: all pairs, adjustment: none}]}\n"
        "power: {assume: {answer: {mean: {w0 x m0: 10, w0 x m1: 12, w1 x m0: 10, w1 x m1: 12, "
        "w2 x m0: 10, w2 x m1: 12}, plot_sd: 2}}}\n"
    )
    from scipy import stats

    planned = ws.power(ws.read_trial(tmp_path / "trial.yaml"), seasons=0)
    df = 24 - 1 - 3 - (3 if kind == "randomized complete block" else 0)
    shift = 2 / (2 * (2 / 12) ** 0.5)
    limit = stats.t.ppf(0.975, df)
    chance = stats.nct.sf(limit, df, shift) + stats.nct.cdf(-limit, df, shift)
    powers = [r.power for r in planned.rows if r.power is not None and r.blocks == 4]
    assert any(p == pytest.approx(chance, abs=1e-6) for p in powers)


def test_level_of_a_split_plot_without_interaction():
    """4,000 null seasons: whole plots and subplots at 5 %, four standard errors about it."""
    from wickstats.models.linear.contrasts import term_rows
    from wickstats.models.linear.error_strata import ErrorStratum, fit_error_strata

    rng = np.random.default_rng(11)
    block, whole, cell = [], [], []
    for b in range(4):
        for a in range(3):
            for s in range(3):
                block.append(b)
                whole.append(3 * b + a)
                cell.append(3 * a + s)
    block, whole, cell = map(np.array, (block, whole, cell))
    strata = [
        ErrorStratum("whole plot", whole, (0,), (block,)),
        ErrorStratum("subplot", np.arange(36), (0, 1), (whole,)),
    ]
    rejected = np.zeros(2)
    for _ in range(4_000):
        y = rng.normal(size=36) + rng.normal(size=12)[whole] + rng.normal(size=4)[block]
        fit = fit_error_strata(y, cell, (3, 3), strata, main_effects=True)
        tests = [fit.test(term_rows((3, 3), (k,))) for k in range(2)]
        assert [t.df_den for t in tests] == [6.0, 22.0]
        rejected += [t.p < 0.05 for t in tests]
    assert np.abs(rejected / 4_000 - 0.05).max() < 4 * (0.05 * 0.95 / 4_000) ** 0.5


def test_water_used_says_that_interactions_stay(tmp_path):
    frame = ground("randomized complete block", np.random.default_rng(9))
    made = folder(tmp_path, "randomized complete block", frame)
    file = made / "trial.yaml"
    text = file.read_text().replace("records: {", "records: {water: {file: water.csv}, ")
    file.write_text(
        text.replace("responses: [", "responses: [{name: water, kind: water used}, ")
    )
    water = frame[["plot"]].assign(date="2026-05-02", applied_l=10 + frame["y"])
    water.to_csv(made / "water.csv", index=False)
    items = {item["name"]: item for item in analyze(made)["responses"]}
    stay = "The plan leaves out the interactions, but this response"
    assert {r["rule"] for r in items["water"]["comparisons"]} == {"paired"}
    assert any(c.startswith(stay) for c in items["water"]["cautions"])
    assert not any(c.startswith(stay) for c in items["answer"]["cautions"])
