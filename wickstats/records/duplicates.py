"""Rows that say something about the same thing at the same time.

Identical ones: the first is used. Conflicting ones: none is. Either way a query says so
and every row left out is listed. Leans on pandas.
"""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from wickstats.records.findings import Findings, rows_in_words

QUIET = ("note", "observer", "file", "row", "crew")  # they say nothing about what was seen


def settle_duplicates(
    frame: pd.DataFrame, key: Sequence[str], out: Findings, what: str
) -> pd.DataFrame:
    """Keep one of identical rows and none of conflicting ones.

    Parameters
    ----------
    frame
        Rows with ``file`` and ``row``.
    key
        Columns that together say what a row is about; those not in the frame are left out.
    what
        What a row is about, in words, e.g. "one plant at one visit".
    """
    keys = [k for k in key if k in frame]
    if len(frame) < 2 or not keys:
        return frame
    codes = group_codes(frame, keys)
    counts = np.bincount(codes)
    if counts.max() == 1:
        return frame
    repeated = np.flatnonzero(counts[codes] > 1)
    content = [c for c in frame.columns if c not in QUIET and c not in keys]
    keep = np.ones(len(frame), dtype=bool)
    files, rows = frame["file"].to_numpy(), frame["row"].to_numpy()
    repeated = repeated[np.lexsort((rows[repeated], files[repeated].astype(str)))]
    for places in pd.Series(repeated).groupby(codes[repeated], sort=False).agg(list):
        group = frame.iloc[places]
        alike = not content or len(group[content].drop_duplicates()) == 1
        _tell(group, out, what, alike=alike)
        keep[places[1:] if alike else places] = False
    return frame[keep]


def _tell(group: pd.DataFrame, out: Findings, what: str, *, alike: bool) -> None:
    rows = rows_in_words(group["row"])
    file, first = str(group["file"].iloc[0]), int(group["row"].iloc[0])
    out.query(
        file,
        "duplicate" if alike else "conflicting duplicates",
        found=f"{rows}, which say the same"
        if alike
        else f"{rows}, which contradict each other",
        expected=f"one row for {what}",
        fix="delete the surplus rows; the first is used"
        if alike
        else "correct or delete the wrong rows; none of them is used",
        row=first,
    )
    for other, row in zip(
        group["file"][1 if alike else 0 :], group["row"][1 if alike else 0 :], strict=True
    ):
        reason = f"the same as row {first}" if alike else f"contradicts another of {rows}"
        out.exclude(str(other), int(row), reason)


def group_codes(frame: pd.DataFrame, keys: Sequence[str]) -> np.ndarray:
    """One code a combination of the key columns; blanks are a value of their own."""
    total = np.zeros(len(frame), dtype=np.int64)
    for key in keys:
        codes, distinct = pd.factorize(frame[key].to_numpy())
        total = total * (len(distinct) + 1) + codes + 1
        if len(distinct) > 1_000_000:
            total = pd.factorize(total)[0]
    return np.asarray(pd.factorize(total)[0])
