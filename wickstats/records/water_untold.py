"""Rows of water that tell a visit but not its liters: the sum of their unit is not known.

Blank is never zero: a sum without such a row would run short and look complete. Each kind is
asked about, and the units are named with the reason. Leans on findings and ground.
"""

import numpy as np
import pandas as pd

from wickstats.core.numbers import number
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import Ground, groups, units_of, vessels_of, with_columns

_SLACK_L = 0.5  # a level is read off a mark: common practice, no source
_BLANK = "a watering or refill without any amount"
_HALF = "a meter of which only one reading was noted"
_FILLED = "a level after a refill, and neither the amount nor the level before"
_FELL = "a level that is lower after a visit than before it"


def blank_rows(frame: pd.DataFrame, blank: np.ndarray, ground: Ground) -> dict[str, str]:
    """Rows with neither water nor level nor meter: asked about, and their units named."""
    for file, group in groups(frame[blank], "file"):
        ground.out.query(
            file,
            "no amount",
            found=f"neither water nor level nor meter in {rows_in_words(group['row'])}",
            expected="at least one of them, 0 where nothing was given",
            fix="fill it in; blank is not zero: until then the sum of that plot (or "
            "reservoir) is not known",
            row=int(group["row"].min()),
        )
    return _named(frame, blank, _BLANK)


def attended_days(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """Unit and date of every row with both, in their order, each once.

    Also of rows whose amount is blank or contradicted: somebody was there on that day.
    """
    frame = with_columns(frame, plot="text", reservoir="text")
    units = pd.Series(units_of(frame, ground.layout), index=frame.index, dtype=object)
    days = pd.DataFrame({"unit": units, "date": frame["date"]}).dropna()
    return days.drop_duplicates().sort_values(["date", "unit"], ignore_index=True)


def untold_amounts(frame: pd.DataFrame, ground: Ground) -> dict[str, str]:
    """Rows whose water does not follow from what they tell: unit to the reason.

    Parameters
    ----------
    frame
        Checked rows with ``unit``, ``vessel`` and ``given_l``.
    """
    untold = frame["given_l"].isna().to_numpy()
    before, after = frame["level_before_l"].to_numpy(), frame["level_after_l"].to_numpy()
    half = frame["meter_start_l"].isna().to_numpy() != frame["meter_end_l"].isna().to_numpy()
    # what was in a reservoir at its first visit is its store, not a refill
    first = (
        frame["date"] == frame.groupby(vessels_of(frame).to_numpy())["date"].transform("min")
    ).to_numpy()
    taken = np.nan_to_num(frame["leaked_l"].to_numpy())
    kinds = (
        (
            half,
            "half a meter",
            f"{_HALF}, and no amount,",
            "meter_start_l and meter_end_l, or the amount",
            "fill in the other one: a start is where the meter ended the last time",
            "meter_end_l",
            _HALF,
        ),
        (
            np.isnan(before) & ~np.isnan(after) & ~first,
            "refill without amount",
            _FILLED,
            "the water given, or the levels before and after",
            "fill in one of them; if nothing was given, write it as the level before",
            "level_after_l",
            _FILLED,
        ),
        (
            before - after > _SLACK_L + taken,
            "level fell at the visit",
            _FELL,
            "a level after that is not below the level before",
            "exchange the two if water was given, or note in leaked_l what was taken out",
            "level_after_l",
            _FELL,
        ),
    )
    reasons: dict[str, str] = {}
    for wrong, code, found, expected, fix, column, reason in kinds:
        told = untold & wrong
        for file, group in groups(frame[told], "file"):
            ground.out.query(
                file,
                code,
                found=f"{found} in {rows_in_words(group['row'])}",
                expected=expected,
                fix=f"{fix}; until then the sum of that plot (or reservoir) is not known",
                row=int(group["row"].min()),
                column=column,
            )
        reasons = {**_named(frame, told, reason), **reasons}
    return reasons


def ask_less_than_nothing(units: pd.DataFrame, water: pd.DataFrame, ground: Ground) -> None:
    """Units of which more was left or leaked than was ever there, beyond error of reading."""
    change, leaked = units["stored_change_l"], units["leaked_l"]
    total = units["applied_l"] + units["rain_l"] - change - leaked
    wrong = (total < 0.0) & units["delivered_l"].isna()
    for unit, liters in zip(units["unit"][wrong], total[wrong], strict=True):
        rows = water[(water["unit"] == unit).to_numpy()]
        ground.out.query(
            str(rows["file"].iloc[0]),
            "less than no water",
            found=f"{number(-liters)} L more left or leaked than was given to {unit} in "
            f"{rows_in_words(rows['row'])}",
            expected="at most as much as was there",
            fix="add the refill that is missing, or correct the levels or leaked_l; until then "
            "its delivered water is not known",
            row=int(rows["row"].min()),
        )


def _named(frame: pd.DataFrame, rows: np.ndarray, reason: str) -> dict[str, str]:
    return dict.fromkeys((u for u in frame["unit"][rows] if u is not None), reason)
