"""Yield, water and their ratio side by side, by unit and by treatment.

Leans on the summary of yield per liter.
"""

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.summary import Summary
from wickstats.core.water import Productivity, ProductivityArm, ProductivityUnit

LITERS = 1000.0  # in a cubic meter


def productivity(context: Context, summary: Summary) -> Productivity | None:
    """None where the response is no yield per liter."""
    top, bottom = summary.numerators, summary.denominators
    if context.response.kind != "yield per liter" or top is None or bottom is None:
        return None
    units, codes = context.units, context.units.block_codes
    mass = context.measured_in.removesuffix("/L")
    rows = []
    for j, unit in enumerate(units.names):
        harvest, liters = _known(top[j]), _known(bottom[j])
        ratio = None if harvest is None or not liters else harvest / liters
        rows.append(
            ProductivityUnit(
                unit=unit,
                block=None if codes is None else units.block_names[int(codes[j])],
                treatment=units.cell_names[int(units.cells[j])],
                yield_total=harvest,
                water_l=liters,
                per_liter=ratio,
                per_cubic_meter=None if ratio is None else LITERS * ratio,
            )
        )
    arms = []
    for code, name in enumerate(units.cell_names):
        mine = (units.cells == code) & np.isfinite(top) & np.isfinite(bottom)
        n, liters = int(mine.sum()), float(bottom[mine].sum())
        harvest = float(top[mine].sum())
        ratio = harvest / liters if n and liters > 0.0 else None
        arms.append(
            ProductivityArm(
                treatment=name,
                n_units=n,
                yield_mean=harvest / n if n else None,
                water_mean_l=liters / n if n else None,
                per_liter=ratio,
                per_cubic_meter=None if ratio is None else LITERS * ratio,
            )
        )
    of = context.response.yield_of or summary.name
    return Productivity(of, summary.denominator or "", mass, tuple(rows), tuple(arms))


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
