"""Sentences about water delivered, its equality, yield beside it, picks, and lines.

Leans on nothing.
"""

ENGLISH = {
    # calibration
    "calibration shared": (
        "Cans and meters that read wrong read wrong every time ({told}). Intervals of a "
        "treatment's own water hold that once; between treatments measured alike it cancels. "
        "The error of reading is in the scatter between units already."
    ),
    "calibration can": "cans within {percent} %",
    "calibration meter": "meters within {percent} %",
    "leaks taken off": "what looks like leaks taken off",
    "losses like leaks": (
        "Units that lost more water than plants can draw, with no leak noted: {n}. What was lost "
        "counts as delivered; the comparison is repeated with the loss above the expected one "
        "taken off."
    ),
    # equal water
    "equal water row yes": (
        "{name} against {against}: equal within {bound} times; {value} times as much "
        "(90 % interval: {low} to {high}). This season could show {attainable} times or more "
        "as unequal."
    ),
    "equal water row no": (
        "{name} against {against}: not equal within {bound} times; {value} times as much "
        "(90 % interval: {low} to {high})."
    ),
    "equal water row unclear": (
        "{name} against {against}: not shown to be equal within {bound} times; {value} times "
        "as much (90 % interval: {low} to {high}). {reach}"
    ),
    "equal water reach": "{attainable} times was attainable.",
    "equal water out of reach": (
        "The scatter was too large to show it: only {attainable} times or more was attainable."
    ),
    "equal water row open": "{name} against {against}: cannot be judged ({reason}).",
    "equal water row plain": (
        "{name} got {value} times as much as {against} (90 % interval: {low} to {high})."
    ),
    "equal water planned": "the plan",
    "reading equal": (
        "The water that the treatments got was equal within {bound} times. A yield in "
        "proportion to water would differ by at most that much on account of the supply; "
        "a larger difference in yield is not explained by water alone."
    ),
    "reading as planned": (
        "Each treatment got its planned water within {bound} times, and the plan gave them "
        "unequal water ({list}). A difference in yield then belongs to the method together "
        "with its water: yield per liter and yield per extra liter tell them apart."
    ),
    "reading unequal": (
        "The treatments did not get equal water ({list}). A difference in yield may come from "
        "the water as much as from the method: read yield per liter, and yield per extra "
        "liter, beside it. Less water with the same yield is a gain; more water with more "
        "yield may be the water alone."
    ),
    "reading open": (
        "Whether the treatments got equal water was not shown ({list}). A difference in yield "
        "may in part come from the water: read yield per liter beside it."
    ),
    "reading none": (
        "There is nothing to set the water of the treatments against each other by, so a "
        "difference in yield cannot be told apart from a difference in water."
    ),
    "reading pair": "{name} {value} times {against}, {low} to {high}",
    "caution supply": "Water and yield: {reading}",
    # report
    "equal water title": "Was the water equal?",
    "equal water caption": "Water delivered as a ratio, with 90 % intervals",
    "equal water note": (
        "On the logarithm of each unit's liters; against the plan on a treatment's own units, "
        "between treatments by differences within blocks (blocks less one degrees of freedom), "
        "else by Welch. Equal where the whole 90 % interval lies within the bound (two "
        "one-sided tests, Schuirmann 1987). Attainable: the factor of the half-width, the "
        "least difference from equality that this season could have excluded."
    ),
    "head against": "Against",
    "head ratio": "Ratio",
    "head interval 90": "Interval, 90 %",
    "head attainable": "Attainable",
    "head bound within": "Bound",
    "head equal": "Equal",
    "equal yes": "yes",
    "equal no": "not shown",
    "equal beside": "beside",
    "ledger title": "How the water adds up",
    "ledger caption": "The ledger of every unit, in liters over the season",
    "ledger note": (
        "Delivered = applied + rain - stored change - leaked. Limits of a unit hold the error "
        "of its cans and meters, of reading its levels, and what may have leaked unseen. "
        "Water left stands in the reservoir at the end and is not counted as used. Leaks that "
        "nobody noted are looked for in every time between two visits: of simulated ones this "
        "found 1 of 10 that took as much again as a week's use, 6 of 10 that took twice as "
        "much, 8 of 10 that took three times as much, with a false alarm in 3 of 100 seasons "
        "without a leak at most. Leaks that are not found count as delivered."
    ),
    "head rain l": "Rain",
    "head stored l": "Stored change",
    "head leaked l": "Leaked",
    "head left l": "Left at the end",
    "head refills": "Refills",
    "head per plant": "L a plant",
    "head per day": "L a day",
    "head per plant day": "L a plant and day",
    "ledger plots caption": (
        "Shared reservoirs told to their plots by the stated rule; the reservoir is the unit"
    ),
    "head plot share": "Share",
    "ledger notes caption": "What to know of these units:",
    "head ledger note": "Note",
    # productivity
    "productivity caption": "{name}: yield, water and their ratio side by side",
    "productivity note": (
        "Means a plot and season over the units that have both; the ratio is that of the sums "
        "over the same units. {mass} per cubic meter of {denominator}: a thousand times "
        "{mass} per liter. The comparisons above are of each unit's own ratio."
    ),
    "head yield a plot": "Yield, {mass} a plot",
    "head water a plot": "{denominator}, L a plot",
    "head per liter of": "{mass} per liter of {denominator}",
    "head per cubic of": "{mass} per m\N{SUPERSCRIPT THREE} of {denominator}",
    # harvest
    "mean day of picking": "mean day of picking",
    "marketable percent": "marketable percent",
    "earliness name": "mass-weighted mean day of picking {name}",
    "marketable name": "marketable percent of {name}, by mass",
    "earliness from planting": "Days of picking count from {day}.",
    "earliness not known": "nothing was picked, or a pick is missing",
    "earliness no dates": "Picks without a date have no day: they are left out of the mean day.",
    "marketable not known": "nothing was picked, or a pick is missing",
    "harvest title": "Picks over time",
    "harvest caption": "{name}: every pick by treatment",
    "harvest note": (
        "Means a plot over the plots that were picked or had nothing ripe; share of the "
        "season's mean. A pick that a plot misses leaves its season total unknown; the total "
        "is then bounded by taking the pick as nothing and as the largest of that pick."
    ),
    "counts caption": "{name}: fruits a unit and season, by treatment",
    "counts note": (
        "Dispersion is the variance between units over the mean: 1 where fruits fall by "
        "chance alone, more where units differ. Comparisons of counts use it."
    ),
    "head pick": "Pick",
    "head days": "Days",
    "head picked": "Plots picked",
    "head nothing ripe": "Nothing ripe",
    "head not picked": "Not picked",
    "head mean plot": "Mean, {unit} a plot",
    "head season share": "Share of season",
    "head variance": "Variance",
    "head dispersion": "Dispersion",
    # along a line
    "along title": "Along the line",
    "along caption": "{name}: change with each place further along a line, by treatment",
    "along lines caption": "{name}: every line",
    "along note": (
        "The slope of the logarithm of {name} on the plants' position, one number a line "
        "(and the mean of its lines where a unit holds several); mean, interval and p by t "
        "over units, {percent} confidence. Ratio below 1: plants further along have less."
    ),
    "along less": (
        "{treatment}: each place further along the line has {percent} % less {name} "
        "({confidence} interval: {low} to {high} times); the last plant has {last} times the "
        "first. Least stood at place {place}."
    ),
    "along more": (
        "{treatment}: each place further along the line has {percent} % more {name} "
        "({confidence} interval: {low} to {high} times); the last plant has {last} times the "
        "first. Least stood at place {place}."
    ),
    "along open": (
        "{treatment}: no clear fall along the line: {value} times for each place "
        "({confidence} interval: {low} to {high} times). Least stood at place {place}."
    ),
    "along no inference": (
        "{treatment}: {value} times for each place further along the line; {reason}."
    ),
    "along few places": "fewer than two places on the line have a plant with a value above zero",
    "along one unit": "one unit only: an estimate without an interval",
    "along no scatter": "all lines fall alike: no scatter to reckon an interval from",
    "along not above zero": (
        "Plants without a value above zero, which has no logarithm, are not in their line's "
        "slope: {n}. Where they stand at the far end, the fall is larger than it looks."
    ),
    "along without value": (
        "Plants with a position but without a value are not in the fall: {n}. Where they died "
        "or bore nothing, the fall may be larger than it looks."
    ),
    "along not numbers": "Positions that are not numbers are not used: {n} plants.",
    "head lines": "Lines",
    "head per place": "Ratio a place",
    "head last to first": "Last to first",
    "head least place": "Least at place",
    "head least plant": "Least plant",
    "head line places": "Places",
    "page day": "{what}, days",
    "water until lost": "the plot was lost: liters until then",
    "water means lost": "Plots that were lost are in these means with what they got until then.",
    "page a day": "{what}, 1/d",
    "page an hour": "{what}, 1/h",
    "page early": "{what}, mm for each root of a minute",
    "page percent": "{what}, %",
}
