"""Draws kept to restrictions: rejected until one is allowed; how large the allowed share is.

Every arrangement is drawn by the design's own scheme and thrown away whole unless it is
allowed, so that all allowed layouts are equally likely (rejection sampling: von Neumann
1951; from memory). Leans on allowed, arrange and, for small trials, models.redraw.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from math import factorial, prod

import numpy as np

from wickstats.core.errors import LayoutError, Problem
from wickstats.core.words import say
from wickstats.design.defaults import cells_of
from wickstats.design.trial import Trial
from wickstats.layout.allowed import Restrictions
from wickstats.layout.arrange import arrange
from wickstats.layout.draw_plain import Plan
from wickstats.layout.pieces import Piece, replicates_of
from wickstats.layout.stream import Stream
from wickstats.models.redraw.scheme import EXACT_LIMIT, all_layouts, count_layouts

TRIES = 100_000
LOOKED_AT = 10_000
P_LIMIT = 0.05


@dataclass(frozen=True, slots=True)
class AllowedShare:
    """How many layouts the restrictions allow.

    Attributes
    ----------
    words
        The restrictions, as in the trial file.
    allowed, total
        Allowed layouts of all layouts, or of those drawn to see.
    exact
        Whether all layouts were looked at.
    smallest_possible_p
        Of the test by re-randomization of all treatments, where it can be counted.
    unrestricted_p
        The same without the restrictions.
    """

    words: tuple[str, ...]
    allowed: int
    total: int
    exact: bool
    smallest_possible_p: float | None
    unrestricted_p: float | None


def draw_allowed(
    trial: Trial, plan: Plan | None, stream: Stream, rule: Restrictions
) -> list[Piece]:
    """Arrangements of the stream until one is allowed.

    Raises
    ------
    LayoutError
        Where none of 100,000 was, or none of all layouts is.
    """
    if _all_counted(trial) and not _counted(trial, plan, 0, rule)[0]:
        raise _none_left(trial)
    for _ in range(TRIES):
        pieces = arrange(trial, plan, stream)
        if rule.fit([piece.cell for piece in pieces]):
            return pieces
    raise LayoutError(
        [
            _refusal(
                trial,
                "restriction too strict",
                f"no allowed layout among {TRIES:,} drawn with keep: "
                + ", ".join(trial.design.keep),
                "restrictions that a fair share of layouts fulfills",
                _fix_for(trial),
            )
        ]
    )


def allowed_share(
    trial: Trial, plan: Plan | None, seed: int, rule: Restrictions
) -> AllowedShare:
    """Count all layouts where they are at most 65,536, else look at 10,000 seeded ones.

    Raises
    ------
    LayoutError
        Where the restrictions leave no layout, or so few that no difference could be shown
        although without them it could.
    """
    count, total, exact = _counted(trial, plan, seed, rule)
    free_p, p = _smallest_p(trial, count / total if count else None)
    share = AllowedShare(tuple(trial.design.keep), count, total, exact, p, free_p)
    if exact and count == 0:
        raise _none_left(trial)
    if p is not None and free_p is not None and free_p <= P_LIMIT < p:
        raise LayoutError(
            [
                _refusal(
                    trial,
                    "restriction too strict",
                    f"so few allowed layouts that no p below {p:.3g} is possible with keep: "
                    + ", ".join(trial.design.keep),
                    f"at most {P_LIMIT}: without the restriction it is {free_p:.3g}",
                    _TAKE_OUT,
                )
            ]
        )
    return share


def _none_left(trial: Trial) -> LayoutError:
    found = f"no layout is left by keep: {', '.join(trial.design.keep)}"
    expected = "restrictions that some layout of these sizes fulfills"
    return LayoutError([_refusal(trial, "restriction impossible", found, expected, _TAKE_OUT)])


def total_layouts(trial: Trial) -> int | None:
    """Number of different layouts of free and complete-block trials, else None."""
    arrangement = _labels(trial)
    if arrangement is None:
        return None
    return count_layouts(*arrangement)


def smallest_p(trial: Trial) -> float | None:
    """Smallest p that re-randomization of all treatments can give without restrictions."""
    return _smallest_p(trial, None)[0]


def _labels(trial: Trial) -> tuple["np.ndarray[tuple[int], np.dtype[np.int64]]", ...] | None:
    if trial.design.type not in ("completely randomized", "randomized complete block"):
        return None
    cells = cells_of(trial.factors)
    each = [replicates_of(trial, cell) for cell in cells]
    one = np.repeat(np.arange(len(cells), dtype=np.int64), each)
    blocks = trial.design.blocks or 1
    return np.tile(one, blocks), np.repeat(np.arange(blocks, dtype=np.int64), one.size)


def _all_counted(trial: Trial) -> bool:
    total = total_layouts(trial)
    return total is not None and total <= EXACT_LIMIT


def _counted(
    trial: Trial, plan: Plan | None, seed: int, rule: Restrictions
) -> tuple[int, int, bool]:
    arrangement = _labels(trial)
    if arrangement is not None and _all_counted(trial):
        layouts = all_layouts(*arrangement)
        return int(rule.fit_all(layouts).sum()), len(layouts), True
    stream = Stream(seed, "share")
    hits = 0
    for _ in range(LOOKED_AT):
        hits += rule.fit([piece.cell for piece in arrange(trial, plan, stream)])
    return hits, LOOKED_AT, False


def _smallest_p(trial: Trial, share: float | None) -> tuple[float | None, float | None]:
    """Without and with the restrictions.

    Exchanging the names of treatments that are alike often changes no overall statistic, and
    no restriction tells treatments apart: at least that many layouts share the largest value.
    """
    total = total_layouts(trial)
    if total is None:
        return None, None
    alike = ways_alike(replicates_of(trial, cell) for cell in cells_of(trial.factors))
    free = min(1.0, alike / total)
    return free, None if share is None else min(1.0, alike / (share * total))


def ways_alike(times: Iterable[int]) -> int:
    """Ways to exchange the names of treatments that stand equally often."""
    return prod(factorial(many) for many in Counter(times).values())


_TAKE_OUT = "take the restriction out, or ask for less"


def _fix_for(trial: Trial) -> str:
    if trial.design.type == "randomized complete block":
        return f"{_TAKE_OUT}; a Latin square or rows and columns hold every column alike"
    return _TAKE_OUT


def _refusal(trial: Trial, code: str, found: str, expected: str, fix: str) -> Problem:
    return Problem(trial.file or "trial", code, found, expected, fix)


def share_lines(share: AllowedShare) -> list[str]:
    """The restrictions and the share of allowed layouts, in words."""
    from wickstats.core.numbers import number, percent

    out = [say("kept to", words="; ".join(share.words))]
    words = {
        "allowed": f"{share.allowed:,}",
        "total": f"{share.total:,}",
        "share": percent(share.allowed / share.total, 1),
    }
    if share.exact:
        out.append(say("kept share exact", **words))
    elif share.allowed:
        out.append(say("kept share about", **words))
    else:
        out.append(say("kept share none", **words))
    p = share.smallest_possible_p
    if p is not None and p > P_LIMIT:
        out.append(say("few layouts", p=number(p, 2)))
    return out
