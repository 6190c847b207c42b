"""Interactions left out in strips, split plots and counts; plan lock, power, signs of them."""

from itertools import product

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm
from support import analyze, analyze_by_command, find

import wickstats as ws

LEVELS = {"water": ["w0", "w1", "w2"], "mulch": ["m0", "m1"], "shelter": ["s0", "s1"]}
LEFT_OUT = "interactions: left out"
COUNT = "count, column: count"


def plan(*factors, words=LEFT_OUT):
    pairs = ", ".join(f"{{factor: {f}, compare: all pairs, adjustment: none}}" for f in factors)
    return f"plan: {{{words}, primary: answer, comparisons: [{pairs}]}}\n"


def made(where, kind, applied, frame, words=LEFT_OUT, response="measurement, column: y"):
    """A trial drawn elsewhere: ``applied`` factor -> piece; ``frame`` plots with y."""
    where.mkdir(parents=True, exist_ok=True)
    factors = "".join(
        f"  {f}: {{applied_to: {piece}, levels: [{', '.join(LEVELS[f])}]}}\n"
        for f, piece in applied.items()
    )
    frame.drop(columns="y").to_csv(where / "layout.csv", index=False)
    values = frame[["plot", "y"]].dropna()
    if response == COUNT:
        values = values.rename(columns={"y": "count"})
    values.to_csv(where / "values.csv", index=False)
    table = "measurements" if response.startswith("measurement") else "picks"
    (where / "trial.yaml").write_text(
        f"format: 1\ntrial: {{id: additive, invented: true}}\nfactors:\n{factors}"
        f"design: {{type: {kind}, layout: layout.csv, drawn: elsewhere}}\n"
        f"records: {{{table}: {{file: values.csv}}}}\n"
        f"responses: [{{name: answer, kind: {response}}}]\n" + plan(*applied, words=words)
    )
    return where


def strips(rng):
    rows = [
        {"block": f"b{b}", "row_strip": f"r{i}", "column_strip": f"c{j}"}
        | {"water": f"w{i}", "mulch": f"m{j}"}
        for b, i, j in product(range(5), range(3), range(2))
    ]
    frame = pd.DataFrame(rows)
    frame["plot"] = [f"p{k:02d}" for k in range(len(frame))]
    frame["y"] = rng.normal(10, 1, len(frame)) + frame["block"].map(
        dict(zip(["b0", "b1", "b2", "b3", "b4"], rng.normal(size=5), strict=True))
    )
    return frame


def split_twice(rng):
    rows = [
        {"block": f"b{b}", "whole_plot": f"b{b}w{i}"}
        | {"water": f"w{i}", "mulch": f"m{j}", "shelter": f"s{k}"}
        for b, i, j, k in product(range(4), range(3), range(2), range(2))
    ]
    frame = pd.DataFrame(rows)
    frame["plot"] = [f"p{k:02d}" for k in range(len(frame))]
    frame["y"] = rng.normal(10, 1, len(frame))
    return frame


def squares(frame, factors):
    """Sums of squares of the full table, every term with blocks too, by statsmodels."""
    crossed = " * ".join(f"C({f}, Sum)" for f in ("block", *factors))
    table = anova_lm(smf.ols(f"y ~ {crossed}", frame).fit())
    out = {}
    for name, row in table.iterrows():
        if name != "Residual":
            parts = [p.split("(")[1].split(",")[0] for p in str(name).split(":")]
            out[frozenset(parts)] = (row["sum_sq"], row["df"])
    return out


def pooled(table, terms):
    held = [table[frozenset(term)] for term in terms]
    return sum(s for s, _ in held) / sum(d for _, d in held), sum(d for _, d in held)


def none_disagrees(tree):
    rows = tree["second_engine"]
    assert not [r for r in rows if r["agrees"] is False]
    assert any("standard error" in r["what"] for r in rows if r["agrees"])


@pytest.mark.filterwarnings("ignore:divide by zero")
def test_strips_have_their_own_errors_and_no_term_where_they_cross(tmp_path):
    frame = strips(np.random.default_rng(1))
    where = made(
        tmp_path / "strips",
        "strip-plot",
        {"water": "row strip", "mulch": "column strip"},
        frame,
    )
    tree = analyze_by_command(where, tmp_path / "out")
    (item,) = tree["responses"]
    table = squares(frame, ("water", "mulch"))
    for term in ("water", "mulch"):
        error, df = pooled(table, [("block", term)])
        found = find(item["tests"], term=term)
        assert found["value"] == pytest.approx(
            table[frozenset([term])][0] / table[frozenset([term])][1] / error, rel=1e-8
        )
        assert found["df_den"] == df
    rest, df = pooled(table, [("block", "water", "mulch"), ("water", "mulch")])
    row = find(item["strata"], stratum="plot", source="residual")
    assert (row["mean_square"], row["df"]) == (pytest.approx(rest, rel=1e-8), df)
    assert [(d["stratum"], d["term"]) for d in tree["degrees_of_freedom"]] == [
        ("block", "block"),
        ("row strip", "water"),
        ("row strip", "residual"),
        ("column strip", "mulch"),
        ("column strip", "residual"),
        ("plot", "residual"),
    ]
    assert {c["within"] for c in item["comparisons"]} == {None}
    none_disagrees(tree)


