"""Rows find their plots, reservoirs and levels in the layout.

An unknown plot stops the reading. An identifier that lost its leading zeros is
matched where that is possible in one way only, and reported. Leans on layout.
"""

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from wickstats.layout.plots import Layout
from wickstats.records.cells import nearest, shown
from wickstats.records.columns import Part
from wickstats.records.findings import Findings, rows_in_words

LAYOUT_COLUMNS = ("block", "replicate", "square", "whole_plot", "coil", "treatment")


def layout_columns(layout: Layout, table_columns: Iterable[str]) -> frozenset[str]:
    """Columns that tables may repeat from the layout, and that are then compared with it."""
    return frozenset((*LAYOUT_COLUMNS, *layout.factors)) - frozenset(table_columns)


def join_layout(
    part: Part, layout: Layout, out: Findings, beside: Iterable[str] = ()
) -> pd.DataFrame:
    """Check plots, reservoirs and repeated columns against the layout.

    ``beside``: names that stand for something beside the plots (cups without a cord).
    """
    frame = part.frame
    known = {p.plot: i for i, p in enumerate(layout.plots)}
    known = {**dict.fromkeys(beside, len(known)), **known}
    reservoirs = {p.reservoir for p in layout.plots if p.reservoir}
    either = "reservoir" in frame and "plot" in frame
    if "plot" in frame:
        frame["plot"] = _known(frame, "plot", known, out, "plot", may_be_blank=either)
    if "reservoir" in frame:
        names = dict.fromkeys(sorted(reservoirs), 0)
        frame["reservoir"] = _known(
            frame, "reservoir", names, out, "reservoir", may_be_blank="plot" in frame
        )
    if either:
        _agree(frame, layout, out)
    elif "plot" in frame and (blank := pd.isna(frame["plot"].to_numpy())).any():
        # told as a problem: nothing more is asked about rows that belong nowhere
        frame = frame[~blank]
        part.repeated.clear()
    for name, texts in part.repeated.items():
        _compare(frame, name, texts, layout, out)
    return frame


def _known(
    frame: pd.DataFrame,
    column: str,
    known: Mapping[str, int],
    out: Findings,
    word: str,
    *,
    may_be_blank: bool,
) -> np.ndarray:
    codes, distinct = pd.factorize(frame[column].to_numpy())
    if not may_be_blank and (codes < 0).any():
        for place in np.flatnonzero(codes < 0):
            file, row = _place(frame, place)
            out.problem(
                file,
                f"missing {word}",
                found="a blank",
                expected=f"a {word} of the layout",
                fix=f"write the {word}, or delete the row if it is empty",
                row=row,
                column=column,
            )
    strange = [i for i, name in enumerate(distinct) if name not in known]
    if not strange:
        return np.asarray(frame[column].to_numpy(), dtype=object)
    names = np.empty(len(distinct) + 1, dtype=object)  # the last one stays None
    names[:-1] = distinct
    for i in strange:
        rows = np.flatnonzero(codes == i)
        names[i] = _settle(frame, column, distinct[i], rows, known, out, word)
    found: np.ndarray = names[codes]
    return found


def _settle(
    frame: pd.DataFrame,
    column: str,
    name: str,
    places: np.ndarray,
    known: Mapping[str, int],
    out: Findings,
    word: str,
) -> str:
    file, row = _place(frame, places[0])
    others = f" ({len(places)} rows)" if len(places) > 1 else ""
    alike = [k for k in known if k.lstrip("0") == name.lstrip("0")]
    if len(alike) == 1 and name.lstrip("0"):
        out.query(
            file,
            "lost leading zeros",
            found=f"{shown(name)}{others}",
            expected=f"{alike[0]}, as in the layout",
            fix=f"nothing to do if {alike[0]} is meant: it is read so; "
            "format the column as text to keep the zeros",
            row=row,
            column=column,
        )
        return alike[0]
    near = nearest(name, list(known))
    out.problem(
        file,
        f"unknown {word}",
        found=f"{shown(name)}{others}",
        expected=f"a {word} of the layout",
        fix=f"did you mean {near}?" if near else "correct it here or in the layout",
        row=row,
        column=column,
    )
    return name


def _place(frame: pd.DataFrame, place: Any) -> tuple[str, int]:
    return str(frame["file"].iloc[place]), int(frame["row"].iloc[place])


def _agree(frame: pd.DataFrame, layout: Layout, out: Findings) -> None:
    """Where both are given, the plot hangs on that reservoir; one of them is needed."""
    plots, reservoirs = frame["plot"].to_numpy(), frame["reservoir"].to_numpy()
    no_plot, no_reservoir = pd.isna(plots), pd.isna(reservoirs)
    for place in np.flatnonzero(no_plot & no_reservoir):
        file, row = _place(frame, place)
        out.problem(
            file,
            "missing plot",
            found="neither a plot nor a reservoir",
            expected="one of them",
            fix="write the plot or the reservoir, or delete the row if it is empty",
            row=row,
            column="plot",
        )
    fed = {p.plot: p.reservoir for p in layout.plots}
    for place in np.flatnonzero(~no_plot & ~no_reservoir):
        if fed.get(plots[place]) != reservoirs[place] and plots[place] in fed:
            file, row = _place(frame, place)
            out.problem(
                file,
                "plot and reservoir disagree",
                found=f"plot {plots[place]} with reservoir {reservoirs[place]}",
                expected=f"reservoir {fed[plots[place]] or 'none'}, as in the layout",
                fix="give one of the two, or correct it",
                row=row,
                column="reservoir",
            )


def _compare(
    frame: pd.DataFrame, name: str, texts: np.ndarray, layout: Layout, out: Findings
) -> None:
    """A table repeats a column of the layout: unknown levels stop, disagreements are told."""
    if "plot" not in frame:
        return
    if name in layout.factors:
        truth = {p.plot: p.levels[name] for p in layout.plots}
    else:
        truth = {p.plot: getattr(p, name) for p in layout.plots}
    levels = {v for v in truth.values() if v is not None}
    if not levels:
        return
    pairs = pd.DataFrame({"plot": frame["plot"].to_numpy(), "said": texts})
    pairs["place"] = np.arange(len(pairs))
    for (plot, said), places in pairs.groupby(["plot", "said"], sort=False)["place"]:
        if plot not in truth or said == truth[plot]:
            continue
        file, row = _place(frame, int(places.iloc[0]))
        rows = rows_in_words(frame["row"].to_numpy()[places.to_numpy()])
        if said in levels:
            out.query(
                file,
                "not as in the layout",
                found=f"plot {plot} with {name} {shown(said)} in {rows}",
                expected=f"{truth[plot]}, as in the layout",
                fix="the layout prevails; correct the plot or this column",
                row=row,
                column=name,
            )
            continue
        near = nearest(str(said), sorted(levels))
        out.problem(
            file,
            "unknown level",
            found=f"{name} {shown(said)} in {rows}",
            expected="one of " + ", ".join(sorted(levels)),
            fix=f"did you mean {near}?" if near else "correct it here or in the layout",
            row=row,
            column=name,
        )
