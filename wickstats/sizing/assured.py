"""Assurance from the trial file alone: the spread is known by so many degrees of freedom.

Where ``spread_df`` says by how many degrees of freedom the assumed spread is known, the
chance for what matters is averaged over the true variance, s^2 df/chi-square(df), as from a
past season (Spiegelhalter & Freedman 1986, Stat. Med. 5:1). The difference is held: at what
matters, or at the assumed one where the plan does not say. Leans on ``reckon`` and models.
"""

from dataclasses import dataclass, replace

import numpy as np

from wickstats.analysis.plan import Family, matters_for
from wickstats.core.words import say
from wickstats.design.defaults import role_of
from wickstats.design.trial import Response, Trial
from wickstats.models.power import assurance, sd_upper_limit
from wickstats.sizing.adapted import filled, judged_as
from wickstats.sizing.assumed import Expected
from wickstats.sizing.moved import Place, at_size
from wickstats.sizing.plots import Sizes
from wickstats.sizing.reckon import Precision, power_of_size, precision

UPPER = 0.8


@dataclass(frozen=True, slots=True)
class Assured:
    """One comparison: the chance at the stated spread, at its upper limit, and on average.

    ``difference`` is what matters where ``matters``, else the assumed one; ``upper`` holds at
    the one-sided 80 % upper limit of the spread.
    """

    response: str
    comparison: str
    measure: str
    difference: float
    matters: bool
    df: float
    power: float
    upper: float
    assurance: float


def assured_rows(
    trial: Trial,
    response: Response,
    sizes: Sizes,
    families: list[Family],
    what: Expected,
    target: float,
) -> list[Assured]:
    """Every comparison of a response; none where the file does not say how well it is known."""
    given = trial.power.assume.get(response.name) if trial.power else None
    if given is None or given.spread_df is None:
        return []
    ready, df = filled(what), given.spread_df
    matters = matters_for(trial, response.name, log=what.ratio)
    out = []
    for family in families:
        weights = [c.weights for c in family.contrasts]
        judged = judged_as(trial, family, response, target)
        for which, contrast in enumerate(family.contrasts):
            asked = float(contrast.weights @ ready.values), ready
            if matters is not None:
                place = Place(trial, response, sizes, family, which, what)
                asked = at_size(place, matters) or (0.0, ready)
            size, moved = abs(asked[0]), asked[1]
            one = precision(sizes, sizes.count, moved, weights, judged)[which]
            if one is None or size == 0.0:
                continue
            name = contrast.name + ("" if family.within is None else f" ({family.within})")
            power, upper, mean = _chances(sizes, moved, contrast.weights, one, size, df)
            shown = float(np.exp(size)) if what.ratio else size
            measure = "ratio" if what.ratio else "difference"
            known = matters is not None
            out.append(
                Assured(response.name, name, measure, shown, known, df, power, upper, mean)
            )
    return out


def _chances(
    sizes: Sizes, what: Expected, weights: np.ndarray, at: Precision, size: float, df: float
) -> tuple[float, float, float]:
    """At the stated spread, at its upper limit, averaged."""
    used = sizes.shares(weights) if sizes.pieces is None else None
    point = None if used is None else float(used @ what.variances)

    def power_at(scale: float) -> float:
        wider = scale
        if used is not None and point is not None:
            wider = (float(used @ scaled(what, scale**2).variances) / point) ** 0.5
        return power_of_size(size, at.scaled(wider)) or 0.0

    return (
        power_at(1.0),
        power_at(sd_upper_limit(1.0, df, confidence=UPPER)),
        assurance(power_at, 1.0, df),
    )


def scaled(what: Expected, scale: float) -> Expected:
    """Plots that differ ``scale`` times as much; never less than single plants or fruits do."""
    events = what.events
    if events is None:
        return replace(what, variances=what.variances * scale)
    if events.plants is None:
        single = 1.0 / np.maximum(events.means, 1e-9)
    else:
        single = events.means * (1.0 - events.means) / events.plants
    return replace(what, variances=np.maximum(what.variances * scale, single))


def not_told(trial: Trial) -> list[str]:
    """Why no assurance stands beside the chance, and what to write."""
    names = [
        r.name
        for r in trial.responses
        if role_of(trial, r) == "primary"
        and (given := (trial.power.assume if trial.power else {}).get(r.name)) is not None
        and given.spread_df is None
    ]
    return [say("assurance not told", response=name) for name in names]
