"""Checklists of reporting guidelines, each item with the place on this page.

ARRIVE 2.0 (Percie du Sert et al. 2020), CONSORT 2010 (Schulz, Altman & Moher 2010), SAMPL
(Lang & Altman 2013). Leans on pages, report and core.
"""

from collections.abc import Sequence

from wickstats.core.language import speaking
from wickstats.core.results import Results
from wickstats.core.words import CATALOG, CATALOGS, say
from wickstats.pages.blocks import Column, Folded, Section, Table, Text
from wickstats.pages.text import anchor

GUIDES = ("arrive", "consort", "sampl")

# item -> the title's key of the part that answers it; an absent part answers nothing
_PLACES = {
    "arrive 1a": "advisor title",
    "arrive 1b": "structure title",
    "arrive 2a": "plants",
    "arrive 2b": "power title",
    "arrive 3b": "plants",
    "arrive 3c": "response",
    "arrive 4a": "layout title",
    "arrive 4b": "structure title",
    "arrive 6a": "response",
    "arrive 6b": "layout title",
    "arrive 7a": "methods title",
    "arrive 7b": "checks title",
    "arrive 9": "advisor title",
    "arrive 10a": "response",
    "arrive 10b": "response",
    "consort 13a": "plants",
    "consort 13b": "plants",
    "consort 16": "plants",
    "consort 17a": "response",
    "consort 17b": "response",
    "sampl 1": "layout title",
    "sampl 2": "layout title",
    "sampl 3": "structure title",
    "sampl 4": "methods title",
    "sampl 5": "checks title",
    "sampl 6": "methods title",
    "sampl 7": "queries title",
    "sampl 8": "plants",
    "sampl 9": "response",
    "sampl 10": "response",
    "sampl 11": "layout title",
    "sampl 12": "strata title",
    "sampl 13": "response",
    "sampl 14": "sensitivity title",
    "sampl 15": "software title",
}


def checklists_part(results: Results, sections: Sequence[Section]) -> Section:
    """Return the part; ``sections`` are the page's other parts, which it links to."""
    places = _places(sections)
    left_out = _not_told(results)
    blocks = []
    for guide in GUIDES:
        keys = [k for k in CATALOG if k.split(" ")[0] == guide]
        rows, links = [], {}
        for key in keys:
            found = None if key in left_out else places.get(_PLACES.get(key, ""))
            if found is not None:
                links[found[0]] = found[1]
            told = say("checklist none") if found is None else found[0]
            rows.append((key.removeprefix(f"{guide} "), say(key), told))
        answered = sum(row[2] != say("checklist none") for row in rows)
        name = say(f"checklist {guide}")
        heads = tuple(Column(say(f"checklist head {k}")) for k in ("item", "asked", "place"))
        note = say(f"checklist {guide} note")
        table = Table(name, heads, tuple(rows), note, tuple(links.items()))
        fold = say("checklist fold", name=name, k=answered, n=len(rows))
        blocks.append(Folded(fold, (table,)))
    return Section(say("checklists title"), (Text(say("checklists words")), *blocks))


def _places(sections: Sequence[Section]) -> dict[str, tuple[str, str]]:
    """Title's key -> the title and its anchor, where the page has that part."""
    out: dict[str, tuple[str, str]] = {}
    counted = {say(f"{kind} title") for kind in ("plants", "plots", "subjects")}
    for part in sections:
        name, named = anchor(part.title), _titles(part.language)
        inner = {named.get(s.title): s.title for s in part.sections}
        for key, title in inner.items():
            if key is not None:
                out.setdefault(key, (title, f"{name}-{anchor(title)}"))
        if part.title in named:
            out.setdefault(named[part.title], (part.title, name))
        elif part.title in counted:
            out.setdefault("plants", (part.title, name))
        if any(s.title == say("lines title") for s in part.sections):
            out.setdefault("response", (part.title, name))
    return out


def _titles(language: str) -> dict[str, str]:
    """Title of a part, in that language -> the title's key."""
    with speaking(language):
        return {say(k): k for k in _PLACES.values() if k in CATALOGS[language]}


def _not_told(results: Results) -> set[str]:
    """Items whose part is there and yet does not hold the answer."""
    trial = results.trial
    survival = any(r.curves for r in results.responses)
    absent = {
        "arrive 2b": not results.power.planned,
        "arrive 4a": results.layout.drawn != "here",
        "arrive 4b": results.layout.drawn == "not at random"
        or results.layout.type == "completely randomized",
        "arrive 6b": trial.primary is None,
        "arrive 9": not trial.details or trial.season_start is None,
        "consort 17b": not any(
            c.estimand.startswith("share ") for r in results.responses for c in r.comparisons
        ),
        "sampl 1": not trial.planned,
        "sampl 2": not trial.matters,
        "sampl 6": all(
            c.adjustment in ("none", None) for r in results.responses for c in r.comparisons
        ),
        "sampl 13": not survival,
    }
    return {key for key, holds in absent.items() if holds}
