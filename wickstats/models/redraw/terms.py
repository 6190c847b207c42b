"""Stub: see the docstrings."""

from collections.abc import Callable

from numpy.typing import ArrayLike

from wickstats.core.responses import Redraws
from wickstats.models.redraw.scheme import DRAWS, IntArray

Allowed = Callable[[IntArray], "ArrayLike"]


def redraw_term(
    values: ArrayLike,
    cells: ArrayLike,
    contrasts: ArrayLike | None = None,
    *,
    blocks: ArrayLike | None = None,
    lost: ArrayLike | None = None,
    seed: int | str,
    stream: str,
    allowed: Allowed | None = None,
    draws: int = DRAWS,
) -> Redraws:
    """Re-randomization p of a term: whole layout redrawn, statistic F of the stratum.

    Parameters
    ----------
    values
        (n,) unit values of ALL units laid out; anything (e.g. nan) where ``lost``.
    cells
        (n,) cell codes 0..t-1 of all units laid out.
    contrasts
        (q, t) rows of cell weights that make up the term; None: all differences of cells.
    blocks
        (n,) block codes, None for a completely randomized trial. Labels move inside blocks.
    lost
        (n,) True where the unit has no value: it stays lost in its place.
    allowed
        From (draws, n) layouts of cell codes to (draws,) booleans, for restricted schemes.
    """
    raise NotImplementedError


def redraw_whole_plots(
    values: ArrayLike,
    whole_plots: ArrayLike,
    whole_cells: ArrayLike,
    sub_cells: ArrayLike,
    contrasts: ArrayLike | None = None,
    *,
    blocks: ArrayLike | None = None,
    lost: ArrayLike | None = None,
    seed: int | str,
    stream: str,
    draws: int = DRAWS,
) -> Redraws:
    """Re-randomization p of a whole-plot term: whole-plot labels move with their sub-plots.

    ``values, whole_plots, whole_cells, sub_cells, blocks, lost`` are (n,) by sub-plot;
    ``contrasts`` (q, a) weights of whole-plot cells, None: all differences.
    """
    raise NotImplementedError


def redraw_sub_plots(
    values: ArrayLike,
    whole_plots: ArrayLike,
    whole_cells: ArrayLike,
    sub_cells: ArrayLike,
    contrasts: ArrayLike,
    *,
    blocks: ArrayLike | None = None,
    lost: ArrayLike | None = None,
    seed: int | str,
    stream: str,
    draws: int = DRAWS,
) -> Redraws:
    """Re-randomization p of a sub-plot term (or interaction), whole plots fixed.

    ``contrasts`` (q, a * s): weights of cells ``whole_cell * s + sub_cell``.
    """
    raise NotImplementedError
