"""Texts for ``wickstats new``: a commented trial file and empty record tables."""

from typing import Literal

Like = Literal["field", "garden", "bench"]


def template(like: str, trial_id: str) -> dict[str, str]:
    """File name -> text, for a new trial's folder.

    ``trial_id`` may be any folder name; what an identifier may not hold becomes a hyphen.
    """
    raise NotImplementedError
