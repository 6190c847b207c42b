"""Two arms compared within blocks, by the paired t statistic (Student 1908).

The mean of the differences, their standard deviation over the root of their number, df one
less than blocks. Leans on the standard library.
"""

from collections.abc import Mapping, Sequence
from statistics import fmean, stdev

from wickstats.second.answers import ContrastAnswer

ENGINE = "paired differences"


def paired_difference(
    values: Sequence[float],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blocks: Sequence[object],
) -> ContrastAnswer:
    """Contrast of treatments within the blocks that hold all of them.

    Raises
    ------
    ValueError
        Where fewer than two blocks hold every treatment of the contrast once.
    """
    held: dict[object, dict[object, float]] = {}
    for y, arm, block in zip(values, treatments, blocks, strict=True):
        if arm in held.setdefault(block, {}):
            raise ValueError("a treatment stands twice in a block")
        held[block][arm] = float(y)
    differences = [
        sum(weight * mine[arm] for arm, weight in weights.items())
        for mine in held.values()
        if all(arm in mine for arm in weights)
    ]
    if len(differences) < 2:
        raise ValueError("fewer than two blocks hold every treatment of the comparison")
    se = stdev(differences) / len(differences) ** 0.5
    return ContrastAnswer(fmean(differences), se, float(len(differences) - 1), ENGINE)
