"""The demo's random numbers: the same everywhere, each stream its own."""

import statistics

import pytest

from wickstats.demo.draws import Draws, log_odds, logistic


def test_a_stream_repeats_and_streams_differ() -> None:
    one, again, other = Draws(1, "a"), Draws(1, "a"), Draws(1, "b")
    first = [one.uniform() for _ in range(5)]
    assert first == [again.uniform() for _ in range(5)]
    assert first != [other.uniform() for _ in range(5)]
    assert first != [Draws(2, "a").uniform() for _ in range(5)]


def test_draws_have_the_stated_mean_and_spread() -> None:
    draws = Draws(7, "moments")
    n = 20_000
    normal = [draws.normal(2.0) for _ in range(n)]
    # four Monte Carlo standard errors: sd/sqrt(n) for a mean, sd/sqrt(2n) for a normal's SD
    assert statistics.fmean(normal) == pytest.approx(0, abs=4 * 2 / n**0.5)
    assert statistics.stdev(normal) == pytest.approx(2, abs=4 * 2 / (2 * n) ** 0.5)
    whole = [draws.whole(2.3) for _ in range(n)]
    assert set(whole) == {2, 3}
    assert statistics.fmean(whole) == pytest.approx(2.3, abs=4 * 0.46 / n**0.5)
    factor = [draws.spread(0.2) for _ in range(n)]
    assert statistics.median(factor) == pytest.approx(1, abs=4 * 1.26 * 0.2 / n**0.5)


@pytest.mark.parametrize("share", [0.01, 0.5, 0.95])
def test_log_odds_and_shares_undo_each_other(share: float) -> None:
    assert logistic(log_odds(share)) == pytest.approx(share, rel=1e-12)
