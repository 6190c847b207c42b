"""Simulated unit summaries against closed forms, within four Monte Carlo errors.

Moments: lognormal (Aitchison & Brown 1957), beta-binomial (Skellam 1948), Poisson-lognormal
(Bulmer 1974), variance components (Searle, Casella & McCulloch 1992); formulas from memory.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support_simulate import HEAD, model_of, near, trial_of

from wickstats.core.errors import TrialError
from wickstats.simulate.assumed import Crew, Shares
from wickstats.simulate.effects import unit_effects
from wickstats.simulate.quantities import rounded_mean, score_centers
from wickstats.simulate.resolve import crew_of, season_model
from wickstats.simulate.seasons import draw_seasons
from wickstats.simulate.shares import tied_chances, times_of_death
from wickstats.simulate.streams import stream
from wickstats.simulate.tell import lines_of

SURVIVAL = "  - {name: survival, kind: survival, at: 2027-10-11}"
SIZE = "  - {name: mass, kind: measurement, column: g, measured_in: g}"
GROWTH = "  - {name: height, kind: growth, column: cm, measured_in: cm}"
YIELD = "  - {name: fruit, kind: yield, column: mass_kg}"
COUNT = "  - {name: fruits, kind: count, column: count}"
SCORE = "  - {name: vigor, kind: score, column: vigor, range: [0, 5]}"
MEANS = "mean: {hand: 40, wick: 50, drip: 45}"
S = 6000


def alive(correlation: float, block: float = 0.0, more: str = "") -> str:
    return (
        "    survival: {alive_at_end: {hand: 0.5, wick: 0.8, drip: 0.7}, "
        f"plot_correlation: {correlation}, block_correlation: {block}{more}}}"
    )


def arm(values: np.ndarray, cells: np.ndarray, k: int) -> np.ndarray:
    return values[:, cells == k]


@pytest.mark.parametrize(("plot", "block"), [(0.0, 0.0), (0.1, 0.0), (0.3, 0.0), (0.1, 0.05)])
def test_shares_have_their_mean_and_their_correlation(plot: float, block: float) -> None:
    model = model_of(trial_of(SURVIVAL, alive(plot, block)))
    drawn = draw_seasons(model, "survival", S, seed=1)
    cells, m = model.places.cells, 6
    for k, p in enumerate((0.5, 0.8, 0.7)):
        x = arm(drawn.values, cells, k)
        near(x / m, p)
        # beta-binomial: var = m p (1 - p) (1 + (m - 1) r)
        r = plot + block
        near((x - m * p) ** 2, m * p * (1 - p) * (1 + (m - 1) * r))


def test_plants_of_one_block_correlate_by_the_blocks_part() -> None:
    model = model_of(trial_of(SURVIVAL, alive(0.1, 0.05)))
    drawn = draw_seasons(model, "survival", 40_000, seed=2)
    x = drawn.values / 6
    where = np.array([x[:, model.places.cells == k].T for k in range(3)])
    blocks = model.places.grounds[0][1]
    hand = np.flatnonzero(model.places.cells == 0)
    drip = np.flatnonzero(model.places.cells == 2)
    same = [(i, j) for i in hand for j in drip if blocks[i] == blocks[j]]
    i, j = np.array(same).T
    product = (x[:, i] - 0.5) * (x[:, j] - 0.7)
    # the copula ties chances by nearly, not exactly, the block's correlation: within 3 %
    expected = 0.05 * np.sqrt(0.5 * 0.5 * 0.7 * 0.3)
    error = product.mean(axis=1).std() / np.sqrt(len(product))
    assert abs(product.mean() - expected) < 4 * error + 0.03 * expected
    assert where.shape[0] == 3


def test_deaths_by_visit_follow_the_plots_rates() -> None:
    model = model_of(
        trial_of(SURVIVAL, alive(0.2, 0.0, ", causes: {drought: 0.7, disease: 0.3}"))
    )
    days = np.array([70.0, 140.0, 210.0])
    drawn = draw_seasons(model, "survival", S, seed=3, visits=days)
    assert drawn.ended is not None
    assert drawn.by_cause is not None
    assert (drawn.ended.sum(axis=2) == 6).all()
    a = (1 - 0.2) / 0.2
    for k, p in enumerate((0.5, 0.8, 0.7)):
        x = drawn.ended[:, model.places.cells == k]
        for v in (1, 2):  # E P^f of the beta distribution, its gamma functions
            from scipy.special import gammaln

            f = v / 3
            q = p * a
            left = np.exp(gammaln(q + f) - gammaln(q) + gammaln(a) - gammaln(a + f))
            near(x[:, :, v:].sum(axis=2) / 6, left)
        near(x[:, :, -1] / 6, p)
    assert (drawn.by_cause.sum(axis=3) == drawn.ended[:, :, :-1]).all()
    total = drawn.by_cause.sum()
    share = drawn.by_cause[..., 0].sum() / total
    assert abs(share - 0.7) < 4 * np.sqrt(0.7 * 0.3 / total)


def test_early_deaths_where_the_shape_says_so() -> None:
    chances = np.full((4000, 3), 0.5)
    times = times_of_death(stream(1, "t"), chances, 4, shape=0.5)
    # P^(f^shape) at f = 1/4: 0.5^0.5
    near((times > 0.25).astype(float), 0.5**0.5)
    near((times > 1.0).astype(float), 0.5)


def test_log_sizes_keep_the_mean_as_measured() -> None:
    assume = f"    height: {{{MEANS}, plot_cv: 0.2, plant_cv: 0.3, block_cv: 0.15}}"
    model = model_of(trial_of(GROWTH, assume))
    drawn = draw_seasons(model, "height", S, seed=4, plants=True)
    assert drawn.by_plant is not None
    sizes = np.exp(drawn.by_plant.values)
    cells = model.places.cells[drawn.by_plant.units]
    for k, mean in enumerate((40, 50, 45)):
        near(sizes[:, cells == k], mean)
    # plants of one unit share ground and unit: var log = sum of log(1 + cv^2)
    logs = drawn.by_plant.values[:, cells == 0]
    parts = [np.log1p(c * c) for c in (0.2, 0.3, 0.15)]
    near((logs - (np.log(40) - sum(parts) / 2)) ** 2, sum(parts))


def test_means_of_plants_are_drawn_as_if_plants_were() -> None:
    assume = f"    mass: {{{MEANS}, plot_cv: 0.1, plant_cv: 0.25, block_cv: 0}}"
    model = model_of(trial_of(SIZE, assume))
    short = draw_seasons(model, "mass", S, seed=5)
    long = draw_seasons(model, "mass", S, seed=5, plants=True)
    for drawn in (short, long):
        x = arm(drawn.values, model.places.cells, 1)
        near(x, 50)
        near((x - 50) ** 2, 5.0**2 + 12.5**2 / 6)
        assert (drawn.plants == 6).all()


def test_blocks_are_shared_by_their_units() -> None:
    assume = f"    mass: {{{MEANS}, plot_sd: 3, plant_sd: 0, block_sd: 4}}"
    model = model_of(trial_of(SIZE, assume))
    drawn = draw_seasons(model, "mass", S, seed=6)
    blocks = model.places.grounds[0][1]
    centered = drawn.values - np.array([40, 50, 45])[model.places.cells]
    first = centered[:, blocks == 0]
    near(first[:, 0] * first[:, 1], 16.0)
    near(first[:, 0] * centered[:, blocks == 1][:, 0], 0.0)
    near(first**2, 25.0)


def test_totals_counts_and_liters() -> None:
    head = HEAD + "water: {planned_l: {hand: 300, wick: 100, drip: 200}}\n"
    responses = "\n".join(
        [
            YIELD,
            COUNT,
            "  - {name: water, kind: water used, water: delivered}",
            "  - {name: per liter, kind: yield per liter, yield: fruit, water: delivered}",
        ]
    )
    assume = (
        "    fruit: {mean: {hand: 3, wick: 4, drip: 5}, plot_cv: 0.3}\n"
        "    fruits: {mean: {hand: 6, wick: 8, drip: 10}, plot_cv: 0.4, block_cv: 0}"
    )
    model = model_of(trial_of(responses, assume, head=head))
    cells = model.places.cells
    totals = draw_seasons(model, "fruit", S, seed=7)
    assert totals.log
    near(np.exp(arm(totals.values, cells, 1)), 4.0)
    counts = draw_seasons(model, "fruits", S, seed=7)
    x = arm(counts.values, cells, 1)
    near(x, 8.0)
    near((x - 8.0) ** 2, 8.0 + 64.0 * 0.16)  # mu + mu^2 cv^2
    water = draw_seasons(model, "water", S, seed=7)
    x = np.exp(arm(water.values, cells, 0))
    near(x, 300.0)
    near((x - 300.0) ** 2, (0.10 * 300.0) ** 2)
    ratio = draw_seasons(model, "per liter", S, seed=7)
    assert ratio.liters is not None
    near(arm(ratio.liters, cells, 2), 200.0)
    # log yield and log water are apart: means and variances add
    blocks_and_plots = 2 * np.log1p(0.09)
    expected = np.log(5) - blocks_and_plots / 2 - np.log(200) + np.log1p(0.01) / 2
    near(arm(ratio.values, cells, 2), expected)
    near((arm(ratio.values, cells, 2) - expected) ** 2, blocks_and_plots + np.log1p(0.01))


@pytest.mark.parametrize(
    ("own", "mean", "cv"),
    [("", 60.0, 0.3), ("\n    water: {plot_cv: 0.2}", 60.0, 0.2)],
)
def test_water_used_is_drawn_from_the_liters_beside_a_yield_per_liter(
    own: str, mean: float, cv: float
) -> None:
    """Not from the liters planned; the yield's own spread is no part of the water's."""
    head = HEAD + "water: {planned_l: {hand: 300, wick: 100, drip: 200}}\n"
    responses = (
        f"{YIELD}\n  - {{name: water, kind: water used, water: delivered}}\n"
        "  - {name: dry, kind: yield per liter, yield: fruit, water: applied}\n"
        "  - {name: per liter, kind: yield per liter, yield: fruit, water: delivered}"
    )
    assume = (
        "    fruit: {mean: {hand: 3, wick: 4, drip: 5}, plot_cv: 0.3}\n"
        "    dry: {liters: {hand: 7, wick: 7, drip: 7}, liters_cv: 0.1}\n"
        "    per liter: {liters: {hand: 90, wick: 60, drip: 70}, plot_cv: 0.5, liters_cv: 0.3}"
        + own
    )
    model = model_of(trial_of(responses, assume, head=head))
    water = draw_seasons(model, "water", S, seed=7)
    x = np.exp(arm(water.values, model.places.cells, 1))
    near(x, mean)
    near((x - mean) ** 2, (cv * mean) ** 2)
    (told,) = [line for line in lines_of(model) if line.startswith("water: ")]
    assert told.endswith("; its liters are those assumed for per liter")
    assert "hand 90.0, wick 60.0, drip 70.0" in told


def test_scores_are_whole_and_keep_their_mean() -> None:
    assume = "    vigor: {mean: {hand: 2, wick: 4.5, drip: 0.4}, plot_sd: 0.4, plant_sd: 1}"
    model = model_of(trial_of(SCORE, assume))
    drawn = draw_seasons(model, "vigor", S, seed=8)
    assert drawn.by_plant is not None
    assert set(np.unique(drawn.by_plant.values)) <= set(range(6))
    for k, mean in enumerate((2.0, 4.5, 0.4)):
        near(arm(drawn.values, model.places.cells, k), mean)


@settings(max_examples=30, deadline=None)
@given(mean=st.floats(0.3, 4.7), sd=st.floats(0.05, 3.0))
def test_score_centers_invert_the_rounding(mean: float, sd: float) -> None:
    center = score_centers(np.array([mean]), np.array([sd]), (0.0, 5.0))
    assert rounded_mean(center, np.array([sd]), (0.0, 5.0))[0] == pytest.approx(mean, abs=1e-9)


def test_losses_take_units_and_plants() -> None:
    crew = Crew(plots_lost=0.1, plants_lost=0.2)
    assume = f"    mass: {{{MEANS}, plot_cv: 0.1, plant_cv: 0.25}}\n" + alive(0.1)
    model = model_of(trial_of(SIZE + "\n" + SURVIVAL, assume), crew)
    for name in ("mass", "survival"):
        drawn = draw_seasons(model, name, S, seed=9)
        near((~drawn.present).astype(float), 0.1 + 0.9 * 0.2**6)
        near(drawn.plants, 6 * 0.8)
        assert np.isfinite(drawn.values).all()
    x = draw_seasons(model, "survival", S, seed=9)
    assert (x.values <= x.plants).all()


def test_survivors_are_what_sizes_are_taken_of() -> None:
    assume = f"    mass: {{{MEANS}, plot_cv: 0.1, plant_cv: 0.25}}\n" + alive(0.1)
    model = model_of(trial_of(SIZE + "\n" + SURVIVAL, assume))
    lived = draw_seasons(model, "survival", 500, seed=10)
    for plants in (False, True):
        sizes = draw_seasons(model, "mass", 500, seed=10, alive=lived.values, plants=plants)
        assert (sizes.plants == lived.values).all()
        assert (sizes.present == (lived.values > 0)).all()


def test_same_seed_same_bytes_and_chunks_apart() -> None:
    assume = f"    mass: {{{MEANS}, plot_cv: 0.1, plant_cv: 0.25}}\n" + alive(0.1, 0.05)
    model = model_of(trial_of(SIZE + "\n" + SURVIVAL, assume), Crew())
    for name in ("mass", "survival"):
        one = draw_seasons(model, name, 50, seed=11, chunk=2)
        two = draw_seasons(model, name, 50, seed=11, chunk=2)
        assert one.values.tobytes() == two.values.tobytes()
        assert one.present.tobytes() == two.present.tobytes()
        for other in (
            draw_seasons(model, name, 50, seed=12, chunk=2),
            draw_seasons(model, name, 50, seed=11, chunk=3),
        ):
            assert one.values.tobytes() != other.values.tobytes()


def test_streams_are_what_they_were() -> None:
    """PCG64 from SHA-256 of "7:height"; computed once."""
    assert stream(7, "height").random(2).tolist() == [0.9680157839415428, 0.28250403896959164]
    assert stream(7, "höhe").random() != stream(7, "hohe").random()


@settings(max_examples=25, deadline=None)
@given(
    p=st.tuples(*[st.floats(0.0, 1.0)] * 3),
    plot=st.floats(0.0, 0.9),
    block=st.floats(0.0, 0.05),
    seed=st.integers(0, 2**31),
)
def test_any_shares_stay_in_range(
    p: tuple[float, float, float], plot: float, block: float, seed: int
) -> None:
    levels = f"{{hand: {p[0]:.9f}, wick: {p[1]:.9f}, drip: {p[2]:.9f}}}"
    assume = (
        f"    survival: {{alive_at_end: {levels}, plot_correlation: {plot:.6f}, "
        f"block_correlation: {block:.6f}}}"
    )
    model = model_of(trial_of(SURVIVAL, assume))
    drawn = draw_seasons(model, "survival", 20, seed=seed, visits=[30, 90, 210])
    assert drawn.ended is not None
    assert (drawn.ended >= 0).all()
    assert (drawn.ended.sum(axis=2) == drawn.plants).all()
    for k, share in enumerate(p):
        if share in (0.0, 1.0):
            x = arm(drawn.values, model.places.cells, k)
            assert (x == 6 * share).all()


def test_whole_plots_differ_as_plots_do_by_default() -> None:
    head = """\
