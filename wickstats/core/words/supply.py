"""Evapotranspiration: which route a day took, and why."""

ENGLISH = {
    "supply why temperatures": "only temperatures were measured",
    "supply why measured": "more than temperatures was measured",
    "supply vapor humidity": "vapor pressure from the lowest and highest humidity",
    "supply vapor highest humidity": "vapor pressure from the highest humidity",
    "supply vapor lowest temperature": "the lowest temperature taken as dew point",
    "supply sun hours of sun": "radiation from hours of sun",
    "supply sun difference of temperatures": (
        "radiation from the difference of temperatures, as away from coasts"
    ),
    "supply wind assumed": "wind of 2 m/s assumed",
    "supply wind taken as at 2 m": "wind taken as measured at 2 m",
    "supply ground unknown": "heat into the ground taken as none: no row of the month before",
    "supply no sun": "the sun does not rise on this day: nothing can be reckoned",
}
