"""Browsed plants taken four ways, side by side: the plan's is primary, the others stand by.

Leans on browsing, the summary of shares alive, comparisons and means.
"""

from dataclasses import dataclass, replace

from wickstats.analysis.browsing import STRATEGIES, browsed_plants, browsing_as_planned
from wickstats.analysis.comparisons import compare
from wickstats.analysis.context import Context
from wickstats.analysis.decide import bound_correlation
from wickstats.analysis.first_line import fit_line
from wickstats.analysis.lives import Lives
from wickstats.analysis.means import mean_rows
from wickstats.analysis.summaries.survival import shares_at
from wickstats.core.responses import Comparison, Mean, Strategy
from wickstats.core.words import say
from wickstats.records.season import Season


@dataclass(frozen=True, slots=True)
class Primary:
    """What the response already says under the plan's way, at the date with the verdict."""

    means: tuple[Mean, ...]
    comparisons: tuple[Comparison, ...]


def strategies_of(
    context: Context,
    season: Season,
    lives: Lives,
    how: str,
    day: float,
    primary: Primary,
) -> tuple[Strategy, ...]:
    """All four ways; empty where nothing was browsed, or lives count days.

    Parameters
    ----------
    lives
        As they were seen.
    how
        The plan's way.
    day
        The date that carries the verdict.
    primary
        Means and comparisons of the plan's way, as the response has them.
    """
    if lives.origin is None or not browsed_plants(lives, season):
        return ()
    lost = dict(season.lost_plots)
    return tuple(
        _planned(name, lives, season, primary)
        if name == how
        else _beside(context, season, lives, name, shares_on=day, lost=lost)
        for name in STRATEGIES
    )


def _planned(name: str, lives: Lives, season: Season, primary: Primary) -> Strategy:
    """The plan's way; sentence and redraws stay with the response itself."""
    rows = tuple(replace(c, sentence=None, redraws=None) for c in primary.comparisons)
    return Strategy(
        name=name,
        primary=True,
        says=say(f"strategy {name}"),
        changed=(browsing_as_planned(lives, season, name) or lives).browsed,
        means=primary.means,
        comparisons=rows,
    )


def _beside(
    context: Context,
    season: Season,
    lives: Lives,
    name: str,
    *,
    shares_on: float,
    lost: dict[str, str],
) -> Strategy:
    """Another way."""
    taken = browsing_as_planned(lives, season, name) or lives
    summary = shares_at(shares_on, taken, context.units, lost).main
    line = fit_line(context.units, summary, context.confidence, by_arm=context.by_arm)
    found = Strategy(
        name=name,
        primary=False,
        says=say(f"strategy {name}"),
        changed=taken.browsed,
        means=(),
        comparisons=(),
        not_estimable=say("no data for response", name=context.response.name),
    )
    if line is None:
        return found
    rho = bound_correlation(context, summary, line)
    rows = compare(context, summary, line, with_verdict=True, rho=rho)
    return replace(
        found,
        means=mean_rows(context, summary, line, rho=rho),
        comparisons=tuple(replace(c, sentence=None) for c in rows if c.estimate is not None),
        not_estimable=None,
    )
