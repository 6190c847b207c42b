"""The shapes of second opinions. Leans on the standard library."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ContrastAnswer:
    """A contrast computed again: estimate, standard error, degrees of freedom, by what."""

    estimate: float
    se: float | None
    df: float | None
    engine: str


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
