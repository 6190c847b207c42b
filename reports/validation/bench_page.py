"""The bench study's part of the page.

Leans on the package's pages and core.numbers, and on bench_run.
"""

from collections.abc import Sequence
from typing import Any

from bench_run import EVAPORATION, READING_CV, RUN_C, TOP_MM

from wickstats.core.numbers import fixed, number
from wickstats.pages.blocks import Column, Items, Section, Table, Text

ASKED = ("treatments", "cords", "washing", "between pieces")


def bench_sections(cells: Sequence[dict[str, Any]]) -> list[Section]:
    """What was found, and how the tables of readings were made."""
    how = Section("How readings were simulated", (Text(_how(cells)),))
    items = Items(tuple(_sentences(cells)))
    return [Section("The bench", (items, _table(cells)), sections=(how,))]


def summarize_bench(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Lowest coverage and highest rejection over all settings."""
    rates = [(k, r["rate"]) for c in cells for k, r in c["rates"].items()]
    covered = [r for k, r in rates if k.endswith("covered") and not k.startswith("between")]
    spread = [r for k, r in rates if k == "between pieces: covered"]
    rejected = [r for k, r in rates if k.endswith("rejected")]
    return {
        "cells": len(cells),
        "seasons": cells[0]["seasons"],
        "lowest coverage": min(covered),
        "highest coverage": max(covered),
        "lowest coverage between pieces": min(spread),
        "highest rejection": max(rejected),
    }


def _sentences(cells: Sequence[dict[str, Any]]) -> list[str]:
    told = summarize_bench(cells)
    low, high, most = (
        _rate(told[k]) for k in ("lowest coverage", "highest coverage", "highest rejection")
    )
    differences = f"Intervals of differences cover {low} to {high} %; true nulls are rejected "
    spread = _rate(told["lowest coverage between pieces"])
    counted = (
        "Where pieces stand at the top, the difference to be covered is the one of heights "
    )
    return [
        f"{differences}in {most} % at most.",
        f"Intervals of the variation between pieces cover {spread} % or more.",
        f"{counted}counted up to the top.",
    ]


def _table(cells: Sequence[dict[str, Any]]) -> Table:
    rows = []
    for cell in cells:
        for name in ASKED:
            covered = cell["rates"].get(f"{name}: covered")
            if covered is None:
                continue
            bias = cell["rates"].get(f"{name}: bias")
            rejected = cell["rates"].get(f"{name}: rejected")
            rows.append(
                (
                    cell["settings"]["name"],
                    name,
                    number(cell["truths"].get(name)),
                    number(None if bias is None else bias["rate"], 2),
                    _rate(covered["rate"]),
                    "" if rejected is None else _rate(rejected["rate"]),
                )
            )
    return Table(
        "Bench trials: bias; coverage of 95 % intervals and rejection of true nulls in percent",
        (
            Column("Setting"),
            Column("What"),
            Column("Truth (log ratio or mm)", numeric=True),
            Column("Bias", numeric=True),
            Column("Coverage", numeric=True),
            Column("Rejection", numeric=True),
        ),
        tuple(rows),
    )


def _how(cells: Sequence[dict[str, Any]]) -> str:
    return (
        f"{cells[0]['seasons']:,} tables of readings a setting. Pieces and coils are "
        "log-normal around their treatment. Heights grow with the root of time, are read to "
        f"the millimeter and stop at {TOP_MM:g} mm; volumes are read at four times over a "
        f"day, hold {EVAPORATION:g} mL/h that evaporate, and follow the viscosity of water "
        f"whose temperature varies by {RUN_C:g} degC between runs; every reading errs by "
        f"{100 * READING_CV:g} %. Cups without a cord are read in every run."
    ).replace(",", " ", 1)


def _rate(value: float) -> str:
    return fixed(100.0 * value, 1)
