"""Only whether better: one-sided p, limits, verdicts and words, against other code."""

import numpy as np
import pandas as pd
import pytest
from analysis_makers import one_value_a_plot, survival_season
from scipy import stats
from support import analyze, find

import wickstats as ws
from wickstats.analysis.season import analyze_season
from wickstats.core.codec import to_plain
from wickstats.core.errors import TrialError
from wickstats.design.trial import ComparisonPlan, Plan, Response
from wickstats.models.linear.joint_one_sided import one_sided_t
from wickstats.models.linear.strata import fit_units

ARMS = ("ref", "a", "b", "c")
ASKS = "{factor: way, compare: each with the reference, asks: only whether better}"


def trial(folder, frame, *, better="more", comparisons=ASKS, extra=""):
    folder.mkdir(parents=True, exist_ok=True)
    design = "randomized complete block" if "block" in frame else "completely randomized"
    frame.drop(columns="y").to_csv(folder / "layout.csv", index=False)
    frame[["plot", "y"]].dropna().to_csv(folder / "v.csv", index=False)
    (folder / "trial.yaml").write_text(
        "format: 1\ntrial: {id: one-side, invented: true}\n"
        "factors: {way: [{name: ref, reference: true}, a, b, c]}\n"
        f"design: {{type: {design}, layout: layout.csv, drawn: elsewhere}}\n"
        "records: {measurements: {file: v.csv}}\nresponses: [{name: height, "
        f"kind: measurement, column: y, measured_in: cm, better: {better}}}]\n"
        "plan:\n  primary: height\n  matters: {height: {difference: 1}}\n"
        f"  comparisons: [{comparisons}]\n{extra}"
    )
    return folder


def one_way(each=(6, 5, 5, 4), shift=(0.0, 2.2, 0.8, -2.0)):
    rng = np.random.default_rng(2)
    rows = [
        (f"p{arm}{i}", arm, 10.0 + by + rng.normal())
        for arm, n, by in zip(ARMS, each, shift, strict=True)
        for i in range(n)
    ]
    return pd.DataFrame(rows, columns=["plot", "way", "y"])


def comparisons(folder):
    (item,) = analyze(folder)["responses"]
    return [find(item["comparisons"], name=f"{arm} against ref") for arm in ARMS[1:]], item


@pytest.mark.parametrize("better", ["more", "less"])
def test_one_way_against_scipy(better, tmp_path):
    """scipy.stats.dunnett, one-sided (randomized integration, hence 2e-3)."""
    frame = one_way()
    groups = [frame.loc[frame["way"] == arm, "y"].to_numpy() for arm in ARMS]
    theirs = stats.dunnett(
        *groups[1:],
        control=groups[0],
        alternative={"more": "greater", "less": "less"}[better],
        rng=np.random.default_rng(1),
    )
    limits = theirs.confidence_interval(0.95)
    rows, _ = comparisons(trial(tmp_path, frame, better=better))
    for k, row in enumerate(rows):
        assert row["p_adjusted"] == pytest.approx(theirs.pvalue[k], abs=2e-3)
        side = 1 if better == "more" else -1
        assert row["p"] == pytest.approx(stats.t.sf(side * row["estimate"] / row["se"], 16))
        kept, other = ("low_adjusted", "high_adjusted")[::side]
        assert row[kept] == pytest.approx(getattr(limits, kept[: kept.index("_")])[k], abs=2e-3)
        assert row[other] is None
        assert row["bound"] == {"more": "lower", "less": "upper"}[better]
        # the interval and p agree
        assert (side * row[kept] > 0) == (row["p_adjusted"] < 0.05)


def test_verdicts_and_words(tmp_path):
    rows, _ = comparisons(trial(tmp_path, one_way()))
    assert [row["verdict"] for row in rows] == [
        "better",
        "no worse by more than matters",
        "cannot tell",
    ]
    assert "confidence at least" in rows[0]["sentence"]
    assert "confidence no more than" in rows[1]["sentence"]
    assert "cm less" in rows[1]["sentence"]
    assert "was not shown to do better than ref" in rows[2]["sentence"]
    assert "worse" not in rows[2]["sentence"]
    page = ws.write_report(
        ws.analyze(
            ws.read_trial(tmp_path / "trial.yaml"),
            ws.read_records(ws.read_trial(tmp_path / "trial.yaml")),
        ),
        tmp_path / "out",
    )
    text = (page / "report.html").read_text()
    assert "C was not shown to be better than ref" in text
    assert "The plan asked only whether each is better." in text
    assert "that it is worse cannot be shown then" in text
    assert "(dunnett, one-sided)" in text
    assert "to no upper limit" in text


