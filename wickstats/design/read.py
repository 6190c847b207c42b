"""A trial file's text becomes a checked trial, or every problem with its place."""

from pathlib import Path

from wickstats.design.trial import Trial


def read_trial(path: Path) -> Trial:
    """Read and check a trial file.

    Raises
    ------
    TrialError
        Holding every problem with its line and column.
    """
    raise NotImplementedError
