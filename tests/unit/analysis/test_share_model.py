"""The logit mixed model of shares in seasons of several designs; all counts invented."""

import numpy as np
import pandas as pd
import pytest
from gap_makers import rounds, season_with_gaps
from scipy.special import logit
from support import analyze_by_command, find

import wickstats as ws
from wickstats.analysis.season import analyze_season
from wickstats.core.codec import dump_json, parse_json
from wickstats.models.shares.fit import fit_shares

DAY = "2026-06-01"
BLOCKS = "randomized complete block"
HAND_WICK_POT = "watering: [{name: hand, reference: true}, {name: wick}, {name: pot}]"
COUNTS = {  # alive of 8 in six blocks
    "hand": [3, 5, 2, 6, 4, 1],
    "wick": [6, 7, 4, 8, 7, 5],
    "pot": [5, 5, 3, 7, 2, 4],
}


def season(folder, layout, alive, plants=8, design=BLOCKS, factors=HAND_WICK_POT, plan=""):
    """A trial's folder: layout, alive and plants one a plot."""
    folder.mkdir(parents=True)
    (folder / "trial.yaml").write_text(
        f"format: 1\ntrial: {{id: {folder.name}, season: {{start: 2026-01-01, end: {DAY}}}}}\n"
        f"factors: {{{factors}}}\n"
        f"design: {{type: {design}, layout: layout.csv, drawn: elsewhere}}\n"
        "records: {visits: {file: visits.csv}}\n"
        f"responses: [{{name: survival, kind: survival, at: {DAY}, better: more}}]\n{plan}"
    )
    layout.assign(plants=plants).to_csv(folder / "layout.csv", index=False)
    seen = pd.DataFrame({"date": DAY, "plot": layout["plot"], "alive_n": alive})
    seen.assign(dead_n=plants - seen["alive_n"]).to_csv(folder / "visits.csv", index=False)
    return folder


def blocks(counts=COUNTS):
    """Layout of complete blocks and the counts in its order."""
    rows = [(b, arm) for b in range(6) for arm in counts]
    layout = pd.DataFrame(rows, columns=["block", "watering"])
    layout.insert(0, "plot", [f"p{k:02d}" for k in range(len(rows))])
    return layout, [counts[arm][b] for b, arm in rows]


def model(folder):
    trial = ws.read_trial(folder / "trial.yaml")
    (item,) = ws.analyze(trial, ws.read_records(trial)).to_dict()["responses"]
    return item["share_model"]


def test_blocks_then_plots(tmp_path):
    layout, alive = blocks()
    found = model(season(tmp_path / "t", layout, alive))
    assert (found["estimand"], found["at"]) == ("share alive", DAY)
    one, two = found["fits"]
    assert one["random"] == ["block"]
    assert two["random"] == ["block", "plot"]
    arms = ["hand", "wick", "pot"]
    fixed = np.array([[arm == name for name in arms] for arm in layout["watering"]], float)
    block = layout["block"].to_numpy()
    total = np.full(len(layout), 8.0)
    fit = fit_shares(np.array(alive, float), total, fixed, {"block": block}, "plot")
    assert [arm["logit"] for arm in two["arms"]] == pytest.approx(fit.fixed.tolist(), rel=1e-8)
    assert logit([arm["share"] for arm in two["arms"]]) == pytest.approx(fit.fixed, rel=1e-8)
    row = find(two["comparisons"], name="wick against hand")
    assert row["logit_difference"] == pytest.approx(fit.fixed[1] - fit.fixed[0], rel=1e-8)
    assert np.log(row["odds_ratio"]) == pytest.approx(row["logit_difference"], rel=1e-12)
    assert one["by_quadrature"] is not None
    assert two["by_quadrature"] is None


