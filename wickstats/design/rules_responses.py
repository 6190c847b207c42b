"""Responses: keys that belong to the kind, names, dates, tables they need. Leans on parts."""

import re
from datetime import date

from wickstats.design.defaults import FIXED_UNITS
from wickstats.design.findings import Findings, Path, listing, quote
from wickstats.design.parts import Values, responses_of, unknown_name
from wickstats.design.tables import PICKS

_COMMON = frozenset({"name", "kind", "better", "measured_in"})
_KEYS: dict[str, frozenset[str]] = {
    "survival": frozenset({"at"}),
    "growth": frozenset({"column", "scale", "range", "at", "measure"}),
    "measurement": frozenset({"column", "scale", "range", "at"}),
    "score": frozenset({"column", "range", "at"}),
    "yield": frozenset({"column", "scale", "range", "at"}),
    "yield per liter": frozenset({"yield_of", "water", "scale"}),
    "count": frozenset({"column", "range", "at"}),
    "water used": frozenset({"water", "scale"}),
    "rise": frozenset({"measure", "top_mm", "scale", "temperature"}),
    "flow": frozenset({"measure", "head_mm", "scale", "temperature"}),
}
_NEEDED: dict[str, tuple[str, ...]] = {
    "growth": ("column",),
    "measurement": ("column",),
    "score": ("column",),
    "yield": ("column",),
    "count": ("column",),
    "yield per liter": ("yield_of",),
}
_TABLES: dict[str, tuple[str, ...]] = {
    "survival": ("visits", "lifetimes"),
    "growth": ("measurements",),
    "measurement": ("measurements",),
    "score": ("measurements",),
    "yield": ("picks",),
    "yield per liter": ("picks",),
    "count": ("picks",),
    "rise": ("readings",),
    "flow": ("readings",),
}
_PICK_COLUMNS = ("mass_kg", "marketable_kg")
_WRITTEN = {"yield_of": "yield"}
GROWTH_MEASURES = ("last size", "slope")
RISE_MEASURES = ("early slope", "plateau")
TEMPERATURES = ("to 20 degC", "as measured")
_HEIGHT_AT = re.compile(r"height at \d+(\.\d+)? min")


def check_responses(values: Values, out: Findings) -> None:
    """Every response on its own, then against records and season."""
    seen: set[str] = set()
    for i, response in enumerate(values.get("responses", ())):
        if not response:
            continue
        path: Path = ("responses", i)
        name, kind = response.get("name"), response.get("kind")
        if name in seen:
            out.add(
                (*path, "name"),
                "duplicate name",
                found=f"a second response called {quote(name)}",
                expected="each name once",
                fix="rename one of the two",
            )
        seen.add(name)
        if kind is None:
            continue
        _keys(kind, response, path, out)
        _columns(kind, response, path, out)
        _unit(kind, response, path, out)
        _measure(kind, response, path, out)
        _place(kind, path, values, out)
        _times(kind, response, path, values, out)
        _tables(kind, response, path, values, out)
        if kind == "yield per liter" and "yield_of" in response:
            _yield_of(response["yield_of"], path, values, out)


def _keys(kind: str, response: Values, path: Path, out: Findings) -> None:
    allowed = _COMMON | _KEYS[kind]
    for key in response:
        if key not in allowed:
            shown = _WRITTEN.get(key, key)
            names = [_WRITTEN.get(k, k) for k in sorted(_KEYS[kind])]
            out.add(
                (*path, shown),
                "contradiction",
                found=f"{shown} for a response of kind {kind}",
                expected=f"besides name, kind, better, measured_in only: {listing(names)}",
                fix="take it out, or correct the kind",
                on_key=True,
            )
    for key in _NEEDED.get(kind, ()):
        shown = _WRITTEN.get(key, key)
        if key not in response and out.sound(*path, shown):
            out.add(
                (*path, shown),
                "missing key",
                found=f"no {shown} for a response of kind {kind}",
                expected="the name of a response of kind yield"
                if shown == "yield"
                else f"{shown}: the column of the record table that holds it",
                fix=f"add {shown}",
            )


def _columns(kind: str, response: Values, path: Path, out: Findings) -> None:
    column = response.get("column")
    if column is None:
        return
    if kind in ("yield", "count"):
        known = _PICK_COLUMNS if kind == "yield" else ("count",)
        if column not in known:
            unknown_name(column, (*path, "column"), known, "column", out)
    elif kind in ("growth", "measurement", "score") and column in PICKS.column_names:
        out.add(
            (*path, "column"),
            "contradiction",
            found=f"the column {quote(column)}, which is not a quantity of measurements",
            expected="a column of your own in measurements",
            fix="correct the column; for picks the kinds are yield and count",
        )


