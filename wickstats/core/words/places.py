"""Words of the bench: what is a plot, a block and a season in the field has other names there.

Sentences are written once, in the field's words; inside ``at_place("bench")`` a piece of
cord stands for a plot, a coil for a whole plot, a run for a block, and the trial for its
season. Names that users gave come in later and stay as they are. Leans on the standard
library.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache

_place: ContextVar[str] = ContextVar("place", default="field")

# longer words first; keys of the trial file (blocks under design) and kinds of designs
# (split-plot) keep their names; a name in braces is a field that is filled later
_BENCH = {
    "whole plot": "coil",
    "plot": "piece",
    "block": "run",
    "so the ground": "so the day",
    "firm ground": "firm footing",
    "season": "trial",
}
_FIELDS = re.compile(r"(\{[^{}]*\})")
_WORDS = re.compile(
    rf"(?<![-\w])({'|'.join(_BENCH)})(s?)\b(?!: ?[{{]|-| outdoors| in the field| under design)",
    flags=re.IGNORECASE,
)


@contextmanager
def at_place(place: str) -> Iterator[None]:
    """Write sentences in the words of the bench inside this; of the field elsewhere."""
    token = _place.set("bench" if place == "bench" else "field")
    try:
        yield
    finally:
        _place.reset(token)


def of_place(text: str) -> str:
    """A sentence that is not yet filled, in the words of the place of the moment."""
    return text if _place.get() == "field" else _at_the_bench(text)


@cache
def _at_the_bench(text: str) -> str:
    parts = _FIELDS.split(text)
    return "".join(
        part if part.startswith("{") else _WORDS.sub(_bench_word, part) for part in parts
    )


def _bench_word(found: re.Match[str]) -> str:
    word = _BENCH[found.group(1).lower()] + found.group(2).lower()
    return word[:1].upper() + word[1:] if found.group(1)[0].isupper() else word
