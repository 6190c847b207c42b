"""What must hold for the incidence of causes and for late entry, whatever the lives."""

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from wickstats.models.lifetimes.causes import cumulative_incidence
from wickstats.models.lifetimes.curves import kaplan_meier
from wickstats.models.lifetimes.entry import late_curve
from wickstats.models.lifetimes.turnbull import interval_curve

INF = np.inf
LIVES = st.lists(
    st.tuples(
        st.integers(0, 12),  # entry
        st.integers(1, 12),  # from entry to last seen alive
        st.one_of(st.none(), st.integers(0, 8)),  # to first seen dead; 0: day known
        st.integers(0, 2),
    ),
    min_size=2,
    max_size=25,
)


def arrays(lives):
    entered = np.array([a for a, *_ in lives], dtype=float)
    low = entered + np.array([b for _, b, *_ in lives])
    high = np.array(
        [INF if c is None else x + c for x, (_, _, c, _) in zip(low, lives, strict=True)]
    )
    return entered, low, high, np.array([k for *_, k in lives])


@settings(max_examples=80, deadline=None)
@given(LIVES)
def test_causes_and_the_living_are_everybody_and_incidence_never_falls(lives):
    _, low, high, cause = arrays(lives)
    found = cumulative_incidence(low, high, cause, 3)
    times = np.unique(np.concatenate([low, high[np.isfinite(high)]]))
    shares = found.at(times)
    assert (np.diff(shares, axis=1) >= -1e-12).all()
    alive = found.curve.share(times)[1]
    np.testing.assert_allclose(shares.sum(axis=0) + alive, 1.0, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(LIVES, st.floats(0.1, 30.0))
def test_names_of_causes_order_of_rows_and_units_of_time_do_not_matter(lives, scale):
    _, low, high, cause = arrays(lives)
    plain = cumulative_incidence(low, high, cause, 3)
    turned = np.array([2, 0, 1])
    order = np.arange(low.size)[::-1]
    other = cumulative_incidence(
        scale * low[order], scale * high[order], turned[cause[order]], 3
    )
    assert plain.mass.shape == other.mass.shape
    np.testing.assert_allclose(plain.mass, other.mass[turned], atol=1e-8)


@settings(max_examples=60, deadline=None)
@given(LIVES)
def test_one_cause_alone_is_one_minus_the_curve_of_all_deaths(lives):
    _, low, high, _ = arrays(lives)
    found = cumulative_incidence(low, high, np.zeros(low.size, int), 1)
    ends = found.curve.highs[np.isfinite(found.curve.highs)]
    np.testing.assert_allclose(
        found.at(ends)[0], 1.0 - interval_curve(low, high).share(ends)[0], atol=1e-9
    )


@settings(max_examples=80, deadline=None)
@given(LIVES)
def test_late_entry_with_known_days_is_the_product_limit_curve(lives):
    # closed form: product over deaths of 1 - d/n, those at risk who have entered before
    entered, low, high, _ = arrays(lives)
    dead = np.isfinite(high)
    known = kaplan_meier(low, dead, entered)
    found = late_curve(entered, low, np.where(dead, low, INF))
    stop = np.flatnonzero(known.survival <= 0.0)
    k = int(stop[0]) + 1 if stop.size else known.times.size  # nobody is left behind it
    np.testing.assert_allclose(found.share(known.times[:k]), known.survival[:k], atol=1e-8)


@settings(max_examples=80, deadline=None)
@given(LIVES)
def test_without_late_entry_it_is_the_curve_of_intervals(lives):
    _, low, high, _ = arrays(lives)
    plain = interval_curve(low, high)
    late = late_curve(np.full(low.size, -1.0), low, high)
    ends = plain.highs[np.isfinite(plain.highs)]
    np.testing.assert_allclose(late.share(ends), plain.share(ends)[0], atol=1e-7)


@settings(max_examples=60, deadline=None)
@given(LIVES)
@example([(0, 2, None, 0), (0, 1, 2, 0), (3, 1, 0, 0)])  # a cell that only halved, for ever
def test_the_curve_with_late_entry_meets_the_conditions_of_a_maximum(lives):
    # Kuhn and Tucker: no small change of a step makes the lives more likely
    entered, low, high, _ = arrays(lives)
    high = np.where(high == low, low + 1.0, high)
    found = late_curve(entered, low, high)
    dead = np.isfinite(high)

    def likelihood(steps):
        def share(at):
            return np.array([np.prod(steps[found.times <= t]) for t in at])

        first, last = share(low), np.where(dead, share(np.where(dead, high, 0.0)), 0.0)
        gone = np.where(dead, first - last, first) / share(entered)
        return np.log(np.maximum(gone, 1e-300)).sum()

    if found.times.size == 0 or (found.survival <= 1e-6).any():
        return
    # steps that end where an entry lies inside may share their mass: only whole moves count
    steps = found.survival / np.concatenate([[1.0], found.survival[:-1]])
    best = likelihood(steps)
    for k in range(steps.size):
        for move in (0.999, 1.001):
            other = steps.copy()
            other[k] = min(other[k] * move, 1.0)
            assert likelihood(other) <= best + 1e-7
