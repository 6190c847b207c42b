"""The MIAPPE fields that a trial has, with their numbers and names.

Minimum Information About a Plant Phenotyping Experiment, version 1.1 (Papoutsoglou et al.
2020): numbers and names of fields are those of its published checklist. A field that the
trial does not have is left out, never filled with a guess. The place is told as far as the
results tell it. Leans on ``archived``, records, core.results and core.words.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from wickstats.archive.archived import Archived, ArchivedTable
from wickstats.archive.datapackage import media_type
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.records.cells import as_days, as_text, shown
from wickstats.records.dates import style_from_example

MIAPPE_VERSION = "1.1"
NAMES = {
    2: "Investigation unique ID", 3: "Investigation title", 4: "Investigation description",
    8: "MIAPPE version", 11: "Study unique ID", 12: "Study title", 13: "Study description",
    14: "Start date of study", 15: "End date of study", 18: "Experimental site name",
    19: "Geographic location (latitude)", 20: "Geographic location (longitude)",
    21: "Geographic location (altitude)", 22: "Description of the experimental design",
    24: "Observation unit level hierarchy", 25: "Observation unit description",
    26: "Description of growth facility", 29: "Map of experimental design",
    31: "Person name", 34: "Person role", 37: "Data file link", 38: "Data file description",
    39: "Data file version", 58: "Environment parameter", 59: "Environment parameter value",
    61: "Experimental Factor type", 62: "Experimental Factor description",
    63: "Experimental Factor values", 65: "Event type", 68: "Event date",
    70: "Observation unit ID", 71: "Observation unit type", 73: "Spatial distribution",
    74: "Observation Unit factor value", 83: "Variable ID", 84: "Variable name", 86: "Trait",
    88: "Method", 92: "Scale", 94: "Time scale",
}  # fmt: skip
LEVELS = ("replicate", "square", "block", "whole_plot", "row_strip", "column_strip")
PLACES = (*LEVELS, "row", "column", "subplot", "reservoir", "coil", "run")


@dataclass(frozen=True, slots=True)
class MiappeField:
    """One field: its number in the checklist, which of several it belongs to, its value."""

    number: int
    value: str
    of: int | None = None  # the first person is 1, the second 2

    @property
    def name(self) -> str:
        """The field's name in the checklist."""
        return NAMES[self.number]


def investigation_fields(results: Results, title: str) -> list[MiappeField]:
    """Fields of the investigation: this trial's report is one."""
    trial = results.trial
    return _given(
        (2, trial.id), (3, title), (4, trial.question), (8, MIAPPE_VERSION)
    )  # fmt: skip


def study_fields(results: Results, archived: Archived, title: str) -> list[MiappeField]:
    """Fields of the study: one season of the trial, its persons, factors and variables."""
    trial, site = results.trial, results.trial.site
    start, end = season_of(results, archived)
    elevation = site.get("elevation_m")
    place = "bench" if trial.place == "bench" else "field"
    return [
        *_given(
            (11, trial.id),
            (12, title),
            (13, trial.question),
            (14, start),
            (15, end),
            (18, site.get("name")),
            (19, _degrees(site.get("latitude"))),
            (20, _degrees(site.get("longitude"))),
            (21, None if elevation is None else f"{elevation:g} m"),
            (22, _design(results, archived)),
            (24, _hierarchy(archived)),
            (25, _units(archived)),
            (26, say(f"miappe {place}")),
            (29, None if archived.layout is None else f"inputs/{archived.layout}"),
        ),
        *_groups(
            ((31, name), (34, role.replace("_", " "))) for role, name in trial.people.items()
        ),
        *_data_files(results, archived),
        *_groups(((58, name), (59, value)) for name, value in _environment(results, archived)),
        *_groups(_factors(results, archived)),
        *_groups(_events(archived)),
        *_groups(_variables(results, archived)),
    ]


def unit_fields(archived: Archived) -> list[tuple[str, list[MiappeField]]]:
    """Every plot with its fields: kind, where it lies, what was given to it."""
    factors = () if archived.trial is None else tuple(f.name for f in archived.trial.factors)
    out = []
    for plot in archived.plots:
        told = [f"{name}:{plot[name]}" for name in PLACES if plot.get(name)]
        given = [f"{name}: {plot[name]}" for name in factors if plot.get(name)]
        fields = _given(
            (71, "plot"), (73, "; ".join(told) or None), (74, "; ".join(given) or None)
        )
        out.append((plot.get("plot", ""), fields))
    return out


def season_of(results: Results, archived: Archived) -> tuple[str | None, str | None]:
    """First and last day: as planned, else of the records."""
    days = record_days(archived)
    first, last = (min(days), max(days)) if days else (None, None)
    return results.trial.season_start or first, results.trial.season_end or last


def record_days(archived: Archived) -> list[str]:
    """Every day that the crew's records name (the weather's may begin earlier)."""
    out: set[str] = set()
    for table in archived.tables:
        if table.table.name == "weather":
            continue
        for name in ("date", "planted_on"):
            out.update(day for day in _days(table, name) if day)
    return sorted(out)


