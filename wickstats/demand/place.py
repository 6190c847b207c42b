"""The place as far as its owner shares it, and what is missing to reckon demand.

Radiation above the air and the day's length give a latitude away, air pressure an
elevation: results that are archived are reckoned at the shared place. Leans on design's
values and core.
"""

from dataclasses import dataclass

from wickstats.core.supply import SupplyRow
from wickstats.core.words import say
from wickstats.design.trial import Trial

# of a day's row: what tells the place on its own or together with the weather
TELLS_PLACE = (
    "ra",
    "day_length_h",
    "rs",
    "rso",
    "rns",
    "rnl",
    "rn",
    "pressure_kpa",
    "gamma_kpa_c",
    "et0_penman_mm",
    "et0_hargreaves_mm",
)


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


def shared_place(trial: Trial) -> tuple[float, float]:
    """Latitude and elevation to reckon archived results with.

    Rounded to 0.1 degree and 10 m unless the place is shared exactly; ``withheld_day``
    takes care of what is withheld.

    Raises
    ------
    ValueError
        Where either is missing.
    """
    site = trial.trial.site
    if site.latitude is None or site.elevation_m is None:
        raise ValueError("latitude and elevation are needed")
    if site.share == "exact":
        return site.latitude, site.elevation_m
    return round(site.latitude, 1), float(round(site.elevation_m, -1))


def withheld_day(row: SupplyRow) -> SupplyRow:
    """A day's row without what tells the place; evapotranspiration to 0.1 mm."""
    et0 = row["et0_mm"]
    return {
        **row,
        **dict.fromkeys(TELLS_PLACE),
        "et0_mm": round(et0, 1) if isinstance(et0, float) else et0,
    }
