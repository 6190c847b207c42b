"""Re-randomization of two arms, and sign flips of paired differences.

Only the two arms' labels move, inside blocks; all other arms keep theirs, so the
hypothesis is that these two do not differ whatever the others do. The statistic is the
absolute least-squares estimate with blocks fixed. Sign flips are the special case of
complete pairs (Fisher 1935, The Design of Experiments, section 21).
Leans on numpy, core.responses and models.redraw.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.responses import Redraws
from wickstats.models.redraw.scheme import DRAWS, EXACT_LIMIT, IntArray, all_signs, generator
from wickstats.models.redraw.statistic import Array, estimates, lay_stratum, observed_state
from wickstats.models.redraw.terms import TIE, Allowed, no_redraws, redraw

Statistic = Callable[[IntArray], ArrayLike]


def redraw_pair(
    values: ArrayLike,
    cells: ArrayLike,
    pair: tuple[int, int],
    *,
    blocks: ArrayLike | None = None,
    lost: ArrayLike | None = None,
    seed: int | str,
    stream: str,
    allowed: Allowed | None = None,
    statistic: Statistic | None = None,
    side: int = 0,
    draws: int = DRAWS,
) -> Redraws:
    """Re-randomization p of two arms: only their labels move, inside blocks.

    For two sub-plot cells of a split-plot give the whole plots as ``blocks``; for two
    whole-plot cells give one value a whole plot (``terms.whole_plot_values``).

    Parameters
    ----------
    values, cells, blocks, lost, allowed, seed, stream, draws
        As in ``redraw_term``: all units laid out, all arms.
    pair
        Codes of the two arms.
    statistic
        From (draws, n) layouts to (draws,) statistics, large meaning unlike; default
        |estimate| of least squares with blocks fixed.
    side
        1: only whether the first arm has more, -1: less; 0: either way.

    Raises
    ------
    ValueError
        For arrays that do not fit, or a pair that is not two different arms.
    """
    first, second = pair
    codes = np.asarray(cells, dtype=np.int64)
    if first == second or not ((codes == first).any() and (codes == second).any()):
        raise ValueError("a pair must be two different arms that were laid out")
    row = np.zeros((1, int(codes.max(initial=0)) + 1))
    row[0, first], row[0, second] = 1.0, -1.0
    stratum = lay_stratum(values, codes, row, blocks, lost)
    if statistic is None and not observed_state(stratum)[0]:
        return no_redraws("redraw not estimable")

    def default(layouts: IntArray) -> Array:
        return estimates(stratum, layouts, side)

    def given(layouts: IntArray) -> Array:
        return np.asarray(statistic(layouts) if statistic else (), dtype=float)

    moving = np.flatnonzero((codes == first) | (codes == second))
    chosen = given if statistic else default
    return redraw(stratum, moving, chosen, seed, stream, allowed, draws)


def sign_flip(
    differences: ArrayLike, *, seed: int | str, stream: str, draws: int = DRAWS
) -> Redraws:
    """Two-sided sign-flip p of paired differences, statistic |sum|.

    Raises
    ------
    ValueError
        When there is no difference or one is not finite.
    """
    d = np.asarray(differences, dtype=float)
    if d.ndim != 1 or d.size == 0 or not np.isfinite(d).all():
        raise ValueError("differences must be a list of finite numbers")
    observed = abs(float(d.sum()))
    bar = observed - TIE * float(np.abs(d).sum())
    if 2**d.size <= EXACT_LIMIT:
        sums = np.abs(all_signs(d.size) @ d)
        count = int(np.count_nonzero(sums >= bar))
        most = int(np.count_nonzero(sums >= sums.max() * (1.0 - TIE)))
        return Redraws(count / sums.size, "exact", sums.size, most / sums.size, None)
    flips = 1.0 - 2.0 * generator(seed, stream).integers(0, 2, size=(draws, d.size))
    count = int(np.count_nonzero(np.abs(flips @ d) >= bar))
    return Redraws((1 + count) / (1 + draws), "sampled", draws, 1 / (1 + draws), None)
