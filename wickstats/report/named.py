"""Names that the plan's comparisons make of treatments, told in the language of the page.

Results hold them in English; names of users stay as they are. Leans on core.words.
"""

from collections.abc import Iterator, Mapping, Sequence

from wickstats.core.language import ENGLISH, spoken
from wickstats.core.words import recorded, say

_AND = " and "  # between the treatments of an average, in results


def spoken_name(name: str, factors: Mapping[str, Sequence[str]]) -> str:
    """The name in the language spoken; unchanged where a user chose it.

    Parameters
    ----------
    name
        A treatment, or what a comparison made of several, as results have it.
    factors
        Every factor of the trial with its levels.
    """
    if spoken() == ENGLISH:
        return name
    levels = [level for own in factors.values() for level in own]
    for key, fields in _made_of(levels):
        if recorded(key, **fields) == name:
            return say(key, **fields)
    head = recorded("average of", names="")
    parts = name.removeprefix(head).split(_AND)
    if name.startswith(head) and set(parts) <= set(levels):
        return say(
            "average of", names=say("listed", most=", ".join(parts[:-1]), last=parts[-1])
        )
    return name


def spoken_pair(name: str, treatment: str, versus: str) -> str:
    """The name of a comparison; one that was made of its two sides is made anew."""
    if name == recorded("pair", treatment=treatment, versus=versus):
        return say("pair", treatment=treatment, versus=versus)
    return name


def _made_of(levels: Sequence[str]) -> Iterator[tuple[str, dict[str, str]]]:
    yield "trend bend middle", {}
    yield "trend bend ends", {}
    for level in levels:
        yield "trend line end", {"high": level}
        yield "trend line start", {"low": level}