def test_gaps_make_the_correlation_general(tmp_path):
    """Blocks with gaps: p of the multivariate t with the contrasts' own correlation."""
    rng = np.random.default_rng(8)
    frame = pd.DataFrame(
        [
            {"plot": f"p{b}{arm}", "block": f"b{b}", "way": arm, "y": rng.normal(10, 1) + b}
            for b in range(5)
            for arm in ARMS
        ]
    )
    frame.loc[[1, 6, 15, 14], "y"] = np.nan
    rows, _ = comparisons(trial(tmp_path, frame))
    left = frame.dropna(subset="y")
    cells = left["way"].map(ARMS.index).to_numpy()
    blocks = left["block"].to_numpy()
    fit = fit_units(left["y"].to_numpy(), cells, 4, blocks=blocks)
    weights = np.hstack([-np.ones((3, 1)), np.eye(3)])
    covariance = fit.covariance(weights)
    scale = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(scale, scale)
    law = stats.multivariate_t(np.zeros(3), correlation, df=fit.residual_df)
    for row in rows:
        t = row["estimate"] / row["se"]
        p = 1.0 - law.cdf(np.full(3, t), maxpts=2_000_000, random_state=1)
        assert row["p_adjusted"] == pytest.approx(p, abs=2e-4)
    critical = one_sided_t(correlation).critical(0.95, fit.residual_df)
    assert law.cdf(np.full(3, critical), random_state=1) == pytest.approx(0.95, abs=2e-4)


def test_error_of_the_family_and_its_coverage():
    """4,000 null seasons: some arm better in 5 %, four standard errors about it."""
    from wickstats.models.linear.estimates import Estimate
    from wickstats.models.linear.multiplicity import adjust

    rng = np.random.default_rng(3)
    correlation = np.full((3, 3), 0.5) + 0.5 * np.eye(3)
    y = rng.normal(size=(4_000, 6, 4))
    means = y.mean(axis=1)
    resid = y - y.mean(axis=1, keepdims=True) - y.mean(axis=2, keepdims=True)
    resid += y.mean(axis=(1, 2), keepdims=True)
    se = np.sqrt(2 * (resid**2).sum(axis=(1, 2)) / 15 / 6)
    shown = 0
    for mean, own in zip(means, se, strict=True):
        found = adjust(
            [
                Estimate(d, own, 15.0, None, None, d / own, 1.0, "equal variances")
                for d in mean[1:] - mean[0]
            ],
            "dunnett",
            covariance=correlation,
            side=1,
        )
        shown += any(low > 0 for low in found.low)
        assert found.high == (None, None, None)
    assert abs(shown / 4_000 - 0.05) < 4 * (0.05 * 0.95 / 4_000) ** 0.5


def test_redraws_count_one_side(tmp_path):
    frame = one_way(each=(3, 3, 3, 3))
    rows, _ = comparisons(trial(tmp_path, frame))
    from itertools import combinations

    y = frame["y"].to_numpy()
    first, ref = np.flatnonzero(frame["way"] == "a"), np.flatnonzero(frame["way"] == "ref")
    both = np.r_[first, ref]
    found = [
        y[list(c)].mean() - y[[k for k in both if k not in c]].mean()
        for c in combinations(both, 3)
    ]
    seen = y[first].mean() - y[ref].mean()
    p = np.mean(np.array(found) >= seen - 1e-9)
    assert rows[0]["redraws"]["p"] == pytest.approx(p, abs=1e-12)
    assert rows[0]["redraws"]["smallest_possible_p"] == pytest.approx(1 / 20)


