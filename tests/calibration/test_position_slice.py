"""Position as covariate: a slice held to its bounds, and the stored study and its words."""

import json
from math import sqrt
from pathlib import Path

import position_run
import pytest
from position_run import PositionCell

FOLDER = Path(position_run.__file__).parent
CELLS = json.loads((FOLDER / "position.json").read_text(encoding="utf-8"))["cells"]
SEASONS = 2_000


def four(rate: float) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / SEASONS)


@pytest.mark.parametrize(
    "cell",
    [
        PositionCell(3, 2, 4.0, 0, "global null"),
        PositionCell(3, 4, 4.0, 1, "partial null"),
        PositionCell(6, 3, 1.0, 1, "global null"),
    ],
)
def test_a_slice_rejects_five_percent_and_covers(cell: PositionCell) -> None:
    found = position_run.run_position(cell, SEASONS, 11)
    assert found["judged"] == SEASONS
    assert abs(found["rejection"] - 0.05) <= four(0.05)
    assert abs(found["coverage"] - 0.95) <= four(0.05)
    assert found["coverage_means"] >= 0.95 - four(0.05)


def test_without_the_covariate_a_steep_gradient_costs_width() -> None:
    assert (
        position_run.run_position(PositionCell(6, 4, 4.0, 0, "global null"), 500, 3)["half"]
        < 0.8
    )
    assert (
        position_run.run_position(PositionCell(6, 4, 0.0, 0, "global null"), 500, 3)["half"]
        > 1.0
    )


def test_the_stored_study_keeps_its_bounds() -> None:
    assert [PositionCell(**c["settings"]) for c in CELLS] == position_run.position_cells()
    for cell in CELLS:
        assert cell["judged"] == cell["seasons"] >= 10_000
        for name in ("rejection", "rejection_all"):
            if cell[name] is not None:
                assert position_run.LEAST <= cell[name] <= position_run.MOST, cell
        assert cell["coverage"] >= position_run.COVER
        assert cell["coverage_means"] >= position_run.COVER


def test_what_is_quoted_is_what_was_found() -> None:
    summary = json.loads((FOLDER / "summary.json").read_text(encoding="utf-8"))["position"]
    of = position_run.summarize_position(CELLS)
    assert summary == of
    text = " ".join((FOLDER.parents[1] / "README.md").read_text(encoding="utf-8").split())
    low = min(of["rejection"]["lowest"], of["rejection_all"]["lowest"])
    high = max(of["rejection"]["highest"], of["rejection_all"]["highest"])
    covered = min(of["coverage"]["lowest"], of["coverage_means"]["lowest"])
    assert f"{of['cells']} settings of 3 to 8 blocks" in text
    assert f"{100 * low:.1f} to {100 * high:.1f} % of seasons" in text
    assert f"cover {covered:.3f} or more" in text
    assert f"widens intervals by {100 * (of['half_width']['0'] - 1):.0f} %" in text
