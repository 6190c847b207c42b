"""Rebuild the calibration study: ``python reports/validation/build.py``.

Simulates every cell, writes results.json (every cell), summary.json (what may be quoted)
and index.html (the page). Cells are kept in .cache/ beside this file, so that an
interrupted run goes on where it stopped; a change to the code that is studied starts the
cells anew. Leans on joblib and the study's modules.
"""

import argparse
import hashlib
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
# what decides a cell's numbers besides the study's own modules
STUDIED = ("models/batch", "models/linear", "models/ratios")
OURS = ("study_cells", "study_seasons", "study_linear", "study_run")
AGAIN = 10  # times as many seasons for the cells with the highest rates
USUAL = ("study_cells", "study_seasons", "study_linear", "study_usual")
TRIALS = ("study_cells", "trial_cells", "trial_layouts", "trial_run")


def main(words: Sequence[str] | None = None) -> int:
    """Run what is missing and write the three files."""
    options = _options(words)
    os.environ.setdefault("OMP_NUM_THREADS", "1")  # processes, not threads
    os.environ["PYTHONPATH"] = os.pathsep.join([str(HERE), str(ROOT)])  # for the workers
    sys.path[:0] = [str(HERE), str(ROOT)]
    from study_cells import Cell, all_cells, usual_cells
    from study_page import study_page
    from study_run import run_cell
    from study_summary import highest_cells, summarize
    from study_usual import run_usual

    done = _run(run_cell, all_cells(), options.seasons, OURS, options)
    usual = _run(run_usual, usual_cells(), options.usual_seasons, USUAL, options)
    # the highest of many rates is partly luck: those cells once more, with other seasons
    fresh = argparse.Namespace(**{**vars(options), "seed": options.seed + 1})
    highest = [Cell(**settings) for settings in highest_cells(done)]
    again = _run(run_cell, highest, AGAIN * options.seasons, OURS, fresh)
    summary = summarize(done, again, usual, options.seed)
    results = {"seed": options.seed, "cells": done, "again": again, "usual": usual}
    _write("results.json", _lines(results).encode())
    _write("summary.json", (json.dumps(summary, indent=2) + "\n").encode())
    _write("index.html", study_page(done, usual, summary))
    print(f"{len(done)} cells of {options.seasons} seasons: {HERE / 'index.html'}")
    return 0


def _options(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Rebuild the calibration study.")
    parser.add_argument("--seasons", type=int, default=10_000, help="seasons a cell")
    parser.add_argument("--usual-seasons", type=int, default=400, help="for usual routes")
    parser.add_argument("--seed", type=int, default=20250317)
    parser.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1))
    parser.add_argument("--cache", type=Path, default=HERE / ".cache")
    return parser.parse_args(words)


def _run(
    work: Callable[..., dict[str, Any]],
    cells: Sequence[Any],
    seasons: int,
    modules: Sequence[str],
    options: argparse.Namespace,
) -> list[dict[str, Any]]:
    """Every cell's result, from the cache where it stands there."""
    from joblib import Parallel, delayed

    code = _digest(modules)
    options.cache.mkdir(parents=True, exist_ok=True)
    names = [f"{work.__name__}|{c.key}|{seasons}|{options.seed}|{code}" for c in cells]
    paths = [
        options.cache / f"{hashlib.sha256(n.encode()).hexdigest()[:24]}.json" for n in names
    ]
    Parallel(n_jobs=options.jobs)(
        delayed(_one)(work, cell, seasons, options.seed, path)
        for cell, path in zip(cells, paths, strict=True)
        if not path.exists()
    )
    return [json.loads(path.read_text(encoding="utf-8")) for path in paths]


def _one(
    work: Callable[..., dict[str, Any]], cell: Any, seasons: int, seed: int, path: Path
) -> None:
    text = json.dumps(work(cell, seasons, seed))
    partial = path.with_suffix(".partial")
    partial.write_text(text, encoding="utf-8")
    partial.replace(path)


def _digest(modules: Sequence[str]) -> str:
    """Digest of the code that decides a cell's numbers."""
    total = hashlib.sha256()
    own = [HERE / f"{name}.py" for name in modules]
    package = [path for name in STUDIED for path in (ROOT / "wickstats" / name).glob("*.py")]
    for path in [*own, *sorted(package)]:
        total.update(hashlib.sha256(path.read_bytes()).digest())
    return total.hexdigest()


def _lines(results: dict[str, Any]) -> str:
    """JSON with one cell a line, so that a change shows which cells moved."""
    parts = [f'"seed": {results["seed"]}']
    for name in ("cells", "again", "usual"):
        rows = ",\n".join(json.dumps(cell) for cell in results[name])
        parts.append(f'"{name}": [\n{rows}\n]')
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _write(name: str, content: bytes) -> None:
    partial = HERE / f"{name}.partial"
    partial.write_bytes(content)
    partial.replace(HERE / name)


if __name__ == "__main__":
    raise SystemExit(main())
