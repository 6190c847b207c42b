"""Bulk seasons go into the batch engine as they are, and give the power of closed forms."""

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import nct, t
from support_simulate import model_of, trial_of

import wickstats as ws
from wickstats.analysis.units import lay_out_units
from wickstats.models.batch.dispersion import judge_shares
from wickstats.models.batch.layout import lay_batch
from wickstats.models.batch.lives import score_seasons
from wickstats.models.batch.strata import judge_units
from wickstats.simulate.places import places_of
from wickstats.simulate.seasons import draw_seasons

ROOT = Path(__file__).parents[3]
TYPES = sorted((ROOT / "designs" / "types").iterdir())
SIZE = "  - {name: mass, kind: measurement, column: g, measured_in: g}"
LIVES = "  - {name: survival, kind: survival, at: 2027-10-11}"
DIFFERENCES = np.array([[-1.0, 1.0, 0.0], [-1.0, 0.0, 1.0]])
S = 20_000


@pytest.mark.parametrize("folder", TYPES, ids=lambda p: p.name)
def test_units_stand_as_the_analysis_lays_them_out(folder: Path) -> None:
    trial = ws.read_trial(folder / "trial.yaml")
    layout = ws.read_layout(trial)
    places, units = places_of(trial, layout), lay_out_units(trial, layout)
    assert places.units == units.names
    assert places.cell_names == units.cell_names
    np.testing.assert_array_equal(places.cells, units.cells)
    assert [name for name, _ in places.grounds] == list(units.ground_names)
    assert [name for name, _ in places.pieces] == [s.name for s in units.strata[:-1]]


def test_power_of_means_is_the_noncentral_ts() -> None:
    assume = (
        "    mass: {mean: {hand: 40, wick: 45, drip: 40}, plot_sd: 2, plant_sd: 5, block_sd: 6}"
    )
    model = model_of(trial_of(SIZE, assume))
    blocks = model.places.grounds[0][1]
    layout = lay_batch(model.places.cells, 3, contrasts=DIFFERENCES, blocks=blocks)
    assert not isinstance(layout, str)
    drawn = draw_seasons(model, "mass", S, seed=1)
    judged = judge_units(layout, drawn.values).contrasts
    shown = (judged.p < 0.05).mean(axis=0)
    se = np.sqrt(2 * (2.0**2 + 5.0**2 / 6) / 5)  # 5 blocks, 6 plants a plot; df (5 - 1)(3 - 1)
    limit = t.ppf(0.975, 8)
    power = nct.sf(limit, 8, 5 / se) + nct.cdf(-limit, 8, 5 / se)
    for found, expected in zip(shown, (power, 0.05), strict=True):
        assert abs(found - expected) < 4 * np.sqrt(expected * (1 - expected) / S)


def test_shares_and_deaths_are_taken_as_they_are() -> None:
    assume = "    survival: {alive_at_end: {hand: 0.7, wick: 0.7, drip: 0.7}}"
    model = model_of(trial_of(LIVES, assume))
    blocks = model.places.grounds[0][1]
    layout = lay_batch(model.places.cells, 3, contrasts=DIFFERENCES, blocks=blocks)
    assert not isinstance(layout, str)
    drawn = draw_seasons(model, "survival", 4000, seed=2, visits=np.arange(14, 211, 14.0))
    rejected = (judge_shares(layout, drawn.values, drawn.plants).contrasts.p < 0.05).mean()
    assert rejected < 0.05 + 4 * np.sqrt(0.05 * 0.95 / 4000)
    assert drawn.ended is not None
    scores = score_seasons(drawn.ended[:, :, :-1], drawn.plants, blocks).scores
    # scores sum to nothing in every block
    sums = np.stack([scores[:, blocks == b].sum(axis=1) for b in range(5)])
    assert np.abs(sums).max() < 1e-9
