"""The log-rank cells that came out highest, at 100,000 seasons each.

The highest of many cells is high by chance too: these two are run again with other seasons,
in chunks that are kept in survival_large.json, so that a run that was stopped goes on.
Run: ``python survival_large.py``. Leans on survival_cells and survival_run.
"""

import json
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
FILE = HERE / "survival_large.json"
CHUNK, CHUNKS, SEED = 10_000, 10, 20_260_101
# blocks, arms, plants a plot: plot correlation 0.3, 30 % alive, all arms equal, nothing lost
SETTINGS = ((4, 2, 12), (4, 2, 8))


def large_cells() -> list[Any]:
    """The two cells, as the study has them."""
    from survival_cells import survival_cells

    return [
        cell
        for setting in SETTINGS
        for cell in survival_cells()
        if (cell.blocks, cell.arms, cell.plants) == setting
        and (cell.correlation, cell.survival) == (0.3, 0.3)
        and (cell.truth, cell.loss) == ("global null", "complete")
    ]


def run_large(cell: Any, chunk: int, seasons: int = CHUNK) -> dict[str, Any]:
    """Seasons judged by the log-rank score and called different in one chunk."""
    from survival_run import run_survival

    score = run_survival(cell, seasons, SEED + chunk)["log-rank score"]
    judged = int(score["judged"])
    return {"chunk": chunk, "judged": judged, "called": round(score["rejection_all"] * judged)}


def summarize_large(cells: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rate and its standard error by cell."""
    out = []
    for cell in cells:
        judged = sum(part["judged"] for part in cell["chunks"])
        rate = sum(part["called"] for part in cell["chunks"]) / judged
        se = (rate * (1.0 - rate) / judged) ** 0.5
        out.append({"settings": cell["settings"], "seasons": judged, "rate": rate, "se": se})
    return out


def main() -> None:
    """Run what is missing."""
    held = json.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {"cells": []}
    for cell in large_cells():
        mine = next((c for c in held["cells"] if c["settings"] == cell.settings()), None)
        if mine is None:
            mine = {"settings": cell.settings(), "chunks": []}
            held["cells"].append(mine)
        done = {part["chunk"] for part in mine["chunks"]}
        for chunk in range(CHUNKS):
            if chunk not in done:
                mine["chunks"].append(run_large(cell, chunk))
                text = json.dumps({"seed": SEED, **held}, indent=1) + "\n"
                FILE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