def _unit(kind: str, response: Values, path: Path, out: Findings) -> None:
    """Kinds that are reckoned in a unit of their own cannot be told in another."""
    ours, given = FIXED_UNITS.get(kind), response.get("measured_in")
    if ours is None or given is None or given == ours or kind in ("score", "count"):
        return
    out.add(
        (*path, "measured_in"),
        "contradiction",
        found=f"{quote(given)} for a response of kind {kind}",
        expected=f"{ours}, in which it is reckoned",
        fix="take measured_in out; the unit of a file's column belongs under "
        "records, in its columns",
    )


def _measure(kind: str, response: Values, path: Path, out: Findings) -> None:
    word = response.get("measure")
    temperature = response.get("temperature")
    if temperature is not None and temperature not in TEMPERATURES:
        _unknown_word(path, "temperature", temperature, TEMPERATURES, out)
    if word is None:
        return
    if kind == "growth" and word not in GROWTH_MEASURES:
        _unknown_word(path, "measure", word, GROWTH_MEASURES, out)
    if kind == "rise" and word not in RISE_MEASURES and not _HEIGHT_AT.fullmatch(word):
        _unknown_word(path, "measure", word, ("height at 60 min", *RISE_MEASURES), out)


def _unknown_word(
    path: Path, key: str, word: str, words: tuple[str, ...], out: Findings
) -> None:
    out.add(
        (*path, key),
        "unknown word",
        found=f"{quote(word)} for {key}",
        expected=f"one of: {listing(words)}",
        fix="use one of these words",
    )


def _place(kind: str, path: Path, values: Values, out: Findings) -> None:
    bench = values.get("trial", {}).get("place") == "bench"
    if (kind in ("rise", "flow")) != bench and kind in ("rise", "flow", "survival"):
        out.add(
            (*path, "kind"),
            "contradiction",
            found=f"the kind {kind} in a {'bench' if bench else 'field'} trial",
            expected="rise and flow at the bench, survival in the field",
            fix="correct the kind, or trial.place",
        )


def _times(kind: str, response: Values, path: Path, values: Values, out: Findings) -> None:
    times = response.get("at", ())
    season = values.get("trial", {}).get("season", {})
    start, end = season.get("start"), season.get("end")
    records = values.get("records", {})
    days = "lifetimes" in records and "visits" not in records
    for i, time in enumerate(times):
        where = (*path, "at", i) if (*path, "at", i) in out.values else (*path, "at")
        if time is None:
            continue
        if isinstance(time, date):
            if start and end and start < end and not start <= time <= end:
                out.add(
                    where,
                    "out of season",
                    found=f"{time} for at",
                    expected=f"a day from {start} to {end}",
                    fix="correct the date, or the season",
                )
            elif kind == "survival" and days:
                _wrong_times(where, f"the date {time}", "days from planting", out)
        elif kind != "survival" or ("visits" in records and "lifetimes" not in records):
            _wrong_times(where, f"{time:g} days", "a date as in 2025-03-17", out)
    known = [time for time in times if time is not None]
    if known != sorted(set(known)):
        out.add(
            (*path, "at"),
            "impossible value",
            found="dates out of order, or one twice",
            expected="dates in order; the last one carries the verdict",
            fix="put them in order",
        )


def _wrong_times(path: Path, found: str, expected: str, out: Findings) -> None:
    out.add(
        path,
        "contradiction",
        found=f"{found} for at",
        expected=f"{expected}: days go with the table lifetimes, dates with all others",
        fix="correct at, or the records",
    )


def _tables(kind: str, response: Values, path: Path, values: Values, out: Findings) -> None:
    records = values.get("records", {})
    needed = _TABLES.get(kind, ())
    water = kind in ("water used", "yield per liter")
    counted = response.get("water", "delivered")
    if not records or not out.sound("records"):
        return
    if needed and not any(table in records for table in needed):
        _no_table(kind, needed, path, out)
    if water and counted != "planned" and "water" not in records:
        _no_table(f"{kind} ({counted})", ("water",), path, out)
    planned = values.get("water", {}).get("planned_l")
    if water and counted == "planned" and not planned and out.sound("water"):
        out.add(
            (*path, "water"),
            "contradiction",
            found="planned water, but no water.planned_l",
            expected="the liters planned for each treatment",
            fix="add planned_l under water, or count delivered",
        )


def _no_table(kind: str, needed: tuple[str, ...], path: Path, out: Findings) -> None:
    out.add(
        (*path, "kind"),
        "missing table",
        found=f"the kind {kind}, but no {' or '.join(needed)} under records",
        expected=f"a table {' or '.join(needed)}",
        fix=f"name the file under records.{needed[0]}",
    )


def _yield_of(name: str, path: Path, values: Values, out: Findings) -> None:
    responses = responses_of(values)
    yields = [n for n, r in responses.items() if r.get("kind") == "yield"]
    if name in yields or not out.sound("responses"):
        return
    if name in responses:
        out.add(
            (*path, "yield"),
            "contradiction",
            found=f"{quote(name)}, which is of kind {responses[name].get('kind')}",
            expected=f"a response of kind yield: {listing(yields) or 'there is none'}",
            fix="name a response of kind yield",
        )
    else:
        unknown_name(name, (*path, "yield"), yields, "response", out)
