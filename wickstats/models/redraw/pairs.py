"""Stub: see the docstrings."""

from collections.abc import Callable

from numpy.typing import ArrayLike

from wickstats.core.responses import Redraws
from wickstats.models.redraw.scheme import DRAWS, IntArray
from wickstats.models.redraw.terms import Allowed

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
    draws: int = DRAWS,
) -> Redraws:
    """Re-randomization p of two arms: only their labels move, inside blocks.

    For two sub-plot cells of a split-plot give the whole plots as ``blocks``; for two
    whole-plot cells give one value a whole plot (``whole_plot_values``).

    Parameters
    ----------
    values, cells, blocks, lost, allowed
        As in ``redraw_term``: all units laid out, all arms.
    pair
        Codes of the two arms.
    statistic
        From (draws, n) layouts to (draws,) statistics, large meaning unlike; default
        |estimate| of least squares with blocks fixed.
    """
    raise NotImplementedError


def sign_flip(
    differences: ArrayLike, *, seed: int | str, stream: str, draws: int = DRAWS
) -> Redraws:
    """Sign-flip p (two-sided, statistic |sum|) of paired differences."""
    raise NotImplementedError
