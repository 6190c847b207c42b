"""Everything beside a response of survival that tells what became of single plants.

Leans on histories, spacing, causes, strategies, standing and lives.
"""

from wickstats.analysis.causes import cause_rows, causes_of, incidence_points
from wickstats.analysis.context import Context
from wickstats.analysis.gather import followed
from wickstats.analysis.histories import condition_rows, early_deaths, history_rows
from wickstats.analysis.lives import COMPETING, Lives, read_lives, read_replacements
from wickstats.analysis.spacing import visit_spacing
from wickstats.analysis.standing import late_notes, late_points, stand_rows
from wickstats.analysis.strategies import Primary, strategies_of
from wickstats.analysis.summaries.dates import days_asked
from wickstats.core.numbers import number
from wickstats.core.responses import PlantLives
from wickstats.core.words import say
from wickstats.records.season import Season


def plant_lives(
    context: Context, season: Season, how: str, primary: Primary
) -> PlantLives | None:
    """All of it, from the lives as they were seen; None where there are none.

    ``how`` is the plan's way of taking browsed plants, ``primary`` what it gave.
    """
    units = context.units
    lives = read_lives(season, units)
    if lives is None or lives.n == 0:
        return None
    day = days_asked(context.response, lives, units)[-1]
    lost = dict(season.lost_plots)
    causes = causes_of(lives)
    late = None if lives.origin is None else read_replacements(season, units, lives.origin)
    plants = followed(season, units) == "plants"
    means, rows = cause_rows(context, lives, causes, day, lost, plants=plants)
    return PlantLives(
        histories=history_rows(season, units, plants=plants),
        visit_spacing=visit_spacing(season, units),
        early_deaths=early_deaths(lives, units) if plants else (),
        conditions=condition_rows(season, units),
        incidence=incidence_points(lives, causes, units, context.confidence),
        cause_means=means,
        cause_comparisons=rows,
        strategies=strategies_of(context, season, lives, how, day, primary),
        stand=stand_rows(lives, late, units, day),
        late_curves=late_points(lives, late, units, context.confidence),
        cause_notes=_cause_notes(lives, how),
        stand_notes=late_notes(lives, late, units),
    )


def _cause_notes(lives: Lives, how: str) -> tuple[str, ...]:
    out = []
    dead = int(lives.dead.sum())
    blank = sum(
        word is None for word, died in zip(lives.cause, lives.dead, strict=True) if died
    )
    if blank and blank < dead:
        out.append(say("causes not noted", n=blank, total=number(float(dead))))
    if how == COMPETING:
        out.append(say("competing note"))
    return tuple(out)
