"""Layouts a scheme could have drawn: how many there are, all of them, or a seeded sample.

A scheme moves labels among positions inside groups (blocks; whole plots for sub-plot
labels; one group for a completely randomized trial), each distinct arrangement equally
likely. Random streams are numpy's PCG64 seeded from the SHA-256 of ``seed:stream``.
Leans on numpy.
"""

import hashlib
import math
from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

IntArray = NDArray[np.int64]

EXACT_LIMIT = 65_536
DRAWS = 10_000


def generator(seed: int | str, stream: str) -> np.random.Generator:
    """PCG64 seeded from the SHA-256 of ASCII ``seed:stream``."""
    digest = hashlib.sha256(f"{seed}:{stream}".encode("ascii")).digest()
    return np.random.Generator(np.random.PCG64(int.from_bytes(digest, "big")))


def group_codes(groups: ArrayLike | None, n: int) -> IntArray:
    """(n,) codes 0..g-1 of the groups; one group where None.

    Raises
    ------
    ValueError
        When there is not one group code a position.
    """
    if groups is None:
        return np.zeros(n, dtype=np.int64)
    given = np.asarray(groups)
    if given.shape != (n,):
        raise ValueError(f"expected {n} group codes, found shape {given.shape}")
    return np.unique(given, return_inverse=True)[1].astype(np.int64)


def count_layouts(labels: ArrayLike, groups: ArrayLike | None = None) -> int:
    """Number of distinct arrangements of the labels inside the groups.

    The product over groups of n! / prod(n_i!); t!^b for b complete blocks of t.
    """
    codes = np.asarray(labels, dtype=np.int64)
    group = group_codes(groups, codes.size)
    total = 1
    for g in range(int(group.max(initial=-1)) + 1):
        inside = codes[group == g]
        total *= math.factorial(inside.size)
        for repeats in np.unique(inside, return_counts=True)[1]:
            total //= math.factorial(int(repeats))
    return total


def _arrangements(labels: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Distinct arrangements of a multiset in lexicographic order."""
    a = sorted(labels)
    n = len(a)
    while True:
        yield tuple(a)
        i = n - 2
        while i >= 0 and a[i] >= a[i + 1]:
            i -= 1
        if i < 0:
            return
        j = n - 1
        while a[j] <= a[i]:
            j -= 1
        a[i], a[j] = a[j], a[i]
        a[i + 1 :] = reversed(a[i + 1 :])


@lru_cache(maxsize=64)
def _arranged(labels: tuple[int, ...]) -> IntArray:
    """All arrangements as rows; kept, since every response of a trial asks again."""
    rows = np.array(list(_arrangements(labels)), dtype=np.int64)
    rows.flags.writeable = False
    return rows


def all_layouts(labels: ArrayLike, groups: ArrayLike | None = None) -> IntArray:
    """(total, n) every distinct arrangement of the labels inside the groups."""
    codes = np.asarray(labels, dtype=np.int64)
    group = group_codes(groups, codes.size)
    spots = [np.flatnonzero(group == g) for g in range(int(group.max(initial=-1)) + 1)]
    parts = [_arranged(tuple(sorted(codes[spot].tolist()))) for spot in spots]
    total = math.prod(part.shape[0] for part in parts)
    out = np.empty((total, codes.size), dtype=np.int64)
    repeat = total
    for spot, part in zip(spots, parts, strict=True):
        repeat //= part.shape[0]
        row = (np.arange(total) // repeat) % part.shape[0]
        out[:, spot] = part[row]
    return out


def sample_layouts(
    labels: ArrayLike, groups: ArrayLike | None, draws: int, rng: np.random.Generator
) -> IntArray:
    """(draws, n) arrangements of the labels inside the groups, each equally likely."""
    codes = np.asarray(labels, dtype=np.int64)
    group = group_codes(groups, codes.size)
    out = np.empty((draws, codes.size), dtype=np.int64)
    for g in range(int(group.max(initial=-1)) + 1):
        spot = np.flatnonzero(group == g)
        order = np.argsort(rng.random((draws, spot.size)), axis=1, kind="stable")
        out[:, spot] = codes[spot][order]
    return out


def all_signs(n: int) -> NDArray[np.float64]:
    """(2^n, n) every assignment of signs."""
    bits = (np.arange(2**n)[:, None] >> np.arange(n)) & 1
    return np.where(bits == 1, -1.0, 1.0)
