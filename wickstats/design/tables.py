"""The record tables' columns, types and allowed words: the one registry of them.

Readers, writers, templates and the published Table Schemas all take them from here.
Leans on nothing.
"""

from dataclasses import dataclass
from typing import Literal

ColumnKind = Literal["text", "date", "number", "integer", "boolean"]

STATUS_WORDS = ("alive", "doubtful", "dead", "not found", "not visited")
CONDITION_WORDS = ("leafless", "resprouting", "browsed")
CAUSE_WORDS = ("drought", "browsing", "disease", "mechanical", "unknown")
PERIOD_WORDS = ("day", "month")
PICK_WORDS = ("picked", "nothing ripe", "not picked")
EVENT_WORDS = (
    "leak",
    "blocked wick",
    "reservoir empty",
    "browsed",
    "replaced",
    "flood damage",
    "theft",
    "valve opened",
    "wrong treatment",
    "pick missed",
    "other",
)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    required
        The column must be in the file (single cells may still be blank where the
        text says so).
    words
        The only words allowed, where there are such.
    measured_in
        Our unit of a quantity; other units are converted to it.
    minimum
        Smallest value that makes sense.
    """

    name: str
    kind: ColumnKind
    says: str
    required: bool = False
    words: tuple[str, ...] = ()
    measured_in: str | None = None
    minimum: float | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """One record table.

    Attributes
    ----------
    one_of
        Groups of columns; of each group at least one must be in the file.
    date_may_be_missing
        ``date`` may be left out (or blank) where a plant or plot has one row.
    own_quantities
        Further columns are the user's own quantities (measurements).
    """

    name: str
    says: str
    columns: tuple[Column, ...]
    one_of: tuple[tuple[str, ...], ...] = ()
    date_may_be_missing: bool = False
    own_quantities: bool = False

    def column(self, name: str) -> Column | None:
        """Return the column of that name, or None."""
        return next((c for c in self.columns if c.name == name), None)

    @property
    def column_names(self) -> tuple[str, ...]:
        """All names in the order in which templates write them."""
        return tuple(c.name for c in self.columns)

    @property
    def required_names(self) -> tuple[str, ...]:
        """Names of the columns that must be in the file."""
        return tuple(c.name for c in self.columns if c.required)


def _text(
    name: str, says: str, *, required: bool = False, words: tuple[str, ...] = ()
) -> Column:
    return Column(name, "text", says, required=required, words=words)


def _day(name: str, says: str, *, required: bool = False) -> Column:
    return Column(name, "date", says, required=required)


def _amount(
    name: str,
    says: str,
    measured_in: str | None,
    *,
    required: bool = False,
    minimum: float | None = 0.0,
) -> Column:
    return Column(
        name, "number", says, required=required, measured_in=measured_in, minimum=minimum
    )


def _number_of(name: str, says: str) -> Column:
    return Column(name, "integer", says, minimum=0)


_PLOT = _text("plot", "the plot's identifier, as in the layout", required=True)
_PLOT_OR = _text("plot", "the plot's identifier; or give its reservoir")
_RESERVOIR_OR = _text("reservoir", "the reservoir's identifier; or give the plot")
_PLANT = _text("plant", "the plant's number, unique in its plot", required=True)
_PLANT_IF = _text("plant", "the plant's number; blank: the row is about the whole plot")
_NOTE = _text("note", "anything else, kept as written")
_OBSERVER = _text("observer", "who looked")

PLANTS = Table(
    name="plants",
    says="one row a plant: where and when it was planted",
    columns=(
        _PLOT,
        _PLANT,
        _day("planted_on", "day of planting", required=True),
        _amount("start_cm", "size at planting", "cm"),
        _text("replaces", "the plant that this one replaces"),
        _text("position", "place in the plot; numbered where plants hang on a line or wick"),
        _text("stock", "lot or nursery"),
        _text("crew", "who planted"),
        _NOTE,
    ),
)

VISITS = Table(
    name="visits",
    says="one row a plant and visit; or one row a plot and visit with counts",
    columns=(
        _day("date", "day of the visit"),
        _PLOT,
        _text("plant", "the plant's number; blank where the row counts the whole plot"),
        _text("status", "what was seen", words=STATUS_WORDS),
        _text("condition", "how it looked", words=CONDITION_WORDS),
        _text("cause", "cause of death or damage", words=CAUSE_WORDS),
        _number_of("alive_n", "plants alive in the plot (plant left blank)"),
        _number_of("dead_n", "plants dead in the plot"),
        _number_of("not_found_n", "plants not found in the plot"),
        _OBSERVER,
        _NOTE,
    ),
    one_of=(("status", "alive_n"),),
    date_may_be_missing=True,
)

MEASUREMENTS = Table(
    name="measurements",
    says="one row a plant (or plot) and date; one column a quantity, named by you",
    columns=(
        _day("date", "day of measuring"),
        _PLOT,
        _PLANT_IF,
        _OBSERVER,
        _NOTE,
    ),
    date_may_be_missing=True,
    own_quantities=True,
)

WATER = Table(
    name="water",
    says="one row a refill, reading or watering",
    columns=(
        _day("date", "day of the refill or reading", required=True),
        _PLOT_OR,
        _RESERVOIR_OR,
        _amount("applied_l", "water given", "L"),
        _amount("level_before_l", "water in the reservoir before", "L"),
        _amount("level_before_cm", "water level before", "cm"),
        _amount("level_after_l", "water in the reservoir after", "L"),
        _amount("level_after_cm", "water level after", "cm"),
        _amount("meter_start_l", "meter before", "L"),
        _amount("meter_end_l", "meter after", "L"),
        _amount("leaked_l", "water known to be lost", "L"),
        _text("source", "where the water came from"),
        _NOTE,
    ),
    one_of=(
        ("plot", "reservoir"),
        (
            *("applied_l", "level_before_l", "level_before_cm", "level_after_l"),
            *("level_after_cm", "meter_start_l", "meter_end_l", "leaked_l"),
        ),
    ),
)

PICKS = Table(
    name="picks",
    says="one row a plot (or plant) and pick; a plot where nothing was ripe has its row too",
    columns=(
        _PLOT,
        _day("date", "day of the pick"),
        _text("pick", "number or name of the pick"),
        _PLANT_IF,
        _amount("mass_kg", "all that was picked", "kg"),
        _amount("marketable_kg", "the part that can be sold or eaten", "kg"),
        _number_of("count", "number of fruits"),
        _text("status", "whether it was picked; blank: picked", words=PICK_WORDS),
        _NOTE,
    ),
    date_may_be_missing=True,
)

EVENTS = Table(
    name="events",
    says="one row a mishap, replacement or damage",
    columns=(
        _day("date", "first day", required=True),
        _PLOT_OR,
        _RESERVOIR_OR,
        _text("what", "what happened", required=True, words=EVENT_WORDS),
        _text("plant", "the plant it happened to; blank: the whole plot"),
        _text("new_plant", "the plant that replaces it"),
        _day("until", "last day"),
        _NOTE,
    ),
    one_of=(("plot", "reservoir"),),
)

WEATHER = Table(
    name="weather",
    says="one row a day, or one a month of mean values",
    columns=(
        _day("date", "day; of a month's row, any day of that month", required=True),
        _text("period", "what the row stands for; blank: a day", words=PERIOD_WORDS),
        _amount("tmin_c", "lowest temperature", "degC", required=True, minimum=None),
        _amount("tmax_c", "highest temperature", "degC", required=True, minimum=None),
        _amount("rh_min", "lowest relative humidity", "%"),
        _amount("rh_max", "highest relative humidity", "%"),
        _amount("vapor_kpa", "actual vapor pressure, where the station gives it", "kPa"),
        _amount("wind_m_s", "mean wind", "m/s"),
        _amount("wind_height_m", "height of the wind meter", "m"),
        _amount("sun_h", "hours of sun", "h"),
        _amount("radiation_mj_m2", "solar radiation", "MJ/m2"),
        _amount("rain_mm", "rain", "mm"),
    ),
)

READINGS = Table(
    name="readings",
    says="one row a reading at the bench",
    columns=(
        _text("run", "the run or day", required=True),
        _text("plot", "the piece of cord", required=True),
        _amount("minutes", "time since the start of the run", "min", required=True),
        _amount("height_mm", "height of the wet front", "mm"),
        Column("reached_top", "boolean", "the wet front reached the top of the piece"),
        _amount("volume_ml", "water delivered since the start", "mL"),
        _amount("head_mm", "head of water", "mm", minimum=None),
        Column("vented", "boolean", "the reservoir was open to the air"),
        _amount("temperature_c", "temperature of the water", "degC", minimum=None),
        _NOTE,
    ),
    one_of=(("height_mm", "volume_ml"),),
)

LIFETIMES = Table(
    name="lifetimes",
    says="one row a plant, for data without visits; days from planting",
    columns=(
        _PLOT,
        _PLANT,
        _amount("last_alive_d", "last day on which it was seen alive", "d", required=True),
        _amount(
            "first_dead_d",
            "first day on which it was seen dead; blank: never",
            "d",
            required=True,
        ),
        _text("cause", "cause of death", words=CAUSE_WORDS),
        _NOTE,
    ),
)

LAYOUT = Table(
    name="layout",
    says="one row a plot; and one column a factor, under the factor's own name",
    columns=(
        _PLOT,
        _text("block", "the block"),
        Column("row", "integer", "row on the ground", minimum=1),
        Column("column", "integer", "column on the ground", minimum=1),
        _text("replicate", "the replicate"),
        _text("square", "the Latin square"),
        _text("whole_plot", "the whole plot, unique in the trial or in its block"),
        _text("subplot", "the subplot's place in its whole plot"),
        _text("row_strip", "the row strip"),
        _text("column_strip", "the column strip"),
        _text("reservoir", "the reservoir that feeds the plot; blank: its own"),
        Column("plants", "integer", "plants in the plot", minimum=1),
        _text("coil", "the coil that a piece was cut from (bench)"),
        _text("run", "the run or day (bench)"),
    ),
    own_quantities=True,
)

RECORD_TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        PLANTS,
        VISITS,
        MEASUREMENTS,
        WATER,
        PICKS,
        EVENTS,
        WEATHER,
        READINGS,
        LIFETIMES,
    )
}


def table(name: str) -> Table:
    """Return the record table of that name (KeyError where there is none)."""
    return RECORD_TABLES[name]
