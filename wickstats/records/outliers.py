"""Values wildly out of line with the rest of their column: a question, never a repair.

A slipped decimal sign or another unit moves a value by a factor of ten, a hundred, a
thousand; plants and plots do not. The rule (common practice, no source): for values above
zero the logarithm is centered on the median of the same day, then on the median of the
same treatment (each where it has five values or more, else on the column's), and s is
1.4826 times the median absolute deviation of what is left. A value is asked about when it
lies both ways as far from its medians as tenfold, and as 5 (1 + 8/n) s; water given to a plot
as far as fivefold: it is poured by the can, and liters written for cans are nine times too
many. Reservoirs are filled as they stand, once from empty or after a leak: tenfold for them.
For columns that hold values of both signs: further from the column's median than 20 s, and
a value of a sign that at most one in twenty has (a minus that slipped in) than 5 (1 + 8/n)
s. Fewer than six values tell nothing. The value stays in use. Leans on numpy and pandas.
"""

from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd

from wickstats.records.cells import shown
from wickstats.records.ground import Ground, day
from wickstats.records.measurements import quantity_names

FACTOR = 10.0
FACTOR_OF_WATER = 5.0
SPREADS = 5.0
SPREADS_BOTH_SIGNS = 20.0
RARE = 0.05  # share of values whose sign looks like a slip
FEWEST = 6  # values in a column
FEW = 8.0  # of few values the spread is badly known: 5 s becomes 5 (1 + 8/n) s
FEWEST_ALIKE = 5  # values of a day, or of a treatment, that make a median of their own
_TO_SD = 1.4826  # median absolute deviation to standard deviation of a normal distribution


def out_of_line(
    values: np.ndarray, days: np.ndarray, arms: np.ndarray, factor: float = FACTOR
) -> np.ndarray:
    """Which values lie wildly out of line.

    Parameters
    ----------
    values
        Numbers, NaN where blank, in any unit. Shape (n,).
    days, arms
        Codes of the day and of the treatment of each value, -1 where there is none.
    factor
        How many times its medians a value is at least to be asked about.

    Returns
    -------
    bool array of shape (n,).
    """
    odd = np.zeros(len(values), dtype=bool)
    told = np.flatnonzero(~np.isnan(values) & (values != 0))
    size = np.abs(values[told])
    if len(told) < FEWEST:
        return odd
    if (values[told] > 0).any() and (values[told] < 0).any():
        left = values[told] - np.median(values[told])
        spread = _TO_SD * float(np.median(np.abs(left)))
        minus = values[told] < 0
        rare = minus if minus.mean() <= 0.5 else ~minus
        few = SPREADS * (1 + FEW / len(told)) if rare.mean() <= RARE else SPREADS_BOTH_SIGNS
        limit = np.where(rare, few, SPREADS_BOTH_SIGNS) * spread
        odd[told] = (spread > 0) & (np.abs(left) > limit)
        return odd
    by_day = _centered(np.log(size), days[told])
    by_arm = _centered(by_day, arms[told])
    spread = _TO_SD * float(np.median(np.abs(by_arm)))
    most = max(np.log(factor), SPREADS * (1 + FEW / len(told)) * spread) - 1e-9
    odd[told] = (np.abs(by_day) > most) & (np.abs(by_arm) > most)
    return odd


def _centered(values: np.ndarray, codes: np.ndarray) -> np.ndarray:
    """Values less the median of their group, or of all where the group is small."""
    series = pd.Series(values)
    groups = series.groupby(codes)
    middle = groups.transform("median").to_numpy()
    few = (groups.transform("size") < FEWEST_ALIKE).to_numpy() | (codes < 0)
    out: np.ndarray = values - np.where(few, np.median(values), middle)
    return out


def ask_out_of_line(tables: Mapping[str, pd.DataFrame], ground: Ground) -> None:
    """Ask about every value that lies wildly out of line with its column."""
    treatments = _treatments(ground)
    ranged = {r.column for r in ground.trial.responses if r.range}
    for name, columns in _columns(tables):
        frame = tables[name]
        where = frame["plot"] if "reservoir" not in frame else _either(frame)
        arms = pd.factorize(where.map(treatments).to_numpy())[0]
        days = pd.factorize(frame["date"].to_numpy())[0] if "date" in frame else arms * 0
        for column in columns:
            if column in ranged:
                continue  # the trial file says what is possible
            values = frame[column].to_numpy(dtype=float)
            middle = float(np.nanmedian(values)) if not np.isnan(values).all() else np.nan
            odd = out_of_line(values, days, arms)
            if name == "water":
                poured = _to_plots(frame)
                odd |= out_of_line(values, days, arms, FACTOR_OF_WATER) & poured
            for place in np.flatnonzero(odd).tolist():
                _ask(frame, place, column, float(values[place]), middle, ground)


def _ask(
    frame: pd.DataFrame, place: int, column: str, value: float, middle: float, ground: Ground
) -> None:
    row = frame.iloc[place]
    plant, plot = row.get("plant"), row.get("plot")
    who = f"plot {plot}" if plot else f"reservoir {row.get('reservoir')}"
    who = f"plant {plant} of {who}" if plant else who
    when = row.get("date")
    who = who if when is None or pd.isna(when) else f"{who} on {day(when)}"
    ground.out.query(
        str(row["file"]),
        "far out of line",
        found=f"{column} {shown(float(f'{value:.12g}'))} for {who}; the middle value of the "
        f"column is {shown(float(f'{middle:.4g}'))}",
        expected="values like the rest of the column",
        fix="look for a slipped decimal sign or another unit; the value is used as it stands",
        row=int(row["row"]),
        column=column,
    )


def _columns(tables: Mapping[str, pd.DataFrame]) -> Iterator[tuple[str, list[str]]]:
    if "measurements" in tables:
        yield "measurements", quantity_names(tables["measurements"])
    fixed = {
        "picks": ("mass_kg", "marketable_kg", "count"),
        "water": ("applied_l",),
        "plants": ("start_cm",),
    }
    for name, columns in fixed.items():
        if name in tables:
            yield name, [c for c in columns if c in tables[name]]


def _treatments(ground: Ground) -> dict[str, str]:
    """Plot or reservoir to its treatment."""
    out: dict[str, str] = {}
    for plot in ground.layout.plots:
        cell = plot.treatment
        out[plot.plot] = cell
        if plot.reservoir:
            out.setdefault(plot.reservoir, cell)
    return out


def _to_plots(frame: pd.DataFrame) -> np.ndarray:
    """Rows of water poured onto a plot, not into a reservoir."""
    if "reservoir" not in frame:
        return np.ones(len(frame), dtype=bool)
    out: np.ndarray = frame["reservoir"].isna().to_numpy()
    return out


def _either(frame: pd.DataFrame) -> pd.Series:
    plots: pd.Series = frame["plot"].where(frame["plot"].notna(), frame["reservoir"])
    return plots