format: 1
trial: {id: split, season: {start: 2027-03-15, end: 2027-10-11}}
factors:
  line: {applied_to: whole plot, levels: [drip, wick]}
  mulch: {applied_to: subplot, levels: [bare, straw]}
design: {type: split-plot, blocks: 4, plants_per_plot: 3, layout: layout.csv, seed: 3}
"""
    means = "mean: {drip: 40, wick: 50}"
    trial = trial_of(
        SIZE, f"    mass: {{{means}, plot_sd: 3, plant_sd: 0, block_sd: 0}}", head=head
    )
    model = model_of(trial)
    drawn = draw_seasons(model, "mass", S, seed=13)
    whole = model.places.pieces[0][1]
    pairs = [np.flatnonzero(whole == w) for w in range(8)]
    y = drawn.values - drawn.values.mean(axis=0)
    near(np.stack([y[:, a] * y[:, b] for a, b in pairs], axis=1), 9.0)
    near(y**2, 18.0)


def test_missing_assumptions_are_all_told_with_an_example() -> None:
    trial = trial_of(
        SIZE + "\n" + SURVIVAL + "\n" + YIELD, "    mass: {mean: {hand: 4, wick: 5, drip: 4}}"
    )
    with pytest.raises(TrialError) as caught:
        season_model(trial, model_layout(trial))
    told = [str(p) for p in caught.value.problems]
    assert len(told) == 3
    assert told[0] == (
        "trial.yaml, line 16: missing assumption: found no spread assumed for "
        "mass; expected plot_cv (or plot_sd), and plant_cv for sizes of plants; to mend it: "
        "complete what stands under mass, for example:\n"
        "    mass: {mean: {hand: 10, wick: 10, drip: 10}, plot_cv: 0.10, plant_cv: 0.25}"
    )
    assert "survival: {alive_at_end: {hand: 0.7, wick: 0.7, drip: 0.7}" in told[1]
    assert "fruit: {mean: {hand: 3.5, wick: 3.5, drip: 3.5}, plot_cv: 0.10}" in told[2]
    pasted = "\n".join(p.fix.split("\n")[1] for p in caught.value.problems)
    trial = trial_of(SIZE + "\n" + SURVIVAL + "\n" + YIELD, pasted)
    assert set(season_model(trial, model_layout(trial)).models) == {"mass", "survival", "fruit"}


def model_layout(trial):  # type: ignore[no-untyped-def]
    from wickstats.layout.randomize import draw

    return draw(trial, 3)


def test_defaults_are_stated_ones() -> None:
    trial = trial_of(
        SURVIVAL, "    survival: {alive_at_end: {hand: 0.5, wick: 0.8, drip: 0.7}}"
    )
    what = model_of(trial).models["survival"]
    assert isinstance(what, Shares)
    assert (what.plot_correlation, what.ground_correlation, what.shape) == (0.1, 0.05, 1.0)
    assert crew_of(trial) == Crew()
    undated = HEAD.replace(", season: {start: 2027-03-15, end: 2027-10-11}", "")
    size = "    mass: {mean: {hand: 1, wick: 1, drip: 1}, plot_cv: 0.1}"
    assert crew_of(trial_of(SIZE, size, head=undated)) == Crew(plots_lost=0.0)
    named = trial_of(SIZE, size, head=undated, rest="  crew: {plots_lost: 0.1, not_found: 0}")
    assert crew_of(named) == Crew(plots_lost=0.1, not_found=0.0)


def test_a_unit_that_spans_blocks_has_the_mean_of_theirs() -> None:
    """Sizes: variance s^2/2 of two blocks, s^2/2 shared with a unit in one of them.

    Lives: share alive as assumed, correlation in the unit r_plot + r_block/2.
    """
    rng = np.random.default_rng(7)
    parts = np.array([[1.0, 0.0], [0.0, 1.0], [0.5, 0.5]])
    seasons = 40_000
    y = unit_effects(rng, seasons, np.full(3, 1e-9), [(parts, 2.0)])
    found = np.cov(y.T)
    error = 4 * 4 * np.sqrt(2 / seasons)
    assert np.allclose(found, 4 * parts @ parts.T, atol=error)
    alive, cells = np.array([0.6]), np.zeros(3, dtype=np.int64)
    p = tied_chances(rng, seasons, alive, cells, 0.1, [(parts, 0.2)])
    assert np.allclose(p.mean(axis=0), 0.6, atol=4 * 0.27 / np.sqrt(seasons))
    spread = p.var(axis=0) / (0.6 * 0.4)
    assert np.allclose(spread, [0.3, 0.3, 0.2], atol=0.01)
