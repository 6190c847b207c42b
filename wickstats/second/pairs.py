"""Treatments compared within blocks by the paired t statistic (Student 1908), or by Welch.

The mean of the blocks' differences, their standard deviation over the root of their number,
df one less than blocks. Where fewer than two blocks hold all treatments: every treatment's
own units, df by Welch (1947, Biometrika 34:28). Leans on the standard library.
"""

from collections.abc import Mapping, Sequence
from statistics import fmean, stdev

from wickstats.second.answers import ContrastAnswer

ENGINE = "paired differences"
WELCH = "own units of each treatment (Welch)"


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
        Where fewer than two blocks hold every treatment of the contrast.
    """
    held: dict[object, dict[object, list[float]]] = {}
    for y, arm, block in zip(values, treatments, blocks, strict=True):
        held.setdefault(block, {}).setdefault(arm, []).append(float(y))
    differences = [
        sum(weight * fmean(mine[arm]) for arm, weight in weights.items())
        for mine in held.values()
        if all(arm in mine for arm in weights)
    ]
    if len(differences) < 2:
        raise ValueError("fewer than two blocks hold every treatment of the comparison")
    se = stdev(differences) / len(differences) ** 0.5
    return ContrastAnswer(fmean(differences), se, float(len(differences) - 1), ENGINE)


def own_units(
    values: Sequence[float], treatments: Sequence[object], weights: Mapping[object, float]
) -> ContrastAnswer:
    """Contrast of treatments whose variances are each taken from their own units.

    Raises
    ------
    ValueError
        Where a treatment has fewer than two units.
    """
    estimate = variance = spread = 0.0
    for arm, weight in weights.items():
        mine = [float(y) for y, t in zip(values, treatments, strict=True) if t == arm]
        if len(mine) < 2:
            raise ValueError(f"fewer than two units of {arm}")
        part = weight**2 * stdev(mine) ** 2 / len(mine)
        estimate += weight * fmean(mine)
        variance += part
        spread += part**2 / (len(mine) - 1)
    if spread == 0.0:
        raise ValueError("the units of each treatment are all alike")
    return ContrastAnswer(estimate, variance**0.5, variance**2 / spread, WELCH)