def test_an_arm_of_which_all_lived_is_told_in_words(tmp_path):
    layout, alive = blocks({**COUNTS, "pot": [8] * 6})
    one, two = model(season(tmp_path / "t", layout, alive))["fits"]
    others = layout["watering"] != "pot"
    bare = season(
        tmp_path / "bare", layout[others].reset_index(drop=True),
        np.array(alive)[others].tolist(), factors=HAND_WICK_POT.replace(", {name: pot}", ""),
    )  # fmt: skip
    for fit, alone in zip((one, two), model(bare)["fits"], strict=True):
        pot = find(fit["arms"], treatment="pot")
        assert (pot["logit"], pot["share"]) == (None, None)
        assert pot["not_estimable"] == "all 48 alive: the logit of a share of 1 is not finite"
        row = find(fit["comparisons"], name="pot against hand")
        assert (row["odds_ratio"], row["logit_difference"]) == (None, None)
        assert "no finite odds ratio" in row["not_estimable"]
        # the others are those of a season without it
        sds = [[c["sd"] for c in one["components"]] for one in (fit, alone)]
        assert sds[0] == pytest.approx(sds[1], rel=1e-8)
        assert find(fit["comparisons"], name="wick against hand")[
            "odds_ratio"
        ] == pytest.approx(
            find(alone["comparisons"], name="wick against hand")["odds_ratio"], rel=1e-8
        )


@pytest.mark.parametrize(
    ("count", "words"),
    [(8, "all or none lived with every treatment"), (0, "all or none lived")],
)
def test_nothing_left(count, words, tmp_path):
    layout, alive = blocks(dict.fromkeys(COUNTS, [count] * 6))
    found = model(season(tmp_path / "t", layout, alive))
    assert found["fits"] == []
    assert words in found["not_estimable"]


def test_without_blocks_plants_are_no_replicates(tmp_path):
    layout, alive = blocks()
    made = season(
        tmp_path / "t", layout.drop(columns="block"), alive, design="completely randomized"
    )
    (only,) = model(made)["fits"]
    assert only["random"] == ["plot"]
    assert only["by_quadrature"] is not None


def test_one_plant_a_plot(tmp_path):
    layout, alive = blocks({arm: [int(c > 3) for c in held] for arm, held in COUNTS.items()})
    one, two = model(season(tmp_path / "t", layout, alive, plants=1))["fits"]
    assert one["log_likelihood"] is not None
    assert two["not_estimable"].startswith("every plot has one plant")


def test_one_plot_an_arm_leaves_nothing_between_plots(tmp_path):
    layout = pd.DataFrame({"plot": ["a", "b", "c"], "watering": list(COUNTS)})
    made = season(tmp_path / "t", layout, [3, 5, 4], design="completely randomized")
    (only,) = model(made)["fits"]
    assert only["not_estimable"].startswith("no plot is left over")


def test_plots_of_all_or_none_run_away(tmp_path):
    turned = {"hand": [0, 8, 0, 8, 8, 0], "wick": [8, 0, 8, 0, 8, 0], "pot": [0, 0, 8, 8, 8, 8]}
    layout, alive = blocks(turned)
    *_, last = model(season(tmp_path / "t", layout, alive))["fits"]
    assert "no maximum at finite logits" in last["not_estimable"]
    assert (last["components"], last["arms"], last["comparisons"]) == ([], [], [])


PIECES = ("block", "whole plot")


def split_plots(rng):
    """Five blocks of two whole plots of two subplots, the treatments of each turned."""
    rows = []
    for block in range(5):
        for cover in rng.permutation(["shade", "open"]):
            rows += [
                (block, f"{block}{cover}", cover, w) for w in rng.permutation(["hand", "wick"])
            ]
    layout = pd.DataFrame(rows, columns=["block", "whole_plot", "cover", "watering"])
    layout.insert(0, "plot", [f"p{k:02d}" for k in range(20)])
    factors = (
        "cover: {applied_to: whole plot, levels: [{name: shade}, {name: open}]}, "
        "watering: {applied_to: subplot, levels: [{name: hand}, {name: wick}]}"
    )
    return layout, factors


def test_whole_plots_and_subplots(tmp_path):
    rng = np.random.default_rng(2)
    layout, factors = split_plots(rng)
    alive = rng.binomial(8, 0.6, 20)
    made = season(tmp_path / "t", layout, alive, design="split-plot", factors=factors)
    one, two = model(made)["fits"]
    assert one["random"] == [*PIECES]
    assert two["random"] == [*PIECES, "subplot"]
    names = [(row["term"], row["within"]) for row in two["comparisons"]]
    assert ("cover", None) in names
    assert ("watering", "shade") in names


