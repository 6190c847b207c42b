"""Named streams of random numbers.

Each part of a season has a stream of its own, so that a change to one leaves the others
alone: numpy's PCG64 (O'Neill 2014) seeded from the first 16 bytes of the SHA-256 of
``seed:stream`` in UTF-8. Leans on numpy and the standard library.
"""

import hashlib

import numpy as np


def stream(seed: int, name: str) -> np.random.Generator:
    """The stream of that name; the same seed and name give the same numbers."""
    digest = hashlib.sha256(f"{seed}:{name}".encode()).digest()
    return np.random.Generator(np.random.PCG64(int.from_bytes(digest[:16], "big")))
