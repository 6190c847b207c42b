"""Every sentence of the product, in one catalog for each language.

Each module of this package holds one area's sentences in ``ENGLISH``, key to text
with named fields; ``say`` fills them. ``spanish`` holds the words of the advisor's part.
Leans on core.language.
"""

from collections.abc import Mapping
from importlib import import_module

from wickstats.core.language import ENGLISH, speaking, spoken
from wickstats.core.words.places import of_place
from wickstats.core.words.plural import Entry, Plural
from wickstats.core.words.spanish import SPANISH

AREAS = (
    "advisor",
    "analysis",
    "archive",
    "audit",
    "bench",
    "cautions",
    "checklists",
    "cli",
    "costs",
    "folding",
    "general",
    "growth",
    "layout",
    "lifetimes",
    "linear",
    "lives",
    "looks",
    "methods",
    "mixed",
    "notebook",
    "papers",
    "power",
    "ratios",
    "report",
    "second",
    "shares",
    "simulate",
    "sizing",
    "supply",
    "totals",
    "verdicts",
    "water",
)


def _catalog() -> dict[str, Entry]:
    merged: dict[str, Entry] = {}
    for area in AREAS:
        entries: dict[str, Entry] = import_module(f"wickstats.core.words.{area}").ENGLISH
        twice = merged.keys() & entries.keys()
        if twice:
            raise ValueError(f"sentences defined twice: {sorted(twice)}")
        merged.update(entries)
    return merged


CATALOG = _catalog()
CATALOGS: Mapping[str, Mapping[str, Entry]] = {ENGLISH: CATALOG, "es": SPANISH}


def say(key: str, **values: object) -> str:
    """Return the sentence of that key with its fields filled, in the language spoken.

    An entry with plural forms takes the one that fits the number ``n``.

    Raises
    ------
    KeyError
        For a key that the language's catalog does not hold.
    """
    entry = CATALOGS[spoken()][key]
    text = entry.of(values["n"]) if isinstance(entry, Plural) else entry
    if spoken() == ENGLISH:
        text = of_place(text)
    return text.format(**values)


def recorded(key: str, **values: object) -> str:
    """Return the sentence as results.json has it: in English, whatever is spoken."""
    with speaking(ENGLISH):
        return say(key, **values)
