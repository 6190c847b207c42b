"""Why a row of a table has no number, in the table's note. Leans on report.facts and core."""

from collections.abc import Sequence

from wickstats.core.numbers import MISSING
from wickstats.core.responses import Comparison
from wickstats.core.words import say
from wickstats.report.facts import capital


def why_no_p(rows: Sequence[Comparison]) -> str:
    """Reasons row by row; that of bounds, which many rows share, once."""
    bounded = any(row.rule == "bound" for row in rows)
    others = [(row.name, row.not_estimable) for row in rows if row.rule != "bound"]
    return (f" {say('bound note')}" if bounded else "") + reasons_of(others)


def no_verdict(row: Comparison) -> str:
    """What stands in place of a verdict."""
    return say("no number") if row.not_estimable and row.bound is None else MISSING


def reasons_of(rows: Sequence[tuple[str, str | None]]) -> str:
    """Sentences of why numbers are missing, each with its row's name."""
    told = dict.fromkeys(f"{capital(name)}: {why}" for name, why in rows if why)
    return "".join(f" {_sentence(text)}" for text in told)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."
