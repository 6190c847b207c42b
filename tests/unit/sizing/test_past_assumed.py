"""A past season's numbers as assumptions: a rehearsed season gives back what it was made of."""

import math

import pytest
from support_simulate import HEAD, trial_of

import wickstats as ws
from wickstats.core.results import Results
from wickstats.design.trial import Assumption
from wickstats.sizing.past import PastVariance, past_variance
from wickstats.sizing.past_assumed import assumed_of

LIVES = "  - {name: survival, kind: survival, at: 2027-10-11}"
RESPONSES = """\
  - {name: mass, kind: measurement, column: g, measured_in: g}
  - {name: height, kind: growth, column: cm, measured_in: cm}
  - {name: fruits, kind: count, column: count}
"""
ALIVE = """\
    survival: {alive_at_end: {hand: 0.5, wick: 0.8, drip: 0.7}, plot_correlation: 0.25}
"""
ASSUMED = """\
    mass: {mean: {hand: 40, wick: 50, drip: 45}, plot_sd: 5, plant_sd: 6, block_sd: 4}
    height: {mean: {hand: 40, wick: 50, drip: 45}, plot_cv: 0.15, plant_cv: 0.2}
    fruits: {mean: {hand: 20, wick: 25, drip: 22}, plot_cv: 0.4}
"""
CREW = "  crew: {plots_lost: 0, plants_lost: 0, not_found: 0, reading_cv: 0}"
BLOCKS = 40


def season_of(responses: str, assumed: str) -> Results:
    head = HEAD.replace("blocks: 5", f"blocks: {BLOCKS}")
    return ws.rehearse(trial_of(responses, assumed, head=head, rest=CREW), seed=5).results


@pytest.fixture(scope="module")
def past() -> Results:
    """Sizes and counts; apart from survival, which leaves plots without a size."""
    return season_of(RESPONSES, ASSUMED)


@pytest.fixture(scope="module")
def lives() -> Results:
    return season_of(LIVES, ALIVE)


def again(past: Results, name: str, scale: float = 1.0) -> Assumption:
    response = next(r for r in past.responses if r.name == name)
    known = past_variance(response)
    assert isinstance(known, PastVariance)
    assert known.df == pytest.approx(2 * (BLOCKS - 1), rel=0.1)
    found = assumed_of(response, known, scale=scale)
    assert isinstance(found, Assumption)
    return found


def near(found: float | None, expected: float, relative_error: float) -> None:
    """Within four of the estimate's own standard errors."""
    assert found == pytest.approx(expected, rel=4 * relative_error)


def test_numbers_come_back(past: Results) -> None:
    mass = again(past, "mass")
    # a standard deviation on df degrees of freedom errs by 1/sqrt(2 df) of itself
    near(mass.plot_sd, 5.0, 1.25 / math.sqrt(4 * BLOCKS))
    near(mass.plant_sd, 6.0, 1 / math.sqrt(2 * 15 * BLOCKS))
    near(mass.block_sd, 4.0, 1.3 / math.sqrt(2 * BLOCKS))
    near(mass.mean["wick"], 50.0, 6.5 / math.sqrt(BLOCKS) / 50)
    height = again(past, "height")
    near(height.plot_cv, 0.15, 1.2 / math.sqrt(4 * BLOCKS))
    near(height.plant_cv, 0.2, 1 / math.sqrt(2 * 15 * BLOCKS))
    near(height.mean["wick"], 50.0, 0.22 / math.sqrt(BLOCKS))


def test_shares_and_counts_come_back(past: Results, lives: Results) -> None:
    found = again(lives, "survival")
    near(found.plot_correlation, 0.25, 0.2)
    near(found.alive_at_end["wick"], 0.8, 0.25 / math.sqrt(BLOCKS))
    fruits = again(past, "fruits")
    near(fruits.plot_cv, 0.4, 1.3 / math.sqrt(4 * BLOCKS))
    assert set(fruits.mean) == {"hand", "wick", "drip"}


def test_scale_widens_plots_and_leaves_plants(past: Results, lives: Results) -> None:
    one, two = again(past, "mass"), again(past, "mass", scale=2.0)
    assert two.plant_sd == one.plant_sd
    unit = (one.plot_sd or 0.0) ** 2 + (one.plant_sd or 0.0) ** 2 / 6
    assert (two.plot_sd or 0.0) ** 2 + (two.plant_sd or 0.0) ** 2 / 6 == pytest.approx(2 * unit)
    assert (again(lives, "survival", scale=0.1).plot_correlation or 0.0) == 0.0


def test_seasons_are_drawn_from_it(past: Results, lives: Results) -> None:
    from wickstats.layout.randomize import draw
    from wickstats.simulate.assumed import NO_LOSSES
    from wickstats.simulate.resolve import season_model
    from wickstats.simulate.seasons import draw_seasons

    trial = trial_of(f"{LIVES}\n{RESPONSES}", "    {}")
    held = {name: again(past, name) for name in ("mass", "height", "fruits")}
    held["survival"] = again(lives, "survival")
    model = season_model(trial, draw(trial, 3), assume=held, crew=NO_LOSSES)
    drawn = draw_seasons(model, "mass", 2000, seed=1)
    wick = drawn.values[:, model.places.cells == 1]
    assert wick.mean() == pytest.approx(held["mass"].mean["wick"], rel=0.01)
