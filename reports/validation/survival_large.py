"""Log-rank scores where plots live or die together, at 100,000 seasons a cell.

There few scores of a block have short tails, and a curve for every block rejected most:
three cells of the study, and one beyond it. Run in chunks that are kept in
survival_large.json, so that a run that was stopped goes on.
Run: ``python survival_large.py``. Leans on survival_cells and survival_run.
"""

import json
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
FILE = HERE / "survival_large.json"
CHUNK, CHUNKS, SEED = 10_000, 10, 20_260_101
# blocks, arms, plants a plot, plot correlation, share alive; arms equal, nothing lost
SETTINGS = (
    (4, 2, 12, 0.3, 0.3),
    (4, 2, 8, 0.3, 0.3),
    (3, 4, 8, 0.3, 0.3),
    (3, 2, 30, 0.4, 0.2),
)


def large_cells() -> list[Any]:
    """The cells; the last lies beyond those of the study."""
    from survival_cells import SurvivalCell

    return [SurvivalCell(*setting, "global null", "complete") for setting in SETTINGS]


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
