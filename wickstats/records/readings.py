"""The table of readings: height of the wet front and water delivered, by piece and minute.

A contradiction is asked about and, but for a temperature that water cannot have, the
reading stays in use. Cups without a cord (evaporation controls) are named "control",
"control 1", ... in the column plot. Leans on the modules of this package.
"""

import re
from collections.abc import Mapping

import numpy as np
import pandas as pd

from wickstats.core.capillary import COLDEST_C, WARMEST_C
from wickstats.records.duplicates import settle_duplicates
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import Ground, drop, groups, need, with_columns

CONTROL = re.compile(r"(?i)control(?:[ _-]?\d+)?")
_YES, _NO = ("yes", "true", "1", "y"), ("no", "false", "0", "n")
_Series = list[tuple[tuple[str, str], pd.DataFrame]]
FALL_MM, FALL_ML = 0.5, 0.05  # what a scale may read less by itself


def control_names(frame: pd.DataFrame, ground: Ground) -> list[str]:
    """Names of cups without a cord, where the design has some."""
    if not ground.trial.design.evaporation_controls or "plot" not in frame:
        return []
    return [n for n in frame["plot"].dropna().unique() if CONTROL.fullmatch(str(n))]


def check_readings(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """One row a run, piece and minute."""
    frame = with_columns(
        frame,
        height_mm="number",
        volume_ml="number",
        head_mm="number",
        temperature_c="number",
    )
    for name in ("reached_top", "vented"):
        frame[name] = _truths(frame, name, ground)
    need(frame, ("run", "minutes"), ground.out)
    if ground.out.problems:
        return frame
    empty = frame["height_mm"].isna() & frame["volume_ml"].isna() & ~_yes(frame)
    for file, group in groups(frame[empty.to_numpy()], "file"):
        ground.out.query(
            file,
            "no reading",
            found=f"neither a height nor a volume in {rows_in_words(group['row'])}",
            expected="a height_mm, a volume_ml, or reached_top",
            fix="fill it in; the rows are not used, blank is not zero",
            row=int(group["row"].min()),
        )
    frame = drop(frame, empty.to_numpy(), ground.out, "no height and no volume").copy()
    # a height and a volume of one minute may stand in rows of their own
    height, volume = frame["height_mm"].notna() | _yes(frame), frame["volume_ml"].notna()
    minute = [frame[c] for c in ("run", "plot", "minutes")]
    both = (height & volume).groupby(minute).transform("any")
    frame["tells"] = np.where(both, "both", np.where(volume, "volume", "height"))
    key = ("run", "plot", "minutes", "tells")
    frame = settle_duplicates(frame, key, ground.out, "one piece at one minute")
    frame = frame.drop(columns="tells")
    frame = _temperatures(frame, ground)
    series = _series(frame)
    _ask_falls(series, "height_mm", FALL_MM, "a wet front that falls", ground)
    _ask_falls(series, "volume_ml", FALL_ML, "less water than before", ground)
    _ask_top(frame, ground)
    _ask_heads(series, ground)
    _ask_runs(frame, ground)
    _ask_vented(frame, ground)
    _ask_controls(frame, ground)
    return frame


def _yes(frame: pd.DataFrame) -> pd.Series:
    return frame["reached_top"].map(lambda v: v is True).astype(bool)


def _truths(frame: pd.DataFrame, column: str, ground: Ground) -> np.ndarray:
    """Yes and no as truth values, None where blank; other words are problems."""
    out = np.full(len(frame), None, dtype=object)
    if column not in frame:
        return out
    told = frame[column].to_numpy(dtype=object)
    for k, value in enumerate(told):
        word = "" if value is None or value != value else str(value).strip().casefold()
        if word in _YES or word in _NO:
            out[k] = word in _YES
        elif word:
            ground.out.problem(
                str(frame["file"].iloc[k]),
                "not yes or no",
                found=str(value),
                expected="yes or no",
                fix="write yes, no, or nothing",
                row=int(frame["row"].iloc[k]),
                column=column,
            )
    return out


def _temperatures(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """Water that is no liquid: the temperature is left blank, the reading is used."""
    warm = frame["temperature_c"].to_numpy(dtype=float)
    wrong = (warm < COLDEST_C) | (warm > WARMEST_C)
    for file, group in groups(frame[wrong], "file"):
        ground.out.query(
            file,
            "impossible temperature",
            found=f"{group['temperature_c'].iloc[0]:g} degC for water in "
            f"{rows_in_words(group['row'])}",
            expected=f"{COLDEST_C:g} to {WARMEST_C:g} degC",
            fix="correct it, or say its unit with measured_in; the readings are used, "
            "the temperature is not",
            row=int(group["row"].min()),
            column="temperature_c",
        )
    frame = frame.copy()
    frame["temperature_c"] = np.where(wrong, np.nan, warm)
    return frame


def _series(frame: pd.DataFrame) -> _Series:
    """Run and piece, and their rows in the order of time."""
    made = frame.sort_values("minutes", kind="stable")
    return [((str(k[0]), str(k[1])), g) for k, g in made.groupby(["run", "plot"], sort=False)]


def _ask_falls(series: _Series, column: str, least: float, what: str, ground: Ground) -> None:
    for (run, plot), group in series:
        held = group[group[column].notna()]
        values = held[column].to_numpy()
        fall = np.flatnonzero(np.diff(values) < -least)
        if not fall.size:
            continue
        at = int(fall[0]) + 1
        ground.out.query(
            str(held["file"].iloc[at]),
            "readings fall",
            found=f"{what}: {values[at]:g} after {values[at - 1]:g} in {column}, piece "
            f"{plot} in run {run}" + (f", {fall.size} times" if fall.size > 1 else ""),
            expected="readings that grow from minute to minute",
            fix="correct the reading or its minute; the rows are used as they are",
            row=int(held["row"].iloc[at]),
            column=column,
        )


def _ask_top(frame: pd.DataFrame, ground: Ground) -> None:
    tops = [r.top_mm for r in ground.trial.responses if r.kind == "rise" and r.top_mm]
    if not tops:
        return
    top = min(tops)
    above = ((frame["height_mm"] > top) & ~_yes(frame)).to_numpy()
    for file, group in groups(frame[above], "file"):
        ground.out.query(
            file,
            "above the top",
            found=f"{group['height_mm'].iloc[0]:g} mm without reached_top in "
            f"{rows_in_words(group['row'])}",
            expected=f"at most {top:g} mm, the top_mm of the response, or reached_top",
            fix="correct the height, top_mm or reached_top; it counts as having reached "
            "the top",
            row=int(group["row"].min()),
            column="height_mm",
        )
    short = (_yes(frame) & (frame["height_mm"] < top - FALL_MM)).to_numpy()
    for file, group in groups(frame[short], "file"):
        ground.out.query(
            file,
            "below the top",
            found=f"reached_top at {group['height_mm'].iloc[0]:g} mm in "
            f"{rows_in_words(group['row'])}",
            expected=f"{top:g} mm, the top_mm of the response",
            fix="correct one of the two; it counts as having reached the top",
            row=int(group["row"].min()),
            column="height_mm",
        )


def _ask_heads(series: _Series, ground: Ground) -> None:
    for (run, plot), group in series:
        heads = sorted(group["head_mm"].dropna().unique())
        if len(heads) > 1:
            ground.out.query(
                str(group["file"].iloc[0]),
                "mixed heads",
                found=f"heads of {', '.join(f'{h:g}' for h in heads)} mm for piece {plot} "
                f"in run {run}",
                expected="one head of water for a piece in a run",
                fix="give each head a run of its own; the flow of this piece in this run "
                "is not used",
                row=int(group["row"].min()),
                column="head_mm",
            )


def _ask_runs(frame: pd.DataFrame, ground: Ground) -> None:
    """A piece that the layout sets up in one run and that was read in another."""
    laid = {p.plot: p.run or p.block for p in ground.layout.plots}
    for plot, group in groups(frame, "plot"):
        meant = laid.get(plot)
        astray = group[(group["run"] != meant).to_numpy()]
        if meant is None or astray.empty:
            continue
        runs = list(dict.fromkeys(astray["run"]))
        ground.out.query(
            str(astray["file"].iloc[0]),
            "another run",
            found=f"piece {plot} in run {', '.join(map(str, runs))}",
            expected=f"run {meant}, as in the layout",
            fix="correct the run here or in the layout; the readings are used for the "
            "piece as it was laid out",
            row=int(astray["row"].min()),
            column="run",
        )


def _ask_vented(frame: pd.DataFrame, ground: Ground) -> None:
    """A reading that says vented of a piece that the layout has sealed, or the other way."""
    meant = {p.plot: _set_up(p.levels) for p in ground.layout.plots}
    told = frame["vented"].to_numpy(dtype=object)
    asked = frame["plot"].map(meant).to_numpy(dtype=object)
    apart = np.array(
        [
            t is not None and isinstance(m, bool) and t != m
            for t, m in zip(told, asked, strict=True)
        ],
        dtype=bool,
    )
    for plot, group in groups(frame[apart], "plot"):
        words = ("vented", "sealed") if meant[str(plot)] else ("sealed", "vented")
        ground.out.query(
            str(group["file"].iloc[0]),
            "vented otherwise",
            found=f"vented {_NO[0] if words[0] == 'vented' else _YES[0]} for piece {plot} in "
            f"{rows_in_words(group['row'])}, which the layout has {words[0]}",
            expected=f"a piece that stood {words[0]}, as in the layout",
            fix=f"correct the column vented, or the layout if the piece stood {words[1]} by "
            "mistake; the readings are used for the piece as it was laid out",
            row=int(group["row"].min()),
            column="vented",
        )


def _set_up(levels: Mapping[str, str]) -> bool | None:
    """Whether a piece is vented by its treatment; None where the treatment says nothing."""
    for factor, level in levels.items():
        word = level.casefold()
        if word in ("vented", "sealed"):
            return word == "vented"
        if factor.casefold() in ("vented", "sealed") and word in (*_YES, *_NO):
            return (word in _YES) == (factor.casefold() == "vented")
    return None


def _ask_controls(frame: pd.DataFrame, ground: Ground) -> None:
    if not frame["volume_ml"].notna().any():
        return
    file = str(frame["file"].iloc[0])
    planned = ground.trial.design.evaporation_controls
    cups = (
        frame["plot"].map(lambda n: bool(CONTROL.fullmatch(str(n))))
        & frame["volume_ml"].notna()
    )
    if not planned:
        ground.out.query(
            file,
            "no evaporation control",
            found="volumes, but no evaporation_controls under design",
            expected="cups without a cord in every run",
            fix="name how many there were, and write their readings as plot control; "
            "until then what evaporates counts as flow",
            column="volume_ml",
        )
        return
    with_cups = set(frame["run"][cups])
    runs = [r for r in dict.fromkeys(frame["run"]) if r not in with_cups]
    if runs:
        ground.out.query(
            file,
            "no evaporation control",
            found=f"no readings of a control in run {', '.join(map(str, runs))}",
            expected=f"{planned} in every run, as evaporation_controls says",
            fix="add them as plot control; until then the mean of the other runs' controls "
            "is taken off, or nothing where there are none",
            column="plot",
        )
