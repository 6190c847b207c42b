"""Reads expected values and checks what was produced against every one of them.

An expected file is ``expected/<name>.json``: a header (data, source, program and versions,
script) and cases. A case holds ``quantity``, ``value`` as printed text, ``kind`` and its own
bounds: ``relative``, ``absolute``, or both, and then both must hold. A quantity that was
not produced fails. An expected zero with a relative bound must be exactly zero.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent


@dataclass(frozen=True, slots=True)
class Case:
    """One expected number."""

    quantity: str
    value: float
    kind: str
    relative: float | None
    absolute: float | None


def load(name: str) -> tuple[dict[str, Any], list[Case]]:
    """Return header and cases of ``expected/<name>.json``."""
    tree = json.loads((HERE / "expected" / f"{name}.json").read_text(encoding="utf-8"))
    cases = [
        Case(
            raw["quantity"],
            float(raw["value"]),
            raw["kind"],
            float(raw["relative"]) if "relative" in raw else None,
            float(raw["absolute"]) if "absolute" in raw else None,
        )
        for raw in tree["cases"]
    ]
    for case in cases:
        if case.relative is None and case.absolute is None:
            raise ValueError(f"{name}: {case.quantity} has no tolerance")
    return tree["header"], cases


def misses(cases: list[Case], produced: Mapping[str, float]) -> list[str]:
    """Name every case that is not met."""
    out = []
    for case in cases:
        found = produced.get(case.quantity)
        if found is None:
            out.append(f"{case.quantity}: not produced")
            continue
        off = abs(found - case.value)
        if not math.isfinite(off):
            out.append(f"{case.quantity}: {found!r}")
            continue
        if case.relative is not None and off > case.relative * abs(case.value):
            out.append(f"{case.quantity}: {found!r}, not {case.value!r} to {case.relative:g}")
        if case.absolute is not None and off > case.absolute:
            out.append(f"{case.quantity}: {found!r}, not {case.value!r} to {case.absolute:g}")
    return out


def check(name: str, produced: Mapping[str, float]) -> None:
    """Assert that every case of ``expected/<name>.json`` is met."""
    _, cases = load(name)
    wrong = misses(cases, produced)
    assert not wrong, f"{name}:\n" + "\n".join(wrong)
