"""The plan for a size: a known construction, else a kept one, else a searched one.

Leans on the other modules of this package.
"""

from collections.abc import Sequence
from functools import lru_cache

from wickstats.layout.search.arrays import search_arrays
from wickstats.layout.search.blocks import search_blocks
from wickstats.layout.search.lattices import most_replicates, square_lattice
from wickstats.layout.search.stored import stored_plan

Plan = tuple[tuple[int, ...], ...]


def block_plan(replications: Sequence[int], size: int, *, resolvable: bool) -> Plan:
    """Blocks of labels, label i in ``replications[i]`` plots; replicates one after another.

    Raises
    ------
    ValueError
        Where the plots do not fill blocks, or no plan connects the labels.
    """
    return _block_plan(tuple(replications), size, resolvable)


def array_plan(labels: int, rows: int, columns: int, arrays: int) -> Plan:
    """Rows of arrays of labels (ValueError where the sizes do not fit)."""
    return _array_plan(labels, rows, columns, arrays)


def origin_of(replications: Sequence[int], size: int, *, resolvable: bool) -> str:
    """Where the plan of that size comes from: lattice, stored or searched."""
    labels, each = len(replications), replications[0]
    if len(set(replications)) > 1:
        return "searched"
    if labels == size * size and 2 <= each <= most_replicates(size):
        return "lattice"
    kept = stored_plan(labels, each, size, resolvable=resolvable)
    return "searched" if kept is None else "stored"


@lru_cache(maxsize=64)
def _block_plan(replications: tuple[int, ...], size: int, resolvable: bool) -> Plan:  # noqa: FBT001 - a cached private function
    origin = origin_of(replications, size, resolvable=resolvable)
    labels, each = len(replications), replications[0]
    plan = None
    if origin == "lattice":
        plan = square_lattice(size, each)
    elif origin == "stored":
        plan = stored_plan(labels, each, size, resolvable=resolvable)
    if plan is None:
        plan = search_blocks(replications, size, resolvable=resolvable)
    return tuple(tuple(block) for block in plan)


@lru_cache(maxsize=64)
def _array_plan(labels: int, rows: int, columns: int, arrays: int) -> Plan:
    plan = search_arrays(labels, rows, columns, arrays)
    return tuple(tuple(row) for row in plan)
