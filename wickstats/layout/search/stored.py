"""Plans that took long to find, kept in ``stored.json``; ``make_stored`` finds them again.

A kept plan is only a start: labels, blocks and order are drawn at random afterward.
Leans on core.codec.
"""

from functools import cache
from pathlib import Path

from wickstats.core.codec import parse_json

Plan = list[list[int]]
FILE = Path(__file__).with_name("stored.json")


def name_of(labels: int, replicates: int, size: int, *, resolvable: bool) -> str:
    """Name of a size in the file."""
    kind = "resolvable" if resolvable else "blocks"
    return f"{kind}: {labels} treatments, {replicates} replicates, blocks of {size}"


def stored_plan(labels: int, replicates: int, size: int, *, resolvable: bool) -> Plan | None:
    """The kept plan of that size, or None."""
    found = _stored().get(name_of(labels, replicates, size, resolvable=resolvable))
    return None if found is None else [list(block) for block in found]


@cache
def _stored() -> dict[str, Plan]:
    plans: dict[str, Plan] = parse_json(FILE.read_bytes())
    return plans