def test_main_effects_alone(tmp_path):
    rng = np.random.default_rng(3)
    rows = [(b, s, w) for b in range(5) for s in ("shade", "open") for w in ("hand", "wick")]
    layout = pd.DataFrame(rows, columns=["block", "cover", "watering"])
    layout.insert(0, "plot", [f"p{k:02d}" for k in range(20)])
    factors = "cover: [{name: shade}, {name: open}], watering: [{name: hand}, {name: wick}]"
    made = season(
        tmp_path / "t", layout, rng.binomial(8, 0.6, 20), factors=factors,
        plan="plan: {interactions: left out}\n",
    )  # fmt: skip
    _, two = model(made)["fits"]
    of = {arm["treatment"]: arm["logit"] for arm in two["arms"]}
    gap = of["shade x wick"] - of["shade x hand"]
    assert of["open x wick"] - of["open x hand"] == pytest.approx(gap, abs=1e-9)


def test_rows_and_columns_stay_fixed(tmp_path):
    order = ["hand", "wick", "pot", "wick", "pot", "hand", "pot", "hand", "wick"]
    layout = pd.DataFrame({"plot": [f"p{k}" for k in range(9)], "watering": order})
    layout["row"], layout["column"] = np.repeat([1, 2, 3], 3), np.tile([1, 2, 3], 3)
    made = season(tmp_path / "t", layout, [3, 6, 5, 7, 4, 2, 5, 3, 6], design="Latin square")
    found = model(made)
    assert "rows, columns and incomplete blocks stay fixed" in found["not_estimable"]


def test_a_pilot_tells_what_is_random(tmp_path):
    rng = np.random.default_rng(8)
    layout = pd.DataFrame({"plot": [f"p{k:02d}" for k in range(12)]})
    layout["block"], layout["watering"] = np.repeat(range(4), 3), "hand"
    out = tmp_path / "out"
    made = season(tmp_path / "t", layout, rng.binomial(8, 0.5, 12), factors="watering: [hand]")
    (item,) = analyze_by_command(made, out)["responses"]
    one, two = item["share_model"]["fits"]
    assert (one["random"], one["comparisons"]) == (["block"], [])
    assert [c["term"] for c in two["components"]] == ["block", "plot"]
    page = (out / "report" / "report.html").read_text()
    assert "Block and plot at random: block" in page
    assert "odds ratios of a logit mixed model" not in page


def test_the_page_the_tables_and_the_audit(tmp_path):
    layout, alive = blocks({**COUNTS, "pot": [8] * 6})
    analyze_by_command(season(tmp_path / "t", layout, alive), tmp_path / "out")
    report = tmp_path / "out" / "report"
    page = (report / "report.html").read_text()
    assert "Odds ratio, block and plot at random" in page
    assert "Pot: all 48 alive" in page
    assert "With the few blocks of a trial the model" in page
    rows = pd.read_csv(report / "tables" / "survival-logit-comparisons.csv")
    assert rows["random"].unique().tolist() == ["block", "block, plot"]
    assert ws.audit(report).serious == 0
    plain = parse_json((report / "results.json").read_bytes())
    row = plain["responses"][0]["share_model"]["fits"][1]["comparisons"][0]
    row["odds_ratio"] *= 1.001
    (report / "results.json").write_bytes(dump_json(plain))
    found = ws.audit(report)
    assert found.serious > 0
    assert any(
        "share_model" in str(f.place) and "odds_ratio" in str(f.place) for f in found.findings
    )


