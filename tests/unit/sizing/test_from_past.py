"""Power from a past season: variances with their df, upper limits, assurance, refusals."""

import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from open import make_tables
from scipy import integrate, stats

import wickstats as ws
from wickstats.archive.manifest import make_manifest, write_manifest
from wickstats.cli.app import run
from wickstats.core.numbers import number
from wickstats.core.results import Results
from wickstats.design.trial import Assumption, Trial
from wickstats.sizing.from_past import PastRow
from wickstats.sizing.past import PastVariance, past_variance
from wickstats.sizing.past_assumed import assumed_of

# PlantGrowth (Dobson 1983), as shipped with R's datasets: residual sum of squares 10.49209
# on 27 df, mean square 0.38860 (printed by R's anova)
VARIANCE, DF = 10.49209 / 27, 27


@pytest.fixture(scope="module")
def growth(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return report_of("plant-growth", tmp_path_factory.mktemp("past"))


def report_of(name: str, folder: Path) -> Path:
    trial = ws.read_trial(make_tables.lay_out(name, folder / name))
    return ws.write_report(ws.analyze(trial, ws.read_records(trial)), folder / f"report-{name}")


def trial_of(folder: Path, *, response: str = "", design: str = "", more: str = "") -> Path:
    """A new trial of two groups that names its response as the past one did."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "trial.yaml"
    response = response or "{name: weight, kind: measurement, column: weight, measured_in: g}"
    design = design or "type: completely randomized, replicates: 12"
    path.write_text(
        "format: 1\ntrial: {id: next}\n"
        "factors: {group: [{name: old, reference: true}, {name: new}]}\n"
        f"design: {{{design}, layout: layout.csv}}\n"
        "records: {measurements: {file: weights.csv}}\n"
        f"responses: [{response}]\n"
        + (more or "plan: {primary: weight, matters: {weight: {difference: 0.8}}}\n"),
        encoding="utf-8",
    )
    return path


def row_of(trial: Path, past: Path, seasons: int = 20_000) -> PastRow:
    planned = ws.power(ws.read_trial(trial), past=past, seasons=seasons)
    assert planned.past is not None
    (row,) = planned.past.rows
    return row


def t_power(difference: float, sd: float, n: int, alpha: float = 0.05) -> float:
    """Two groups of n, by scipy's noncentral t."""
    df, shift = 2 * n - 2, difference / (sd * math.sqrt(2 / n))
    at = stats.t.ppf(1 - alpha / 2, df)
    return float(stats.nct.sf(at, df, shift) + stats.nct.cdf(-at, df, shift))


def test_variance_upper_limit_and_power(growth: Path, tmp_path: Path) -> None:
    row = row_of(trial_of(tmp_path), growth)
    assert row.df == DF
    assert row.sd == pytest.approx(math.sqrt(VARIANCE), rel=1e-6)
    # one-sided 80 % upper limit: s^2 df over the 20 % point of chi-square
    upper = math.sqrt(VARIANCE * DF / stats.chi2.ppf(0.2, DF))
    assert row.sd_upper == pytest.approx(upper, rel=1e-6)
    assert row.difference == 0.8
    assert row.blocks == 12
    assert row.power == pytest.approx(t_power(0.8, math.sqrt(VARIANCE), 12), abs=1e-6)
    assert row.power_upper == pytest.approx(t_power(0.8, upper, 12), abs=1e-6)
    for sd, smallest, needed in (
        (math.sqrt(VARIANCE), row.detectable, row.blocks_needed),
        (upper, row.detectable_upper, row.blocks_needed_upper),
    ):
        assert smallest is not None
        assert needed is not None
        assert t_power(smallest, sd, 12) == pytest.approx(0.8, abs=1e-6)
        assert t_power(0.8, sd, int(needed)) >= 0.8 > t_power(0.8, sd, int(needed) - 1)


def test_assurance_by_another_integration(growth: Path, tmp_path: Path) -> None:
    row = row_of(trial_of(tmp_path), growth)

    def integrand(variance: float) -> float:
        # scaled inverse chi-square: variance = s^2 df / chi-square(df)
        density = stats.invgamma.pdf(variance, DF / 2, scale=VARIANCE * DF / 2)
        return float(density * t_power(0.8, math.sqrt(variance), 12))

    expected, _ = integrate.quad(integrand, 0.1, 2.5, epsabs=1e-8)
    assert row.assurance == pytest.approx(expected, abs=1e-5)
    assert row.power is not None
    assert row.assurance < row.power  # above one half the doubt costs


def test_never_the_observed_difference(growth: Path, tmp_path: Path) -> None:
    """Adding a constant to one group of the past season changes nothing."""
    before = row_of(trial_of(tmp_path / "new"), growth)
    folder = make_tables.lay_out("plant-growth", tmp_path / "moved").parent
    lines = (folder / "weights.csv").read_text().splitlines()
    moved = [
        f"{p},{float(w) + 3:.2f}" if k >= 20 else f"{p},{w}"
        for k, (p, w) in enumerate(line.split(",") for line in lines[1:])
    ]
    (folder / "weights.csv").write_text("\n".join([lines[0], *moved]) + "\n")
    trial = ws.read_trial(folder / "trial.yaml")
    past = ws.write_report(ws.analyze(trial, ws.read_records(trial)), tmp_path / "past")
    after = row_of(tmp_path / "new" / "trial.yaml", past)
    for name in ("sd", "df", "power", "assurance", "detectable", "blocks_needed"):
        assert getattr(after, name) == pytest.approx(getattr(before, name), rel=1e-6)


def test_other_units_of_the_same_kind_are_turned(growth: Path, tmp_path: Path) -> None:
    grams = row_of(trial_of(tmp_path / "g"), growth)
    milligrams = row_of(
        trial_of(
            tmp_path / "mg",
            response="{name: weight, kind: measurement, column: weight, measured_in: mg}",
            more="plan: {primary: weight, matters: {weight: {difference: 800}}}\n",
        ),
        growth,
    )
    assert milligrams.power == pytest.approx(grams.power, rel=1e-9)
    assert milligrams.assurance == pytest.approx(grams.assurance, rel=1e-9)
    assert milligrams.sd == pytest.approx(1000 * (grams.sd or 0.0), rel=1e-9)


def test_split_plots_give_the_variance_of_one_subplot(tmp_path: Path) -> None:
    # oats, Yates (1935), as shipped in MASS: error mean squares 6013.31/10 and 7968.75/45
    results = ws.analyze(
        trial := ws.read_trial(make_tables.lay_out("oats", tmp_path / "oats")),
        ws.read_records(trial),
    )
    found = past_variance(results.responses[0])
    assert isinstance(found, PastVariance)
    a, b = 6013.31 / 10, 7968.75 / 45
    assert found.variance == pytest.approx((a + 3 * b) / 4, rel=1e-5)
    df = (a + 3 * b) ** 2 / (a**2 / 10 + (3 * b) ** 2 / 45)
    assert found.df == pytest.approx(df, rel=1e-5)


SURVIVAL = """format: 1
trial: {id: alive}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records: {lifetimes: {file: lives.csv}}
responses: [{name: survival, kind: survival, at: [100]}]
plan: {primary: survival, matters: {survival: {difference: 0.2}}}
"""
ALIVE = {"hand": [3, 6, 2, 5], "wick": [7, 8, 5, 6]}  # of 8, by block


def season_of_lives(tmp_path: Path) -> tuple[Trial, Results]:
    """Two arms in four blocks, ``ALIVE`` of 8 plants a plot."""
    (tmp_path / "trial.yaml").write_text(SURVIVAL, encoding="utf-8")
    layout, lives = ["plot,block,watering"], ["plot,plant,last_alive_d,first_dead_d"]
    for arm, counts in ALIVE.items():
        for block, alive in enumerate(counts, start=1):
            layout.append(f"{arm}{block},{block},{arm}")
            lives += [
                f"{arm}{block},{k},{200 if k < alive else 40},{'' if k < alive else 60}"
                for k in range(8)
            ]
    (tmp_path / "layout.csv").write_text("\n".join(layout) + "\n")
    (tmp_path / "lives.csv").write_text("\n".join(lives) + "\n")
    trial = ws.read_trial(tmp_path / "trial.yaml")
    return trial, ws.analyze(trial, ws.read_records(trial))


def test_shares_give_a_dispersion(tmp_path: Path) -> None:
    trial, results = season_of_lives(tmp_path)
    found = past_variance(results.responses[0])
    assert isinstance(found, PastVariance)
    # complete blocks of two arms: RSS = sum of squared deviations of the differences over 2,
    # tr(MD) = (b - 1)(v1 + v2)/2, df = b - 1 (computed)
    difference = (np.array(ALIVE["wick"]) - np.array(ALIVE["hand"])) / 8
    rss = np.sum((difference - difference.mean()) ** 2) / 2
    p = {arm: (sum(x) + 0.5) / 33 for arm, x in ALIVE.items()}
    trace = 3 * sum(q * (1 - q) / 8 for q in p.values()) / 2
    assert found.variance == pytest.approx(rss / trace, rel=1e-9)
    assert found.df == pytest.approx(3.0, rel=1e-9)
    assert {a: found.shares[a] for a in p} == pytest.approx(p)
    past = ws.write_report(results, tmp_path / "report")
    planned = ws.power(trial, past=past)
    assert planned.past is not None
    (row,) = planned.past.rows
    unit = max(rss / trace, 1.0) * sum(q * (1 - q) / 8 for q in p.values()) / 2
    assert row.sd == pytest.approx(math.sqrt(unit), rel=1e-9)
    assert any("says little" in note for note in planned.past.notes)  # 3 df


@pytest.mark.parametrize(
    ("blocks", "plants", "told"),
    [(2, 8, (False, False)), (3, 5, (True, False)), (3, 8, (True, True)), (8, 8, (True, True))],
)
def test_no_two_shares_are_told_to_lie_further_apart_than_all_and_none(
    tmp_path: Path, blocks: int, plants: int, told: tuple[bool, bool]
) -> None:
    """A smallest difference above 1 cannot be: it is left open, and never cut to 1."""
    _, results = season_of_lives(tmp_path)
    past = ws.write_report(results, tmp_path / "report")
    text = SURVIVAL.replace(
        ", drawn: elsewhere", f", blocks: {blocks}, plants_per_plot: {plants}"
    )
    (tmp_path / "next").mkdir()
    (tmp_path / "next" / "trial.yaml").write_text(text, encoding="utf-8")
    row = row_of(tmp_path / "next" / "trial.yaml", past, seasons=0)
    found = [(row.detectable, row.sd), (row.detectable_upper, row.sd_upper)]
    for (smallest, sd), known in zip(found, told, strict=True):
        assert sd is not None
        uncapped = smallest_t(sd * math.sqrt(2 / blocks), blocks - 1)
        assert (uncapped <= 1.0) is known  # else the case shows nothing
        assert smallest == (pytest.approx(uncapped, abs=0.02) if known else None)


def smallest_t(se: float, df: int) -> float:
    """Difference shown with a chance of 0.8 by a two-sided 5 % t test, by bisection."""
    critical = float(stats.t.ppf(0.975, df))
    low, high = 0.0, 100.0 * se
    for _ in range(60):
        middle = (low + high) / 2
        power = stats.nct.sf(critical, df, middle / se)
        low, high = (low, middle) if power >= 0.8 else (middle, high)
    return high


@pytest.mark.parametrize(
    ("scale", "correlation"), [(1.0, 0.3), (2.5, 0.9), (4.0, 0.9), (0.2, 0.0)]
)
def test_plots_of_the_next_season_agree_by_nine_tenths_at_most(
    tmp_path: Path, scale: float, correlation: float
) -> None:
    """(phi scale - 1)/(m - 1), held between 0 and 0.9: seasons are drawn below 1."""
    _, results = season_of_lives(tmp_path)
    known = PastVariance(3.1, 3.0, 8.0, None, {"": 0.6, "hand": 0.5, "wick": 0.7})
    found = assumed_of(results.responses[0], known, scale=scale)
    assert isinstance(found, Assumption)
    assert found.plot_correlation == pytest.approx(correlation)


def shown_of_lives(p: list[float], rho: np.ndarray, blocks: int, plants: int) -> float:
    """Share of seasons (one a ``rho``) in which two arms are told apart; rule written out."""
    rng = np.random.default_rng(20270501)
    share, a = np.array(p), np.maximum((1 - rho) / np.maximum(rho, 1e-9), 1e-3)[:, None, None]
    size = (len(rho), blocks, 2)
    x = rng.binomial(plants, rng.beta(share * a, (1 - share) * a, size=size))
    y, n = x / plants, blocks * plants
    gap, mean = y[..., 1] - y[..., 0], y.mean(axis=1)
    d = mean * (1 - mean) / plants
    first = 0.5 * (blocks - 1) * d.sum(axis=1)
    rss = 0.5 * ((gap - gap.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    of_units = stats.t.ppf(0.975, blocks - 1) * np.sqrt(rss / first * d.sum(axis=1) / blocks)
    center = (x.sum(axis=1) + 1) / (n + 2)
    v = center * (1 - center) / n
    own = v.sum(axis=1) ** 2 / np.sum(v**2 / (n - 1), axis=1)
    of_plants = stats.t.ppf(0.975, own) * np.sqrt(v.sum(axis=1))
    return float((np.abs(gap.mean(axis=1)) > np.maximum(of_units, of_plants)).mean())


def test_chances_of_shares_come_from_simulated_seasons(tmp_path: Path) -> None:
    """At the past dispersion, at its upper limit, and averaged over what it leaves open.

    phi of (4 blocks, 8 plants) and its 3 df as above; seasons have phi 3 df/chi-square(3)/df
    times as large, plots that correlate by (phi - 1)/7 (Kish 1965), held to 0 to 0.9.
    """
    _, results = season_of_lives(tmp_path)
    past = ws.write_report(results, tmp_path / "report")
    known = past_variance(results.responses[0])
    assert isinstance(known, PastVariance)
    (tmp_path / "next").mkdir()
    text = SURVIVAL.replace(", drawn: elsewhere", ", blocks: 9, plants_per_plot: 8")
    (tmp_path / "next" / "trial.yaml").write_text(text, encoding="utf-8")
    row = row_of(tmp_path / "next" / "trial.yaml", past)
    assert "simulated seasons" in row.note
    p = [known.shares["hand"], known.shares["hand"] + 0.2]

    def reached(scale: np.ndarray) -> float:
        return shown_of_lives(p, np.clip((known.variance * scale - 1) / 7, 0.0, 0.9), 9, 8)

    one = np.ones(40_000)
    wide = 3 / stats.chi2.ppf(0.2, 3)
    draws = 3 / np.random.default_rng(3).chisquare(3, 40_000)
    for claim, found, seasons in (
        (row.power, reached(one), 10_000),
        (row.power_upper, reached(wide * one), 5_000),
        # twelve equally probable variances stand for all of them: half a point more
        (row.assurance, reached(draws), 30_000),
    ):
        assert claim is not None
        error = math.sqrt(found * (1 - found) * (1 / seasons + 1 / 40_000))
        assert abs(claim - found) < 4 * error + 0.005, (claim, found)
    # closed forms from the same levels, within 4 points of the chance that they stand for
    for smallest, scale in ((row.detectable, 1.0), (row.detectable_upper, wide)):
        if smallest is not None:
            p[1] = p[0] + smallest
            assert abs(reached(scale * one) - 0.8) < 0.04, smallest
    assert row.detectable is not None
    assert row.blocks_needed is not None
    rho = np.clip((known.variance * one - 1) / 7, 0.0, 0.9)
    found = shown_of_lives([p[0], p[0] + 0.2], rho, round(row.blocks_needed), 8)
    assert abs(found - 0.8) < 0.04, row.blocks_needed
    closed = ws.power(ws.read_trial(tmp_path / "next" / "trial.yaml"), past=past, seasons=0)
    assert closed.past is not None
    assert closed.past.rows[0].note.startswith("approximate")


def test_a_rehearsal_takes_the_past_spread_under_the_files_levels(
    growth: Path, tmp_path: Path, capsys
) -> None:
    assume = "power: {assume: {weight: {mean: {old: 7, new: 8}, plot_sd: 99, block_sd: 1}}}\n"
    more = "plan: {primary: weight, matters: {weight: {difference: 0.8}}}\n"
    path = trial_of(
        tmp_path, more=more + assume.replace(", block_sd: 1", ""),
        response="{name: weight, kind: measurement, column: weight, measured_in: g}",
    )  # fmt: skip
    trial = ws.read_trial(path)
    times = []
    for seed in (1, 2):
        rehearsal = ws.rehearse(trial, seed, past=growth)
        given = rehearsal.trial.power.assume["weight"]  # as its archived trial file has it
        assert given.mean == {"old": 7, "new": 8}
        assert given.plot_sd is not None
        times.append(given.plot_sd**2 / VARIANCE)
        said = next(line for line in rehearsal.assumed if "is taken from the season of" in line)
        assert f"{DF} degrees of freedom, times {number(times[-1], 2)}," in said
        assert rehearsal.results.simulated
    assert times[0] != times[1]
    assert all(stats.chi2.ppf(1e-4, DF) < DF / t < stats.chi2.ppf(1 - 1e-4, DF) for t in times)
    assert ws.rehearse(trial, 2, past=growth).files == rehearsal.files
    out = tmp_path / "rehearsed"
    assert run(["rehearse", str(path), "--from", str(growth), "--out", str(out)]) == 0
    assert "its variance, known by 27 degrees of freedom" in capsys.readouterr().out
    assert ws.audit(out).serious == 0


def test_a_rehearsal_from_a_report_that_does_not_fit_is_refused(
    growth, tmp_path, capsys
) -> None:
    response = "{name: mass, kind: measurement, column: weight, measured_in: g}"
    path = trial_of(tmp_path, response=response, more="plan: {primary: mass}\n")
    assert run(["rehearse", str(path), "--from", str(growth)]) == 1
    assert "no response mass; there are: weight" in capsys.readouterr().err


COUNTS = {"hand": [31, 22, 40, 28], "wick": [60, 41, 55, 47]}  # by block


def test_counts_keep_the_scatter_of_single_fruits(tmp_path: Path) -> None:
    text = SURVIVAL.replace("lifetimes: {file: lives.csv}", "picks: {file: picks.csv}")
    text = text.replace("kind: survival, at: [100]", "kind: count, column: count")
    text = text.replace("difference: 0.2", "ratio: 1.5")
    (tmp_path / "trial.yaml").write_text(text.replace("survival", "fruits"), encoding="utf-8")
    layout, picks = ["plot,block,watering"], ["plot,count"]
    for arm, counts in COUNTS.items():
        for block, count in enumerate(counts, start=1):
            layout.append(f"{arm}{block},{block},{arm}")
            picks.append(f"{arm}{block},{count}")
    (tmp_path / "layout.csv").write_text("\n".join(layout) + "\n")
    (tmp_path / "picks.csv").write_text("\n".join(picks) + "\n")
    trial = ws.read_trial(tmp_path / "trial.yaml")
    results = ws.analyze(trial, ws.read_records(trial))
    past = ws.write_report(results, tmp_path / "report")
    planned = ws.power(trial, past=past)
    assert planned.past is not None
    (row,) = planned.past.rows
    # complete blocks of two arms: half the variance of the differences of log(count + 1/2)
    logs = {arm: np.log(np.array(x) + 0.5) for arm, x in COUNTS.items()}
    pooled = float(np.var(logs["wick"] - logs["hand"], ddof=1)) / 2
    single = float(np.mean([1.0 / np.mean(x) for x in COUNTS.values()]))
    assert row.sd == pytest.approx(math.sqrt(max(pooled, single)), rel=1e-9)
    assert "approximate" in row.note
    assert "exact" not in row.note


def test_more_plants_a_plot_take_only_their_own_variance_away() -> None:
    sizes = PastVariance(0.5, 10.0, 4.0, 0.8, {})
    assert sizes.with_plants(4.0) == 0.5
    assert sizes.with_plants(8.0) == pytest.approx(0.3 + 0.1)
    assert PastVariance(0.1, 10.0, 4.0, 0.8, {}).with_plants(8.0) == pytest.approx(0.1)
    shares = PastVariance(1.7, 10.0, 8.0, None, {"": 0.5})
    # 1 + (m - 1) rho with rho = 0.1
    assert shares.with_plants(16.0) == pytest.approx(2.5)
    assert PastVariance(0.6, 10.0, 8.0, None, {"": 0.5}).with_plants(16.0) == 1.0


def tampered(growth: Path, out: Path) -> Path:
    shutil.copytree(growth, out)
    path = out / "results.json"
    path.write_text(path.read_text().replace('"df": 27', '"df": 270'))
    return out


def without_results(growth: Path, out: Path) -> Path:
    shutil.copytree(growth, out)
    (out / "results.json").unlink()
    files = {"report.html": (out / "report.html").read_bytes()}
    (out / "manifest.json").write_bytes(write_manifest(make_manifest(files, trial="x")))
    return out


def empty(growth: Path, out: Path) -> Path:
    del growth
    out.mkdir()
    return out


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (
            empty,
            ["not a report's folder", "no manifest.json", "a folder that wickstats analyze"],
        ),
        (
            tampered,
            ["changed since it was written", "not the one that the manifest lists", "archive"],
        ),
        (without_results, ["missing file", "no results.json"]),
        (lambda _, out: out, ["not a report's folder", "no such folder"]),
    ],
    ids=["empty", "tampered", "no results", "no folder"],
)
def test_folders_that_cannot_be_used(make, says, growth, tmp_path, capsys) -> None:
    past = make(growth, tmp_path / "past")
    assert run(["power", str(trial_of(tmp_path / "new")), "--from", str(past)]) == 1
    told = capsys.readouterr().err
    assert [text for text in says if text not in told] == []
    assert "Traceback" not in told


@pytest.mark.parametrize(
    ("response", "says"),
    [
        (
            "{name: weight, kind: measurement, column: weight, measured_in: cm}",
            ["another unit", "weight measured in g", "weight measured in cm"],
        ),
        (
            "{name: weight, kind: score, column: weight, range: [0, 9]}",
            ["another response", "of kind measurement, as measured", "of kind score"],
        ),
        (
            "{name: weight, kind: measurement, column: weight, measured_in: g, scale: log}",
            ["another response", "weight of kind measurement, log"],
        ),
        (
            "{name: height, kind: measurement, column: height_cm}",
            ["response missing", "no response height; there are: weight"],
        ),
    ],
)
def test_responses_that_do_not_fit(response, says, growth, tmp_path, capsys) -> None:
    trial = trial_of(tmp_path / "new", response=response, more="plan: {confidence: 0.95}\n")
    assert run(["power", str(trial), "--from", str(growth)]) == 1
    told = capsys.readouterr().err
    assert [text for text in says if text not in told] == []


def test_a_response_more_is_told_and_the_rest_is_sized(growth, tmp_path) -> None:
    both = (
        "{name: weight, kind: measurement, column: weight, measured_in: g}, "
        "{name: height, kind: measurement, column: height_cm}"
    )
    planned = ws.power(
        ws.read_trial(trial_of(tmp_path, response=both, more="plan: {}\n")), past=growth
    )
    assert planned.past is not None
    assert "no response height; there are: weight" in planned.past.notes
    (row,) = planned.past.rows
    assert (row.difference, row.power, row.assurance) == (None, None, None)
    assert row.not_estimable is not None
    assert "plan.matters" in row.not_estimable
    assert row.detectable is not None


def test_on_the_screen_and_for_programs(growth, tmp_path, capsys) -> None:
    trial = trial_of(tmp_path / "new")
    assert run(["power", str(trial), "--from", str(growth)]) == 0
    shown = capsys.readouterr().out
    assert "From the season of plant-growth (results.json " in shown
    assert (
        "weight: a unit's value had an SD of 0.623 on the model's scale (27.0 degrees" in shown
    )
    assert "new against old" in shown
    assert run(["power", str(trial), "--from", str(growth), "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["past"]["trial"] == "plant-growth"
    assert len(plain["past"]["sha256"]) == 64
    assert plain["past"]["rows"][0]["df"] == 27.0
    assert run(["power", str(trial), "--json"]) == 1  # nothing is assumed
    assert json.loads(capsys.readouterr().out)["past"] is None
