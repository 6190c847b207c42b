"""By what units and means are shown: treatments, or levels where interactions are left out.

Without interactions the means are those of each factor's levels, so that a unit stands once
under every factor. Leans on report.facts, pages and core.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from wickstats.core.responses import Mean, ResponseResult
from wickstats.pages.figures.palette import Look, looks
from wickstats.report.facts import headline_means

JOIN = " x "


@dataclass(frozen=True, slots=True)
class Shown:
    """Rows of a picture of units.

    Attributes
    ----------
    arms
        Treatments, or "factor: level".
    means
        At most one for each, under the arm's name.
    held
        Arm -> the treatments whose units stand there.
    looks
        One for each arm.
    by_level
        Whether the arms are levels.
    """

    arms: tuple[str, ...]
    means: tuple[Mean, ...]
    held: Mapping[str, frozenset[str]]
    looks: Mapping[str, Look]
    by_level: bool


def shown_by(response: ResponseResult, arms: Sequence[str], given: Mapping[str, Look]) -> Shown:
    """Levels where only they have means, else treatments with the looks they have."""
    means = headline_means(response, arms)
    held = {} if means else _levels(response, arms)
    if not held:
        own = {arm: frozenset({arm}) for arm in arms}
        return Shown(tuple(arms), means, own, given, by_level=False)
    rows = tuple(
        replace(m, treatment=_name(m.term, m.treatment))
        for m in response.means
        if m.within is None
    )
    names = tuple(held)
    told = headline_means(replace(response, means=rows), names)
    return Shown(names, told, held, looks(names), by_level=True)


def _name(factor: str, level: str) -> str:
    return f"{factor}: {level}"


def _levels(response: ResponseResult, arms: Sequence[str]) -> dict[str, frozenset[str]]:
    """Levels in the factors' order and their treatments; empty where means are not by level."""
    factors = list(dict.fromkeys(m.term for m in response.means if m.within is None))
    parts = {arm: arm.split(JOIN) for arm in arms}
    if len(factors) < 2 or any(len(part) != len(factors) for part in parts.values()):
        return {}
    names = [_name(m.term, m.treatment) for m in response.means if m.within is None]
    held: dict[str, set[str]] = {name: set() for name in names}
    for arm, part in parts.items():
        for factor, level in zip(factors, part, strict=True):
            held.setdefault(_name(factor, level), set()).add(arm)
    return {name: frozenset(of) for name, of in held.items() if of}
