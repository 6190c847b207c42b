"""Strata, terms and their degrees of freedom, from the layout alone."""

from wickstats.core.results import LayoutFacts, StratumDf
from wickstats.layout.plots import Layout


def degrees(layout: Layout) -> tuple[StratumDf, ...]:
    """The degrees-of-freedom table, before any data.

    Rows in the order of strata (block, whole plot, plot or reservoir); in each the
    terms tested there, then "residual".
    """
    raise NotImplementedError


def layout_facts(layout: Layout) -> LayoutFacts:
    """Design, seed and the number of independently set up units per term."""
    raise NotImplementedError
