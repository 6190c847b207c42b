"""The table of events: mishaps, replacements, damage. And plots that were lost.

Leans on the modules of this package.
"""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from wickstats.records.duplicates import settle_duplicates
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import (
    Ground,
    ask_out_of_season,
    day,
    groups,
    need,
    with_columns,
)

TAKES_ALL = ("flood damage", "theft")
SEEN = ("visits", "measurements", "picks", "lifetimes", "readings")


def check_events(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """One row an event, with a day and a word from the list."""
    frame = with_columns(
        frame, plot="text", reservoir="text", plant="text", new_plant="text", until="date"
    )
    need(frame, ("date", "what"), ground.out)
    frame = settle_duplicates(
        frame,
        ("date", "plot", "reservoir", "plant", "what", "until", "new_plant"),
        ground.out,
        "one event",
    )
    ask_out_of_season(frame, ground, "an event")
    backwards = frame["until"].to_numpy() < frame["date"].to_numpy()
    nameless = ((frame["what"] == "replaced") & frame["plant"].isna()).to_numpy()
    for wrong, code, found, expected, fix in (
        (
            backwards,
            "ends before it begins",
            "until before date",
            "until on or after date",
            "correct one of the two; until is not used",
        ),
        (
            nameless,
            "replacement without a plant",
            "replaced without the plant",
            "the plant that was replaced",
            "name it, and its successor in new_plant; the event has no effect",
        ),
    ):
        for file, group in groups(frame[wrong], "file"):
            ground.out.query(
                file,
                code,
                found=f"{found} in {rows_in_words(group['row'])}",
                expected=expected,
                fix=fix,
                row=int(group["row"].min()),
            )
    _ask_wrong_treatment(frame, ground)
    if backwards.any():
        frame = frame.copy()
        frame.loc[backwards, "until"] = pd.NaT
    return frame


def _ask_wrong_treatment(frame: pd.DataFrame, ground: Ground) -> None:
    wrong = frame[(frame["what"] == "wrong treatment").to_numpy()]
    places = [wrong[c] for c in ("file", "row", "plot", "reservoir")]
    for file, row, plot, reservoir in zip(*places, strict=True):
        ground.out.query(
            file,
            "wrong treatment",
            found=f"a wrong treatment in {'plot' if plot else 'reservoir'} {plot or reservoir}",
            expected="the treatment of the layout",
            fix="nothing to do: it is analyzed as it was laid out",
            row=int(row),
        )


def lost_plots(
    tables: Mapping[str, pd.DataFrame], ground: Ground
) -> tuple[dict[str, str], dict[str, pd.Timestamp]]:
    """Plots of which nothing can be used: the reason, and the day where there is one.

    A flood or theft that names no plant takes the plot, unless a plant of it was seen
    alive or measured or picked later. A plot without a row in any table that looks at
    plots is lost without a reason.
    """
    lost: dict[str, str] = {}
    days: dict[str, pd.Timestamp] = {}
    events = tables.get("events")
    if events is not None:
        fatal = events[(events["what"].isin(TAKES_ALL) & events["plant"].isna()).to_numpy()]
        last = _last_life(tables)
        columns = [fatal[c] for c in ("plot", "reservoir", "what", "date", "file", "row")]
        for plot, reservoir, what, when, file, row in sorted(
            zip(*columns, strict=True), key=lambda e: (e[3], e[2], str(e[4]), e[5])
        ):
            for hit in _plots_hit(plot, reservoir, ground):
                if hit in last and last[hit] > when:
                    ground.out.query(
                        file,
                        "life after loss",
                        found=f"plot {hit} seen alive on {day(last[hit])}, after {what}",
                        expected="nothing alive in a plot that was lost",
                        fix="name the plants that were lost; the plot stays in use",
                        row=int(row),
                    )
                elif hit not in lost:
                    lost[hit], days[hit] = f"{what} on {day(when)}", when
    looked = [tables[name]["plot"] for name in SEEN if name in tables]
    if looked:
        seen = set().union(*looked)
        for plot in ground.layout.plots:
            if plot.plot not in seen:
                lost.setdefault(plot.plot, "no records")
    order = {p.plot: i for i, p in enumerate(ground.layout.plots)}
    return dict(sorted(lost.items(), key=lambda item: order.get(item[0], 0))), days


def _plots_hit(plot: str | None, reservoir: str | None, ground: Ground) -> list[str]:
    if plot is not None:
        return [plot]
    return [p.plot for p in ground.layout.plots if p.reservoir == reservoir]


def _last_life(tables: Mapping[str, pd.DataFrame]) -> dict[str, pd.Timestamp]:
    """Plot to the last day on which something of it was alive."""
    parts = []
    visits = tables.get("visits")
    if visits is not None:
        living = (
            visits["status"].isin(("alive", "doubtful")) | (visits["alive_n"] > 0)
        ).to_numpy()
        parts.append(visits.loc[living, ["plot", "date"]])
    if "measurements" in tables:
        parts.append(tables["measurements"][["plot", "date"]])
    picks = tables.get("picks")
    if picks is not None:
        amounts = [c for c in ("mass_kg", "marketable_kg", "count") if c in picks]
        some = (
            (picks[amounts] > 0).any(axis=1).to_numpy()
            if amounts
            else np.zeros(len(picks), bool)
        )
        parts.append(picks.loc[some, ["plot", "date"]])
    if not parts:
        return {}
    days = pd.concat(parts).dropna()
    last = days.groupby("plot")["date"].max()
    return dict(zip(last.index, last, strict=True))
