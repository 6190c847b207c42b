"""One number per unit: the shape that every kind of response is brought into.

Leans on units and the lifetimes-free part of core only.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.units import Array, IntArray, Units


@dataclass(frozen=True, slots=True, eq=False)
class PlantRows:
    """Rows for the mixed model: one or more a plant, on the model's scale."""

    values: Array
    units: IntArray  # position of the unit
    plants: IntArray  # code unique over the trial

    @property
    def n(self) -> int:
        """Number of rows."""
        return int(self.values.size)


@dataclass(frozen=True, slots=True, eq=False)
class Lived:
    """What the restricted mean's dispersion needs: every plant's time and unit."""

    times: Array
    units: IntArray
    full_time: float


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """An error that all units share: cans or meters that read wrong every time.

    Attributes
    ----------
    parts
        (n, k) change of each unit's value for a relative error of 1 in each instrument;
        NaN where a unit has no value.
    bounds
        (k,) largest relative error of each instrument, on the model's scale.
    """

    parts: Array
    bounds: Array

    def half_width(self, weights: Array, units: Units) -> float:
        """What it can move a mean or contrast of cells by; 0 where it cancels."""
        moved = np.zeros(self.bounds.size)
        known = np.isfinite(self.parts).all(axis=1)
        for cell in np.flatnonzero(weights):
            mine = known & (units.cells == cell)
            if mine.any():
                moved += weights[cell] * self.parts[mine].mean(axis=0)
        moved[np.abs(moved) < 1e-9] = 0.0
        return float(np.abs(moved) @ self.bounds)


def shared_half(calibration: Calibration | None, weights: Array, units: Units) -> float:
    """What a shared error can move a mean or contrast by; 0 where all is exact."""
    return 0.0 if calibration is None else calibration.half_width(weights, units)


@dataclass(frozen=True, slots=True, eq=False)
class Summary:
    """One number per unit of the layout, with how it is to be judged.

    Attributes
    ----------
    name
        E.g. "share alive on 2025-10-13".
    estimand
        mean, share alive, restricted mean survival time, total, ratio of totals, growth
        rate.
    at
        The date (or day) in words, or None.
    values
        (n,) on the model's scale, NaN where not defined; ``reasons`` says why.
    plants
        (n,) plants (or rows) behind each value.
    rule
        strata | dispersion | paired | counts | zero.
    measured_in
        Of the reported scale.
    log
        Values are logarithms: contrasts are ratios.
    alive
        (n,) plants alive, for shares.
    unseen
        (n,) plants behind no share, as nobody saw what became of them; None for none.
    lived
        For restricted means.
    plant_variance
        (n,) variance of each value as its plants alone would have it, for log-rank scores.
    aligned, aligned_variance
        (n,) the same scores on one curve of the whole trial, less their block's mean.
    numerators, denominators
        (n,) totals and water for yield per liter, totals for counts and zero yields.
    guard
        Whether numbers of plants enter as guard of the standard error.
    counted
        Whether ``plants`` counts plants (not rows about whole plots).
    covariate, covariate_name
        (n,) or None; start size or position.
    rows
        For the mixed model; None where there are none.
    notes
        Sentences that belong into the cautions.
    subjects
        What a share counts: plants, or subjects of another kind.
    calibration
        Shared error of the water's cans and meters; added once, to intervals and p.
    capped
        Some values are right-censored at a top and counted as the top: more and less can
        be told from their means, sameness cannot.
    """

    name: str
    estimand: str
    at: str | None
    values: Array
    plants: Array
    reasons: tuple[str | None, ...]
    rule: str
    measured_in: str
    log: bool = False
    alive: Array | None = None
    unseen: Array | None = None
    lived: Lived | None = None
    plant_variance: Array | None = None
    aligned: Array | None = None
    aligned_variance: Array | None = None
    numerators: Array | None = None
    denominators: Array | None = None
    denominator: str | None = None
    guard: bool = True
    counted: bool = False
    covariate: Array | None = None
    covariate_name: str | None = None
    rows: PlantRows | None = None
    notes: tuple[str, ...] = field(default=())
    subjects: str = "plants"
    calibration: Calibration | None = None
    capped: bool = False

    def plants_behind(self, laid: IntArray) -> IntArray:
        """(n,) plants behind each value: counted, else as laid out (0 where not known)."""
        if self.counted:
            return np.rint(self.plants).astype(np.int64)
        return np.where(self.used, laid, 0).astype(np.int64)

    @property
    def is_share(self) -> bool:
        """Whether the values are shares of plants."""
        return self.measured_in == "share"

    @property
    def used(self) -> NDArray[np.bool_]:
        """(n,) True where the unit has a value."""
        return np.isfinite(self.values)


def unit_means(values: Array, units: IntArray, n_units: int) -> tuple[Array, Array]:
    """Mean of the rows of each unit (NaN where none) and how many there were."""
    count = np.bincount(units, minlength=n_units).astype(float)
    total = np.bincount(units, weights=values, minlength=n_units)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(count > 0, total / count, np.nan), count


def missing_reasons(
    used: Sequence[bool] | NDArray[np.bool_],
    units: Units,
    lost: dict[str, str],
    otherwise: str | Sequence[str],
) -> tuple[str | None, ...]:
    """Why each unit without a value has none: its plots' loss, else ``otherwise``.

    ``otherwise`` is one reason for all, or one a unit.
    """
    out: list[str | None] = []
    for j, has in enumerate(used):
        if has:
            out.append(None)
            continue
        told = [lost[p] for p in units.plots[j] if p in lost]
        reason = otherwise if isinstance(otherwise, str) else otherwise[j]
        out.append("; ".join(dict.fromkeys(told)) if told else reason)
    return tuple(out)
