"""A second year: blind variance, blocks in all, treatments never read."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from support_simulate import trial_of

import wickstats as ws
from wickstats.analysis.units import lay_out_units
from wickstats.core.responses import UnitValue
from wickstats.layout.randomize import draw
from wickstats.models.power import blocks_needed
from wickstats.sizing.past import PastSeason
from wickstats.sizing.plots import sizes_of
from wickstats.sizing.seasons import planned_families
from wickstats.sizing.second_year import blind_variance, second_year

SIZE = "  - {name: mass, kind: measurement, column: g, measured_in: g}"
ASSUME = "    mass: {mean: {hand: 40, wick: 44, drip: 41}, plot_sd: 2, plant_sd: 3}"
HEAD = """\
format: 1
trial: {id: small, season: {start: 2027-03-15, end: 2027-10-11}}
factors: {watering: [{name: hand, reference: true}, {name: wick}, {name: drip}]}
design: {type: randomized complete block, blocks: 5, plants_per_plot: 6, layout: layout.csv}
records: {measurements: {file: m.csv}}
"""
PLAN = """\
plan:
  primary: mass
  comparisons: [{factor: watering, name: wick, weights: {wick: 1, hand: -1}}]
  matters: {mass: {difference: 3}}
"""


@pytest.fixture
def season() -> tuple:
    trial = trial_of(SIZE, ASSUME, head=HEAD, rest=PLAN)
    layout = draw(trial, 3)
    rng = np.random.default_rng(1)
    frame = pd.DataFrame(
        [
            {"date": "2027-10-11", "plot": p.plot, "plant": "1", "g": 40 + 3 * rng.normal()}
            for p in layout.plots
        ]
    )
    records = ws.read_records(trial, tables={"measurements": frame}, layout=layout)
    return trial, layout, ws.analyze(trial, records)


def corrected(trial, layout, results):
    sizes = sizes_of(trial, layout)
    families = planned_families(trial, lay_out_units(trial, layout))
    return second_year(trial, PastSeason(results, "0" * 64), sizes, families, 0.8)


def test_blind_variance_by_hand() -> None:
    def unit(block: str, value: float) -> UnitValue:
        return UnitValue(f"{block}{value}", block, None, "?", value, 1, None, None)

    found = blind_variance([unit("a", 1), unit("a", 3), unit("b", 10), unit("b", 10)])
    assert found == (2.0 / 2, 2.0, 2)
    with pytest.raises(ValueError, match="no block holds two units"):
        blind_variance([unit("a", 1)])


def test_blocks_in_all_are_those_of_a_trial_with_that_variance(season) -> None:
    trial, layout, results = season
    (row,) = corrected(trial, layout, results).rows
    values = pd.DataFrame(
        [(u.block, u.value) for u in results.response("mass").unit_summary.values],
        columns=["block", "value"],
    )
    within = values.value - values.groupby("block").value.transform("mean")
    sd = float(np.sqrt((within**2).sum() / 10))
    assert row.sd == pytest.approx(sd, rel=1e-12)
    assert row.first == 5
    assert row.whole == blocks_needed(3.0, sd, 3)
    assert row.second == max(row.whole - 5, 0)


def test_treatments_are_never_read(season) -> None:
    """Labels exchanged inside blocks, or taken away, change nothing."""
    trial, layout, results = season
    response = results.response("mass")
    blind = tuple(replace(u, treatment="") for u in response.unit_summary.values)
    summary = replace(response.unit_summary, values=blind)
    bare = replace(response, unit_summary=summary, comparisons=(), means=(), tests=())
    hidden = replace(results, responses=(bare,))
    assert corrected(trial, layout, hidden) == corrected(trial, layout, results)


def test_on_the_screen(season, tmp_path: Path) -> None:
    trial, _, results = season
    folder = ws.write_report(results, tmp_path / "first")
    text = "\n".join(ws.power(trial, past=folder, second_year=True).lines())
    assert "SD, blind" in text
    assert "Analyze both years together" in text
