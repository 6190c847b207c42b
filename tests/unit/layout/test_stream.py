"""The generator: published vectors, equal chances, and nothing but its own definition."""

import hashlib
from collections import Counter
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickstats.layout.stream import Stream

# Own vectors, published here: the first words of SHA-256 of "seed:stream:k", big-endian.
# Anybody can check them with: printf '1:layout:0' | sha256sum
VECTORS = {
    (1, "layout"): (
        0xC6A4DAA81AF73E9B,
        0xBC5B2E1EFEA642BC,
        0x8C64F41436A2636B,
        0xE64A49780B4BFD1B,
        0x7C772DCA18EA6AC3,
    ),
    (20250317, "layout"): (
        0xFF19207F9FD8302B,
        0x442EC386F5B84B0C,
        0xA131255974880634,
        0x9269D7615788BA1B,
        0xE76113FD8D9C3293,
    ),
    (0, "identifiers"): (
        0x009450539B4D5E6E,
        0x32B53F145F0C7115,
        0xB933469B715A413B,
        0x3EFD241D79FF3A8B,
        0x703B834E973D76DB,
    ),
}


@pytest.mark.parametrize(("key", "words"), VECTORS.items())
def test_words(key: tuple[int, str], words: tuple[int, ...]) -> None:
    stream = Stream(*key)
    assert tuple(stream.below(2**64) for _ in words) == words


def test_orders() -> None:
    assert Stream(1, "layout").shuffled("ABCDEFGH") == list("BGCEHFAD")
    assert Stream(20250317, "layout").shuffled("ABCDEFGH") == list("ACBHFEGD")


def test_definition() -> None:
    digest = hashlib.sha256(b"42:layout:1").digest()
    stream = Stream(42, "layout")
    words = [stream.below(2**64) for _ in range(8)]
    assert words[4] == int.from_bytes(digest[:8], "big")
    assert words[7] == int.from_bytes(digest[24:], "big")


def test_words_above_the_largest_multiple_are_discarded() -> None:
    # below 3 * 2^62 a word of the top quarter has no equal share and is passed over
    n = 3 * 2**62
    plain, picky = Stream(5, "layout"), Stream(5, "layout")
    kept = [w for w in (plain.below(2**64) for _ in range(400)) if w < n]
    assert [picky.below(n) for _ in range(len(kept))] == kept
    assert len(kept) < 400


@given(st.integers(0, 2**70), st.integers(1, 10**9))
def test_below_is_below(seed: int, n: int) -> None:
    assert 0 <= Stream(seed, "layout").below(n) < n


def test_bad_arguments() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        Stream(-1, "layout")
    with pytest.raises(ValueError, match="between 1"):
        Stream(1, "layout").below(0)


@given(st.integers(0, 10**6), st.lists(st.integers(), max_size=20))
def test_shuffling_keeps_the_items(seed: int, items: list[int]) -> None:
    assert sorted(Stream(seed, "layout").shuffled(items)) == sorted(items)


def test_every_order_of_four_is_equally_likely() -> None:
    draws = 24_000
    counts = Counter("".join(Stream(s, "layout").shuffled("ABCD")) for s in range(draws))
    assert set(counts) == {"".join(p) for p in permutations("ABCD")}
    expected = draws / 24
    chi2 = sum((n - expected) ** 2 / expected for n in counts.values())
    assert chi2 < 49.73  # chi-square, 23 df, upper 0.1 % (computed with scipy)
