"""Bad tables and the exact words they get."""
# ruff: noqa: E501  (messages are quoted whole, as a reader sees them)

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from support_records import HEIGHT, WATER, small_layout, small_trial

from wickstats.core.errors import RecordsError
from wickstats.records.read import read_records


@dataclass(frozen=True)
class Case:
    """A table's text and what is said about it."""

    name: str
    table: str
    text: str | bytes
    problems: tuple[str, ...] = ()
    queries: tuple[str, ...] = ()
    excluded: tuple[str, ...] = ()
    options: dict[str, Any] | None = None
    responses: tuple[Any, ...] = ()
    water: Any = None


CASES = (
    Case(
        "a head with another capital",
        "visits",
        "date,Plot,plant,status\n2025-04-01,A1,1,alive\n",
        problems=(
            'visits.csv, row 1, column plot: missing column: found the heads date, Plot, plant, status; expected a column plot; to mend it: rename Plot, or write `columns: {plot: {head: "Plot"}}`',
        ),
    ),
    Case(
        "no plot at all",
        "visits",
        "date,plant,status\n2025-04-01,1,alive\n",
        problems=(
            "visits.csv, row 1, column plot: missing column: found the heads date, plant, status; expected a column plot; to mend it: add the column, or say which one it is with `columns: {plot: {head: ...}}`",
        ),
    ),
    Case(
        "neither status nor counts",
        "visits",
        "date,plot,plant\n2025-04-01,A1,1\n",
        problems=(
            "visits.csv, row 1, column status or alive_n: missing column: found the heads date, plot, plant; expected a column status or alive_n; to mend it: add the column, or say which one it is with `columns: {status: {head: ...}}`",
        ),
    ),
    Case(
        "a mapped head that is not there",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,alive\n",
        problems=(
            "visits.csv, row 1, column parcel: missing column: found the heads date, plot, plant, status; expected a column parcel; to mend it: add the column, or say which one it is with `columns: {plot: {head: ...}}`",
        ),
        options={"columns": {"plot": {"head": "parcel"}}},
    ),
    Case(
        "a head twice",
        "visits",
        "date,plot,plot,plant,status\n2025-04-01,A1,A1,1,alive\n",
        problems=(
            "visits.csv, row 1, column plot: repeated head: found the head plot more than once; expected every head once; to mend it: rename or delete the columns that are not meant",
        ),
    ),
    Case(
        "dates of another style",
        "visits",
        "date,plot,plant,status\n01/04/2025,A1,1,alive\n",
        problems=(
            "visits.csv, row 2, column date: unreadable value: found 01/04/2025; expected a date written like 2025-12-31, or a blank; to mend it: write `dates: 31/12/2025` for this table in the trial file if the day comes first, `dates: 12/31/2025` if the month does",
        ),
    ),
    Case(
        "no such day",
        "visits",
        "date,plot,plant,status\n2025-02-30,A1,1,alive\n",
        problems=(
            "visits.csv, row 2, column date: unreadable value: found 2025-02-30; expected a date written like 2025-12-31, or a blank; to mend it: there is no such day: correct it",
        ),
    ),
    Case(
        "dates not in the style that was promised",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,alive\n",
        problems=(
            "visits.csv, row 2, column date: unreadable value: found 2025-04-01; expected a date written like 31/12/2025, or a blank; to mend it: take `dates` out: the file writes its dates year first, as is usual",
        ),
        options={"dates": "31/12/2025"},
    ),
    Case(
        "an example that shows nothing",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,alive\n",
        problems=(
            "visits.csv: dates: found the example day first; expected an example that shows day, month and year, such as 31/12/2025; to mend it: write the last day of a year the way the file writes dates",
        ),
        options={"dates": "day first"},
    ),
    Case(
        "a date that became a number",
        "visits",
        "date,plot,plant,status\n45717,A1,1,alive\n",
        problems=(
            "visits.csv, row 2, column date: unreadable value: found 45717; expected a date written like 2025-12-31, or a blank; to mend it: format the column as dates in the spreadsheet: 45717 is how most of them keep 2025-03-01",
        ),
    ),
    Case(
        "words that are not in the list",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,aliv\n2025-04-01,A1,2,vanished\n",
        problems=(
            "visits.csv, row 2, column status: unreadable value: found aliv; expected one of alive, doubtful, dead, not found, not visited, or a blank; to mend it: write alive",
            "visits.csv, row 3, column status: unreadable value: found vanished; expected one of alive, doubtful, dead, not found, not visited, or a blank; to mend it: use one of these words, and the note for the rest",
        ),
    ),
    Case(
        "unknown plots and no date",
        "visits",
        "date,plot,plant,status\n2025-04-01,A9,1,alive\n2025-04-02,A9,1,alive\n,A1,1,alive\n",
        problems=(
            "visits.csv, row 2, column plot: unknown plot: found A9 (2 rows); expected a plot of the layout; to mend it: correct it here or in the layout",
            "visits.csv, row 4, column date: missing value: found a blank; expected a value for date; to mend it: fill it in, or delete the row if it is empty",
        ),
    ),
    Case(
        "a blank plot",
        "visits",
        "date,plot,plant,status\n2025-04-01,,1,alive\n",
        problems=(
            "visits.csv, row 2, column plot: missing plot: found a blank; expected a plot of the layout; to mend it: write the plot, or delete the row if it is empty",
        ),
    ),
    Case(
        "unknown levels",
        "visits",
        "date,plot,plant,status,watering\n2025-04-01,A1,1,alive,wick\n2025-04-01,A1,2,alive,hand wateringg\n",
        problems=(
            "visits.csv, row 2, column watering: unknown level: found watering wick in row 2; expected one of capillary wick, hand watering; to mend it: correct it here or in the layout",
            "visits.csv, row 3, column watering: unknown level: found watering hand wateringg in row 3; expected one of capillary wick, hand watering; to mend it: did you mean hand watering?",
        ),
    ),
    Case(
        "a level that is another plot's",
        "visits",
        "date,plot,plant,status,watering\n2025-04-01,A1,1,alive,capillary wick\n",
        queries=(
            "visits.csv, row 2, column watering: not as in the layout: found plot A1 with watering capillary wick in row 2; expected hand watering, as in the layout; to mend it: the layout prevails; correct the plot or this column",
        ),
    ),
    Case(
        "decimal commas, text, a unit in the cell",
        "measurements",
        'date,plot,plant,height_cm\n2025-04-01,A1,1,"12,5"\n2025-04-01,A1,2,tall\n2025-04-01,A1,3,12 cm\n',
        problems=(
            'measurements.csv, row 2, column height_cm: unreadable value: found 12,5; expected a number, or a blank; to mend it: add `decimal: ","` to this table in the trial file',
            "measurements.csv, row 3, column height_cm: unreadable value: found tall; expected a number, or a blank; to mend it: correct it, or leave the cell blank and say why in a note",
            "measurements.csv, row 4, column height_cm: unreadable value: found 12 cm; expected a number, or a blank; to mend it: write the number alone; the unit belongs into `measured_in`",
        ),
        responses=(HEIGHT,),
    ),
    Case(
        "decimal points where commas were promised",
        "measurements",
        "date;plot;plant;height_cm\n2025-04-01;A1;1;12.5\n",
        problems=(
            "measurements.csv, row 2, column height_cm: unreadable value: found 12.5; expected a number, or a blank; to mend it: write the number with a decimal comma, as `decimal` says",
        ),
        options={"decimal": ","},
        responses=(HEIGHT,),
    ),
    Case(
        "a unit of something else",
        "measurements",
        "date,plot,plant,h\n2025-04-01,A1,1,12\n",
        problems=(
            "measurements.csv, row 1, column h: unit: found the unit kg; expected a unit that can be turned into cm; to mend it: 'kg' cannot be turned into 'cm'; correct `measured_in` of height_cm in the trial file",
        ),
        options={"columns": {"height_cm": {"head": "h", "measured_in": "kg"}}},
        responses=(HEIGHT,),
    ),
    Case(
        "a unit that nobody knows",
        "measurements",
        "date,plot,plant,h\n2025-04-01,A1,1,12\n",
        problems=(
            "measurements.csv, row 1, column h: unit: found the unit cmm; expected a unit that can be turned into cm; to mend it: the unit 'cmm' is not known (the nearest known one is 'mm'); correct `measured_in` of height_cm in the trial file",
        ),
        options={"columns": {"height_cm": {"head": "h", "measured_in": "cmm"}}},
        responses=(HEIGHT,),
    ),
    Case(
        "the quantity of a response is missing",
        "measurements",
        "date,plot,plant,heigth_cm\n2025-04-01,A1,1,12\n",
        problems=(
            'measurements.csv, row 1, column height_cm: missing column: found the columns date, plot, plant, heigth_cm; expected a column height_cm, of the response height; to mend it: rename heigth_cm, or write `columns: {height_cm: {head: "heigth_cm"}}`',
        ),
        responses=(HEIGHT,),
    ),
    Case(
        "no dates where there are several rows",
        "measurements",
        "plot,plant,height_cm\nA1,1,12\nA1,1,13\n",
        problems=(
            "measurements.csv, row 2, column date: missing date: found no date where a plot or plant has several rows; expected a date in each of them; to mend it: fill in the dates",
            "measurements.csv, row 3, column date: missing date: found no date where a plot or plant has several rows; expected a date in each of them; to mend it: fill in the dates",
        ),
        responses=(HEIGHT,),
    ),
    Case(
        "a crosswise sheet without dates",
        "measurements",
        "plot,plant,first,second\nA1,1,2,3\n",
        problems=(
            "measurements.csv, row 1: no dates as heads: found the heads plot, plant, first, second; expected dates written like 2025-12-31 as heads; to mend it: correct the heads or `dates`, or leave `wide` out",
        ),
        options={"wide": {"heads_are": "date", "cells_are": "height_cm"}},
        responses=(HEIGHT,),
    ),
    Case(
        "less than no water",
        "water",
        "date,plot,applied_l\n2025-04-01,A1,-3\n",
        problems=(
            "water.csv, row 2, column applied_l: below its limit: found -3; expected a number not below 0; to mend it: correct it, or leave the cell blank and say why in a note",
        ),
    ),
    Case(
        "levels in cm that cannot become liters",
        "water",
        "date,reservoir,level_before_cm\n2025-04-01,R1,20\n",
        problems=(
            "water.csv, row 2, column level_before_cm: levels in cm: found a level in cm, and nothing that tells its liters; expected liters_per_cm under water, reservoirs in the trial file; to mend it: add it, or note levels in liters",
        ),
    ),
    Case(
        "an unknown reservoir",
        "water",
        "date,reservoir,applied_l\n2025-04-01,R9,20\n,R1,3\n",
        problems=(
            "water.csv, row 2, column reservoir: unknown reservoir: found R9; expected a reservoir of the layout; to mend it: correct it here or in the layout",
            "water.csv, row 3, column date: missing value: found a blank; expected a value for date; to mend it: fill it in, or delete the row if it is empty",
        ),
    ),
    Case(
        "a plot on another reservoir, and neither",
        "water",
        "date,plot,reservoir,applied_l\n2025-04-01,A1,R1,20\n2025-04-01,,,20\n",
        problems=(
            "water.csv, row 2, column reservoir: plot and reservoir disagree: found plot A1 with reservoir R1; expected reservoir none, as in the layout; to mend it: give one of the two, or correct it",
            "water.csv, row 3, column plot: missing plot: found neither a plot nor a reservoir; expected one of them; to mend it: write the plot or the reservoir, or delete the row if it is empty",
        ),
    ),
    Case(
        "events that are not in the list",
        "events",
        "date,plot,what\n2025-04-01,A1,leek\n2025-04-01,A1,\n",
        problems=(
            "events.csv, row 2, column what: unreadable value: found leek; expected one of leak, blocked wick, reservoir empty, browsed, replaced, flood damage, theft, valve opened, wrong treatment, pick missed, other; to mend it: write leak",
            "events.csv, row 3, column what: missing value: found a blank; expected a value for what; to mend it: fill it in, or delete the row if it is empty",
        ),
    ),
    Case(
        "half a plant",
        "visits",
        "date,plot,alive_n\n2025-04-01,A1,2.5\n",
        problems=(
            "visits.csv, row 2, column alive_n: unreadable value: found 2.5; expected a whole number, or a blank; to mend it: correct it, or leave the cell blank and say why in a note",
        ),
    ),
    Case(
        "an empty file",
        "visits",
        "",
        problems=(
            "visits.csv, row 1: no header: found an empty file; expected column heads in row 1; to mend it: write the column names into the first row, or set `header_row`",
        ),
    ),
    Case(
        "only heads",
        "visits",
        "date,plot,plant,status\n",
        queries=(
            "visits.csv: no rows: found column heads and nothing below; expected at least one row; to mend it: nothing to do if nothing was recorded yet",
        ),
    ),
    Case(
        "more cells than heads",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,alive,and well\n",
        problems=(
            "visits.csv, row 2: too many cells: found 5 cells; expected 4, one for each column head; to mend it: put quotation marks around text that holds the delimiter",
        ),
    ),
    Case(
        "bytes that are not UTF-8",
        "visits",
        b"date,plot,plant,status\n2025-04-01,A1,1,ali\xe9\n",
        problems=(
            'visits.csv, row 2: not UTF-8: found a byte that is not UTF-8 text (0xE9); expected text in UTF-8; to mend it: save the file as "CSV UTF-8"',
        ),
    ),
    Case(
        "zero bytes",
        "visits",
        b"date,plot,plant,status\n2025-04-01,A1,1,ali\x00\n",
        problems=(
            'visits.csv, row 2: not text: found zero bytes, which no text holds; expected a text file with one line a row; to mend it: save the sheet as "CSV UTF-8", or name it .xlsx if it is a workbook',
        ),
    ),
    Case(
        "an open quotation mark",
        "visits",
        'date,plot,plant,status\n2025-04-01,A1,1,"alive\n',
        problems=(
            "visits.csv, row 2: broken text: found a quotation mark that opens in this row and is never closed; expected every quotation mark closed, and doubled inside a cell; to mend it: close it, or take it out; or save the file again as CSV from a spreadsheet",
        ),
    ),
    Case(
        "no plant, no planting day",
        "plants",
        "plot,plant,planted_on\nA1,,2025-03-01\nA1,2,\n",
        problems=(
            "plants.csv, row 2, column plant: missing value: found a blank; expected a value for plant; to mend it: fill it in, or delete the row if it is empty",
            "plants.csv, row 3, column planted_on: missing value: found a blank; expected a value for planted_on; to mend it: fill it in, or delete the row if it is empty",
        ),
    ),
    Case(
        "lifetimes without a last day, or endless",
        "lifetimes",
        "plot,plant,last_alive_d,first_dead_d\nA1,1,,5\nA1,3,inf,\n",
        problems=(
            "lifetimes.csv, row 2, column last_alive_d: missing value: found a blank; expected a value for last_alive_d; to mend it: fill it in, or delete the row if it is empty",
            "lifetimes.csv, row 3, column last_alive_d: unreadable value: found inf; expected a number; to mend it: correct it, or leave the cell blank and say why in a note",
        ),
    ),
    Case(
        "a header row below the end",
        "visits",
        "date,plot,plant,status\n",
        problems=(
            "visits.csv, row 1: heads in another row: found the column heads in row 1; expected column heads in row 5; to mend it: write `header_row: 1` for this table in the trial file",
        ),
        options={"header_row": 5},
    ),
    Case(
        "a delimiter of two characters",
        "visits",
        "date,plot,plant,status\n",
        problems=(
            "visits.csv: delimiter: found the delimiter '::'; expected one character, or \"tab\"; to mend it: leave `delimiter` out to have it found",
        ),
        options={"delimiter": "::"},
    ),
    Case(
        "alive after dead",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,dead\n2025-05-01,A1,1,alive\n",
        queries=(
            "visits.csv, row 2, column status: alive after dead: found plant 1 of plot A1 dead on 2025-04-01 and alive on 2025-05-01; expected no life after death; to mend it: correct the visit that is wrong; as it stands the death is set aside",
        ),
        excluded=("2: dead, but seen alive later",),
    ),
    Case(
        "doubtful after dead",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,dead\n2025-05-01,A1,1,doubtful\n",
        queries=(
            "visits.csv, row 3, column status: doubtful after dead: found plant 1 of plot A1 dead, and doubtful on 2025-05-01; expected no doubt after death; to mend it: correct the visit that is wrong; as it stands the death counts",
        ),
    ),
    Case(
        "the same twice, and a contradiction",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,alive\n2025-04-01,A1,1,alive\n2025-04-01,A1,2,alive\n2025-04-01,A1,2,dead\n",
        queries=(
            "visits.csv, row 2: duplicate: found rows 2 and 3, which say the same; expected one row for one plant (or plot) at one visit; to mend it: delete the surplus rows; the first is used",
            "visits.csv, row 4: conflicting duplicates: found rows 4 and 5, which contradict each other; expected one row for one plant (or plot) at one visit; to mend it: correct or delete the wrong rows; none of them is used",
        ),
        excluded=(
            "3: the same as row 2",
            "4: contradicts another of rows 4 and 5",
            "5: contradicts another of rows 4 and 5",
        ),
    ),
    Case(
        "a plant too many",
        "visits",
        "date,plot,plant,status\n2025-04-01,A1,1,alive\n2025-04-01,A1,2,alive\n2025-04-01,A1,3,alive\n2025-04-01,A1,4,alive\n",
        queries=(
            "visits.csv, row 5, column plant: unknown plant: found plant 4 of plot A1 in row 5; expected a plant from 1 to 3, as the layout has it; to mend it: correct the plant, or add it where plants are listed; the rows are not used",
        ),
        excluded=("5: the plant is not known",),
    ),
    Case(
        "out of season",
        "visits",
        "date,plot,plant,status\n2026-04-01,A1,1,alive\n",
        queries=(
            "visits.csv, row 2, column date: out of season: found a visit on 2026-04-01 in row 2; expected a day from 2025-03-01 to 2025-10-31; to mend it: correct the date, or the season in the trial file; the rows are used",
        ),
    ),
    Case(
        "lost leading zeros",
        "visits",
        "date,plot,plant,status\n2025-04-01,7,1,alive\n2025-05-01,7,1,alive\n",
        queries=(
            "visits.csv, row 2, column plot: lost leading zeros: found 7 (2 rows); expected 007, as in the layout; to mend it: nothing to do if 007 is meant: it is read so; format the column as text to keep the zeros",
        ),
    ),
    Case(
        "blank written as NA",
        "measurements",
        "date,plot,plant,height_cm\n2025-04-01,A1,1,NA\n2025-05-01,A1,1,5\n",
        queries=(
            "measurements.csv, row 2, column height_cm: blank written as NA: found NA in row 2; expected a blank cell where nothing was recorded; to mend it: nothing to do if NA means that nothing was recorded: it is read as blank",
        ),
        excluded=("2: no quantity in this row",),
        responses=(HEIGHT,),
    ),
    Case(
        "a column for people",
        "visits",
        "date,plot,plant,status,weather\n2025-04-01,A1,1,alive,sunny\n",
        queries=(
            "visits.csv, row 1: column not used: found the column weather; expected columns of this table; to mend it: nothing to do if they are meant for people only",
        ),
    ),
    Case(
        "sizes outside the range and shrinking",
        "measurements",
        "date,plot,plant,height_cm\n2025-04-01,A1,1,40\n2025-05-01,A1,1,30\n2025-06-01,A1,1,450\n",
        queries=(
            "measurements.csv, row 3, column height_cm: shrinking: found height_cm 30 after 40 for plant 1 of plot A1; expected a size that does not fall by more than a tenth; to mend it: check it; if the plant was browsed or died back nothing is to be done: the value is used",
            "measurements.csv, row 4, column height_cm: outside its range: found height_cm 450 for plant 1 of plot A1 on 2025-06-01; expected 1 to 200, as the trial file says; to mend it: correct the value or the range; the value is not used",
        ),
        excluded=("4: height_cm: outside its range",),
        responses=(HEIGHT,),
    ),
    Case(
        "sizes that contradict",
        "measurements",
        "date,plot,plant,height_cm\n2025-04-01,A1,1,40\n2025-04-01,A1,1,41\n2025-04-01,A1,2,7\n2025-04-01,A1,2,7\n",
        queries=(
            "measurements.csv, row 2, column height_cm: conflicting duplicates: found height_cm of plant 1 of plot A1 on 2025-04-01 in rows 2 and 3, different each time; expected one value a plant (or plot) and day; to mend it: correct or delete the wrong ones; none of them is used",
            "measurements.csv, row 4, column height_cm: duplicate: found height_cm of plant 2 of plot A1 on 2025-04-01 in rows 4 and 5, the same each time; expected one value a plant (or plot) and day; to mend it: delete the surplus; the first is used",
        ),
        excluded=(
            "2: height_cm: contradicts another of rows 2 and 3",
            "3: height_cm: contradicts another of rows 2 and 3",
            "5: height_cm: the same as row 4",
        ),
        responses=(HEIGHT,),
    ),
    Case(
        "a time of day",
        "visits",
        "date,plot,plant,status\n2025-04-01 08:30,A1,1,alive\n",
        queries=(
            "visits.csv, row 2, column date: time of day: found a time of day in row 2; expected a day; to mend it: nothing to do: only the day is used",
        ),
    ),
    Case(
        "a reservoir that lost more than it held",
        "water",
        "date,plot,reservoir,applied_l,level_before_l,level_after_l,leaked_l\n2025-04-01,,R1,10,0,10,\n2025-04-08,,R1,5,2,7,12\n",
        queries=(
            "water.csv, row 2: less than no water: found 4.00 L more left or leaked than was given to R1 in rows 2 and 3; expected at most as much as was there; to mend it: add the refill that is missing, or correct the levels or leaked_l; until then its delivered water is not known",
            "water.csv, row 3: lost more than it held: found more leaked than the reservoir held (unit R1, row 3); expected at most what it held; to mend it: correct leaked_l or the levels; all are used as they are",
        ),
        water=WATER,
    ),
    Case(
        "a level that rose, above what it holds",
        "water",
        "date,plot,reservoir,applied_l,level_before_l,level_after_l,leaked_l\n2025-04-01,,R1,10,0,10,\n2025-04-08,,R1,,30,30,\n",
        queries=(
            "water.csv, row 2: less than no water: found 20.0 L more left or leaked than was given to R1 in rows 2 and 3; expected at most as much as was there; to mend it: add the refill that is missing, or correct the levels or leaked_l; until then its delivered water is not known",
            "water.csv, row 3: above what it holds: found a level above the 20 L that a reservoir holds (unit R1, row 3); expected at most that; to mend it: correct the level or holds_l; the level is used",
            "water.csv, row 3: rose by itself: found a level above the one left at the last visit (unit R1, row 3); expected a level that only falls between visits; to mend it: correct the levels, or add the missing refill; delivered is a lower limit",
        ),
        water=WATER,
    ),
    Case(
        "water that does not add up",
        "water",
        "date,plot,reservoir,applied_l,level_before_l,level_after_l,leaked_l\n2025-04-01,,R2,10,5,8,\n",
        queries=(
            "water.csv, row 2: levels and water disagree: found level_after_l that is not level_before_l plus the water given (unit B2, row 2); expected the three to agree within half a liter and a tenth; to mend it: correct one of them; all are used as they are, and the limits of delivered water reach as far as they disagree",
        ),
        water=WATER,
    ),
    Case(
        "no amount in a pick",
        "picks",
        "plot,date,pick,mass_kg,marketable_kg,status\nA1,2025-07-01,1,,,\nA1,2025-07-08,2,,,nothing ripe\nA1,2025-07-15,3,1.5,2,\nA1,2025-07-22,4,1,,not picked\n",
        queries=(
            "picks.csv, row 2: no amount: found no amount and no reason in row 2; expected an amount, or the status nothing ripe or not picked; to mend it: fill in the amount or the status; the rows are not used, blank is not zero",
            "picks.csv, row 4, column marketable_kg: marketable above all: found more marketable than picked in all in row 4; expected marketable_kg not above mass_kg; to mend it: correct one of the two; both are used as they are",
            "picks.csv, row 5, column status: status and amount disagree: found an amount where nothing was picked in row 5; expected picked, or no amount; to mend it: correct one of the two; the rows are not used",
        ),
        excluded=(
            "2: no amount and no status",
            "5: status and amount disagree",
        ),
    ),
    Case(
        "a replacement without names",
        "events",
        "date,plot,what,plant,new_plant,until\n2025-06-01,A1,replaced,,,\n2025-06-01,A1,leak,,,2025-05-01\n",
        queries=(
            "events.csv, row 2: replacement without a plant: found replaced without the plant in row 2; expected the plant that was replaced; to mend it: name it, and its successor in new_plant; the event has no effect",
            "events.csv, row 3: ends before it begins: found until before date in row 3; expected until on or after date; to mend it: correct one of the two; until is not used",
        ),
    ),
    Case(
        "dead before alive",
        "lifetimes",
        "plot,plant,last_alive_d,first_dead_d\nA1,2,8,4\n",
        queries=(
            "lifetimes.csv, row 2, column first_dead_d: dead before alive: found first_dead_d before last_alive_d in row 2; expected first_dead_d not before last_alive_d; to mend it: correct one of the two; the rows are not used",
        ),
        excluded=("2: seen dead before it was last seen alive",),
    ),
    Case(
        "counts that do not add up",
        "visits",
        "date,plot,alive_n,dead_n,not_found_n\n2025-04-01,A1,3,0,0\n2025-05-01,A1,1,1,0\n2025-06-01,A1,2,0,1\n2025-07-01,A1,4,0,0\n",
        queries=(
            "visits.csv, row 3: counts do not add up: found 2 plants counted in plot A1; expected 3: alive, dead and not found together; to mend it: correct the counts; as they stand 1 more count as not found",
            "visits.csv, row 4, column dead_n: alive after dead: found fewer dead plants in plot A1 on 2025-06-01 than before; expected a number of dead plants that does not fall; to mend it: correct the counts; as they stand the latest death is set aside",
            "visits.csv, row 5: more plants than planted: found 4 plants counted in plot A1; expected at most 3; to mend it: correct the counts or the number of plants in the layout; the row is not used",
        ),
        excluded=("5: more plants counted than planted",),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_bad_table_gets_these_words(case: Case, tmp_path: Path) -> None:
    file = f"{case.table}.csv"
    data = case.text if isinstance(case.text, bytes) else case.text.encode()
    (tmp_path / file).write_bytes(data)
    source = {"file": file, **(case.options or {})}
    trial = small_trial(tmp_path, {case.table: source}, case.responses, case.water)
    if case.problems:
        with pytest.raises(RecordsError) as caught:
            read_records(trial, small_layout())
        assert tuple(str(problem) for problem in caught.value.problems) == case.problems
        return
    season = read_records(trial, small_layout())
    # these small tables leave most plots of the layout out, which is asked elsewhere
    queries = tuple(str(q) for q in season.queries if q.code != "plots without records")
    assert queries == case.queries
    assert tuple(f"{x.row}: {x.reason}" for x in season.exclusions) == case.excluded
