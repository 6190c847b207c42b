"""What a batch gives: arrays over seasons and questions.

A season that gives no inference is not judged: its numbers are NaN there and ``judged`` is
False, so that no rate can be taken over it unawares. Leans on numpy.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.models.batch.layout import Flags
from wickstats.models.linear.estimates import Array, IntArray

FIELDS = ("estimate", "se", "df", "low", "high", "p")


@dataclass(frozen=True, slots=True, eq=False)
class Answers:
    """(S, k) answers to k questions in S seasons.

    ``estimate`` may stand where ``judged`` is False; the other numbers are NaN there.
    """

    estimate: Array
    se: Array
    df: Array
    low: Array
    high: Array
    p: Array
    judged: Flags

    @classmethod
    def empty(cls, seasons: int, questions: int) -> "Answers":
        """Nothing answered."""
        a, b, c, d, e, f = (np.full((seasons, questions), np.nan) for _ in range(6))
        return cls(a, b, c, d, e, f, np.zeros((seasons, questions), dtype=bool))

    def put(self, where: IntArray, part: "Answers") -> None:
        """Write some seasons into place."""
        for name in (*FIELDS, "judged"):
            getattr(self, name)[where] = getattr(part, name)


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """A batch, judged.

    Attributes
    ----------
    contrasts, means
        Answers to the layout's questions; the p of a mean tests nothing of interest.
    p_all
        (S,) p of the joint test; NaN where it cannot be made.
    """

    contrasts: Answers
    means: Answers
    p_all: Array

    @classmethod
    def empty(cls, seasons: int, contrasts: int, means: int) -> "Judged":
        """Nothing judged."""
        return cls(
            Answers.empty(seasons, contrasts),
            Answers.empty(seasons, means),
            np.full(seasons, np.nan),
        )

    def put(self, where: IntArray, part: "Judged") -> None:
        """Write some seasons into place."""
        self.contrasts.put(where, part.contrasts)
        self.means.put(where, part.means)
        self.p_all[where] = part.p_all
