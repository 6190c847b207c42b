"""Published randomization tests."""

import numpy as np
import pytest

from wickstats.models.redraw.pairs import redraw_pair, sign_flip
from wickstats.models.redraw.terms import redraw_term

# Darwin's maize, Fisher (1935) The Design of Experiments: differences in 1/8 inch, from
# memory; they reproduce Fisher's t = 2.148
MAIZE = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48.0])
ARGS = {"seed": 1, "stream": "test"}


def test_maize_by_sign_flips():
    # 863 of 32768 sums at or above the observed one, two-sided twice that (Fisher 1935)
    found = sign_flip(MAIZE, **ARGS)
    assert found.p == 1726 / 32768
    assert (found.kind, found.total) == ("exact", 32768)
    assert found.smallest_possible_p == 2 / 32768
    assert MAIZE.mean() / (MAIZE.std(ddof=1) / np.sqrt(15)) == pytest.approx(2.148, abs=5e-4)


def test_maize_as_a_pair_and_as_a_term():
    values = np.concatenate([MAIZE, np.zeros(15)])
    cells, blocks = np.repeat([0, 1], 15), np.tile(np.arange(15), 2)
    for found in (
        redraw_pair(values, cells, (0, 1), blocks=blocks, **ARGS),
        redraw_term(values, cells, blocks=blocks, **ARGS),
    ):
        assert found.p == 1726 / 32768
        assert found.total == 32768


def test_lady_tasting_tea():
    # Fisher (1935), 4 + 4 cups, 3 right: one-sided 17/70
    said = np.array([1, 1, 1, 0, 1, 0, 0, 0])
    truth = np.array([1, 1, 1, 1, 0, 0, 0, 0])
    found = redraw_pair(
        said.astype(float), truth, (0, 1), statistic=lambda layouts: layouts @ said, **ARGS
    )
    assert (found.p, found.total) == (17 / 70, 70)
    assert found.smallest_possible_p == 1 / 70


@pytest.mark.parametrize(("b", "p"), [(3, 0.25), (4, 0.125), (5, 0.0625), (6, 0.03125)])
def test_smallest_possible_p_of_a_pair(b, p):
    # 2 / 2^b, computed
    values = np.concatenate([np.arange(b) + 10.0, np.arange(b) ** 1.5])
    found = redraw_pair(
        values, np.repeat([0, 1], b), (0, 1), blocks=np.tile(np.arange(b), 2), **ARGS
    )
    assert found.smallest_possible_p == p == found.p
