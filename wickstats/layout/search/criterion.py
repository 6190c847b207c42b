"""How good a plan of treatment labels is, compared in whole numbers.

N (labels x blocks) counts labels in blocks of size k, r are the replications. The
information on treatments is R - N N'/k; its eigenvalues in the metric of R = diag(r) are
the canonical efficiency factors 1 - m, where m are the eigenvalues of Q = N N' R^-1 / k
(James & Wilkinson 1971, Biometrika 58, 279-294; from memory). For rows and columns
N N'/k becomes N1 N1'/columns + N2 N2'/rows less the same for whole arrays. The average
efficiency factor is the harmonic mean of the 1 - m, so the sum of 1/(1 - m) is to be small:
the trace of (I + Q)(I + Q^2)(I + Q^4)(I + Q^8)(I + Q^16), which holds the first 32 powers of Q,
once the eigenvalue 1 of the overall mean is taken out of Q. (Fewer powers are the
circuits in the graph of labels of Paterson 1983, Biometrika 70, 215-225; from memory.)
All of it is reckoned in whole numbers of 2^-24, so that every machine takes the same
decisions. numpy for whole numbers.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
BITS = 24
DOUBLINGS = 4


class Criterion:
    """Judges plans of one size; smaller is better.

    Parameters
    ----------
    replications
        (t,) plots of each label.
    scale
        Common multiple of the sizes that sums over pieces of ground are divided by.
    """

    def __init__(self, replications: Sequence[int], scale: int) -> None:
        r = np.array(replications, dtype=np.int64)
        self._by = scale * r
        self._mean = (r[:, None] << BITS) // int(r.sum())
        self._same = np.eye(r.size, dtype=np.int64) << BITS

    def value(self, shared: Ints) -> int:
        """Sum of 1/(1 - m) in units of 2^-24; ``shared`` is scale N N' / k, whole numbers."""
        power = (shared << BITS) // self._by - self._mean
        total = self._same + power
        for _ in range(DOUBLINGS - 1):
            power = (power @ power) >> BITS
            total = total + ((total @ power) >> BITS)
        power = (power @ power) >> BITS
        return int(np.trace(total)) + (int((total * power.T).sum()) >> BITS)


def counts(plan: Sequence[Sequence[int]], labels: int) -> Ints:
    """(labels, blocks) how often each label stands in each block."""
    out = np.zeros((labels, len(plan)), dtype=np.int64)
    for j, block in enumerate(plan):
        for label in block:
            out[label, j] += 1
    return out


def connected(plan: Sequence[Sequence[int]], labels: int) -> bool:
    """Whether every two labels can be compared through common blocks."""
    reached, waiting = {0}, [0]
    holding: list[list[int]] = [[] for _ in range(labels)]
    for j, block in enumerate(plan):
        for label in block:
            holding[label].append(j)
    while waiting:
        for j in holding[waiting.pop()]:
            for label in plan[j]:
                if label not in reached:
                    reached.add(label)
                    waiting.append(label)
    return len(reached) == labels