@pytest.mark.filterwarnings("ignore:divide by zero")
def test_plots_split_twice_pool_interactions_stratum_by_stratum(tmp_path):
    frame = split_twice(np.random.default_rng(2))
    applied = {"water": "whole plot", "mulch": "plot", "shelter": "subplot"}
    tree = analyze_by_command(
        made(tmp_path / "split", "split-plot", applied, frame), tmp_path / "out"
    )
    (item,) = tree["responses"]
    table = squares(frame, tuple(applied))
    blocks = [("block", *t) for t in ((), ("water",))]
    plots = [("water", "mulch"), ("block", "mulch"), ("block", "water", "mulch")]
    finest = [
        (*lead, *term, "shelter")
        for lead in ((), ("block",))
        for term in ((), ("water",), ("mulch",), ("water", "mulch"))
        if lead or term
    ]
    for term, error_terms in (("water", blocks[1:]), ("mulch", plots), ("shelter", finest)):
        error, df = pooled(table, error_terms)
        found = find(item["tests"], term=term)
        own = table[frozenset([term])]
        assert found["value"] == pytest.approx(own[0] / own[1] / error, rel=1e-8)
        assert found["df_den"] == df
    none_disagrees(tree)


def test_strips_with_gaps_go_through_the_mixed_model(tmp_path):
    frame = strips(np.random.default_rng(3))
    frame.loc[[4, 17], "y"] = np.nan
    applied = {"water": "row strip", "mulch": "column strip"}
    tree = analyze(made(tmp_path, "strip-plot", applied, frame))
    (item,) = tree["responses"]
    assert [t["term"] for t in item["tests"]] == ["water", "mulch"]
    # never above the design's
    assert find(item["tests"], term="water")["df_den"] <= 8.0
    assert find(item["tests"], term="mulch")["df_den"] <= 4.0
    assert {r["rule"] for r in item["comparisons"]} == {"mixed"}


def counted(rng):
    rows = [
        {"block": f"b{b}", "water": f"w{i}", "mulch": f"m{j}"}
        for b, i, j in product(range(4), range(3), range(2))
    ]
    frame = pd.DataFrame(rows)
    frame["plot"] = [f"p{k:02d}" for k in range(len(frame))]
    frame["y"] = rng.poisson(14.0 * rng.gamma(20, 1 / 20, len(frame)))
    return frame


@pytest.mark.parametrize("empty", [False, True])
def test_counts_by_the_additive_log_linear_model(empty, tmp_path):
    """Pearson's dispersion over all units but the mean, blocks and main effects."""
    frame = counted(np.random.default_rng(4))
    if empty:
        frame.loc[(frame["water"] == "w1") & (frame["mulch"] == "m1"), "y"] = 0
    applied = {"water": "plot", "mulch": "plot"}
    where = made(tmp_path, "randomized complete block", applied, frame, response=COUNT)
    text = (where / "trial.yaml").read_text().replace("applied_to: plot, ", "")
    (where / "trial.yaml").write_text(text)
    tree = analyze(where)
    (item,) = tree["responses"]
    fit = smf.glm(
        "y ~ C(water) + C(mulch) + C(block)", frame, family=sm.families.Poisson()
    ).fit(tol=1e-12)
    phi = fit.pearson_chi2 / fit.df_resid
    logs = smf.ols("np.log(y + 0.5) ~ C(water) + C(mulch) + C(block)", frame).fit()
    for name, row in (("w1 against w0", "C(water)[T.w1]"), ("m1 against m0", "C(mulch)[T.m1]")):
        found = find(item["comparisons"], name=name, within=None)
        assert np.log(found["estimate"]) == pytest.approx(fit.params[row], rel=1e-7)
        # the wider of Pearson's and the logarithms' errors, wider here than single events'
        widest = max(fit.bse[row] * phi**0.5, logs.bse[row])
        assert found["se"] == pytest.approx(widest, rel=1e-6)
        assert found["df"] == fit.df_resid == logs.df_resid == 17
    assert not [c for c in item["cautions"] if "leaves out the interactions, but" in c]
    none_disagrees(tree)


