"""What changed between two reports, by area, before every value is named. Leans on core."""

from collections.abc import Sequence

from wickstats.core.words import say
from wickstats.recheck.findings import Finding

_WORDS = (".sentence", ".verdict", ".reading", ".note", ".reason")
_PLAN = ("trial.", "deviations", "layout.", "responses.role")


def areas(found: Sequence[Finding]) -> list[Finding]:
    """One note that counts the differences in each area; none where there are none."""
    counts: dict[str, int] = {}
    for finding in found:
        area = area_of(finding.place)
        counts[area] = counts.get(area, 0) + 1
    if not counts:
        return []
    told = ", ".join(f"{area} {count}" for area, count in sorted(counts.items()))
    return [Finding("note", "against", "results.json", say("audit areas", told=told))]


def area_of(place: str) -> str:
    """Inputs, plan and layout, exclusions and queries, verdicts and sentences, or numbers."""
    if place.startswith("inputs"):
        return "inputs"
    if place.startswith(_PLAN):
        return "plan and layout"
    if place.startswith(("exclusions", "queries", "accounting")):
        return "exclusions and queries"
    return "verdicts and sentences" if place.endswith(_WORDS) else "numbers"
