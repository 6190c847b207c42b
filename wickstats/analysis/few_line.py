"""Arms with yield (or counts) in fewer than two blocks: one-sided bounds and their words.

Leans on models.ratios.few, families and ratio_line.
"""

from dataclasses import dataclass
from math import log

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.families import Judged
from wickstats.analysis.line import Line
from wickstats.analysis.ratio_line import CountsLine, ZeroLine
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array
from wickstats.analysis.verdict import verdict_of_bound
from wickstats.core.numbers import confidence_level, number, p_value
from wickstats.core.responses import Redraws
from wickstats.core.words import say
from wickstats.models.ratios.few import (
    FewArm,
    FewPair,
    Totals,
    arm_bound,
    pair_bound,
    totals_of,
)


@dataclass(frozen=True, slots=True)
class FewBound:
    """The bound of one comparison on the reported scale, its verdict and what to say."""

    found: FewPair
    verdict: str | None  # None without a bound
    confidence: float

    @property
    def side(self) -> str | None:
        """``upper`` where only a highest value is known, ``lower`` where only a lowest."""
        if self.found.high is not None:
            return "upper"
        return None if self.found.low is None else "lower"


def few_bound(context: Context, line: Line, judged: Judged) -> FewBound | None:
    """The bound where a side bears in fewer than two blocks; None where none is needed."""
    totals = _totals(line)
    weights = judged.contrast.weights
    if totals is None or judged.estimate.se is not None or not _plain(weights):
        return None
    if judged.estimate.not_estimable is None or _alone(judged):
        return None
    arms = np.where(
        weights[totals.cells] > 0, 0, np.where(weights[totals.cells] < 0, 1, 2)
    ).astype(np.int64)
    level = 1.0 - (1.0 - context.confidence) / max(len(judged.family.contrasts), 1)
    sides = Totals(totals.yields, totals.water, arms, totals.blocks)
    found = pair_bound(sides, (0, 1), confidence=level)
    if found is None:
        return None
    verdict = None
    if found.reason is None:
        low = None if found.low is None else log(found.low)
        high = None if found.high is None else log(found.high)
        verdict = verdict_of_bound(low, high, context.better)
    return FewBound(found, verdict, context.confidence)


def _alone(judged: Judged) -> bool:
    """Whether the reason is that a side stood on one unit, where nothing is inferred."""
    why = judged.estimate.not_estimable or ""
    names = (judged.contrast.treatment, judged.contrast.versus)
    return any(why == say("one unit only", name=name) for name in names)


def _plain(weights: Array) -> bool:
    up, down = int((weights > 0).sum()), int((weights < 0).sum())
    sizes = np.abs(weights[weights != 0])
    return up == down and float(np.ptp(sizes)) <= 1e-9


def _totals(line: Line) -> Totals | None:
    if isinstance(line, ZeroLine):
        return totals_of(line.yields, line.water, line.used.cells, line.used.pair_codes)
    if isinstance(line, CountsLine):
        used = line.used
        return totals_of(used.values, np.ones(used.n), used.cells, used.pair_codes)
    return None


def few_arm(line: Line, weights: Array, confidence: float) -> FewArm | None:
    """The bound of an arm's own ratio of sums; None where it is not needed."""
    totals = _totals(line)
    if totals is None:
        return None
    arms = np.where(weights[totals.cells] > 0, 0, 1).astype(np.int64)
    sides = Totals(totals.yields, totals.water, arms, totals.blocks)
    found = arm_bound(sides, 0, confidence=confidence)
    if found is None or (isinstance(line, CountsLine) and found.estimate != 0.0):
        return None
    return found


def few_effect(
    context: Context, judged: Judged, bound: FewBound, redraws: Redraws | None
) -> str:
    """The bound in a grower's words, with the re-randomization p where there is one."""
    found, contrast = bound.found, judged.contrast
    shuffled = ""
    if redraws is not None and redraws.p is not None:
        shuffled = say("few redraws", p=p_value(redraws.p))
    words = {
        "name": contrast.treatment if found.first else contrast.versus,
        "bearing": found.bearing,
        "blocks": found.blocks,
        "what": say("few blocks" if context.units.pairs is not None else "few units"),
        "redraws": shuffled,
    }
    limit = found.high if found.high is not None else found.low
    if limit is None:
        return say("effect few unbounded", reason=found.reason or say("few no bound"), **words)
    return say(
        "effect few",
        treatment=contrast.treatment,
        versus=contrast.versus,
        side=say("few at most" if found.high is not None else "few at least"),
        limit=number(limit),
        confidence=confidence_level(bound.confidence),
        unit=context.units.unit_word,
        **words,
    )


def few_notes(context: Context, summary: Summary, line: Line) -> tuple[str, ...]:
    """One sentence for each treatment that bore in fewer than two blocks."""
    out = []
    for code, name in enumerate(context.units.cell_names):
        weights = np.zeros(context.units.n_cells)
        weights[code] = 1.0
        if int((context.units.cells == code).sum()) < 2:
            continue
        found = few_arm(line, weights, context.confidence)
        if found is None or found.high is None:
            continue
        unit = "" if summary.measured_in == "1" else f" {summary.measured_in.strip('{}')}"
        out.append(
            say(
                "few arm bound",
                name=name,
                bearing=found.bearing,
                blocks=found.blocks,
                what=say("few blocks" if context.units.pairs is not None else "few units"),
                confidence=confidence_level(context.confidence),
                response=context.response.name,
                limit=number(found.high),
                measure=unit,
            )
        )
    return tuple(out)


def absolute_limits(
    bound: FewBound, center: float | None
) -> tuple[float | None, float | None, float | None]:
    """Estimate and limits of the difference at the versus side's own mean."""
    found = bound.found
    if center is None or center <= 0.0:
        return None, None, None
    low = None if found.low is None else center * (found.low - 1.0)
    high = None if found.high is None else center * (found.high - 1.0)
    estimate = None if found.estimate is None else center * (found.estimate - 1.0)
    return estimate, low, high