def test_counts_in_strips_are_checked_as_they_are_judged(tmp_path):
    """By their logarithms in every stratum, in the second opinion too."""
    frame = strips(np.random.default_rng(5))
    frame["y"] = np.random.default_rng(5).poisson(20, len(frame))
    applied = {"water": "row strip", "mulch": "column strip"}
    tree = analyze(made(tmp_path, "strip-plot", applied, frame, response=COUNT))
    rows = [r for r in tree["second_engine"] if "sums of squares" in r["what"]]
    assert len(rows) == 5
    assert all(r["agrees"] for r in rows)


def test_visible_interactions_are_told_and_change_nothing(tmp_path):
    frame = counted(np.random.default_rng(6))
    frame["y"] = np.random.default_rng(6).normal(10, 1, len(frame))
    applied = {"water": "plot", "mulch": "plot"}

    def item_of(name, frame):
        where = made(tmp_path / name, "randomized complete block", applied, frame)
        text = (where / "trial.yaml").read_text().replace("applied_to: plot, ", "")
        (where / "trial.yaml").write_text(text)
        (item,) = analyze(where)["responses"]
        return item

    def told(item):
        return find(item["checks"], name="interactions left out as planned")["finding"]

    plain = item_of("plain", frame)
    p = anova_lm(smf.ols("y ~ C(block) + C(water) * C(mulch)", frame).fit())
    assert f"p {p.loc['C(water):C(mulch)', 'PR(>F)']:.3f}" in told(plain)
    assert told(plain).startswith("no sign of them")
    assert not [c for c in plain["cautions"] if "units show some" in c]
    crossed = frame.assign(
        y=frame["y"] + 5.0 * ((frame["water"] == "w2") & (frame["mulch"] == "m1"))
    )
    strong = item_of("strong", crossed)
    assert [c for c in strong["cautions"] if "units show some (water x mulch)" in c]
    assert [t["term"] for t in strong["tests"]] == ["water", "mulch"]
    kept = made(tmp_path / "k", "randomized complete block", applied, frame, "blind: false")
    text = (kept / "trial.yaml").read_text().replace("applied_to: plot, ", "")
    (kept / "trial.yaml").write_text(text)
    (item,) = analyze(kept)["responses"]
    assert "interactions left out as planned" not in {c["name"] for c in item["checks"]}


DRAWN = """\
format: 1
trial: {id: planned, invented: true}
factors:
  water: [{name: w0, reference: true}, {name: w1}, {name: w2}]
  mulch: [{name: m0, reference: true}, {name: m1}]
design: {type: randomized complete block, blocks: 4, layout: layout.csv, seed: 3}
records: {measurements: {file: values.csv}}
responses: [{name: answer, kind: measurement, column: y, measured_in: cm}]
plan: {PLAN primary: answer, matters: {answer: {difference: 2}}}
"""


def drawn(where, words):
    where.mkdir(exist_ok=True)
    (where / "trial.yaml").write_text(DRAWN.replace("PLAN", words))
    return ws.read_trial(where / "trial.yaml")


@pytest.mark.parametrize(
    ("before", "after", "changed"),
    [
        ("", "interactions: left out,", True),
        ("interactions: left out,", "", True),
        ("interactions: left out,", "interactions: left out,", False),
        ("", "interactions: kept,", False),
    ],
)
def test_a_plan_that_changed_after_the_draw_is_told(before, after, changed, tmp_path):
    layout = ws.randomize(drawn(tmp_path, before))
    layout.write()
    rng = np.random.default_rng(7)
    pd.DataFrame({"plot": [p.plot for p in layout.plots], "y": rng.normal(10, 1, 24)}).to_csv(
        tmp_path / "values.csv", index=False
    )
    trial = drawn(tmp_path, after)
    results = ws.analyze(trial, ws.read_records(trial))
    assert results.trial.interactions == ("left out" if "left" in after else "kept")
    assert any("changed after" in d.what for d in results.deviations) is changed


