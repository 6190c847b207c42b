"""The shapes of second opinions, and the wider of several. Leans on scipy.special."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ContrastAnswer:
    """A contrast computed again: estimate, standard error, degrees of freedom, by what."""

    estimate: float
    se: float | None
    df: float | None
    engine: str

    def half_width(self, confidence: float) -> float:
        """Half of the interval; 0 where there is none."""
        from scipy.special import stdtrit

        if self.se is None or self.df is None:
            return 0.0
        return float(self.se * stdtrit(self.df, 0.5 * (1.0 + confidence)))


@dataclass(frozen=True, slots=True)
class StrataLine:
    """A line of a classical analysis of variance; f is None for error lines."""

    stratum: str
    source: str
    df: int
    sum_of_squares: float
    mean_square: float | None
    f: float | None
    p: float | None


@dataclass(frozen=True, slots=True)
class TestAnswer:
    """A test computed again."""

    __test__ = False  # not a test case

    statistic: float
    df: float
    p: float
    engine: str


def wider(answers: Sequence[ContrastAnswer], confidence: float) -> ContrastAnswer:
    """The answer with the widest interval; the first of those that are equal but for rounding.

    Raises
    ------
    ValueError
        Where there is none.
    """
    if not answers:
        raise ValueError("no standard error for the contrast")
    best = answers[0]
    for answer in answers[1:]:
        if answer.half_width(confidence) > best.half_width(confidence) * (1.0 + 1e-9):
            best = answer
    return best