def test_plants_not_found_count_in_parts():
    # as in the share itself: by the curve of their own plot
    days = (20, 50, 80, 100)
    arms = {"hand": [(15, 45, *(np.inf,) * 4)] * 4, "wick": [(75, *(np.inf,) * 5)] * 4}
    plots = [f"{arm}-{k}" for arm in arms for k in (1, 2, 3, 4)]
    missing = [("hand-1", 5, day) for day in days[1:]] + [("wick-3", 6, 80), ("wick-3", 6, 100)]
    visits = rounds(plots, days)
    made = season_with_gaps(arms, visits, (100,), not_found=missing)
    found = analyze_season(*made).responses[0]
    assert found.share_model is not None
    for fit in found.share_model.fits:
        assert fit.log_likelihood is not None
        for arm in fit.arms:
            mine = [u for u in found.unit_summary.values if u.treatment == arm.treatment]
            counted = sum((u.value or 0.0) * u.n_plants for u in mine)
            assert arm.alive == pytest.approx(counted, rel=1e-12)
        assert not float(fit.arms[0].alive).is_integer()


def test_position_is_in_it_where_it_is_in_the_first_line(tmp_path):
    # shares take a position only where treatments were set up on pieces of several sizes
    rng = np.random.default_rng(6)
    layout, factors = split_plots(rng)
    alive = rng.binomial(8, 0.6, 20)
    plan = "plan: {covariates: {survival: position}}\n"
    made = season(
        tmp_path / "t", layout, alive, design="split-plot", factors=factors, plan=plan
    )
    trial = ws.read_trial(made / "trial.yaml")
    (item,) = ws.analyze(trial, ws.read_records(trial)).to_dict()["responses"]
    held = {u["unit"]: u["covariate"] for u in item["unit_summary"]["values"]}
    place = np.array([held[plot] for plot in layout["plot"]])
    assert np.ptp(place) > 0.0
    cells = (layout["cover"] + " x " + layout["watering"]).to_numpy()
    names = [f"{a} x {b}" for a in ("shade", "open") for b in ("hand", "wick")]
    fixed = np.column_stack([*(cells == name for name in names), place - place.mean()])
    codes = {n: np.unique(layout[n.replace(" ", "_")], return_inverse=True)[1] for n in PIECES}
    fit = fit_shares(alive.astype(float), np.full(20, 8.0), fixed, codes, "subplot")
    _, two = item["share_model"]["fits"]
    logits = [find(two["arms"], treatment=name)["logit"] for name in names]
    assert logits == pytest.approx(fit.fixed[:4].tolist(), rel=1e-7)
    assert [c["sd"] for c in two["components"]] == pytest.approx([*fit.sd.values()], abs=1e-7)


def test_other_responses_have_none(tmp_path):
    layout, alive = blocks()
    made = season(tmp_path / "t", layout, alive)
    file = made / "trial.yaml"
    text = file.read_text().replace(
        "visits: {file: visits.csv}", "measurements: {file: sizes.csv}"
    )
    file.write_text(
        text[: text.index("responses:")]
        + "responses: [{name: height, kind: measurement, column: cm, measured_in: cm}]\n"
    )
    sizes = pd.DataFrame({"plot": layout["plot"], "cm": np.arange(18.0) % 7})
    sizes.to_csv(made / "sizes.csv", index=False)
    trial = ws.read_trial(file)
    (item,) = ws.analyze(trial, ws.read_records(trial)).to_dict()["responses"]
    assert "share_model" not in item


def test_no_loop_of_seasons_fits_it(tmp_path, monkeypatch):
    from wickstats.analysis import share_line

    def refuse(*_):
        raise AssertionError("fitted in a loop")

    monkeypatch.setattr(share_line, "fit_shares", refuse)
    trial = tmp_path / "trial.yaml"
    trial.write_text(
        "format: 1\ntrial: {id: t, season: {start: 2026-03-15, end: 2026-06-01}}\n"
        "factors: {watering: [{name: hand, reference: true}, {name: wick}]}\n"
        f"design: {{type: {BLOCKS}, blocks: 4, plants_per_plot: 6, layout: layout.csv}}\n"
        "responses: [{name: survival, kind: survival, at: 2026-06-01, better: more}]\n"
        "plan: {primary: survival, matters: {survival: {difference: 0.2}}}\n"
        "power: {assume: {survival: {alive_at_end: {hand: 0.5, wick: 0.8}, "
        "plot_correlation: 0.1}}}\n"
    )
    assert ws.power(ws.read_trial(trial), seasons=200).rows