@pytest.mark.parametrize("better", ["more", "less"])
def test_power_of_one_side(better, tmp_path):
    """Noncentral t at the one-sided point, and chances of the verdicts that are left."""
    sign = 1 if better == "more" else -1
    means = {"ref": 10, "a": 10 + 2 * sign, "b": 10, "c": 10 - 2 * sign}
    told = ", ".join(f"{arm}: {value}" for arm, value in means.items())
    made = trial(
        tmp_path,
        pd.DataFrame(
            [
                {"plot": f"p{b}{arm}", "block": f"b{b}", "way": arm, "y": 1.0}
                for b in range(6)
                for arm in ARMS
            ]
        ),
        better=better,
        extra=f"power: {{assume: {{height: {{mean: {{{told}}}, plot_sd: 1.2}}}}}}\n",
    )
    planned = ws.power(ws.read_trial(made / "trial.yaml"), seasons=0)
    assert sum("asks only whether each is better" in note for note in planned.notes) == 1
    se, df = 1.2 * (2 / 6) ** 0.5, 15
    critical = one_sided_t(np.full((3, 3), 0.5) + 0.5 * np.eye(3)).critical(0.95, df)
    chances = {
        row.comparison: row.power
        for row in planned.rows
        if row.blocks == 6 and "power for the assumed" in row.note
    }
    for arm, size in (("a", 2.0), ("b", 0.0), ("c", -2.0)):
        wanted = stats.nct.sf(critical, df, size / se)
        assert chances[f"{arm} against ref"] == pytest.approx(wanted, abs=1e-6)
    needed = {
        row.comparison: (row.blocks, row.not_estimable)
        for row in planned.rows
        if "blocks needed for the assumed" in row.note
    }
    equal = one_sided_t(np.full((3, 3), 0.5) + 0.5 * np.eye(3))

    def chance(blocks):
        spare, wide = 3 * (blocks - 1), 1.2 * (2 / blocks) ** 0.5
        return stats.nct.sf(equal.critical(0.95, spare), spare, 2.0 / wide)

    assert chance(needed["a against ref"][0] - 1) < 0.8 <= chance(needed["a against ref"][0])
    assert needed["c against ref"][0] is None
    assert "lies on the side that the plan does not ask about" in needed["c against ref"][1]
    smallest = [row.difference for row in planned.rows if "smallest" in row.note]
    assert [np.sign(size) for size in smallest] == [sign] * 3
    by_name = {c.comparison: c for c in planned.questions.chances}
    for arm, size in (("a", 2.0), ("b", 0.0), ("c", -2.0)):
        found = by_name[f"{arm} against ref"]
        assert found.better == pytest.approx(stats.nct.sf(critical, df, size / se), abs=1e-6)
        assert (found.same, found.worse, found.no_better) == (0.0, 0.0, 0.0)
        rng = np.random.default_rng(5)
        s = se * np.sqrt(rng.chisquare(df, 400_000) / df)
        low = rng.normal(size, se, s.size) - critical * s
        told = np.mean((low <= 0) & (low >= -1.0))
        assert found.no_worse == pytest.approx(told, abs=4e-3)


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({"comparisons": "{factor: way, compare: all pairs, asks: only whether better}"},
         "only whether better for all pairs"),
        ({"better": "neither"}, 'only whether better, but "height" has no better side'),
        ({"comparisons": ASKS.replace("only whether better", "if better")}, '"if better"'),
    ],
)  # fmt: skip
def test_what_the_plan_cannot_ask(change, found, tmp_path):
    made = trial(tmp_path, one_way(), **change)
    with pytest.raises(TrialError) as caught:
        ws.read_trial(made / "trial.yaml")
    assert any(found in p.found for p in caught.value.problems)


@pytest.mark.parametrize("adjustment", ["none", "holm", "single-step"])
def test_other_adjustments_keep_one_side(adjustment, tmp_path):
    asks = ASKS.replace("asks:", f"adjustment: {adjustment}, asks:")
    rows, _ = comparisons(trial(tmp_path, one_way(), comparisons=asks))
    size = {"none": 1, "holm": 3}.get(adjustment)
    for row in rows:
        assert row["high_adjusted"] is None
        assert row["bound"] == "lower"
        half = (row["estimate"] - row["low_adjusted"]) / row["se"]
        if size is not None:
            assert half == pytest.approx(stats.t.isf(0.05 / size, 16), abs=1e-9)
        # the plain interval has both ends, as without asking one side
        both = stats.t.isf(0.025, 16) * row["se"]
        assert row["low"] == pytest.approx(row["estimate"] - both)
        assert row["high"] == pytest.approx(row["estimate"] + both)
    ordered = sorted(row["p"] for row in rows)
    assert ordered == [
        stats.t.sf(t, 16) for t in sorted((r["estimate"] / r["se"] for r in rows), reverse=True)
    ]
    least = min(row["p_adjusted"] for row in rows)
    if size is not None:
        assert least == pytest.approx(size * ordered[0])


