"""Runs trial folders through the command line or the public functions; picks numbers out."""

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wickstats.core.codec import parse_json

ROOT = Path(__file__).resolve().parents[1]
Tree = dict[str, Any]


def analyze(folder: Path) -> Tree:
    """Return what results.json would hold, by the public functions; writes nothing."""
    import wickstats as ws

    trial = ws.read_trial(folder / "trial.yaml")
    return ws.analyze(trial, ws.read_records(trial)).to_dict()


def analyze_by_command(folder: Path, out: Path) -> Tree:
    """Copy a trial's folder, run ``wickstats analyze`` on it, return results.json."""
    from wickstats.cli.app import run

    copy = out / folder.name
    if folder != copy:
        shutil.copytree(folder, copy)
    code = run(["analyze", str(copy / "trial.yaml"), "--out", str(out / "report")])
    assert code == 0, f"wickstats analyze ended with {code}"
    tree: Tree = parse_json((out / "report" / "results.json").read_bytes())
    return tree


def response(tree: Tree, name: str) -> Tree:
    """Return the response of that name."""
    return next(item for item in tree["responses"] if item["name"] == name)


def find(rows: list[Tree], **wanted: object) -> Tree:
    """Return the one row that has all these values."""
    hits = [row for row in rows if all(row[key] == value for key, value in wanted.items())]
    assert len(hits) == 1, f"{len(hits)} rows with {wanted}"
    return hits[0]


def numbers(item: Tree) -> Mapping[str, float]:
    """Name every number of the strata, tests, comparisons and components of a response."""
    out: dict[str, float] = {}

    def put(name: str, row: Tree, keys: Mapping[str, str]) -> None:
        for words, key in keys.items():
            if row.get(key) is not None:
                out[f"{name} {words}"] = row[key]

    for row in item["strata"]:
        name = row["source"] if row["source"] != "residual" else f"{row['stratum']} residual"
        put(name, row, {"df": "df", "sum of squares": "sum_of_squares"})
        put(name, row, {"mean square": "mean_square", "F": "f", "p": "p"})
    for row in item["tests"]:
        put(f"test {row['term']}", row, {"F": "value", "p": "p", "df": "df_den"})
    for row in item["comparisons"]:
        if row["within"] is None and row["estimand"] == "mean":
            name = f"{row['term']} {row['adjustment']}: {row['name']}"
            put(name, row, {"estimate": "estimate", "se": "se", "df": "df"})
            put(name, row, {"p adjusted": "p_adjusted", "low adjusted": "low_adjusted"})
            put(name, row, {"high adjusted": "high_adjusted"})
    mixed = item["mixed_model"]
    for row in mixed["variance_components"] if mixed else ():
        put("component", row, {row["term"]: "estimate"})
    for row in mixed["tests"] if mixed else ():
        put(f"mixed {row['term']}", row, {"F": "value", "p": "p", "df": "df_den"})
    return out
