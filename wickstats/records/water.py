"""The table of water: refills, readings, waterings, by plot or reservoir.

Adds to every row its experimental unit and, in liters, the levels and what was given
(``given_l``): as noted, else by the meter, else from the two levels; ``instrument`` says
which, ``twice_l`` what another log of the same day tells again, ``missing_l`` what a refill
may have given that nobody noted, ``less_l`` and ``more_l`` how far delivered may lie below
and above where columns of the row contradict each other. Leans on the modules of this package.
"""

import numpy as np
import pandas as pd

from wickstats.records.duplicates import group_codes, settle_duplicates
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import (
    Ground,
    ask_out_of_season,
    drop,
    groups,
    need,
    units_of,
    vessels_of,
    with_columns,
)
from wickstats.records.water_levels import (
    SLACK_L,
    SLACK_SHARE,
    ask_levels,
    filled_again,
    levels_told_twice,
)
from wickstats.records.water_logs import ask_meters, ask_units_of_levels, two_logs
from wickstats.records.water_untold import blank_rows, untold_amounts

AMOUNTS = (
    "applied_l",
    "level_before_l",
    "level_after_l",
    "level_before_cm",
    "level_after_cm",
    "meter_start_l",
    "meter_end_l",
    "leaked_l",
)
_CONTRADICTING = "rows that contradict each other were left out"
_BACKWARDS = "a meter ran backwards and no amount was noted"


def check_water(frame: pd.DataFrame, ground: Ground) -> tuple[pd.DataFrame, dict[str, str]]:
    """One row a refill, reading or watering; duplicates, levels and meters are checked.

    Returns
    -------
    frame, incomplete
        ``incomplete`` are units whose sum is not known, and why.
    """
    frame = with_columns(frame, plot="text", reservoir="text", source="text")
    frame = with_columns(frame, **dict.fromkeys(AMOUNTS, "number"))
    need(frame, ("date",), ground.out)
    empty = frame[list(AMOUNTS)].isna().all(axis=1).to_numpy()
    frame["unit"] = np.array(units_of(frame, ground.layout), dtype=object)
    frame["vessel"] = _vessels(frame, ground)
    reasons = blank_rows(frame, empty, ground)
    frame = drop(frame, empty, ground.out, "neither water nor level nor meter").copy()
    key = ("date", "plot", "reservoir", "source")
    whole = frame
    frame = settle_duplicates(frame, key, ground.out, "one plot (or reservoir), day and source")
    incomplete: dict[str, str] = {}
    if len(frame) < len(whole):
        codes = pd.Series(group_codes(whole, key), index=whole.index)
        gone = ~codes.isin(codes[frame.index])
        incomplete = dict.fromkeys(whole["unit"][gone.to_numpy()], _CONTRADICTING)
        frame = frame.copy()
    _levels_to_liters(frame, ground)
    backwards = _meters(frame, ground)
    frame["given_l"], frame["instrument"] = _given(frame)
    unknown = backwards & frame["given_l"].isna().to_numpy()
    reasons |= untold_amounts(frame, ground)
    reasons |= dict.fromkeys(frame["unit"][unknown], _BACKWARDS)
    incomplete = {**reasons, **incomplete}
    ask_units_of_levels(frame, ground)
    again, between = ask_meters(frame, ground)
    frame["twice_l"] = np.maximum(two_logs(frame, ground), filled_again(frame, ground)) + again
    ask_levels(frame, ground)
    frame["missing_l"] += between
    _contradicted(frame)
    ask_out_of_season(frame, ground, "water")
    return frame, incomplete


def _vessels(frame: pd.DataFrame, ground: Ground) -> pd.Series:
    """The reservoir that a row is about, also where it names the plot that hangs on it.

    Water given to one plot of a shared reservoir, without a level, went past the reservoir.
    """
    vessels = vessels_of(frame)
    own = {p.plot: p.reservoir for p in ground.layout.plots if p.reservoir}
    levels = frame[[c for c in AMOUNTS if c.startswith("level")]].notna().any(axis=1)
    shared = ground.layout.shared_reservoirs
    of_plot = frame["plot"].map(own).astype(object)
    meant = of_plot.notna() & (levels | ~of_plot.isin(shared))
    return vessels.where(~meant, of_plot)


