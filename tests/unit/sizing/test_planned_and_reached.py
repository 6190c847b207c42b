"""After the season: what was planned to show beside what would show now."""

from dataclasses import replace
from pathlib import Path

import pytest

import wickstats as ws
from wickstats.pages.blocks import Table
from wickstats.report.power import power_part
from wickstats.sizing.season import reached_rows

OAKS = Path(ws.__file__).parent / "demo" / "quarry-oaks" / "trial.yaml"


@pytest.fixture(scope="module")
def results():
    trial = ws.read_trial(OAKS)
    return ws.analyze(trial, ws.read_records(trial))


def test_planned_and_reached_stand_side_by_side(results) -> None:
    tables = [b for b in power_part(results).blocks if isinstance(b, Table)]
    (beside,) = [t for t in tables if t.caption.startswith("Planned and reached")]
    planned = [r for r in results.power.planned if r.note.startswith("smallest detectable")]
    assert len(beside.rows) == len(planned)
    for cells, plan in zip(beside.rows, planned, strict=True):
        assert cells[:2] == (plan.response, plan.comparison)
        assert float(cells[2]) == pytest.approx(plan.difference, abs=0.006)
        now = [
            r
            for r in results.power.reached
            if (r.response, r.comparison, r.measure)
            == (plan.response, plan.comparison, plan.measure)
        ]
        if plan.response == "survival":  # the last of two dates carries the verdict
            now = [r for r in now if r.note.startswith("share alive; 2025-10-13")]
            assert cells[3] == {"capillary wick against hand watering": "0.300"}.get(
                plan.comparison, cells[3]
            )
        assert float(cells[3]) == pytest.approx(now[0].difference, abs=0.006)


def test_next_season_is_told_at_the_point_and_at_the_upper_limit(results) -> None:
    rows = [r for r in results.power.next_season if r.blocks is not None]
    assert rows
    for row in rows:
        assert row.low == row.blocks
        assert row.high is None or row.high >= row.blocks
        assert "one-sided 80 % upper limit" in row.note


def test_no_share_is_told_to_differ_by_more_than_all(results) -> None:
    """A season of two blocks could show no two shares apart: told so, with no number."""
    survival = next(r for r in results.responses if r.name == "survival")
    rows = [c for c in survival.comparisons if c.estimand == "share alive" and c.se]
    wide = replace(survival, comparisons=tuple(replace(c, se=0.3, df=1.0) for c in rows))
    for row in reached_rows(wide, confidence=0.95, target=0.8):
        assert row.difference is None
        assert (row.not_estimable or "").startswith("no difference that can be")
