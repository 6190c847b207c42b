"""Rebuild the calibration study: ``python reports/validation/build.py``.

Simulates every cell and writes results.json, trials.json, survival.json,
survival_bound.json, water.json, leaks.json, costs.json and position.json (every cell),
summary.json (what may be quoted) and index.html (the page). Cells are kept in .cache/ beside
this file, so that an interrupted run goes on where it stopped; a change to the code that
decides a cell starts it anew. ``--parts`` runs some parts only and takes the others as they
are stored. Leans on joblib and the study's modules.
"""

import argparse
import hashlib
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from study_parts import (
    BOTH,
    BOUGHT,
    BOUND,
    CLAIMED,
    CLAIMS,
    COSTS,
    FIRST,
    GAPS,
    HELD,
    KNOWN,
    LEAKS,
    LEDGERS,
    LIVES,
    MISSED,
    MIXED,
    MORE,
    OURS,
    PARTS,
    POSITION,
    RANKS,
    SEARCH,
    SECOND,
    STRATA,
    SURVIVAL,
    SURVIVAL_PARTS,
    TRIAL_PARTS,
    TRIALS,
    UNITS,
    USUAL,
    USUAL_SURVIVAL,
    USUAL_TRIALS,
    WATER,
)

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
CHOICES = (*PARTS, *TRIAL_PARTS, *SURVIVAL_PARTS)
AGAIN = 10  # times as many seasons for the cells with the highest rates

Cells = list[dict[str, Any]]


def main(words: Sequence[str] | None = None) -> int:
    """Run what is missing and write the files."""
    options = _options(words)
    os.environ.setdefault("OMP_NUM_THREADS", "1")  # processes, not threads
    os.environ["PYTHONPATH"] = os.pathsep.join([str(HERE), str(ROOT)])  # for the workers
    sys.path[:0] = [str(HERE), str(ROOT)]
    from bench_page import summarize_bench
    from cost_page import summarize_costs
    from leak_run import summarize_leaks
    from position_run import summarize_position
    from power_run import summarize_power
    from study_page import study_page
    from study_summary import summarize
    from survival_bound import summarize_bound
    from survival_large import FILE, summarize_large
    from survival_missed import summarize_missed
    from survival_more import summarize_more
    from survival_summary import summarize_survival
    from trial_summary import summarize_trials
    from usual_summary import summarize_usual
    from water_summary import summarize_water

    first = _part("results.json", "first", _first, options)
    trials = _part("trials.json", "trials", _trials, options)
    lives = _part("survival.json", "survival", _survival, options)
    bounds = _part("survival_bound.json", "bound", _bounds, options)
    missed = _part("survival_missed.json", "missed", _missed, options)
    more = _part("survival_more.json", "more", _more, options)
    water = _part("water.json", "water", _water, options)
    leaks = _part("leaks.json", "leaks", _leaks, options)
    costs = _part("costs.json", "costs", _costs, options)
    # run apart, by bench_run.py: its tables go through the whole of the summaries
    bench = json.loads((HERE / "bench.json").read_text(encoding="utf-8"))
    power = _part("power.json", "power", _power, options)
    position = _part("position.json", "position", _position, options)
    summary = summarize(first["cells"], first["again"], first["seed"])
    summary["usual"] = summarize_usual(first["usual"], trials["usual"], trials["held"])
    summary["trials"] = summarize_trials(trials["cells"], trials["mixed"], trials["gaps"])
    summary["survival"] = summarize_survival(lives["cells"], lives["again"], lives["usual"])
    summary["survival"]["bound"] = summarize_bound(bounds["cells"])
    summary["survival"]["missed"] = summarize_missed(missed["cells"])
    summary["survival"]["more"] = summarize_more(more["cells"])
    # run apart, by survival_large.py
    large = json.loads(FILE.read_text(encoding="utf-8"))
    summary["survival"]["large"] = summarize_large(large["cells"])
    summary["power"] = summarize_power(power["claims"], power["second"])
    summary["water"] = summarize_water(water["cells"])
    summary["leaks"] = summarize_leaks(leaks["cells"])
    summary["costs"] = summarize_costs(costs["cells"])
    summary["bench"] = summarize_bench(bench["cells"])
    summary["position"] = summarize_position(position["cells"])
    _write("summary.json", (json.dumps(summary, indent=2) + "\n").encode())
    page = study_page(first, trials, lives, water, leaks, costs, bench, position, summary)
    _write("index.html", page)
    parts = (first, trials, lives, bounds, missed, water, leaks, costs, bench, position)
    print(f"{sum(len(part['cells']) for part in parts)} cells: {HERE / 'index.html'}")
    return 0