def _levels_to_liters(frame: pd.DataFrame, ground: Ground) -> None:
    levels_told_twice(frame, ground)
    water = ground.trial.water
    per_cm = water.reservoirs.liters_per_cm if water is not None else None
    for when in ("before", "after"):
        in_cm = frame[f"level_{when}_cm"].to_numpy()
        liters = frame[f"level_{when}_l"].to_numpy(copy=True)
        fill = np.isnan(liters) & ~np.isnan(in_cm)
        if not fill.any():
            continue
        if per_cm is None:
            first = int(np.flatnonzero(fill)[0])
            ground.out.problem(
                str(frame["file"].iloc[first]),
                "levels in cm",
                found="a level in cm, and nothing that tells its liters",
                expected="liters_per_cm under water, reservoirs in the trial file",
                fix="add it, or note levels in liters",
                row=int(frame["row"].iloc[first]),
                column=f"level_{when}_cm",
            )
            continue
        liters[fill] = in_cm[fill] * per_cm
        frame[f"level_{when}_l"] = liters


def _meters(frame: pd.DataFrame, ground: Ground) -> np.ndarray:
    """Ask about meters; return the rows whose meter ran backwards and is not used."""
    start, end = frame["meter_start_l"].to_numpy(), frame["meter_end_l"].to_numpy()
    backwards = pd.Series(end < start, index=frame.index)
    for file, group in groups(frame[backwards], "file"):
        ground.out.query(
            file,
            "meter ran backwards",
            found=f"meter_end_l below meter_start_l in {rows_in_words(group['row'])}",
            expected="an end not below the start",
            fix="correct one of the two; the meter of these rows is not used",
            row=int(group["row"].min()),
            column="meter_end_l",
        )
    if backwards.any():
        frame.loc[backwards, ["meter_start_l", "meter_end_l"]] = np.nan
    metered, noted = frame["meter_end_l"] - frame["meter_start_l"], frame["applied_l"]
    apart = ((metered - noted).abs() > SLACK_L + SLACK_SHARE * noted).to_numpy()
    for file, group in groups(frame[apart], "file"):
        ground.out.query(
            file,
            "meter and amount disagree",
            found=f"the meter says otherwise than applied_l in {rows_in_words(group['row'])}",
            expected="the same within a tenth",
            fix="correct one of the two; applied_l is used, and the limits of delivered water "
            "reach to the other",
            row=int(group["row"].min()),
            column="applied_l",
        )
    return backwards.to_numpy()


def _given(frame: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Liters given, and what told them: can (an amount was noted), meter or levels."""
    given = frame["applied_l"].to_numpy(copy=True)
    told = np.full(len(frame), None, dtype=object)
    told[~np.isnan(given)] = "can"
    metered = (frame["meter_end_l"] - frame["meter_start_l"]).to_numpy()
    told[np.isnan(given) & ~np.isnan(metered)] = "meter"
    given = np.where(np.isnan(given), metered, given)
    risen = (frame["level_after_l"] - frame["level_before_l"]).to_numpy()
    by_levels = np.isnan(given) & (risen >= 0)
    told[by_levels] = "levels"
    return np.where(by_levels, risen, given), told


def _contradicted(frame: pd.DataFrame) -> None:
    """How far the meter puts delivered below or above, beside what the levels do."""
    metered = (frame["meter_end_l"] - frame["meter_start_l"]).to_numpy()
    noted = frame["applied_l"].to_numpy()
    apart = np.abs(metered - noted) > SLACK_L + SLACK_SHARE * noted
    off = np.where(apart, metered - noted, 0.0)
    frame["less_l"] = np.maximum(frame["less_l"], -off)
    frame["more_l"] = np.maximum(frame["more_l"], off)
