"""Simulated seasons are judged as the analysis judges them, and as closed forms reckon."""

import numpy as np
import pandas as pd
import pytest
from support_simulate import trial_of

import wickstats as ws
from wickstats.layout.randomize import draw
from wickstats.sizing import seasons
from wickstats.sizing.assumed import expected
from wickstats.sizing.plan import plan_power
from wickstats.sizing.plots import sizes_of
from wickstats.sizing.run import Means, simulate
from wickstats.sizing.season_limits import Drawn, limits_of
from wickstats.sizing.seasons import work_of

HEAD = """\
format: 1
trial: {id: small, season: {start: 2027-03-15, end: 2027-10-11}}
factors: {watering: [{name: hand, reference: true}, {name: wick}, {name: drip}]}
design: {type: randomized complete block, blocks: 5, plants_per_plot: 6, layout: layout.csv}
records: {visits: {file: visits.csv}, measurements: {file: m.csv}}
"""
LIVES = "  - {name: survival, kind: survival, at: 2027-10-11, better: more}"
SIZE = "  - {name: mass, kind: measurement, column: g, measured_in: g, better: less}"
PLAN = """\
plan:
  primary: NAME
  comparisons:
    - {factor: watering, compare: COMPARE, adjustment: ADJUST}
    - {factor: watering, name: both against hand, weights: {wick: 0.5, drip: 0.5, hand: -1}}
  matters: {NAME: {difference: 0.2}}
"""


def plan(name: str, compare: str, adjust: str) -> str:
    text = PLAN.replace("NAME", name).replace("COMPARE", compare)
    return text.replace("ADJUST", adjust)


def ready_of(trial, layout, name: str, *, losses: bool = False):
    import pickle

    sizes = sizes_of(trial, layout)
    what = expected(trial, trial.response(name), sizes.cells, sizes.plants)
    work = work_of(trial, layout, name, what, losses=losses)
    return seasons._ready(pickle.dumps(work))


def limits(ready, drawn, season: int):
    one = np.array([season])
    return limits_of(ready.ruled, ready.layout, Drawn(drawn.values[one], drawn.plants[one]))


@pytest.mark.parametrize("alive", [(0.5, 0.8, 0.7), (0.9, 0.97, 0.97)])
def test_shares_as_the_analysis_judges_them(alive: tuple[float, ...]) -> None:
    """Limits and verdicts of whole analyses of the very seasons, bounds included."""
    levels = "hand: {}, wick: {}, drip: {}".format(*alive)
    assume = f"    survival: {{alive_at_end: {{{levels}}}}}"
    rest = plan("survival", "each with the reference", "dunnett")
    trial = trial_of(LIVES, assume, head=HEAD, rest=rest)
    layout = draw(trial, 3)
    ready = ready_of(trial, layout, "survival")
    drawn = seasons.draw_seasons(ready.model, "survival", 8, seed=4)
    some_bound = False
    for s in range(8):
        visits = pd.DataFrame(
            {
                "date": "2027-10-11",
                "plot": [p.plot for p in layout.plots],
                "plant": "",
                "status": "",
                "alive_n": drawn.values[s].astype(int),
                "dead_n": (drawn.plants[s] - drawn.values[s]).astype(int),
                "not_found_n": 0,
            }
        )
        season = ws.read_records(trial, tables={"visits": visits}, layout=layout)
        rows = [
            c
            for c in ws.analyze(trial, season).response("survival").comparisons
            if c.estimand == "share alive"
        ]
        low, high, bounded = limits(ready, drawn, s)
        some_bound |= bool(bounded.any())
        assert len(rows) == 3
        for k, row in enumerate(rows):
            exact = bool(bounded[0, k]) or row.adjustment == "none"
            close = (
                1e-6 if exact else 1e-3
            )  # the widest of several at nearly the family's level
            shown_low = row.low_adjusted if row.low_adjusted is not None else row.low
            shown_high = row.high_adjusted if row.high_adjusted is not None else row.high
            assert max(low[0, k], -1.0) == pytest.approx(shown_low, abs=close)
            assert min(high[0, k], 1.0) == pytest.approx(shown_high, abs=close)
    assert some_bound == (alive[1] > 0.9)


@pytest.mark.parametrize(
    ("compare", "adjust"),
    [("each with the reference", "dunnett"), ("all pairs", "tukey"), ("all pairs", "holm")],
)
def test_exact_power_is_what_simulated_seasons_give(compare: str, adjust: str) -> None:
    """Noncentral t at the family's critical value; Bonferroni's intervals under Holm."""
    assume = "    mass: {mean: {hand: 40, wick: 44, drip: 41}, plot_sd: 2, plant_sd: 3}"
    rest = plan("mass", compare, adjust)
    trial = trial_of(SIZE, assume, head=HEAD, rest=rest)
    layout = draw(trial, 3)
    sizes = sizes_of(trial, layout)
    what = expected(trial, trial.responses[0], sizes.cells, sizes.plants)
    tally = simulate([work_of(trial, layout, "mass", what)], [8], Means()).tallies[0]
    claimed = [r.power for r in plan_power(trial).rows if r.note.startswith("power")]
    assert len(claimed) == tally.shown.size
    for k, power in enumerate(claimed):
        error = np.sqrt(power * (1 - power) / tally.seasons)
        assert abs(tally.chance(k) - power) < 4 * error
    assert (tally.any_shown >= tally.all_shown).all()
    assert tally.any_shown[0] >= tally.shown[:2].max()


def test_lost_plots_are_left_out_and_cost_power() -> None:
    assume = "    mass: {mean: {hand: 40, wick: 44, drip: 41}, plot_sd: 2, plant_sd: 3}"
    crew = "  crew: {plots_lost: 0.15}\n"
    trial = trial_of(SIZE, assume + "\n" + crew, head=HEAD)
    layout = draw(trial, 3)
    sizes = sizes_of(trial, layout)
    what = expected(trial, trial.responses[0], sizes.cells, sizes.plants)
    works = [work_of(trial, layout, "mass", what, losses=x) for x in (False, True)]
    none, some = simulate(works, [2, 2], Means()).tallies
    assert some.chance(0) < none.chance(0) - 0.02
    assert some.classes.sum(axis=1).tolist() == [some.seasons] * 2
