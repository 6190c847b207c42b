"""Notes on keys of the trial file that are read and checked but not used yet."""

from wickstats.core.errors import Problem
from wickstats.design.trial import Trial


def not_yet_used(trial: Trial) -> tuple[Problem, ...]:
    """One note a key whose use comes in a later version (code "not yet used")."""
    raise NotImplementedError
