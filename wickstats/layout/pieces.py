"""Pieces of ground with their treatments, before they have names. Leans on design."""

from dataclasses import dataclass

from wickstats.design.defaults import value_for
from wickstats.design.trial import Trial
from wickstats.layout.plots import TREATMENT_JOIN


@dataclass(frozen=True, slots=True)
class Piece:
    """One unit in walking order: a plot, or the plots that hang on one reservoir.

    Attributes
    ----------
    cell
        Its treatment, levels joined by " x ".
    line
        Row on the ground in which plots are counted off; None: a field about as wide as
        long, or a place of its own in ``row`` and ``column``.
    """

    cell: str
    line: int | None = None
    row: int | None = None
    column: int | None = None
    block: str | None = None
    replicate: str | None = None
    square: str | None = None
    whole_plot: str | None = None
    subplot: str | None = None
    row_strip: str | None = None
    column_strip: str | None = None
    coil: str | None = None
    run: str | None = None


def levels_of(trial: Trial, cell: str) -> dict[str, str]:
    """Factor -> level of a treatment."""
    names = (factor.name for factor in trial.factors)
    return dict(zip(names, cell.split(TREATMENT_JOIN), strict=True))


def plots_each(trial: Trial, cell: str) -> int:
    """Plots of one unit of a treatment: 1, or as many as hang on one reservoir."""
    return value_for(trial.design.plots_per_reservoir, levels_of(trial, cell)) or 1


def replicates_of(trial: Trial, cell: str) -> int:
    """Units of a treatment: in the trial, in each block of complete blocks, of whole plots.

    Treatments that complete blocks do not name have one unit in each.
    """
    given = trial.design.replicates
    if isinstance(given, dict):
        found = value_for(given, dict(enumerate_levels(cell)))
        return found if found is not None else int(bool(trial.design.blocks))
    return given or int(bool(trial.design.blocks))


def enumerate_levels(cell: str) -> list[tuple[str, str]]:
    """Levels of a treatment (or of a part of one) under stand-in names of factors."""
    return [(str(k), level) for k, level in enumerate(cell.split(TREATMENT_JOIN))]