def test_a_second_year_of_main_effects(tmp_path):
    trial = drawn(tmp_path, "interactions: left out,")
    layout = ws.randomize(trial)
    layout.write()
    rng = np.random.default_rng(8)
    frame = pd.DataFrame({"plot": [p.plot for p in layout.plots], "y": rng.normal(10, 2, 24)})
    frame.to_csv(tmp_path / "values.csv", index=False)
    ws.write_report(ws.analyze(trial, ws.read_records(trial)), tmp_path / "report")
    second = ws.power(trial, past=tmp_path / "report", second_year=True).second_year
    blocks = [p.block for p in layout.plots]
    squares_ = sum(((g - g.mean()) ** 2).sum() for _, g in frame["y"].groupby(np.array(blocks)))
    row = next(r for r in second.rows if r.comparison == "m1 against m0")
    assert (row.sd, row.df, row.first) == (pytest.approx((squares_ / 20) ** 0.5), 20, 4)
    from scipy import stats

    def reached(n):
        df, shift = 6 * n - n - 3, 2 / (row.sd * (2 / (3 * n)) ** 0.5)
        limit = stats.t.ppf(0.975, df)
        return stats.nct.sf(limit, df, shift) + stats.nct.cdf(-limit, df, shift)

    assert row.whole == next(n for n in range(2, 99) if reached(n) >= 0.8)


def test_level_with_gaps_by_the_first_line():
    """2,000 null seasons, a split-plot that lost two subplots, four standard errors."""
    from dataclasses import replace

    from analysis_makers import factor, make_layout, make_trial

    from wickstats.analysis.first_line import fit_line
    from wickstats.analysis.plan import terms_of
    from wickstats.analysis.summary import Summary
    from wickstats.analysis.units import lay_out_units
    from wickstats.design.trial import Response
    from wickstats.models.linear.contrasts import term_rows

    rows = [
        {"plot": f"{b}-{i}-{j}", "block": str(b), "whole_plot": f"{b}-{i}"}
        | {"A": f"a{i}", "B": f"b{j}"}
        for b, i, j in product(range(4), range(3), range(3))
    ]
    factors = [
        factor("A", ["a0", "a1", "a2"], applied_to="whole plot"),
        factor("B", ["b0", "b1", "b2"], applied_to="subplot"),
    ]
    asked = [Response(name="value", kind="measurement", column="value")]
    trial = make_trial(factors, asked, design="split-plot")
    layout = make_layout(rows, ["A", "B"], design="split-plot")
    applied = {"A": "whole plot", "B": "subplot"}
    units = lay_out_units(trial, replace(layout, applied_to=applied, main_effects=True))
    terms = terms_of(units)
    assert [t.name for t in terms] == ["A", "B"]
    rng, rejected, seasons = np.random.default_rng(21), np.zeros(2), 2_000
    for _ in range(seasons):
        values = rng.normal(size=36) + rng.normal(size=12)[units.whole_plots]
        values[[3, 22]] = np.nan
        line = fit_line(
            units,
            Summary("v", "mean", None, values, np.ones(36), (None,) * 36, "strata", "1"),
            0.95,
        )
        found = [line.test(term_rows(units.shape, t.factors)) for t in terms]
        assert found[0].df_den <= 6.0
        assert found[1].df_den <= 20.0
        rejected += [t.p < 0.05 for t in found]
    assert (rejected / seasons <= 0.05 + 4 * (0.05 * 0.95 / seasons) ** 0.5).all()
    assert (rejected / seasons >= 0.05 - 6 * (0.05 * 0.95 / seasons) ** 0.5).all()


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_picture_of_units_goes_by_level(language, tmp_path):
    """Each mean of main effects above the units of its level, none of a treatment."""
    trial = drawn(tmp_path, "interactions: left out,")
    layout = ws.randomize(trial)
    layout.write()
    rng = np.random.default_rng(9)
    frame = pd.DataFrame({"plot": [p.plot for p in layout.plots], "y": rng.normal(10, 1, 24)})
    frame.to_csv(tmp_path / "values.csv", index=False)
    results = ws.analyze(trial, ws.read_records(trial))
    out = ws.write_report(results, tmp_path / "report", language=language)
    page = (out / "report.html").read_text()
    words = {"en": "Each unit stands once", "es": "Cada unidad figura una vez"}
    assert words[language] in page
    for plain in ("no mean can be given", "no se puede dar una media"):
        assert plain not in page
    picture = (out / "figures" / "answer-units.svg").read_text()
    for factor in ("water", "mulch"):
        for level in LEVELS[factor]:
            assert f"{factor}: {level}" in picture
    assert "w0 x m0" not in picture
    assert "no mean can be given" not in results.response("answer")._repr_html_()


def beside(where, words, frame, kind="randomized complete block", applied=None):
    """A trial whose plan holds something else beside the interactions left out."""
    applied = applied or {"water": "plot", "mulch": "plot"}
    made(where, kind, applied, frame, f"{LEFT_OUT}, {words}")
    if kind != "split-plot":
        text = (where / "trial.yaml").read_text().replace("applied_to: plot, ", "")
        (where / "trial.yaml").write_text(text)
    return analyze(where)


