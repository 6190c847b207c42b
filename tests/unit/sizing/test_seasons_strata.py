"""Simulated split-plots and strip-plots, restricted means, log-rank scores.

Seasons drawn for power are written as the crew's tables, read and analyzed as any season:
limits and p must be those of the whole analysis. Chances are held against closed forms
(noncentral t by strata; Schoenfeld 1981, Biometrika 68:316, for log-rank scores).
"""

import pickle

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from support_simulate import trial_of

import wickstats as ws
from wickstats.layout.randomize import draw
from wickstats.sizing import seasons
from wickstats.sizing.adapted import adapted
from wickstats.sizing.plan import plan_power
from wickstats.sizing.plots import sizes_of
from wickstats.sizing.run import Means, simulate
from wickstats.sizing.season_limits import Drawn, limits_of
from wickstats.sizing.season_lives import log_rank_p, times_lived
from wickstats.sizing.season_strata import strata_limits
from wickstats.sizing.seasons import Work, lives_works, work_of

HEAD = """\
format: 1
trial: {id: small, season: {start: 2027-03-15, end: 2027-10-11}}
factors:
  line: {applied_to: BIG, levels: [{name: a, reference: true}, {name: b}]}
  mulch: {applied_to: SMALL, levels: [{name: x, reference: true}, {name: y}, {name: z}]}
design: {type: TYPE, blocks: 5, plants_per_plot: 8, layout: layout.csv}
records: {visits: {file: v.csv}, picks: {file: p.csv}, measurements: {file: m.csv}}
"""
PIECES = {
    "split-plot": ("whole plot", "subplot"),
    "strip-plot": ("row strip", "column strip"),
}
RESPONSES = """\
  - {name: survival, kind: survival, at: 2027-10-11, better: more}
  - {name: fruits, kind: count, column: count}
  - {name: size, kind: measurement, column: cm, measured_in: cm}
"""
PLAN = """\
plan:
  primary: NAME
  comparisons:
    - {factor: mulch, compare: each with the reference}
    - {factor: line, compare: each with the reference}
    - {factor: line, compare: each with the reference, within: mulch}
"""
CELLS = ("a x x", "a x y", "a x z", "b x x", "b x y", "b x z")


def levels(*values: float) -> str:
    return ", ".join(f"{c}: {v}" for c, v in zip(CELLS, values, strict=True))


ASSUMED = {
    "survival": f"{{alive_at_end: {{{levels(0.5, 0.7, 0.6, 0.6, 0.8, 0.8)}}}, "
    "plot_correlation: 0.1, whole_plot_correlation: 0.05, block_correlation: 0.02}",
    "fruits": f"{{mean: {{{levels(20, 30, 25, 28, 40, 30)}}}, "
    "plot_cv: 0.2, whole_plot_cv: 0.2}",
    "size": f"{{mean: {{{levels(20, 23, 25, 21, 25, 26)}}}, plot_sd: 2, plant_sd: 3, "
    "whole_plot_sd: 1.5}",
}


def assume(*names: str) -> str:
    return "".join(f"    {name}: {ASSUMED[name]}\n" for name in names)


def pieces(
    design: str,
    responses: str = RESPONSES,
    assumed: str = assume(*ASSUMED),
    primary: str = "survival",
):
    big, small = PIECES[design]
    head = HEAD.replace("TYPE", design).replace("BIG", big).replace("SMALL", small)
    trial = trial_of(responses, assumed, head=head, rest=PLAN.replace("NAME", primary))
    return trial, draw(trial, 3)


def work(trial, layout, name: str) -> Work:
    what = adapted(trial, trial.response(name), sizes_of(trial, layout))
    found = work_of(trial, layout, name, what)
    assert isinstance(found, Work)
    return found


def picks(layout, counts) -> pd.DataFrame:
    return pd.DataFrame(
        {"plot": [p.plot for p in layout.plots], "date": "2027-10-11", "count": counts}
    )


def visits(layout, alive, plants) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "date": "2027-10-11",
            "plot": [p.plot for p in layout.plots],
            "plant": "",
            "status": "",
            "alive_n": alive.astype(int),
            "dead_n": (plants - alive).astype(int),
            "not_found_n": 0,
        }
    )


def rows_of(trial, layout, tables, name: str, estimand: str):
    season = ws.read_records(trial, tables=tables, layout=layout)
    rows = ws.analyze(trial, season).response(name).comparisons
    return [r for r in rows if r.estimand == estimand][:6]


