"""Plants told by the code of their label (3T, or KA-4/3T) become plants by number.

A code whose letter does not fit its plot and number is a slip, and stops the reading. Where
plants have names of their own that only look like codes, they are left alone: names that a
table declares, and any where most look-alikes do not check. Leans on layout.plant_codes.
"""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from wickstats.layout.plant_codes import check_letter, plant_code, split_code
from wickstats.records.findings import MOST_ALIKE, Findings

_COLUMNS = ("plant", "new_plant", "replaces")
_DECLARED = (("plants", "plant"), ("events", "new_plant"))


def settle_plant_codes(frames: Mapping[str, pd.DataFrame], out: Findings) -> None:
    """Replace right codes by the plant's number, in place; tell wrong ones as problems."""
    columns = [
        (name, frame, column)
        for name, frame in frames.items()
        for column in _COLUMNS
        if column in frame and "plot" in frame
    ]
    found = {(n, c): _look_alikes(frame[c].to_numpy()) for n, frame, c in columns}
    if not any(rows.size for rows in found.values()):
        return
    plain = sum(int(frame[c].notna().sum()) - found[n, c].size for n, frame, c in columns)
    right = wrong = 0
    for name, frame, column in columns:
        for row in found[name, column]:
            checks = _checks(frame["plot"].iloc[row], frame[column].iloc[row])
            right, wrong = right + checks, wrong + (not checks)
    if wrong > plain + right:
        return
    declared = {
        (frame["plot"].iloc[row], frame[column].iloc[row])
        for name, frame, column in columns
        if (name, column) in _DECLARED
        for row in found[name, column]
    }
    for name, frame, column in columns:
        if found[name, column].size:
            _settle(frame, column, found[name, column], declared, out)


def _look_alikes(cells: np.ndarray) -> np.ndarray:
    codes, distinct = pd.factorize(cells)
    alike = np.fromiter(
        (isinstance(t, str) and split_code(t) is not None for t in distinct),
        dtype=bool,
        count=len(distinct),
    )
    return np.flatnonzero(np.append(alike, False)[codes]) if alike.any() else np.empty(0, int)


def _checks(plot: object, text: str) -> bool:
    said = split_code(text)
    if said is None or not isinstance(plot, str):
        return False
    return said[0] in (None, plot) and check_letter(plot, said[1]) == said[2]


def _settle(
    frame: pd.DataFrame,
    column: str,
    rows: np.ndarray,
    declared: set[tuple[object, str]],
    out: Findings,
) -> None:
    values = frame[column].to_numpy(dtype=object, copy=True)
    told = 0
    for row in rows.tolist():
        plot, text = frame["plot"].iloc[row], values[row]
        said = split_code(text)
        if said is None or not isinstance(plot, str):
            continue  # without its plot a plant cannot be checked
        if _checks(plot, text):
            values[row] = said[1]
        elif (plot, text) not in declared and told < MOST_ALIKE:
            told += 1
            other = said[0] not in (None, plot)
            out.problem(
                str(frame["file"].iloc[row]),
                "wrong check letter",
                found=f"plant {text} in plot {plot}",
                expected=f"a plant of plot {plot}"
                if other
                else f"{plant_code(plot, said[1])}, if plant {said[1]} of plot {plot} is meant",
                fix="read the label again: the plot, the number or the letter is wrong",
                row=int(frame["row"].iloc[row]),
                column=column,
            )
    frame[column] = values
