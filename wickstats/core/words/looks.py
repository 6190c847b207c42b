"""Sentences about repeated looks at one season."""

ENGLISH = {
    "looks expected": "the file that earlier analyses of this season wrote, unchanged",
    "looks fix": "bring the file back from a copy; without it nobody can tell how often the "
    "season was looked at",
    "looks not kept": "This look could not be noted beside the layout ({why}): the next "
    "report will not know of it.",
    "looks early what": "the season was looked at before its end",
    "looks early planned": "records until {planned}",
    "looks early done": "records until {until}; what is found so far describes, and only a look "
    "at the season's end confirms",
    "looks several what": "the season was looked at more than once",
    "looks several planned": "one look, at the season's end",
    "looks several done": "this is look {number} of {total}: {told}. {confirms}",
    "looks one": "look {number} saw {rows} rows until {until}{plan}",
    "looks one undated": "look {number} saw {rows} rows{plan}",
    "looks other plan": ", under another plan",
    "looks last confirms": "Only the last look confirms, and p-values and intervals do not know "
    "of the looks before it",
    "looks not last": "A look with later records is known: this one confirms nothing",
}
