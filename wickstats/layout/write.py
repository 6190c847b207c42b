"""layout.csv and layout.record.json: written once, redrawn only with a reason."""

from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout


def draw_and_write(trial: Trial, *, reason: str | None = None) -> Layout:
    """Draw and write; with a reason, draw again under a new seed and keep what was.

    Raises
    ------
    LayoutError
        Where a layout exists and no reason is given, or there is none to redraw.
    """
    raise NotImplementedError


def write_layout(layout: Layout, trial: Trial) -> None:
    """Write layout.csv and layout.record.json in the trial's folder.

    Raises
    ------
    LayoutError
        Where a layout exists.
    """
    raise NotImplementedError
