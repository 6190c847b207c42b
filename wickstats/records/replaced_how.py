"""Questions about replacements that cannot all be true: nothing is repaired here.

One plant that two others replace, a plant that replaces itself, a new plant with two
planting days or planted before the one whose place it took, a death seen after the
replacement. Leans on pandas.
"""

from collections import defaultdict
from typing import Any

import pandas as pd

from wickstats.records.ground import Ground, day

_DEATH_FIX = (
    "correct the day of the replacement, or the plant in the visits (dead may be the new "
    "one); as it stands the death is the first plant's"
)


def ask_replacements(
    plants: pd.DataFrame | None,
    events: pd.DataFrame | None,
    lives: pd.DataFrame,
    ground: Ground,
) -> None:
    """Query what plants, events and visits say differently about replacements.

    Parameters
    ----------
    plants, events
        Checked rows of the two tables, None where there is none.
    lives
        One row a plant, as visits and tables tell it.
    """
    listed, told = _listed(plants), _told(events)
    planted = {} if plants is None else _days(plants, "planted_on")
    died = _days(lives, "first_dead")
    successors: dict[tuple[str, str], dict[str, dict[str, Any]]] = defaultdict(dict)
    for row in (*listed, *told):
        if row["new"] is not None and row["new"] != row["old"]:
            successors[row["plot"], row["old"]].setdefault(row["new"], row)
    for (plot, old), new in successors.items():
        if len(new) > 1:
            first, *_, last = new
            _ask(
                ground,
                new[last],
                "replaced twice",
                found=f"plant {old} of plot {plot} replaced by {' and by '.join(new)}",
                expected="one new plant for every plant that is replaced",
                fix=f"where {last} took the place of {first}, say so; all stay replacements",
            )
    for row in listed:
        plot, old, new = row["plot"], row["old"], row["new"]
        before = planted.get((plot, old))
        if old == new:
            _ask(
                ground,
                row,
                "replaces itself",
                found=f"plant {new} of plot {plot} replaces {old}",
                expected="another plant of the same plot",
                fix="correct `replaces`; this one stays a replacement",
            )
        elif before is not None and pd.notna(row["on"]) and row["on"] < before:
            _ask(
                ground,
                row,
                "planted before the other",
                found=f"plant {new} of plot {plot}, planted on {day(row['on'])}, replaces "
                f"{old}, planted on {day(before)}",
                expected="a replacement that was planted later",
                fix="correct `planted_on` or `replaces`; this one stays a replacement",
            )
    for row in told:
        plot, old, new = row["plot"], row["old"], row["new"]
        on = planted.get((plot, new)) if new is not None and new != old else None
        if on is not None and on != row["on"]:
            _ask(
                ground,
                row,
                "two planting days",
                found=f"plant {new} of plot {plot} planted on {day(on)}, and in place of {old} "
                f"on {day(row['on'])}",
                expected="one day in the table of plants and in events",
                fix="correct one of them; the day in the table of plants is used",
            )
        death = died.get((plot, old))
        if death is not None and death > row["on"]:
            _ask(
                ground,
                row,
                "dead after replacement",
                found=f"plant {old} of plot {plot} replaced on {day(row['on'])}, first seen "
                f"dead on {day(death)}",
                expected="a visit that says dead before the replacement",
                fix=_DEATH_FIX,
            )


def _listed(plants: pd.DataFrame | None) -> list[dict[str, Any]]:
    if plants is None:
        return []
    columns = ["plot", "replaces", "plant", "planted_on", "file", "row"]
    return _rows(plants[plants["replaces"].notna()], columns, "replaces")


def _told(events: pd.DataFrame | None) -> list[dict[str, Any]]:
    if events is None:
        return []
    here = (events["what"] == "replaced") & events["plant"].notna() & events["plot"].notna()
    columns = ["plot", "plant", "new_plant", "date", "file", "row"]
    return _rows(events[here].sort_values("date", kind="stable"), columns, "new_plant")


def _rows(frame: pd.DataFrame, columns: list[str], column: str) -> list[dict[str, Any]]:
    names = ("plot", "old", "new", "on", "file", "row")
    found = zip(*(frame[c] for c in columns), strict=True)
    rows = [dict(zip(names, values, strict=True)) for values in found]
    return [
        {**row, "new": None if pd.isna(row["new"]) else row["new"], "column": column}
        for row in rows
    ]


def _days(frame: pd.DataFrame, column: str) -> dict[tuple[str, str], Any]:
    known = frame[frame[column].notna()]
    keys = zip(known["plot"], known["plant"], strict=True)
    return dict(zip(keys, known[column], strict=True))


def _ask(
    ground: Ground, row: dict[str, Any], code: str, *, found: str, expected: str, fix: str
) -> None:
    ground.out.query(
        str(row["file"]),
        code,
        found=found,
        expected=expected,
        fix=fix,
        row=int(row["row"]),
        column=row["column"],
    )