def test_ratios_and_the_mixed_model_have_the_same_side(tmp_path):
    rows, item = comparisons(trial(tmp_path, blocks_of_plots()))
    beside = {row["name"]: row for row in item["mixed_model"]["comparisons"]}
    for row in rows:
        assert row["relative"]["high"] is None
        assert row["absolute"]["high"] is None
        # Fieller at the one-sided point holds 1 where the difference's limit holds 0
        assert (row["relative"]["low"] > 1.0) == (row["low_adjusted"] > 0.0)
        other = beside[row["name"]]
        assert other["bound"] == "lower"
        assert other["high_adjusted"] is None
        assert other["p"] == pytest.approx(
            stats.t.sf(other["estimate"] / other["se"], other["df"])
        )
        assert other["p"] <= other["p_adjusted"] <= min(1.0, 3 * other["p"])
        # complete blocks: both lines agree
        for key in ("estimate", "se", "df", "p", "p_adjusted", "low_adjusted"):
            assert other[key] == pytest.approx(row[key], rel=1e-6), key


def blocks_of_plots(seed=4):
    rng = np.random.default_rng(seed)
    rows = [
        {"plot": f"p{b}{arm}", "block": f"b{b}", "way": arm, "y": 10 + b + by + rng.normal()}
        for b in range(6)
        for arm, by in zip(ARMS, (0.0, 3.0, 0.5, -2.0), strict=True)
    ]
    return pd.DataFrame(rows)


def test_a_change_of_the_question_after_the_draw_is_told(tmp_path):
    def written(comparison):
        trial(tmp_path, blocks_of_plots(), comparisons=comparison)
        file = tmp_path / "trial.yaml"
        file.write_text(
            file.read_text().replace("drawn: elsewhere", "blocks: 6, seed: 3, drawn: here")
        )
        return ws.read_trial(file)

    plain = ASKS.replace(", asks: only whether better", "")
    drawn = written(plain)
    (tmp_path / "layout.csv").unlink()
    layout = ws.randomize(drawn)
    layout.write()
    kept = {f.name: f.read_bytes() for f in tmp_path.glob("layout*")}
    values = pd.DataFrame({"plot": [p.plot for p in layout.plots]}).assign(y=1.0)
    values["y"] += np.random.default_rng(1).normal(size=len(values))
    for asked, changed in ((plain, False), (ASKS, True)):
        again = written(asked)
        for name, content in kept.items():
            (tmp_path / name).write_bytes(content)
        values.to_csv(tmp_path / "v.csv", index=False)
        results = ws.analyze(again, ws.read_records(again))
        assert any("changed after" in d.what for d in results.deviations) is changed


@pytest.mark.parametrize("arms", [2, 4])
def test_bounds_of_one_fate_keep_the_side(arms):
    """Every plant lived: the limit on the side asked about alone, and never worse."""
    counts = {"hand": (8,) * 4, "wick": (8,) * 4, "pot": (0,) * 4, "drip": (4, 5, 3, 6)}
    asked = ComparisonPlan(
        factor="treatment",
        compare="each with the reference",
        asks="only whether better",
    )
    alive = dict(list(counts.items())[:arms])
    found = {}
    for plan in (Plan(primary="survival"), Plan(primary="survival", comparisons=(asked,))):
        trial, _, season = survival_season(alive, 8, plan=plan, reference="hand")
        (item,) = ws.analyze(trial, season).responses
        found[bool(plan.comparisons)] = {
            c.name: c for c in item.comparisons if c.estimand == "share alive"
        }
    for name, row in found[True].items():
        other = found[False][name]
        assert (row.bound, other.bound, row.rule) == ("lower", "both", "bound")
        assert row.low_adjusted == other.low_adjusted
        assert row.high_adjusted is None
        assert row.absolute.high is None
        assert other.absolute.high is not None
        assert row.verdict == "cannot tell"
        assert "was not shown to do better" in row.sentence
        assert "the true difference lies above" in row.sentence
        assert "worse" not in row.sentence
    if arms == 4:
        assert found[False]["pot against hand"].verdict == "worse"


