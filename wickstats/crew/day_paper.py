"""The checklist of planting day (or of a day at the bench), cautions where the step is.

Leans on pages and the catalog of cautions.
"""

from wickstats.core.words import say
from wickstats.crew.common import Set
from wickstats.pages.print_blocks import Blank, Checks, Paper, Part

# part -> steps, each with the cautions that belong to it
_FIELD = {
    "paper before": (
        ("layout", "permission", "lines", "stock", "gear", "cans", "water", "people"),
        ("buried services", "nature", "water quality", "heat", "hauling"),
    ),
    "paper on day": (
        ("stakes", "crew", "treat", "plant", "guards", "first water"),
        ("backflow", "tools", "chemicals", "height"),
    ),
    "paper after": (("reservoirs", "change", "walk", "photo"), ("open water",)),
}
_BENCH = {
    "paper before": (("layout", "pieces", "level", "cans"), ("tools", "height")),
    "paper on day": (("treat", "run", "temperature"), ("open water", "chemicals")),
    "paper after": (("change", "photo"), ()),
}


def day_paper(papers: Set) -> Paper:
    """The checklist."""
    guards = bool(papers.trial.design.guard_plants)
    parts = []
    for title, (steps, cautions) in (_BENCH if papers.bench else _FIELD).items():
        kept = [s for s in steps if s != "guards" or guards]
        words = [say(f"paper step {_which(s, blind=papers.blind)}") for s in kept]
        held = tuple(say(f"caution {c}") for c in cautions)
        parts.append(Part(say(title), (Checks(tuple(words), held),)))
    names = ("date", "who", "start", "end", "sky", "signature")
    first = parts[0]
    blank = Blank(tuple(say(f"paper {n}") for n in names))
    parts[0] = Part(first.title, (blank, *first.blocks))
    key = "paper bench day" if papers.bench else "paper planting"
    return Paper(papers.title(key), tuple(parts), footer=papers.footer, banners=papers.banners)


def _which(step: str, *, blind: bool) -> str:
    return "treat blind" if step == "treat" and blind else step
