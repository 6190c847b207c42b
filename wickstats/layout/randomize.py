"""A trial and a seed become plots, each allowed layout equally likely."""

from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout


def randomize(trial: Trial, *, seed: int | None = None) -> Layout:
    """Lay out the plots at random; writes nothing.

    Raises
    ------
    LayoutError
        Where the design cannot be laid out.
    """
    raise NotImplementedError
