"""Whether the plan is the one of the layout's record, and what the record tells of its draws.

Dates are claimed; only an order that cannot be is asked about. Leans on layout.record,
records, design.canonical and core.
"""

import pandas as pd

from wickstats.core.words import say
from wickstats.design.canonical import canonical_hash
from wickstats.design.trial import Trial
from wickstats.layout.record import read_record, record_name
from wickstats.recheck.findings import Finding
from wickstats.records.season import Season


def plan_findings(trial: Trial, season: Season) -> tuple[list[Finding], list[str]]:
    """Findings about the plan's lock, and what was in order, in words."""
    record = read_record(trial) if season.layout.drawn == "here" and trial.folder else None
    if record is None:
        return [], [say("audit plan unlocked")]
    place = f"inputs/{record_name(trial.design.layout)}"
    out: list[Finding] = []
    words: list[str] = []
    if record.hash == canonical_hash(trial):
        words.append(say("audit plan kept", day=record.claimed_on or "no date"))
    else:
        sentence = say("audit plan changed")
        out.append(Finding("question", "plan", f"inputs/{trial.file}", sentence))
    if trial.design.seed is not None and trial.design.seed != record.seed:
        sentence = say("audit seed of trial", there=trial.design.seed, here=record.seed)
        out.append(Finding("question", "layout", f"inputs/{trial.file}", sentence))
    first = _first_day(season)
    if record.claimed_on and first and first < record.claimed_on:
        sentence = say("audit plan late", day=record.claimed_on, first=first)
        out.append(Finding("question", "plan", place, sentence))
    for earlier in record.earlier:
        sentence = say(
            "audit redrawn", count=len(record.earlier) + 1, reason=earlier.given_up_because
        )
        out.append(Finding("note", "layout", place, sentence))
    return out, words


def _first_day(season: Season) -> str | None:
    """The first day in the records of the crew; weather may begin earlier."""
    days = []
    for name, frame in season.tables.items():
        for column in ("date", "planted_on"):
            if name == "weather" or column not in frame:
                continue
            if pd.api.types.is_datetime64_any_dtype(frame[column]):
                first = frame[column].min()
                days += [] if pd.isna(first) else [str(first)[:10]]
    return min(days, default=None)
