"""Questions about logs of water that contradict themselves: units, meters, two logs of a day.

Leans on the modules of this package.
"""

import numpy as np
import pandas as pd

from wickstats.records.findings import rows_in_words
from wickstats.records.ground import Ground, day, groups, vessels_of

_SLACK_L, _SLACK_SHARE = 0.5, 0.10  # common practice, no source


def ask_units_of_levels(frame: pd.DataFrame, ground: Ground) -> None:
    """One row that tells one level in liters and the other in cm, or one level in both."""
    in_liters = _told(frame, "l")
    in_cm = _told(frame, "cm")
    mixed = (in_liters["before"] & in_cm["after"]) | (in_cm["before"] & in_liters["after"])
    # as read: the level in cm was turned into liters only where no liters stood
    for file, group in groups(frame[mixed], "file"):
        ground.out.query(
            file,
            "mixed units",
            found=f"one level in L and the other in cm in {rows_in_words(group['row'])}",
            expected="both levels of a row in the same unit",
            fix="check that neither stands in the other's column; both are used, the cm "
            "turned into L by liters_per_cm",
            row=int(group["row"].min()),
            column="level_after_cm"
            if group["level_after_cm"].notna().any()
            else "level_before_cm",
        )


def _told(frame: pd.DataFrame, unit: str) -> dict[str, np.ndarray]:
    """Which levels were written in that unit (those in cm also stand in liters by now)."""
    out = {}
    for when in ("before", "after"):
        in_cm = frame[f"level_{when}_cm"].notna().to_numpy()
        liters = frame[f"level_{when}_l"].notna().to_numpy()
        out[when] = in_cm if unit == "cm" else liters & ~in_cm
    return out


def ask_meters(frame: pd.DataFrame, ground: Ground) -> tuple[np.ndarray, np.ndarray]:
    """A meter that starts below where it last ended, or far above: water without a row.

    Returns
    -------
    again, between
        (n,) liters of a row that the meter's row before may have told already, and liters
        that ran between the two without a row.
    """
    again, between = np.zeros(len(frame)), np.zeros(len(frame))
    frame = frame.assign(place=np.arange(len(frame)))
    metered = frame[frame["meter_start_l"].notna() & frame["meter_end_l"].notna()]
    if metered.empty:
        return again, between
    ordered = metered.assign(vessel=vessels_of(metered)).sort_values(
        ["vessel", "date", "meter_start_l", "row"], kind="stable"
    )
    same = (ordered["vessel"] == ordered["vessel"].shift()).to_numpy()
    step = (ordered["meter_start_l"] - ordered["meter_end_l"].shift()).to_numpy()
    fell, rose = same & (step < -_SLACK_L), same & (step > _SLACK_L)
    ran = (ordered["meter_end_l"] - ordered["meter_start_l"]).to_numpy()
    places = ordered["place"].to_numpy()
    again[places[fell]] = np.minimum(-step[fell], ran[fell])
    between[places[rose]] = step[rose]
    for wrong, code, found, fix in (
        (
            fell,
            "meter fell",
            "a meter below where it stood at the end of the row before",
            (
                "correct the readings, or note that the meter was changed; the rows are used, "
                "and the lower limit of delivered water leaves out what may be told twice"
            ),
        ),
        (
            rose,
            "water without a row",
            "a meter above where it stood at the end of the row before",
            (
                "add the row that is missing; what ran between the two is not counted, but "
                "lifts the upper limit of delivered water"
            ),
        ),
    ):
        for file, group in groups(ordered[wrong], "file"):
            ground.out.query(
                file,
                code,
                found=f"{found} in {rows_in_words(group['row'].sort_values())}",
                expected="a start where the meter ended the last time",
                fix=fix,
                row=int(group["row"].min()),
                column="meter_start_l",
            )
    return again, between


def two_logs(frame: pd.DataFrame, ground: Ground) -> np.ndarray:
    """(n,) liters that two logs both tell of one plot (or reservoir) and day.

    A meter and a can, the same instrument in two files, or a row under a reservoir and one
    under the plot that hangs on it, may be two waterings or one that was logged twice: all
    are used, a person is asked, and the lower limit of what was delivered takes off all but
    the largest.
    """
    twice = np.zeros(len(frame))
    places = np.flatnonzero(frame["instrument"].isin(["can", "meter"]).to_numpy())
    held = frame.iloc[places]
    table = pd.DataFrame(
        {
            "at": places,
            "vessel": vessels_of(held).to_numpy(),
            "date": held["date"].to_numpy(),
            "instrument": held["instrument"].to_numpy(),
            "file": held["file"].to_numpy(),
            "under": np.where(held["reservoir"].notna(), "reservoir", "plot"),
            "liters": held["given_l"].to_numpy(),
        }
    )
    table = table[table["liters"] > 0.0]
    days, logs = ["vessel", "date"], ["instrument", "file", "under"]
    if len(table[logs].drop_duplicates()) < 2:
        return twice
    sums = table.groupby([*days, *logs])["liters"].sum()
    both = sums.groupby(days).transform("size") > 1
    for (name, when), of_day in sums[both].groupby(days, sort=True):
        here = (table["vessel"] == name) & (table["date"] == when)
        rows = frame.iloc[table["at"][here].to_numpy()]
        least, most = float(of_day.min()), float(of_day.max())
        twice[int(table["at"][here].iloc[0])] = float(of_day.sum()) - most
        alike = most - least <= _SLACK_L + _SLACK_SHARE * most
        found = of_day.reset_index().sort_values(
            ["instrument", "file"], ascending=[False, True], kind="stable"
        )
        several, apart = found["file"].nunique() > 1, found["under"].nunique() > 1
        columns = (found["instrument"], found["file"], found["under"], found["liters"])
        parts = [
            f"{liters:g} L {'by the meter' if instrument == 'meter' else 'noted'}"
            + (f" under the {under}" if apart else "")
            + (f" in {file}" if several else "")
            for instrument, file, under, liters in zip(*columns, strict=True)
        ]
        ground.out.query(
            str(rows["file"].iloc[0]),
            "two logs agree" if alike else "two logs disagree",
            found=f"{name} on {day(when)}: {' and '.join(parts)}"
            + ("" if several else f", in {rows_in_words(rows['row'])}"),
            expected="one log of a watering",
            fix="if both tell the same water, delete one; both are used, and the lower limit "
            "of delivered water leaves the smaller one out",
            row=int(rows["row"].min()),
            column="applied_l",
        )
    return twice
