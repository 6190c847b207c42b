"""What is missing to reckon demand.

Radiation above the air and the day's length give a latitude away, air pressure an
elevation: results that are archived are reckoned from the trial as it is shared, and a trial
whose place is withheld has no demand in them. Leans on design's values and core.
"""

from dataclasses import dataclass

from wickstats.core.words import say
from wickstats.design.trial import Trial


@dataclass(frozen=True, slots=True)
class Missing:
    """A key of the trial file that demand needs: its path, what to write, an example."""

    path: tuple[str, ...]
    what: str
    example: str


def missing_for_demand(trial: Trial) -> tuple[Missing, ...]:
    """Every key that is not there, in the order of the file."""
    site, water = trial.trial.site, trial.water
    asked = (
        (("trial", "site", "latitude"), site.latitude, "latitude: 41.2"),
        (("trial", "site", "elevation_m"), site.elevation_m, "elevation_m: 640"),
        (
            ("water", "crop_coefficient"),
            None if water is None else water.crop_coefficient,
            "crop_coefficient: 0.8",
        ),
        (("water", "wetted_m2"), None if water is None else water.wetted_m2, "wetted_m2: 0.25"),
    )
    return tuple(
        Missing(path, say(f"supply needs {path[-1]}"), example)
        for path, value, example in asked
        if value is None
    )
