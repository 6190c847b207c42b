"""Every sentence of the product, in one catalog.

Each module of this package holds one area's sentences in ``ENGLISH``, key to text
with named fields; ``say`` fills them. Leans on nothing.
"""

from importlib import import_module

AREAS = (
    "analysis",
    "archive",
    "audit",
    "bench",
    "cautions",
    "checklists",
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
    "papers",
    "power",
    "ratios",
    "report",
    "second",
    "simulate",
    "sizing",
    "supply",
    "totals",
    "verdicts",
    "water",
)


def _catalog() -> dict[str, str]:
    merged: dict[str, str] = {}
    for area in AREAS:
        entries: dict[str, str] = import_module(f"wickstats.core.words.{area}").ENGLISH
        twice = merged.keys() & entries.keys()
        if twice:
            raise ValueError(f"sentences defined twice: {sorted(twice)}")
        merged.update(entries)
    return merged


CATALOG = _catalog()


def say(key: str, **values: object) -> str:
    """Return the sentence of that key with its fields filled (KeyError where unknown)."""
    return CATALOG[key].format(**values)
