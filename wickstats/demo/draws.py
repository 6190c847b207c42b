"""Random numbers for the invented seasons, the same on every machine.

Only the uniform stream of PCG64 is taken from numpy, since its distributions may
change between versions; everything else is built on it here. Each part of a
season has a stream of its own, so that a change to one leaves the others alone.
Leans on numpy and the standard library.
"""

import hashlib
import math
from statistics import NormalDist

import numpy as np

_NORMAL = NormalDist()


class Draws:
    """A named stream of draws."""

    def __init__(self, seed: int, stream: str) -> None:
        digest = hashlib.sha256(f"{seed}:{stream}".encode("ascii")).digest()
        self._generator = np.random.Generator(
            np.random.PCG64(int.from_bytes(digest[:16], "big"))
        )

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        """Draw evenly between two limits."""
        return low + (high - low) * float(self._generator.random())

    def normal(self, sd: float = 1.0) -> float:
        """Draw from a normal distribution around zero."""
        share = min(max(self.uniform(), 1e-12), 1 - 1e-12)
        return sd * _NORMAL.inv_cdf(share)

    def spread(self, cv: float) -> float:
        """Draw a factor around one, log-normal with that coefficient of variation."""
        return math.exp(self.normal(math.sqrt(math.log1p(cv * cv))))

    def happens(self, chance: float) -> bool:
        """Draw yes or no."""
        return self.uniform() < chance

    def whole(self, expected: float) -> int:
        """Draw one of the two whole numbers around ``expected``, right on average."""
        return math.floor(expected + self.uniform())


def logistic(x: float) -> float:
    """Return the share that belongs to log odds ``x``."""
    return 1 / (1 + math.exp(-x))


def log_odds(share: float) -> float:
    """Return the log odds of a share."""
    return math.log(share / (1 - share))