def _given(*pairs: tuple[int, object | None]) -> list[MiappeField]:
    return [MiappeField(number, str(value)) for number, value in pairs if value]


def _groups(found: Iterable[tuple[tuple[int, str | None], ...]]) -> list[MiappeField]:
    return [
        MiappeField(number, value, of)
        for of, group in enumerate(found, start=1)
        for number, value in group
        if value
    ]


def _degrees(value: object) -> str | None:
    return f"{value:+g}" if isinstance(value, int | float) else None


def _design(results: Results, archived: Archived) -> str:
    layout = results.layout
    units = ", ".join(
        say("miappe design unit", n=n, term=term) for term, n in layout.units.items()
    )
    told = [say("miappe design", type=layout.type, drawn=layout.drawn, units=units)]
    if archived.trial is not None and archived.trial.design.blocked_by:
        told.append(say("miappe blocked", by=archived.trial.design.blocked_by))
    if layout.keeps:
        told.append(say("miappe keeps", keeps=layout.keeps))
    return "; ".join(told)


def _hierarchy(archived: Archived) -> str | None:
    if not archived.plots:
        return None
    held = [n for n in LEVELS if any(plot.get(n) for plot in archived.plots)]
    plants = any(t.cells("plant") is not None for t in archived.tables)
    return ">".join([*(n.replace("_", " ") for n in held), "plot", *(["plant"] * plants)])


def _units(archived: Archived) -> str | None:
    if archived.trial is None or not archived.plots:
        return None
    plants, plots = archived.trial.design.plants_per_plot, len(archived.plots)
    if plants is None:
        return say("miappe units", plots=plots)
    return say("miappe units plants", plots=plots, plants=plants)


def _data_files(results: Results, archived: Archived) -> list[MiappeField]:
    digests = {item.path: item.sha256 for item in results.inputs}
    groups = []
    for table in archived.tables:
        heads = ", ".join(shown(h) for h in table.sheet.heads if h not in (None, ""))
        told = say("miappe format", media=media_type(table.path), columns=heads)
        link = (37, f"inputs/{table.path}")
        groups.append((link, (38, told), (39, f"sha256:{digests.get(table.path, '')}")))
    return _groups(groups)


def _environment(results: Results, archived: Archived) -> list[tuple[str, str]]:
    """What was the same in all plots."""
    out = []
    if "soil" in results.trial.site:
        out.append((say("miappe soil"), str(results.trial.site["soil"])))
    if archived.trial is None:
        return out
    design = archived.trial.design
    for key, value, unit in (
        ("miappe width", design.field.plot_width_m, " m"),
        ("miappe length", design.field.plot_length_m, " m"),
        ("miappe plants", design.plants_per_plot, ""),
        ("miappe guard", design.guard_plants, ""),
    ):
        if value is not None:
            out.append((say(key), f"{value:g}{unit}"))
    return out


def _factors(
    results: Results, archived: Archived
) -> Iterable[tuple[tuple[int, str | None], ...]]:
    told = {} if archived.trial is None else {f.name: f for f in archived.trial.factors}
    for name, levels in results.trial.factors.items():
        factor = told.get(name)
        details = "; ".join(
            f"{level}: {results.trial.details[level]}"
            for level in levels
            if level in results.trial.details
        )
        words = None
        if factor is not None:
            words = say("miappe applied", unit=factor.applied_to, levels=details).rstrip("; ")
        yield (61, name), (62, words or details or None), (63, "; ".join(levels))


def _events(archived: Archived) -> Iterable[tuple[tuple[int, str | None], ...]]:
    """Planting and every kind of event with its days."""
    days: dict[str, set[str]] = {}
    for table in archived.tables:
        planted = _days(table, "planted_on")
        for day in planted:
            days.setdefault(say("miappe planting"), set()).update({day} if day else ())
        if table.table.name != "events":
            continue
        what = table.cells("what")
        if what is None:
            continue
        for kind, day in zip(as_text(what).values.tolist(), _days(table, "date"), strict=True):
            if kind and day:
                days.setdefault(kind, set()).add(day)
    for kind, found in days.items():
        if found:
            yield (65, kind), (68, "; ".join(sorted(found)))


def _days(table: ArchivedTable, name: str) -> list[str | None]:
    cells = table.cells(name)
    if cells is None:
        return []
    try:
        style = style_from_example(table.source.dates)
    except ValueError:
        return []
    found = as_days(cells, style).values
    return [None if np.isnat(day) else str(day)[:10] for day in found]


def _variables(
    results: Results, archived: Archived
) -> Iterable[tuple[tuple[int, str | None], ...]]:
    for response in results.responses:
        planned = None
        if archived.trial is not None:
            own = [r for r in archived.trial.responses if r.name == response.name]
            planned = own[0] if own else None
        water = (planned.water if planned else None) or "delivered"
        scales = {"survival": "miappe scale share", "count": "miappe scale count"}
        scale = response.measured_in or say(scales.get(response.kind, "miappe scale none"))
        yield (
            (83, (planned.column if planned else None) or response.name),
            (84, response.name),
            (86, response.name),
            (88, say(f"miappe method {response.kind}", water=water)),
            (92, scale),
            (94, "date" if results.trial.season_start else None),
        )
