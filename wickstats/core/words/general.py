"""Sentences and counts that stand in several places. Leans on words.plural."""

from wickstats.core.words.plural import Entry, Plural

ENGLISH: dict[str, Entry] = {
    # counts
    "count bench pieces": Plural("{n} piece", "{n} pieces"),
    "count map rows": Plural("{n} row", "{n} rows"),
    "count map columns": Plural("{n} column", "{n} columns"),
    "count rounds": Plural("{n} round", "{n} rounds"),
    # heads of what power prints
    "power head plants": "plants a plot",
    "power head chance": "chance",
    "degrees before data": "Degrees of freedom, before any data",
    "p below": "below 0.001",
    "no layout record what": "the layout has no record of its draw",
    "no layout record planned": "layout.record.json beside the layout, as randomize wrote it",
    "no layout record done": "none was read, so that this layout was drawn at random is only claimed",
    "changed plan what": "the trial file was changed after the layout was drawn",
    "changed plan planned": "design, factors, responses and plan as the layout's record has them",
    "changed plan done": "a trial file whose digest differs; say what was changed, when and why",
    "not advice": "This report is not engineering or safety advice.",
}
