"""Our own stream of random whole numbers: the same on every machine, for decades.

Digest k is SHA-256 of the ASCII text ``seed:stream:k``, k from 0; each gives four
64-bit big-endian words, in order. A number below n takes the next word below the
largest multiple of n that 2^64 holds (others are discarded) and its remainder mod n,
so that every number is equally likely. Orders are shuffled by Durstenfeld (1964),
from the last place down. Standard library only.
"""

import hashlib
from collections.abc import Iterator, Sequence
from typing import TypeVar

T = TypeVar("T")

SCHEME = "sha256-words-1"
WORDS = 2**64


class Stream:
    """Random whole numbers from a seed and a stream's name."""

    def __init__(self, seed: int, name: str) -> None:
        if seed < 0:
            raise ValueError("a seed is 0 or more")
        self._words = _words(seed, name)

    def below(self, n: int) -> int:
        """A number from 0 to n - 1, each equally likely (ValueError below 1)."""
        if n < 1 or n > WORDS:
            raise ValueError("n must lie between 1 and 2^64")
        limit = WORDS - WORDS % n
        word = next(self._words)
        while word >= limit:
            word = next(self._words)
        return word % n

    def shuffled(self, items: Sequence[T]) -> list[T]:
        """The items in a random order, each order equally likely."""
        out = list(items)
        for i in range(len(out) - 1, 0, -1):
            j = self.below(i + 1)
            out[i], out[j] = out[j], out[i]
        return out


def _words(seed: int, name: str) -> Iterator[int]:
    k = 0
    while True:
        digest = hashlib.sha256(f"{seed}:{name}:{k}".encode("ascii")).digest()
        for start in range(0, 32, 8):
            yield int.from_bytes(digest[start : start + 8], "big")
        k += 1
