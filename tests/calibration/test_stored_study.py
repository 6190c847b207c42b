"""The stored study holds every cell, its summary follows from it, and its bounds hold."""

import json
from math import sqrt
from pathlib import Path

import study_cells
import study_summary

STORED = Path(study_cells.__file__).parent
RESULTS = json.loads((STORED / "results.json").read_text(encoding="utf-8"))
SUMMARY = json.loads((STORED / "summary.json").read_text(encoding="utf-8"))


def test_every_cell_is_there_in_order() -> None:
    settings = [cell["settings"] for cell in RESULTS["cells"]]
    assert settings == [cell.settings() for cell in study_cells.all_cells()]
    assert {cell["seasons"] for cell in RESULTS["cells"]} == {SUMMARY["seasons_a_cell"]}


def test_the_summary_follows_from_the_cells() -> None:
    again = study_summary.summarize(
        RESULTS["cells"], RESULTS["again"], RESULTS["usual"], RESULTS["seed"]
    )
    assert again == SUMMARY


def test_no_stored_cell_rejects_more_than_its_kind_may() -> None:
    for cell in RESULTS["cells"]:
        exact = cell["settings"]["kind"] in ("total", "size")
        bound = 0.05 if exact else 0.065
        bound += 4.0 * sqrt(bound * (1.0 - bound) / cell["judged"])
        for name in ("rejection", "rejection_all"):
            assert cell[name] is None or cell[name] <= bound, cell["settings"]