def adjusted(row) -> tuple[float, float]:
    return (
        row.low_adjusted if row.low_adjusted is not None else row.low,
        row.high_adjusted if row.high_adjusted is not None else row.high,
    )


@pytest.mark.parametrize("design", list(PIECES))
@pytest.mark.parametrize("name", ["survival", "fruits"])
def test_several_strata_as_the_analysis_judges_them(design: str, name: str) -> None:
    line = [r for r in RESPONSES.splitlines() if name in r]
    trial, layout = pieces(design, line[0], assume(name), name)
    ready = seasons._ready(pickle.dumps(work(trial, layout, name)))
    drawn = seasons.draw_seasons(ready.model, name, 1, seed=4)
    low, high = strata_limits(ready.ruled, ready.layout, seasons._single_values(drawn, None))
    if name == "survival":
        tables = {"visits": visits(layout, drawn.values[0], drawn.plants[0])}
        found = rows_of(trial, layout, tables, name, "share alive")
    else:
        tables = {"picks": picks(layout, drawn.values[0].astype(int))}
        found = rows_of(trial, layout, tables, name, "total")
    assert len(found) == low.shape[1] == 6
    for k, row in enumerate(found):
        ends = np.array([low[0, k], high[0, k]])
        ends = np.exp(ends) if row.measure == "ratio" else np.clip(ends, -1.0, 1.0)
        # critical values come from a series, right to 1e-6 of themselves
        assert ends == pytest.approx(adjusted(row), abs=2e-5 * (1 + abs(ends).max()))


@pytest.mark.parametrize("design", list(PIECES))
def test_chances_in_several_strata_agree_with_closed_forms(design: str) -> None:
    trial, layout = pieces(design)
    names = ("size", "survival", "fruits")
    done = simulate([work(trial, layout, n) for n in names], [8, 8, 8], Means())
    planned = plan_power(trial).rows
    for name, tally in zip(names, done.tallies, strict=True):
        claimed = [
            r.power for r in planned if r.response == name and r.note.startswith("power")
        ]
        assert len(claimed) == tally.shown.size == 6
        for k, power in enumerate(claimed):
            error = np.sqrt(power * (1 - power) / tally.seasons)
            within = k < 3  # main effects lie in one stratum: exact for normal sizes
            near = 4 * error if name == "size" and within else 0.03 if name == "size" else 0.1
            assert abs(tally.chance(k) - power) < near, (name, k)


def lives_table(layout, ended, rounds) -> pd.DataFrame:
    """One row a plant and visit, until it is found dead."""
    start, rows = pd.Timestamp("2027-03-15"), []
    for plot, deaths in zip(layout.plots, ended, strict=True):
        died = np.repeat(np.arange(deaths.size), deaths.astype(int))
        for plant, last in enumerate(died, start=1):
            for v, day in enumerate(rounds):
                date = (start + pd.Timedelta(days=int(day))).date().isoformat()
                status = "dead" if v == last else "alive"
                rows.append((date, plot.plot, plant, status))
                if v == last:
                    break
    return pd.DataFrame(rows, columns=["date", "plot", "plant", "status"])


LIVES = "  - {name: survival, kind: survival, at: 2027-08-30, better: more}"
BLOCKS = """\
format: 1
trial: {id: small, season: {start: 2027-03-15, end: 2027-10-11}}
factors: {watering: [{name: hand, reference: true}, {name: wick}, {name: drip}]}
design: {type: randomized complete block, blocks: 5, plants_per_plot: 6, layout: layout.csv}
records: {visits: {file: visits.csv}}
"""
CREW = "  crew: {visits_every_d: 28}\n"


