"""From an interval to exactly one verdict; never from p.

The interval [L, U] is turned so that positive is better; M is the smallest difference
considered important (its logarithm for ratios). In this order:

    L >= -M and U <= M   the same for practical purposes (with "though slightly better" or
                         "worse" when 0 is outside)
    L > 0                better
    U < 0                worse
    L >= -M              no worse by more than matters
    U <= M               no better by more than matters
    else                 cannot tell

Without M only better, worse and cannot tell. Where neither direction is better: more and
less. Equivalence by interval: Schuirmann (1987, J. Pharmacokinet. Biopharm. 15:657).
Leans on nothing.
"""

from typing import Literal

Better = Literal["more", "less", "neither"]

SAME = "the same for practical purposes"
SAME_BETTER = "the same for practical purposes, though slightly better"
SAME_WORSE = "the same for practical purposes, though slightly worse"
SAME_MORE = "the same for practical purposes, though slightly more"
SAME_LESS = "the same for practical purposes, though slightly less"
BETTER = "better"
WORSE = "worse"
MORE = "more"
LESS = "less"
NO_WORSE = "no worse by more than matters"
NO_BETTER = "no better by more than matters"
NO_LESS = "no less by more than matters"
NO_MORE = "no more by more than matters"
CANNOT_TELL = "cannot tell"

_NEUTRAL = {
    BETTER: MORE,
    WORSE: LESS,
    SAME_BETTER: SAME_MORE,
    SAME_WORSE: SAME_LESS,
    NO_WORSE: NO_LESS,
    NO_BETTER: NO_MORE,
}


def verdict_of(low: float, high: float, matters: float | None, better: Better) -> str:
    """Return the verdict of an adjusted interval.

    Parameters
    ----------
    low, high
        Limits of treatment minus versus on the model's scale; infinite where the plan asked
        about one side only.
    matters
        M > 0 on the same scale, or None where none was planned.
    better
        Which direction is better.

    Raises
    ------
    ValueError
        Where the limits are crossed or ``matters`` is not above zero.
    """
    if not low <= high:
        raise ValueError("the interval's limits are crossed")
    if matters is not None and not matters > 0:
        raise ValueError("the smallest important difference must be above zero")
    if better == "less":
        low, high = -high, -low
    found = _turned(low, high, matters)
    return _NEUTRAL.get(found, found) if better == "neither" else found


def _turned(low: float, high: float, matters: float | None) -> str:
    if matters is not None and low >= -matters and high <= matters:
        return SAME_BETTER if low > 0 else SAME_WORSE if high < 0 else SAME
    if low > 0:
        return BETTER
    if high < 0:
        return WORSE
    if matters is not None and low >= -matters:
        return NO_WORSE
    if matters is not None and high <= matters:
        return NO_BETTER
    return CANNOT_TELL


def of_the_side(verdict: str | None, side: int) -> str | None:
    """What is left of a verdict where the plan asked only whether better."""
    if not side or verdict is None:
        return verdict
    if verdict in (SAME, SAME_BETTER, SAME_WORSE):
        return NO_WORSE
    return CANNOT_TELL if verdict in (WORSE, NO_BETTER) else verdict


def one_sided_word(side: int) -> str | None:
    """Which limit a one-sided answer has."""
    return {1: "lower", -1: "upper"}.get(side)


def verdict_of_bound(low: float | None, high: float | None, better: Better) -> str:
    """Better, worse or cannot tell from one-sided bounds of the difference."""
    if low is not None and low > 0:
        return {"more": BETTER, "less": WORSE, "neither": MORE}[better]
    if high is not None and high < 0:
        return {"more": WORSE, "less": BETTER, "neither": LESS}[better]
    return CANNOT_TELL