def _first(options: argparse.Namespace) -> dict[str, Cells]:
    """Totals, sizes, shares and counts with what is lost anew every season."""
    from study_cells import Cell, all_cells, usual_cells
    from study_run import run_cell
    from study_summary import highest_cells
    from study_usual import run_usual

    done = _run(run_cell, all_cells(), options.seasons, (OURS, FIRST), options)
    usual = _run(run_usual, usual_cells(), options.usual_seasons, (USUAL, FIRST), options)
    # the highest of many rates is partly luck: those cells once more, with other seasons
    fresh = argparse.Namespace(**{**vars(options), "seed": options.seed + 1})
    highest = [Cell(**settings) for settings in highest_cells(done)]
    again = _run(run_cell, highest, AGAIN * options.seasons, (OURS, FIRST), fresh)
    return {"cells": done, "again": again, "usual": usual}


def _trials(options: argparse.Namespace) -> dict[str, Cells]:
    """Totals and sizes of every design, one fixed pattern a cell; the second line."""
    from trial_cells import all_trials
    from trial_gaps import gap_trials, run_gaps
    from trial_mixed import mixed_trials, run_mixed
    from trial_run import run_trial
    from trial_usual import run_usual_trial
    from usual_held import SEASONS, held_trials, run_held

    few, gaps = options.usual_seasons, options.gap_seasons
    work: dict[str, Callable[[], Cells]] = {
        "cells": lambda: _run(
            run_trial, all_trials(), options.seasons, (TRIALS, UNITS), options
        ),
        "mixed": lambda: _run(
            run_mixed, mixed_trials(), options.seasons, (MIXED, SECOND), options
        ),
        "gaps": lambda: _run(run_gaps, gap_trials(), gaps, (GAPS, STRATA), options),
        "usual": lambda: _run(
            run_usual_trial, all_trials(), few, (USUAL_TRIALS, BOTH), options
        ),
        "held": lambda: _run(run_held, held_trials(), SEASONS, (HELD, BOTH), options),
    }
    wanted = set(work) if "trials" in options.parts else set(options.parts)
    stored = json.loads((HERE / "trials.json").read_text(encoding="utf-8"))
    return {name: run() if name in wanted else stored[name] for name, run in work.items()}


def _survival(options: argparse.Namespace) -> dict[str, Cells]:
    """Shares alive, restricted means and log-rank scores; the usual routes beside them."""
    from survival_cells import SurvivalCell, survival_cells, usual_survival_cells
    from survival_run import run_survival
    from survival_summary import highest_survival
    from survival_usual import run_usual_survival

    code, few = (SURVIVAL, LIVES), options.usual_seasons
    usual = _run(
        run_usual_survival, usual_survival_cells(), few, (USUAL_SURVIVAL, LIVES), options
    )
    if "survival" not in options.parts:  # the usual routes alone
        stored = json.loads((HERE / "survival.json").read_text(encoding="utf-8"))
        return {"cells": stored["cells"], "again": stored["again"], "usual": usual}
    done = _run(run_survival, survival_cells(), options.seasons, code, options)
    fresh = argparse.Namespace(**{**vars(options), "seed": options.seed + 1})
    highest = [SurvivalCell(**settings) for settings in highest_survival(done)]
    again = _run(run_survival, highest, AGAIN * options.seasons, code, fresh)
    return {"cells": done, "again": again, "usual": usual}


def _more(options: argparse.Namespace) -> dict[str, Cells]:
    """Incidence of causes, and the composite rank."""
    from survival_more import more_cells, run_more

    return {"cells": _run(run_more, more_cells(), options.seasons, (MORE, RANKS), options)}


def _missed(options: argparse.Namespace) -> dict[str, Cells]:
    """Shares alive where visits miss plots and plants."""
    from survival_missed import missed_cells, run_missed

    code = (MISSED, KNOWN)
    return {"cells": _run(run_missed, missed_cells(), options.seasons, code, options)}


def _bounds(options: argparse.Namespace) -> dict[str, Cells]:
    """Verdicts from bounds, where an arm lost no plant or all."""
    from survival_bound import bound_cells, run_bound

    return {"cells": _run(run_bound, bound_cells(), options.seasons, (BOUND, LIVES), options)}