def test_a_response_without_a_better_side_is_told(tmp_path):
    made = trial(tmp_path, one_way())
    file = made / "trial.yaml"
    more = ", {name: leaf, kind: measurement, column: leaf, measured_in: cm}]\nplan:"
    file.write_text(file.read_text().replace("]\nplan:", more))
    table = pd.read_csv(made / "v.csv")
    table.assign(leaf=table["y"] ** 2).to_csv(made / "v.csv", index=False)
    height, leaf = analyze(made)["responses"]
    assert all(row["bound"] == "lower" for row in height["comparisons"])
    assert all(row.get("bound") is None for row in leaf["comparisons"])
    assert all(row["high_adjusted"] is not None for row in leaf["comparisons"])
    told = [text for text in leaf["cautions"] if "it is judged on both sides" in text]
    assert len(told) == 1
    assert not any("both sides" in text for text in height["cautions"])


def test_levels_of_another_factor_ask_alike(tmp_path):
    """What the plan asks of a factor holds inside each level of the other, too."""
    rng = np.random.default_rng(6)
    frame = pd.DataFrame(
        [
            {"plot": f"p{b}{w}{m}", "block": f"b{b}", "way": w, "mulch": m,
             "y": 10.0 - 5.0 * (w == "c") + rng.normal()}
            for b in range(4) for w in ARMS for m in ("bare", "straw")
        ]
    )  # fmt: skip
    made = trial(tmp_path, frame)
    file = made / "trial.yaml"
    file.write_text(file.read_text().replace("a, b, c]}", "a, b, c], mulch: [bare, straw]}"))
    (item,) = analyze(made)["responses"]
    rows = [row for row in item["comparisons"] if row["term"] == "way"]
    assert {row["within"] for row in rows} == {None, "bare", "straw"}
    assert all(row["bound"] == "lower" and row["high_adjusted"] is None for row in rows)
    assert not any(row["verdict"] == "worse" for row in rows)


def test_a_season_that_could_tell_names_no_blocks(tmp_path):
    """Far on the side that was not asked about, more blocks would not tell either."""
    far = one_way(each=(40, 40, 40, 40), shift=(0.0, 0.0, 0.0, -30.0))
    rows, _ = comparisons(trial(tmp_path, far))
    assert rows[2]["verdict"] == "cannot tell"
    assert "To tell" not in rows[2]["sentence"]


def test_shared_error_of_cans_moves_to_the_worse_side():
    """A shared error counts against the side that is asked about, in p and limit alike."""
    from wickstats.analysis.families import _nearest
    from wickstats.models.linear.estimates import Estimate
    from wickstats.models.linear.multiplicity import own_p

    for value in (-0.5, 0.1, 0.5):
        e = Estimate(value, 0.2, 10.0, None, None, value / 0.2, 1.0, "equal variances")
        for side in (1, -1):
            (found,) = own_p([_nearest(e, 0.2, side)], side)
            moved = side * value - 0.2
            assert found.p == pytest.approx(stats.t.sf(moved / 0.2, 10.0))


def test_an_arm_that_never_bore_is_not_called_worse():
    from wickstats.report.answers import answer_line

    fruit = Response(
        name="fruit", kind="yield", column="value", measured_in="kg", scale="log", better="more"
    )
    asked = ComparisonPlan(
        factor="treatment", compare="each with the reference", asks="only whether better"
    )
    hand = [5.0, 6.0, 4.0, 5.0, 7.0, 5.0]
    for values, verdict, told in (
        ({"hand": hand, "wick": [0.0] * 6}, "cannot tell", "Wick was not shown to be better"),
        ({"hand": [0.0] * 6, "wick": hand}, "better", "Wick did better than hand"),
    ):
        made = one_value_a_plot(
            values,
            response=fruit,
            reference="hand",
            plan=Plan(primary="fruit", comparisons=(asked,)),
        )
        (found,) = analyze_season(*made).responses
        (row,) = found.comparisons
        assert row.verdict == verdict
        assert "worse" not in row.sentence
        assert answer_line(row, found).startswith(told)
        to_plain(found)  # raises on NaN and infinity
