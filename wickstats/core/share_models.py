"""The shapes of a logit mixed model of shares: for description beside the first line.

Numbers that cannot be given are None, and the row says why. Leans on nothing.
"""

from dataclasses import dataclass

Number = float | None


@dataclass(frozen=True, slots=True)
class ShareArm:
    """One treatment: what was counted, and its share where nothing random moves it.

    ``logit`` of a plot and block in the middle of all; ``share`` the same from 0 to 1.
    Counts hold parts of plants where some were not found.
    """

    treatment: str
    units: int
    alive: float
    plants: float
    logit: Number
    share: Number
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class ShareContrast:
    """One comparison: the difference of logits, and the odds ratio it is."""

    term: str
    name: str
    treatment: str
    versus: str
    within: str | None
    logit_difference: Number
    odds_ratio: Number
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class ShareComponent:
    """What is random, and its standard deviation on the logit scale."""

    term: str
    sd: float


@dataclass(frozen=True, slots=True)
class ShareFit:
    """One fit; ``log_likelihood`` by Laplace's approximation, binomial coefficients in it.

    ``by_quadrature``: the same integrated numerically, where one term alone is random.
    """

    random: tuple[str, ...]
    components: tuple[ShareComponent, ...]
    arms: tuple[ShareArm, ...]
    comparisons: tuple[ShareContrast, ...]
    log_likelihood: Number
    by_quadrature: Number
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class ShareModel:
    """Logit mixed models of one share, without and with units at random: no inference.

    The first takes plants of one block and treatment to live and die each for itself; the
    second lets units differ by more than that.
    """

    estimand: str
    at: str | None
    fits: tuple[ShareFit, ...]
    not_estimable: str | None = None