def _water(options: argparse.Namespace) -> dict[str, Cells]:
    """Ledgers, yield per liter with and without zeros, equal water, plants along a line."""
    from water_cells import water_cells
    from water_run import run_water

    code = (WATER, LEDGERS)
    return {"cells": _run(run_water, water_cells(), options.seasons, code, options)}


def _leaks(options: argparse.Namespace) -> dict[str, Cells]:
    """The search for leaks that nobody noted, through the package's own code."""
    from leak_run import leak_cells, run_leaks

    seasons = max(options.seasons // 10, 1)
    return {"cells": _run(run_leaks, leak_cells(), seasons, (LEAKS, SEARCH), options)}


def _costs(options: argparse.Namespace) -> dict[str, Cells]:
    """Cost per survivor, per kg, per cubic meter saved, and for one more survivor."""
    from cost_cells import cost_cells
    from cost_run import run_costs

    code = (COSTS, BOUGHT)
    return {"cells": _run(run_costs, cost_cells(), options.seasons, code, options)}


def _position(options: argparse.Namespace) -> dict[str, Cells]:
    """Position as covariate, with a gradient that is there and without."""
    from position_run import position_cells, run_position

    code = (POSITION, UNITS)
    return {"cells": _run(run_position, position_cells(), options.seasons, code, options)}


def _power(options: argparse.Namespace) -> dict[str, Cells]:
    """Power claimed and reached; rejection after a second year corrected blind."""
    from power_run import claim_cells, run_claim, run_second, second_cells

    second = (CLAIMS, ("models/power",))
    return {
        "claims": _run(
            run_claim, claim_cells(), 4 * options.seasons, (CLAIMS, CLAIMED), options
        ),
        "second": _run(run_second, second_cells(), 10 * options.seasons, second, options),
    }


def _part(
    name: str,
    part: str,
    work: Callable[[argparse.Namespace], dict[str, Cells]],
    options: argparse.Namespace,
) -> dict[str, Any]:
    """Run a part and store it, or take it as it is stored."""
    smaller = {"trials": TRIAL_PARTS, "survival": SURVIVAL_PARTS}.get(part, ())
    if part in options.parts or {*smaller} & {*options.parts}:
        _write(name, _lines(options.seed, work(options)).encode())
    stored: dict[str, Any] = json.loads((HERE / name).read_text(encoding="utf-8"))
    return stored


def _options(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Rebuild the calibration study.")
    parser.add_argument("--seasons", type=int, default=10_000, help="seasons a cell")
    parser.add_argument("--usual-seasons", type=int, default=400, help="for usual routes")
    parser.add_argument("--gap-seasons", type=int, default=4_000, help="split-plots with gaps")
    parser.add_argument("--seed", type=int, default=20250317)
    parser.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1))
    parser.add_argument("--cache", type=Path, default=HERE / ".cache")
    parser.add_argument("--parts", nargs="*", choices=CHOICES, default=PARTS)
    return parser.parse_args(words)


def _run(
    work: Callable[..., dict[str, Any]],
    cells: Sequence[Any],
    seasons: int,
    modules: tuple[Sequence[str], Sequence[str]],
    options: argparse.Namespace,
) -> Cells:
    """Every cell's result, from the cache where it stands there."""
    from joblib import Parallel, delayed

    code = _digest(*modules)
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


def _digest(own: Sequence[str], package: Sequence[str]) -> str:
    """Digest of the code that decides a cell's numbers."""
    paths = [HERE / f"{name}.py" for name in own]
    paths += [ROOT / "wickstats" / f"{name}.py" for name in package]
    total = hashlib.sha256()
    for path in paths:
        total.update(hashlib.sha256(path.read_bytes()).digest())
    return total.hexdigest()


def _lines(seed: int, results: dict[str, Cells]) -> str:
    """JSON with one cell a line, so that a change shows which cells moved."""
    parts = [f'"seed": {seed}']
    for name, cells in results.items():
        rows = ",\n".join(json.dumps(cell) for cell in cells)
        parts.append(f'"{name}": [\n{rows}\n]')
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _write(name: str, content: bytes) -> None:
    partial = HERE / f"{name}.partial"
    partial.write_bytes(content)
    partial.replace(HERE / name)


if __name__ == "__main__":
    raise SystemExit(main())
