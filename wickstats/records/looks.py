"""layout.looks.json: every look at a season, kept beside its layout.

A look is an analysis that saw other records, or another plan, than those before it; the same
records analyzed again are the same look, and the same bytes. Rehearsals are no looks. Leans
on ``season``, design and core.
"""

import hashlib
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import pandas as pd

from wickstats.core.codec import dump_json, from_plain, parse_json, write_whole
from wickstats.core.errors import Problem, RecordsError
from wickstats.core.looks import Look, Looks
from wickstats.core.words import say
from wickstats.design.canonical import canonical_hash
from wickstats.design.trial import Trial
from wickstats.records.mark import marked_rows
from wickstats.records.season import Season

LOOKS_FORMAT = 1
EARLY = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class _LooksFile:
    looks_format: int
    trial: str
    looks: tuple[Look, ...]


def looks_name(trial: Trial) -> str:
    """layout.csv -> layout.looks.json, in the same folder."""
    return Path(trial.design.layout).with_suffix(".looks.json").as_posix()


def looks_of(trial: Trial, season: Season) -> Looks | None:
    """The look of this analysis among those known; None for a rehearsal.

    Raises
    ------
    RecordsError
        Where the file of looks cannot be read.
    """
    if trial.trial.simulated is not None or marked_rows(season.tables).marked:
        return None
    own = Look(
        until=last_day(season),
        rows=sum(item.rows for item in season.inputs),
        records=_digest(season),
        plan=canonical_hash(trial),
    )
    held = _read(trial)
    held = held if own in held else (*held, own)
    planned = _planned_until(trial)
    early = (
        planned is not None
        and own.until is not None
        and date.fromisoformat(own.until) < planned - EARLY
    )
    told = None if planned is None else planned.isoformat()
    return Looks(held.index(own) + 1, held, told, early)


def looks_bytes(trial: Trial, looks: Looks) -> bytes:
    """The bytes of the file of looks."""
    return dump_json(_LooksFile(LOOKS_FORMAT, trial.trial.id, looks.held))


def note_look(trial: Trial, season: Season) -> None:
    """Keep this look in the trial's folder, where it is new.

    Raises
    ------
    OSError
        Where the folder cannot be written.
    """
    looks = looks_of(trial, season)
    if looks is not None and trial.folder and looks.own not in _read(trial):
        write_whole(Path(trial.folder) / looks_name(trial), looks_bytes(trial, looks))


def last_day(season: Season) -> str | None:
    """The last day in the crew's records; weather may go on."""
    days = []
    for name, frame in season.tables.items():
        for column in ("date", "planted_on"):
            if name == "weather" or column not in frame:
                continue
            if pd.api.types.is_datetime64_any_dtype(frame[column]):
                last = frame[column].max()
                days += [] if pd.isna(last) else [str(last)[:10]]
    return max(days, default=None)


def _planned_until(trial: Trial) -> date | None:
    if trial.trial.season is not None:
        return trial.trial.season.end
    days = [day for r in trial.responses for day in r.at if isinstance(day, date)]
    return max(days, default=None)


def _digest(season: Season) -> str:
    whole = hashlib.sha256()
    for path, data in sorted(season.source_bytes.items()):
        whole.update(f"{path} {hashlib.sha256(data).hexdigest()}\n".encode())
    return whole.hexdigest()


def _read(trial: Trial) -> tuple[Look, ...]:
    if not trial.folder:
        return ()
    try:
        data = (Path(trial.folder) / looks_name(trial)).read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return ()
    try:
        kept: _LooksFile = from_plain(_LooksFile, parse_json(data))
        why = "" if kept.looks_format == LOOKS_FORMAT else "another looks_format"
        for look in kept.looks:
            date.fromisoformat(look.until or "2000-01-01")
    except (ValueError, RecursionError) as error:
        kept, why = _LooksFile(0, "", ()), str(error) or "no JSON"
    if why:
        raise RecordsError(
            [
                Problem(
                    file=looks_name(trial),
                    code="unreadable looks",
                    found=why.lstrip(".: "),
                    expected=say("looks expected"),
                    fix=say("looks fix"),
                )
            ]
        )
    return kept.looks