@pytest.mark.parametrize("design", ["randomized complete block", "split-plot"])
def test_lives_by_visit_as_the_analysis_judges_them(design: str) -> None:
    if design == "split-plot":
        trial, layout = pieces(design, LIVES, assume("survival") + CREW)
        term = "mulch"
    else:
        told = "    survival: {alive_at_end: {hand: 0.5, wick: 0.8, drip: 0.7}}\n" + CREW
        trial = trial_of(LIVES, told, head=BLOCKS)
        layout, term = draw(trial, 3), "treatment"
    restricted, tested = lives_works(trial, layout, "survival", term)
    ready = seasons._ready(pickle.dumps(restricted))
    score = seasons._ready(pickle.dumps(tested))
    drawn = seasons.draw_seasons(ready.model, "survival", 1, seed=4, visits=ready.visits)
    lived = times_lived(drawn.ended, ready.visits, ready.horizon)
    assert ready.horizon == 168
    if design == "split-plot":
        low, high = strata_limits(
            ready.ruled, ready.layout, seasons._single_values(drawn, lived)
        )
    else:
        given = Drawn(drawn.values, drawn.plants, lived)
        low, high, _ = limits_of(ready.ruled, ready.layout, given)
    p = log_rank_p(score.layout, drawn.ended, score.units.block_codes)
    table = lives_table(layout, drawn.ended[0], ready.visits)
    season = ws.read_records(trial, tables={"visits": table}, layout=layout)
    found = ws.analyze(trial, season).response("survival")
    rows = [c for c in found.comparisons if c.estimand.startswith("restricted")]
    for k in range(low.shape[1]):
        one = rows[k].adjustment == "none" or design == "split-plot"
        near = 1e-4 if one else 2e-3  # the widest at nearly the family's level
        got = np.array([low[0, k], high[0, k]])
        assert got == pytest.approx(adjusted(rows[k]), abs=near * np.ptp(got))
    (row,) = [t for t in found.tests if t.term.startswith(f"{term}, log-rank")]
    assert p[0] == pytest.approx(row.p, rel=1e-6)


def test_log_rank_chance_is_schoenfelds_where_plants_are_alone() -> None:
    """Noncentrality log(ratio) root(deaths)/2, in t of blocks - 1 degrees of freedom.

    Of two p, on scores as they are and aligned, the larger counts: a few points less.
    """
    head = BLOCKS.replace("blocks: 5", "blocks: 16").replace("_plot: 6", "_plot: 12")
    head = head.replace(", {name: drip}", "")
    alive = (0.5, 0.62)
    told = (
        f"    survival: {{alive_at_end: {{hand: {alive[0]}, wick: {alive[1]}}},"
        " plot_correlation: 0, block_correlation: 0}\n  crew: {visits_every_d: 7}\n"
    )
    trial = trial_of(LIVES, told, head=head)
    _, tested = lives_works(trial, draw(trial, 3), "survival", "treatment")
    tally = simulate([tested], [2], Means()).tallies[0]
    deaths = 16 * 12 * sum(1 - a for a in alive)
    shift = abs(np.log(np.log(alive[1]) / np.log(alive[0]))) * np.sqrt(deaths) / 2
    cut = stats.t.ppf(0.975, 15)
    power = 1 - stats.nct.cdf(cut, 15, shift) + stats.nct.cdf(-cut, 15, shift)
    slack = 4 * tally.error(0) + 0.01
    assert power - 0.05 - slack < tally.chance(0) < power + slack


def test_restricted_means_chance_is_that_of_a_t_test_of_plots() -> None:
    """Exponential lives to the horizon, plants apart: variance of a plot's mean by hand."""
    head = BLOCKS.replace("blocks: 5", "blocks: 12").replace("_plot: 6", "_plot: 12")
    head = head.replace(", {name: drip}", "")
    alive, days = np.array([0.5, 0.65]), 210.0
    told = (
        f"    survival: {{alive_at_end: {{hand: {alive[0]}, wick: {alive[1]}}},"
        " plot_correlation: 0, block_correlation: 0}\n  crew: {visits_every_d: 7}\n"
    )
    lives = LIVES.replace("2027-08-30", "2027-10-11")
    trial = trial_of(lives, told, head=head)
    restricted, _ = lives_works(trial, draw(trial, 3), "survival", "treatment")
    tally = simulate([restricted], [2], Means()).tallies[0]
    rate = -np.log(alive) / days
    mean = (1 - alive) / rate
    square = 2 / rate**2 * (1 - alive * (1 + rate * days))
    variance = square - mean**2
    shift = (mean[1] - mean[0]) / np.sqrt(variance.sum() / 12 / 12)
    cut = stats.t.ppf(0.975, 11)
    power = 1 - stats.nct.cdf(cut, 11, shift) + stats.nct.cdf(-cut, 11, shift)
    # of two intervals the wider one counts: somewhat below the t test of plots alone
    assert power - 0.12 < tally.chance(0) < power + 4 * tally.error(0)
