"""Last digits and repeated values in the records: questions for the crew, no accusations.

Last digits of a quantity that spans many units of its last digit lie about evenly over 0 to
9. Asked about where one digit ends so many values that even the busiest of ten even digits
would not (binomial tail times ten below 1 in 10,000). Equal values in equal order in two
plots, or in one plot on two days, are asked about from four values that are not all the
same. Where a plot has one row a day, rows that follow each other are held against all others:
asked about are runs so long that fewer than one in 1,000 such columns would hold one, if its
values came in any order. Leans on records and core.
"""

from collections.abc import Iterator

import numpy as np
import pandas as pd

from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.design.tables import RECORD_TABLES
from wickstats.recheck.findings import Finding
from wickstats.records.season import Season

FEWEST_DIGITS = 60
FEWEST_ALIKE = 4
SPAN = 30  # last-digit units that the middle 80 % of values must span
RARE = 1e-4
LARGE = 0.25  # share of one digit; less is what repeated readings alone may give
NOT_READ = ("row", "minutes", "head_mm", "temperature_c")  # set, or one value for many rows
MOST = 10  # questions of a kind; more say the same
MOST_DECIMALS = 6
SHORTEST_RUN, SELDOM = 5, 1e-3


def habit_findings(season: Season) -> list[Finding]:
    """Questions about last digits and about values that repeat."""
    out: list[Finding] = []
    for table, frame, column in _quantities(season):
        out.extend(_digits(table, frame, column))
        out.extend(_copied(frame, column))
        out.extend(_repeated(frame, column))
    digits = [f for f in out if f.kind == "digits"][:MOST]
    return [*digits, *[f for f in out if f.kind == "copied"][:MOST]]


def _quantities(season: Season) -> Iterator[tuple[str, pd.DataFrame, str]]:
    for name in ("measurements", "picks", "readings", "plants"):
        frame = season.table(name)
        if frame is None or frame.empty or "plot" not in frame:
            continue
        own = {c.name for c in RECORD_TABLES[name].columns if c.kind in ("integer", "boolean")}
        for column in frame.columns:
            plain = column not in own and column not in NOT_READ
            if plain and pd.api.types.is_float_dtype(frame[column]):
                yield name, frame, str(column)


def _decimals(values: np.ndarray) -> int | None:
    for places in range(MOST_DECIMALS + 1):
        if np.allclose(np.round(values, places), values, rtol=1e-12, atol=1e-9):
            return places
    return None


def _digits(table: str, frame: pd.DataFrame, column: str) -> list[Finding]:
    values = frame[column].dropna().to_numpy(dtype=float)
    values = values[np.isfinite(values)]
    places = _decimals(values) if values.size >= FEWEST_DIGITS else None
    if places is None:
        return []
    whole = np.round(np.abs(values) * 10.0**places)
    low, high = np.quantile(whole, [0.1, 0.9])
    if high - low < SPAN:
        return []
    counts = np.bincount((whole % 10).astype(np.int64), minlength=10)
    most = int(counts.argmax())
    from scipy.special import bdtrc

    if counts[most] < LARGE * values.size:
        return []
    if 10.0 * float(bdtrc(counts[most] - 1, values.size, 0.1)) > RARE:
        return []
    sentence = say(
        "audit digits",
        column=f"{column} in {table}",
        digit=most,
        share=f"{number(100.0 * counts[most] / values.size, 2)} %",
        count=values.size,
    )
    return [Finding("question", "digits", _file(frame), sentence)]


def _copied(frame: pd.DataFrame, column: str) -> list[Finding]:
    if "date" not in frame:
        return []
    held = frame.loc[frame[column].notna()].copy()
    if held.empty:
        return []
    held["day"] = held["date"].astype(str).str.slice(0, 10)
    order = [c for c in ("plant", "position", "row") if c in held]
    seen: dict[tuple[float, ...], tuple[str, str]] = {}
    out: list[Finding] = []
    for (day, plot), group in held.sort_values(order).groupby(["day", "plot"], sort=True):
        values = tuple(group[column].tolist())
        if len(values) < FEWEST_ALIKE or len(set(values)) < min(3, len(values)):
            continue
        before = seen.get(values)
        seen[values] = (str(day), str(plot))
        if before is None:
            continue
        place = f"{_file(group)}, row {int(group['row'].iloc[0])}"
        fields = {"count": len(values), "column": column, "day": day, "one": plot}
        if before[0] == day:
            sentence = say("audit copied plots", two=before[1], **fields)
        elif before[1] == plot:
            sentence = say("audit copied days", before=before[0], **fields)
        else:
            continue
        out.append(Finding("question", "copied", place, sentence))
    return out


def _repeated(frame: pd.DataFrame, column: str) -> list[Finding]:
    """Runs of rows whose values stand elsewhere too, where a plot has few rows a day."""
    held = frame.loc[frame[column].notna()].sort_values(["file", "row"], kind="stable")
    by = [c for c in ("date", "plot") if c in held]
    if len(held) < 2 * SHORTEST_RUN or held.groupby(by).size().max() >= FEWEST_ALIKE:
        return []
    values = held[column].to_numpy(dtype=float)
    chance = _chance_of_each(held, column)
    pairs = 0.5 * len(held) ** 2
    seen: dict[tuple[float, ...], int] = {}
    out: list[Finding] = []
    rows, start = held["row"].to_numpy(), 0
    while start + SHORTEST_RUN <= len(values):
        run = tuple(values[start : start + SHORTEST_RUN])
        before = seen.setdefault(run, start)
        if before + SHORTEST_RUN > start:
            start += 1
            continue
        count = SHORTEST_RUN
        while (
            start + count < len(values)
            and before + count < start
            and values[start + count] == values[before + count]
        ):
            count += 1
        if pairs * float(np.prod(chance[start : start + count])) > SELDOM:
            start += 1
            continue
        end, until = start + count - 1, before + count - 1
        sentence = say(
            "audit copied rows",
            count=count,
            column=column,
            first=int(rows[start]),
            last=int(rows[end]),
            before=int(rows[before]),
            until=int(rows[until]),
        )
        place = f"inputs/{held['file'].iloc[start]}, row {int(rows[start])}"
        out.append(Finding("question", "copied", place, sentence))
        start = end + 1
    return out


def _chance_of_each(held: pd.DataFrame, column: str) -> np.ndarray:
    """How often each row's value stands in other rows: of the column, or of its own day."""
    whole = held.groupby(column)[column].transform("size").to_numpy() / len(held)
    if "date" not in held:
        return np.asarray(whole, dtype=float)
    others = held.groupby(["date", column])[column].transform("size").to_numpy() - 1
    day = held.groupby("date")[column].transform("size").to_numpy() - 1
    return np.asarray(np.maximum(whole, others / np.maximum(day, 1)), dtype=float)


def _file(frame: pd.DataFrame) -> str:
    return f"inputs/{frame['file'].iloc[0]}"
