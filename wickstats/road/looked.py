"""What is told of repeated and early looks at a season. Leans on records.looks and core."""

from wickstats.core.looks import Look, Looks
from wickstats.core.results import Deviation
from wickstats.core.words import say
from wickstats.design.trial import Trial
from wickstats.records.looks import looks_of
from wickstats.records.season import Season


def told_looks(trial: Trial, season: Season) -> Looks | None:
    """The looks at this season, or None where its one look was at its end.

    Raises
    ------
    RecordsError
        Where the file of looks cannot be read.
    """
    looks = looks_of(trial, season)
    if looks is None or (len(looks.held) == 1 and not looks.early):
        return None
    return looks


def look_deviations(looks: Looks | None) -> tuple[Deviation, ...]:
    """An early look, and looks taken more than once, as departures from one look at the end."""
    if looks is None:
        return ()
    out = []
    if looks.early:
        planned = say("looks early planned", planned=looks.planned_until)
        done = say("looks early done", until=looks.own.until)
        out.append(Deviation(say("looks early what"), planned, done, None))
    if len(looks.held) > 1:
        done = say(
            "looks several done",
            number=looks.number,
            total=len(looks.held),
            told="; ".join(_one(n, look, looks) for n, look in enumerate(looks.held, 1)),
            confirms=say("looks last confirms" if looks.confirms else "looks not last")
            if not looks.early
            else say("looks last confirms"),
        )
        planned = say("looks several planned")
        out.append(Deviation(say("looks several what"), planned, done, None))
    return tuple(out)


def _one(number: int, look: Look, looks: Looks) -> str:
    plan = say("looks other plan") if look.plan != looks.own.plan else ""
    key = "looks one" if look.until else "looks one undated"
    return say(key, number=number, rows=look.rows, until=look.until, plan=plan)
