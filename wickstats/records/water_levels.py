"""Levels of reservoirs against each other, the water given, and what a reservoir holds.

Nothing is changed: a person is asked, and the limits of delivered water reach as far as the
columns of a row disagree. Leans on the modules of this package.
"""

import numpy as np
import pandas as pd

from wickstats.records.cells import shown
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import Ground, day, groups
from wickstats.records.vessels import in_time, levels_at

# a level is read off a mark: common practice, no source
SLACK_L = 0.5
SLACK_SHARE = 0.10


def levels_told_twice(frame: pd.DataFrame, ground: Ground) -> None:
    """A level told in liters and in cm: the liters are used, disagreement is asked about."""
    water = ground.trial.water
    per_cm = water.reservoirs.liters_per_cm if water is not None else None
    for when in ("before", "after"):
        in_cm, liters = frame[f"level_{when}_cm"], frame[f"level_{when}_l"]
        both = (in_cm.notna() & liters.notna()).to_numpy()
        if per_cm is not None:
            turned = (in_cm * per_cm).to_numpy()
            apart = both & (np.abs(turned - liters) > SLACK_L + SLACK_SHARE * turned).to_numpy()
            for file, group in groups(frame[apart], "file"):
                ground.out.query(
                    file,
                    "a level told twice",
                    found=f"level_{when}_l that is not level_{when}_cm times "
                    f"{shown(float(per_cm))} L in {rows_in_words(group['row'])}",
                    expected="the same level in both, or in one of them",
                    fix="correct one of the two, or liters_per_cm; the liters are used",
                    row=int(group["row"].min()),
                    column=f"level_{when}_l",
                )
        frame.loc[both, f"level_{when}_cm"] = np.nan  # the liters stand for it


def filled_again(frame: pd.DataFrame, ground: Ground) -> np.ndarray:
    """(n,) liters of a row that starts below where another of its day and vessel ended.

    Two fills of one day, or one that was told twice (under two plots, by two people).
    """
    again = np.zeros(len(frame))
    ordered = in_time(frame.assign(place=np.arange(len(frame))))
    opening, closing = levels_at(ordered)
    given = np.nan_to_num(ordered["given_l"].to_numpy())
    alike = (ordered[["vessel", "date"]] == ordered[["vessel", "date"]].shift()).all(axis=1)
    fell = closing[:-1] - opening[1:] > SLACK_L + SLACK_SHARE * given[1:]
    both = np.minimum(given[:-1], given[1:])
    wrong = np.r_[False, fell & (both > 0.0)] & alike.to_numpy()
    again[ordered["place"].to_numpy()[wrong]] = both[wrong[1:]]
    for k in np.flatnonzero(wrong).tolist():
        pair = ordered.iloc[k - 1 : k + 1]
        ground.out.query(
            str(pair["file"].iloc[1]),
            "two fills of one day",
            found=f"two fills of {pair['vessel'].iloc[0]} on {day(pair['date'].iloc[0])}, the "
            f"second from below where the first ended, in {rows_in_words(pair['row'])}",
            expected="one row a fill, each from where the last one ended",
            fix="if both tell the same water, delete one; both are used, and the lower limit "
            "of delivered water leaves the smaller one out",
            row=int(pair["row"].min()),
        )
    return again


def _ran_over(
    frame: pd.DataFrame, holds: float | None, slack: np.ndarray, ground: Ground
) -> np.ndarray:
    """(n,) liters given beyond the room of a reservoir; 0 where a level was noted afterwards.

    A plot that is no reservoir's own has room for anything unless levels were noted there.
    """
    if holds is None:
        return np.zeros(len(frame))
    named = {p.reservoir for p in ground.layout.plots if p.reservoir}
    before = frame["level_before_l"].to_numpy()
    known = frame["vessel"].isin(named).to_numpy() | ~np.isnan(before)
    full = np.nan_to_num(before) + np.nan_to_num(frame["given_l"].to_numpy())
    told = ~np.isnan(frame["level_after_l"].to_numpy())
    beyond = np.where(known & ~told, full - holds, 0.0)
    return np.where(beyond > slack, beyond, 0.0)