@pytest.mark.parametrize("kept", [False, True])
def test_variance_by_arm_has_no_pooled_test_in_the_second_opinion(kept, tmp_path):
    frame = counted(np.random.default_rng(10))
    words = "variance: {answer: by arm}"
    tree = beside(tmp_path, words, frame)
    if kept:
        text = (tmp_path / "trial.yaml").read_text().replace(f"{LEFT_OUT}, ", "")
        (tmp_path / "trial.yaml").write_text(text)
        tree = analyze(tmp_path)
    assert find(tree["responses"][0]["tests"], term="mulch")["df_den"] == 3.0
    none_disagrees(tree)


def test_a_covariate_in_a_split_plot_beside_main_effects(tmp_path):
    """Subplot contrasts by least squares on whole plots, main effects and position."""
    frame = split_twice(np.random.default_rng(11)).query("shelter == 's0'")
    frame = frame.drop(columns="shelter").reset_index(drop=True)
    rng = np.random.default_rng(12)
    frame["whole_plot"] = frame["block"] + frame["water"]
    # plots in the order of the ground, which is their position
    frame["order"] = frame.groupby("whole_plot")["y"].transform(lambda y: rng.random())
    frame["second"] = rng.random(len(frame))
    frame = frame.sort_values(["block", "order", "second"]).drop(columns=["order", "second"])
    place = frame.groupby("block").cumcount()
    applied = {"water": "whole plot", "mulch": "subplot"}
    tree = beside(tmp_path, "covariates: {answer: position}", frame, "split-plot", applied)
    fit = smf.ols("y ~ C(mulch) + C(whole_plot) + place", frame.assign(place=place)).fit()
    found = find(tree["responses"][0]["comparisons"], name="m1 against m0")
    assert found["estimate"] == pytest.approx(fit.params["C(mulch)[T.m1]"], rel=1e-8)
    assert found["se"] == pytest.approx(fit.bse["C(mulch)[T.m1]"], rel=1e-8)
    assert found["df"] == fit.df_resid == 10
    none_disagrees(tree)


@pytest.mark.parametrize("kind", ["randomized complete block", "completely randomized"])
def test_power_by_command_of_counts_and_of_water(kind, tmp_path, capsys):
    """Counts are simulated through main effects; water used stays paired or on its own."""
    from scipy import stats

    from wickstats.cli.app import run

    size = "blocks: 6" if kind == "randomized complete block" else "replicates: 6"
    text = DRAWN.replace("PLAN", "interactions: left out,").replace(
        "type: randomized complete block, blocks: 4", f"type: {kind}, {size}"
    )
    text = text[: text.index("records:")] + (
        "records: {picks: {file: picks.csv}, water: {file: water.csv}}\n"
        "responses:\n  - {name: fruits, kind: count, column: count, better: more}\n"
        "  - {name: water used, kind: water used, water: delivered, better: less}\n"
        "plan: {interactions: left out, primary: water used, secondary: [fruits], "
        "comparisons: [{factor: mulch, compare: all pairs, adjustment: none}], "
        "matters: {water used: {ratio: 1.2}, fruits: {ratio: 1.3}}}\n"
        "water: {planned_l: {w0: 100, w1: 100, w2: 100}}\n"
        "power:\n  assume:\n"
        "    fruits: {mean: {w0 x m0: 30, w0 x m1: 40, w1 x m0: 30, w1 x m1: 40, "
        "w2 x m0: 30, w2 x m1: 40}, plot_cv: 0.2}\n"
        "    water used: {liters: {w0 x m0: 100, w0 x m1: 80, w1 x m0: 100, w1 x m1: 80, "
        "w2 x m0: 100, w2 x m1: 80}, liters_cv: 0.15}\n"
    )
    (tmp_path / "trial.yaml").write_text(text)
    trial = ws.read_trial(tmp_path / "trial.yaml")
    ws.randomize(trial).write()
    # where both sides have six pairs or units of each treatment: five degrees of freedom
    planned = ws.power(trial, seasons=0)
    row = next(r for r in planned.rows if r.response == "water used" and r.power is not None)
    se = (np.log1p(0.15**2) * 6 / 9 / 6) ** 0.5
    limit, shift = stats.t.ppf(0.975, 5), np.log(1.25) / se
    chance = stats.nct.sf(limit, 5, shift) + stats.nct.cdf(-limit, 5, shift)
    assert row.power == pytest.approx(chance, abs=1e-6)
    assert run(["power", str(tmp_path / "trial.yaml"), "--seasons", "1000"]) == 0
    told = capsys.readouterr().out
    assert "fruits: simulated" in told
    assert "Traceback" not in told
