"""For how many visits, picks and measurings the workbooks have prepared rows.

From the season and the days between visits where both are known, else a number that common
practice suggests (no source). Rows that stay empty do no harm. Leans on design.
"""

from wickstats.design.trial import Trial

VISITS, PICKS, READINGS, GROWTH = 12, 12, 12, 4
MOST = 60


def rounds_of(trial: Trial, table: str, visits: int | None = None) -> int:
    """Rounds of a table; ``visits`` where somebody chose."""
    if table in ("plants", "lifetimes", "events", "weather"):
        return 1
    if table == "readings":
        return visits or READINGS
    if table == "measurements":
        kinds = {r.kind for r in trial.responses}
        dates = max((len(r.at) for r in trial.responses if r.kind != "survival"), default=0)
        return visits or max(GROWTH if "growth" in kinds else 1, dates)
    return visits or planned_visits(trial) or (PICKS if table == "picks" else VISITS)


def planned_visits(trial: Trial) -> int | None:
    """Visits from the season's first to its last day, where days between them are known."""
    season, every = trial.trial.season, None
    if trial.power is not None and trial.power.crew is not None:
        every = trial.power.crew.visits_every_d
    if every is None and trial.water is not None and trial.water.visits_every_d:
        every = int(trial.water.visits_every_d)
    if season is None or not every:
        return None
    return max(1, min(int((season.end - season.start).days // every) + 1, MOST))
