"""Looks at the season before its end, or more than one: a question. Leans on records, core."""

from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.recheck.findings import Finding


def look_findings(results: Results) -> list[Finding]:
    """What the recomputed results tell of looks, for whoever ran the trial."""
    looks = results.looks
    if looks is None:
        return []
    out = []
    if looks.early:
        sentence = say("audit look early", until=looks.own.until, planned=looks.planned_until)
        out.append(Finding("question", "looks", "looks", sentence))
    if len(looks.held) > 1:
        sentence = say("audit looks", count=len(looks.held), number=looks.number)
        out.append(Finding("question", "looks", "looks", sentence))
    return out
