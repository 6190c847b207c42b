"""What must hold for every set of lives."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.lifetimes.curves import kaplan_meier
from wickstats.models.lifetimes.entry import late_curve
from wickstats.models.lifetimes.intervals import share_interval
from wickstats.models.lifetimes.rank import compare_ranks
from wickstats.models.lifetimes.regions import find_regions
from wickstats.models.lifetimes.scores import plant_scores
from wickstats.models.lifetimes.turnbull import interval_curve

INF = np.inf
DAYS = st.integers(0, 30)


@st.composite
def intervals(draw):
    """Lives in (low, high], some known to the day, some never seen dead."""
    n = draw(st.integers(1, 40))
    low = np.array(draw(st.lists(DAYS, min_size=n, max_size=n)), dtype=float)
    length = draw(st.lists(st.integers(0, 12), min_size=n, max_size=n))
    open_ = draw(st.lists(st.booleans(), min_size=n, max_size=n))
    return low, np.where(open_, INF, low + np.array(length, dtype=float))


def _slopes(curve, low, high):
    """Derivative / n of the log likelihood in every region, from the definition."""
    regions = find_regions(low, high)
    held = dict(zip(zip(curve.lows, curve.highs, strict=True), curve.mass, strict=True))
    p = np.array([held.get(k, 0.0) for k in zip(regions.lows, regions.highs, strict=True)])
    inside = np.arange(p.size) >= regions.first[:, None]
    inside &= np.arange(p.size) < regions.stop[:, None]
    return p, (inside / (inside @ p)[:, None]).mean(axis=0)


@settings(max_examples=150, deadline=None)
@given(intervals())
def test_kuhn_tucker_conditions(lives):
    curve = interval_curve(*lives)
    p, slope = _slopes(curve, *lives)
    assert slope.max() <= 1 + 1e-9
    assert np.abs(slope[p > 0] - 1).max() <= 1e-9
    assert abs(p.sum() - 1) <= 1e-12


@settings(max_examples=60, deadline=None)
@given(intervals(), st.randoms())
def test_row_order_and_weights_do_not_matter(lives, random):
    low, high = lives
    order = list(range(low.size))
    random.shuffle(order)
    one, two = interval_curve(low, high), interval_curve(low[order], high[order])
    assert abs(one.log_likelihood - two.log_likelihood) <= 1e-9 * (1 + abs(one.log_likelihood))
    twice = interval_curve(np.tile(low, 2), np.tile(high, 2))
    weighted = interval_curve(low, high, np.full(low.size, 2.0))
    assert abs(twice.log_likelihood - weighted.log_likelihood) <= 1e-8
    np.testing.assert_allclose(one.mass, two.mass, atol=1e-8)


@settings(max_examples=80, deadline=None)
@given(st.lists(DAYS, min_size=1, max_size=40), st.integers(0, 31))
def test_without_censoring_the_curve_is_one_minus_the_empirical_distribution(days, at):
    day = np.array(days, dtype=float)
    share = np.mean(day > at)
    assert abs(kaplan_meier(day, np.ones(day.size, dtype=bool)).share([at])[0] - share) < 1e-12
    low, high = interval_curve(day, day).share([at])
    assert abs(low[0] - share) < 1e-12
    assert abs(high[0] - share) < 1e-12


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=1, max_size=40))
def test_known_days_and_loss_give_the_product_limit_curve(lives):
    day = np.array([d for d, _ in lives], dtype=float)
    died = np.array([d for _, d in lives])
    curve = kaplan_meier(day, died)
    found = interval_curve(day, np.where(died, day, INF))
    np.testing.assert_allclose(found.share(curve.times)[1], curve.survival, atol=1e-12)


@settings(max_examples=80, deadline=None)
@given(intervals(), st.data())
def test_scores_of_a_stratum_sum_to_zero(lives, data):
    low, high = lives
    strata = data.draw(st.lists(st.integers(0, 2), min_size=low.size, max_size=low.size))
    scores = plant_scores(low, high, strata)
    sums = np.bincount(strata, weights=scores)
    assert np.abs(sums).max() <= 1e-8 * low.size
    # nobody scores above one, the score of a death at the very start
    assert scores.max() <= 1 + 1e-12


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 8), st.just(8)), min_size=2, max_size=8))
def test_interval_holds_its_share_and_turns_with_alive_and_dead(units):
    x, n = (np.array(v, dtype=float) for v in zip(*units, strict=True))
    alive, dead = share_interval(x, n), share_interval(n - x, n)
    smooth = (x.sum() + 0.5) / (n.sum() + 1)
    assert 0 <= alive.low <= smooth <= alive.high <= 1
    assert abs(alive.low - (1 - dead.high)) < 1e-9


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.one_of(st.integers(-5, 5).map(float), st.just(-INF)), min_size=12, max_size=12),
    st.lists(st.one_of(st.integers(-5, 5).map(float), st.just(-INF)), min_size=12, max_size=12),
)
def test_swapping_arms_turns_the_rank_comparison(a, b):
    for extra in (
        {"blocks_a": np.repeat([0, 1, 2], 4), "blocks_b": np.repeat([0, 1, 2], 4)},
        {"units_a": np.repeat([0, 1, 2], 4), "units_b": np.repeat([0, 1, 2], 4)},
    ):
        one, two = compare_ranks(a, b, **extra), compare_ranks(b, a, **extra)
        assert abs(one.probability + two.probability - 1) < 1e-12
        assert abs(one.low - (1 - two.high)) < 1e-9
        assert abs(one.p - two.p) < 1e-9
        assert (one.low > 0.5 or one.high < 0.5) == (one.p < 0.05)


@st.composite
def late_lives(draw):
    """Lives that enter late; some known to the day, some never seen dead."""
    n = draw(st.integers(1, 12))
    days = st.integers(0, 6)
    entered = np.array(draw(st.lists(days, min_size=n, max_size=n)), dtype=float)
    low = entered + np.array(draw(st.lists(days, min_size=n, max_size=n)))
    kind = np.array(draw(st.lists(st.integers(0, 2), min_size=n, max_size=n)))
    gap = np.array(draw(st.lists(st.integers(1, 4), min_size=n, max_size=n)))
    low = np.where(kind == 1, np.maximum(low, entered + 1.0), low)
    return entered, low, np.select([kind == 0, kind == 1], [low + gap, low], INF)


@settings(max_examples=60, deadline=None)
@given(late_lives())
def test_late_entry_reaches_the_maximum(lives):
    curve = late_curve(*lives)
    assert 0.0 <= curve.excess <= 1e-6
    assert (np.diff(np.concatenate([[1.0], curve.survival])) <= 0.0).all()


@settings(max_examples=60, deadline=None)
@given(late_lives())
def test_late_entry_from_the_start_is_the_interval_curve(lives):
    _, low, high = lives
    entered = np.full(low.size, -1.0)
    curve, plain = late_curve(entered, low, high), interval_curve(low, high)
    ends = plain.highs[np.isfinite(plain.highs)]
    np.testing.assert_allclose(curve.share(ends), plain.share(ends)[0], atol=2e-6)
