"""Log-rank scores and redraws a second beside lifelines and statsmodels, in the same run.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/lifetimes.py``. One process, CPU
time, the best of three. Peers test plants as replicates, one season at a time; their
chi-square is compared with ours on the same seasons.
"""

import platform
import sys
from importlib.metadata import version

import numpy as np
from rates import one_thread, rate

from wickstats.models.batch.lives import lay_redraws, redraw_seasons, score_seasons
from wickstats.models.lifetimes.scores import log_rank
from wickstats.models.lifetimes.turnbull import interval_curve
from wickstats.models.redraw.pairs import redraw_pair
from wickstats.models.redraw.scheme import generator
from wickstats.models.redraw.terms import redraw_term

BLOCKS, ARMS, PLANTS, VISITS = 6, 4, 8, 10
N = BLOCKS * ARMS
CELLS, BLOCK = np.tile(np.arange(ARMS), BLOCKS), np.repeat(np.arange(BLOCKS), ARMS)


def steps(seasons: int) -> np.ndarray:
    """(S, n, plants) visit at which each plant was first seen dead; the last: alive."""
    time_lived = generator(1, "lives").exponential(1.5 * VISITS, (seasons, N, PLANTS))
    return np.asarray(np.minimum(np.floor(time_lived), VISITS).astype(int))


def deaths(step: np.ndarray) -> np.ndarray:
    return np.stack([(step == k).sum(axis=2) for k in range(VISITS)], axis=2)


def peers(seasons: int = 30) -> tuple[float, float, float]:
    """Seasons a second of lifelines and statsmodels, largest relative gap in chi-square."""
    from lifelines.statistics import multivariate_logrank_test
    from statsmodels.duration.survfunc import survdiff

    arm = np.repeat(CELLS, PLANTS)
    lives = [
        (np.minimum(s.ravel(), VISITS - 1) + 1.0, s.ravel() < VISITS) for s in steps(seasons)
    ]
    ours = np.array([log_rank(t, d, arm).chi_square for t, d in lives])
    found = {}

    def lifelines() -> None:
        found["a"] = [multivariate_logrank_test(t, arm, d).test_statistic for t, d in lives]

    def statsmodels() -> None:
        found["b"] = [survdiff(t, d.astype(int), arm)[0] for t, d in lives]

    speeds = rate(lifelines, seasons), rate(statsmodels, seasons)
    gap = max(float(np.abs(np.array(theirs) / ours - 1.0).max()) for theirs in found.values())
    return (*speeds, gap)


def redraw_table(scores: np.ndarray) -> list[tuple[str, float]]:
    """Seconds of one term's re-randomization as analyze runs it, and of one pair's."""
    whole = rate(lambda: redraw_term(scores, CELLS, blocks=BLOCK, seed=1, stream="b"), 1)
    pair = rate(lambda: redraw_pair(scores, CELLS, (0, 1), blocks=BLOCK, seed=1, stream="b"), 1)
    return [
        ("one season through analyze's own function, 10,000", 1.0 / whole),
        ("one pair of treatments there, all layouts", 1.0 / pair),
    ]


def main() -> int:
    if not one_thread():
        return 1
    names = ("numpy", "scipy", "lifelines", "statsmodels")
    told = ", ".join(f"{name} {version(name)}" for name in names)
    print(f"Python {platform.python_version()}, {told}; one thread")
    print(f"{BLOCKS} blocks x {ARMS} treatments x {PLANTS} plants, {VISITS} visits\n")
    many = deaths(steps(4_000))
    scores = score_seasons(many, np.full(N, PLANTS), BLOCK).scores
    shared = lay_redraws(CELLS, BLOCK, seed=1, stream="bench", draws=1_999)
    ten = lay_redraws(CELLS, BLOCK, seed=1, stream="bench", draws=10_000)
    lifelines, statsmodels, gap = peers()
    rows = [
        ("log-rank scores by plot", rate(
            lambda: score_seasons(many, np.full(N, PLANTS), BLOCK), len(many))),
        ("1,999 redraws of given scores, layouts shared", rate(
            lambda: redraw_seasons(shared, scores), len(many))),
        ("lifelines, log-rank of plants", lifelines),
        ("statsmodels, log-rank of plants", statsmodels),
    ]  # fmt: skip
    print(f"{'':50}{'seasons/s':>12}")
    for name, speed in rows:
        print(f"{name:50}{speed:12,.0f}")
    print(f"largest relative difference in chi-square: {gap:.1e}\n")
    lay = rate(lambda: lay_redraws(CELLS, BLOCK, seed=1, stream="b", draws=10_000), 1)
    one = rate(lambda: redraw_seasons(ten, scores[:1]), 1)
    table = redraw_table(scores[0])
    rng = generator(1, "curve")
    low = rng.integers(0, 60, 10_000).astype(float)
    high = np.where(rng.random(10_000) < 0.6, low + rng.integers(1, 15, 10_000), np.inf)
    curve = rate(lambda: interval_curve(low, high), 1)
    print(f"{'':50}{'ms':>12}")
    print(f"{'one season, 10,000 layouts drawn':50}{1000 / lay:12.1f}")
    print(f"{'one season, 10,000 redraws in these layouts':50}{1000 / one:12.1f}")
    for name, seconds in table:
        print(f"{name:50}{1000 * seconds:12.1f}")
    print(f"{'curve of 10,000 plants in overlapping intervals':50}{1000 / curve:12.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
