"""Sentences that stand at closed tables, and over the tables of power."""

ENGLISH = {
    "fold rows": "{caption}: {n} rows",
    "fold second agree": "{n} numbers computed twice: all agree",
    "fold second some": "{n} numbers computed twice: {parts}",
    "fold second agrees": "{n} agree",
    "fold second differs": "{n} differ",
    "fold second open": "{n} could not be checked independently",
    "fold units": "{name}: one number for each of {n} units, from {low} to {high} ({unit})",
    "fold units plain": "{name}: one number for each of {n} units",
    "fold left out same": (
        "{name}: every verdict with each block left out, {n} comparisons: none changes"
    ),
    "fold left out some": (
        "{name}: every verdict with each block left out: another verdict in {k} of {n} "
        "comparisons"
    ),
    "fold left out plain": "{name}: {n} comparisons with each block left out",
    "fold sensitivity same": (
        "{name}: the comparisons under other rules, {n} in all: no verdict changes"
    ),
    "fold sensitivity some": (
        "{name}: the comparisons under other rules: another verdict in {k} of {n}"
    ),
    "fold sensitivity plain": "{name}: {n} comparisons under other rules",
    "fold effects": (
        "Comparisons of {what}: {k} of {n} show a difference (the whole interval on one side)"
    ),
    "fold means": "Means of {what}: {list}",
    "fold causes": (
        "Comparisons of each cause: {k} of {n} show a difference (the whole interval on one "
        "side)"
    ),
    "fold histories": "{caption}: {n} in {k} kinds of ending",
    "fold water": "Liters of each of {n} units over the season, {low} to {high} L delivered",
    "power planned told": (
        "Before the season: with {blocks} blocks, the chance to show the differences that the "
        "trial file assumes was {chance}."
    ),
    "power reached told": (
        "{what}: with a chance of {power}, this season would show a {kind} of {sizes} or more, "
        "by comparison."
    ),
    "power next told": (
        "{what}: {sizes} blocks would show the {kind} that matters with a chance of {power}, by "
        "comparison."
    ),
    "power of 100": "{sizes} of 100",
    "power difference": "difference",
    "power ratio": "ratio",
    "power other": "{caption}: other dates and quantities",
    "power other told": "The same for other dates and quantities: {n} comparisons",
    "head assumed difference": "Assumed difference or ratio",
    "head chance": "Chance to show it",
    "head detectable": "Smallest that would show",
    "head blocks assumed": "Blocks for the assumed",
    "head difference matters": "Difference or ratio that matters",
    "head blocks matters": "Blocks for what matters",
}
