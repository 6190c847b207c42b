"""Tables that stand closed on the screen behind a sentence; in print they stand open.

Leans on pages.blocks and core.
"""

from collections.abc import Sequence

from wickstats.core.words import say
from wickstats.pages.blocks import Folded, Table

LONG = 12  # rows; a longer table is closed


def closed(table: Table, words: str | None = None) -> Table | Folded:
    """Close the table if a sentence is given or the table is long."""
    if words is None and len(table.rows) > LONG:
        words = say("fold rows", caption=table.caption, n=len(table.rows))
    return table if words is None else Folded(words, (table,))


def second_words(outcomes: Sequence[bool | None]) -> str:
    """How many numbers computed twice agree, differ, or could not be checked."""
    n = len(outcomes)
    if all(outcomes):
        return say("fold second agree", n=n)
    counts = {
        "fold second agrees": sum(o is True for o in outcomes),
        "fold second differs": sum(o is False for o in outcomes),
        "fold second open": sum(o is None for o in outcomes),
    }
    parts = [say(key, n=count) for key, count in counts.items() if count]
    return say("fold second some", n=n, parts=", ".join(parts))
