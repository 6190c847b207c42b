"""A layout in words for the terminal: how it was drawn, what it keeps, degrees of freedom.

Leans on efficiency, few, restricted, structure and core.words.
"""

from wickstats.core.numbers import percent
from wickstats.core.words import say
from wickstats.layout.efficiency import Efficiency, efficiency
from wickstats.layout.few import few_lines
from wickstats.layout.plots import Layout
from wickstats.layout.restricted import share_lines
from wickstats.layout.structure import degrees


def layout_lines(layout: Layout) -> list[str]:
    """Lines to print below the number of plots."""
    out = []
    if layout.drawn_how:
        out.append(layout.drawn_how)
    if layout.restricted is not None:
        out.extend(share_lines(layout.restricted))
    else:
        out.extend(few_lines(layout))
    kept = efficiency_line(layout)
    if kept:
        out.append(kept)
    out.append("Degrees of freedom, before any data:")
    rows = degrees(layout)
    width = max(len(f"{row.stratum}: {row.term}") for row in rows)
    out.extend(f"  {row.stratum + ': ' + row.term:<{width}}  {row.df:>4}" for row in rows)
    return out


def efficiency_line(layout: Layout) -> str | None:
    """What is kept of complete blocks beside the best possible; None where all is kept."""
    found: Efficiency | None = efficiency(layout)
    if found is None:
        return None
    lines = layout.type == "row-column"
    who = say("keeps who arrays" if lines else "keeps who blocks")
    if found.average is None:
        pieces = say("pieces lines" if lines else "pieces blocks")
        return say("keeps unconnected", pieces=pieces, groups=found.groups)
    if found.average > 1 - 1e-9:
        return say("keeps all", who=who)
    if found.bound - found.average < 1e-9:
        return say("keeps best", who=who, share=percent(found.average))
    share, bound = percent(found.average), percent(found.bound)
    if share == bound:
        share, bound = percent(found.average, 1), percent(found.bound, 1)
    return say("keeps", who=who, share=share, bound=bound)