def ask_levels(frame: pd.DataFrame, ground: Ground) -> None:
    """Levels against each other, against what was given, against what a reservoir holds.

    Writes ``missing_l``, ``less_l`` and ``more_l`` (see ``water``).
    """
    before, after = frame["level_before_l"].to_numpy(), frame["level_after_l"].to_numpy()
    given, leaked = frame["given_l"].to_numpy(), frame["leaked_l"].to_numpy()
    slack = SLACK_L + SLACK_SHARE * np.nan_to_num(given)
    water = ground.trial.water
    holds = water.reservoirs.holds_l if water is not None else None
    shared = ground.layout.shared_reservoirs
    single = ~frame["unit"].isin(shared).to_numpy() | frame["reservoir"].notna().to_numpy()
    over = np.zeros(len(frame), dtype=bool)
    if holds is not None:
        over = single & (np.fmax(before, after) > holds * (1 + 1e-9))
    apart = before + given - after
    astray = np.abs(apart) > slack  # NaN compares as no
    too_much = _ran_over(frame, holds, slack, ground)
    off = np.where(astray, apart, 0.0)
    frame["less_l"], frame["more_l"] = np.maximum(off, too_much), np.maximum(-off, 0.0)
    last = _level_before_visit(frame)
    lost_more = leaked > last + SLACK_L  # NaN compares as no
    rose = before > last + SLACK_L + SLACK_SHARE * last
    if water is not None and water.rain_catch_m2:
        rose = np.zeros(len(frame), dtype=bool)  # rain may have done it
    # one refill from empty to full brings at most what the reservoir holds
    frame["missing_l"] = np.where(rose, before if holds is None else max(holds, 0.0), 0.0)
    checks = (
        (
            astray,
            "levels and water disagree",
            "level_after_l that is not level_before_l plus the water given",
            "the three to agree within half a liter and a tenth",
            (
                "correct one of them; all are used as they are, and the limits of delivered "
                "water reach as far as they disagree"
            ),
        ),
        (
            too_much > 0.0,
            "more than there was room for",
            f"more water than a reservoir of {shown(float(holds or 0))} L had room for",
            "at most what fits, or the level before where some was left",
            (
                "correct the amount, the level or holds_l; the amount is used, and the lower "
                "limit of delivered water leaves out what may have run over"
            ),
        ),
        (
            over,
            "above what it holds",
            f"a level above the {shown(float(holds or 0))} L that a reservoir holds",
            "at most that",
            "correct the level or holds_l; the level is used",
        ),
        (
            lost_more,
            "lost more than it held",
            "more leaked than the reservoir held",
            "at most what it held",
            "correct leaked_l or the levels; all are used as they are",
        ),
        (
            rose,
            "rose by itself",
            "a level above the one left at the last visit",
            "a level that only falls between visits",
            "correct the levels, or add the missing refill; delivered is a lower limit",
        ),
    )
    for wrong, code, found, expected, fix in checks:
        for (file, unit), group in groups(frame[wrong], "file", "unit"):
            ground.out.query(
                file,
                code,
                found=f"{found} (unit {unit}, {rows_in_words(group['row'])})",
                expected=expected,
                fix=fix,
                row=int(group["row"].min()),
            )


def _level_before_visit(frame: pd.DataFrame) -> np.ndarray:
    """What every row's reservoir held when it was left at the visit before (NaN: unknown)."""
    ordered = in_time(frame.assign(place=np.arange(len(frame))))
    _, closing = levels_at(ordered)
    same = (ordered["vessel"] == ordered["vessel"].shift()).to_numpy()
    last = np.full(len(frame), np.nan)
    last[ordered["place"]] = np.where(same, np.r_[np.nan, closing[:-1]], np.nan)
    return last
