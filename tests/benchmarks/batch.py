"""Seasons a second: the batch engine beside statsmodels and R's lme4, in the same run.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/batch.py``. One process, CPU time,
the best of three. Every row draws its seasons and judges all pairs, the joint test and
95 % intervals. Peers fit the same kind of season one by one; where they give the same
number, it is compared. Many comparisons are timed at the end.
"""

import json
import platform
import shutil
import subprocess
import sys
import warnings

import numpy as np
import scipy
import statsmodels
from rates import one_thread, rate

from wickstats.models.batch.draw import draw_plants, draw_units, unit_means
from wickstats.models.batch.layout import lay_batch, left_over
from wickstats.models.batch.mixed import judge_mixed, lay_mixed, within_squares
from wickstats.models.batch.strata import judge_patterns, judge_units
from wickstats.models.linear import joint_t as joint
from wickstats.models.linear.contrasts import all_pairs
from wickstats.models.redraw.scheme import generator

BLOCKS, ARMS, PLANTS = 6, 4, 6
N = BLOCKS * ARMS
CELLS, BLOCK = np.tile(np.arange(ARMS), BLOCKS), np.repeat(np.arange(BLOCKS), ARMS)
PAIRS = all_pairs(ARMS)
LAYOUT = lay_batch(CELLS, ARMS, blocks=BLOCK, contrasts=PAIRS)
UNITS = np.repeat(np.arange(N), PLANTS)
SDS = {"plant_sd": 1.0, "unit_sd": 0.5, "groups": [(BLOCK, 0.5)]}
R_SCRIPT = """
suppressMessages(library(lmerTest)); d <- jsonlite::fromJSON(file("stdin"))
x <- data.frame(arm = factor(d$arm), block = factor(d$block), plot = factor(d$plot))
t0 <- proc.time()[["user.self"]]
p <- apply(d$y, 1, function(y) { x$y <- y
  suppressMessages(anova(lmer(y ~ arm + (1 | block) + (1 | plot), x)))[["Pr(>F)"]] })
t1 <- proc.time()[["user.self"]]
cat(jsonlite::toJSON(list(rate = nrow(d$y) / (t1 - t0), p = p, r = R.version.string,
  lme4 = as.character(packageVersion("lme4"))), auto_unbox = TRUE, digits = 12))
"""


def unit_summaries(seasons: int = 20_000) -> float:
    def work() -> None:
        y = draw_units(
            generator(1, "units"), seasons, np.zeros(N), unit_sd=1.0, groups=[(BLOCK, 0.5)]
        )
        judge_units(LAYOUT, y)

    return rate(work, seasons)


def plant_rows(seasons: int = 4_000) -> float:
    def work() -> None:
        y = draw_plants(generator(1, "plants"), seasons, np.zeros(N), UNITS, **SDS)
        judge_units(LAYOUT, unit_means(y, UNITS, N))

    return rate(work, seasons)


def shared_pattern(seasons: int = 4_000) -> float:
    """One plot and 15 % of the plants lost, the same in all seasons."""
    kept = generator(1, "pattern").random(UNITS.size) > 0.15
    kept[:PLANTS] = False
    here = np.isin(np.arange(N), UNITS[kept])
    code = np.searchsorted(np.flatnonzero(here), UNITS[kept])
    left, n = left_over(LAYOUT, here), int(here.sum())
    plants = np.bincount(code)

    def work() -> None:
        y = draw_plants(
            generator(1, "lost"), seasons, np.zeros(n), code, plant_sd=1.0, unit_sd=0.5,
            groups=[(BLOCK[here], 0.5)],
        )  # fmt: skip
        judge_units(left, unit_means(y, code, n), plants=plants)

    return rate(work, seasons)


def own_patterns(seasons: int = 8_000) -> float:
    """One plot and about 15 % of the plants lost, others in every season."""

    def work() -> None:
        rng = generator(1, "own")
        y = draw_plants(rng, seasons, np.zeros(N), UNITS, **SDS).reshape(seasons, N, PLANTS)
        kept = rng.random(y.shape) > 0.15
        kept[np.arange(seasons), rng.integers(N, size=seasons)] = False
        m = kept.sum(axis=2).astype(float)
        mean = np.einsum("snp,snp->sn", y, kept) / np.maximum(m, 1.0)
        judge_patterns(
            LAYOUT,
            m > 0,
            lambda left, which, units: judge_units(
                left, mean[np.ix_(which, units)], plants=m[np.ix_(which, units)]
            ),
        )

    return rate(work, seasons)


def second_line(seasons: int = 2_000) -> float:
    m = generator(1, "m").integers(3, PLANTS + 1, N)
    units = np.repeat(np.arange(N), m)
    layout = lay_mixed(CELLS, ARMS, m, blocks=BLOCK, contrasts=PAIRS)

    def work() -> None:
        y = draw_plants(generator(1, "mixed"), seasons, np.zeros(N), units, **SDS)
        judge_mixed(layout, unit_means(y, units, N), within_squares(y, units, N))

    return rate(work, seasons)


def ordinary(seasons: int = 200) -> tuple[float, float]:
    """Least squares one season at a time, and the largest difference in p from ours."""
    from statsmodels.regression.linear_model import OLS

    y = draw_units(
        generator(1, "peer"), seasons, np.zeros(N), unit_sd=1.0, groups=[(BLOCK, 0.5)]
    )
    x = np.hstack([np.eye(ARMS)[CELLS], np.eye(BLOCKS)[BLOCK][:, 1:]])
    contrasts = np.hstack([PAIRS, np.zeros((len(PAIRS), BLOCKS - 1))])
    p = np.empty((seasons, len(PAIRS)))

    def work() -> None:
        for s in range(seasons):
            fit = OLS(y[s], x).fit()
            p[s] = fit.t_test(contrasts).pvalue
            fit.f_test(contrasts[: ARMS - 1])

    speed = rate(work, seasons)
    return speed, float(np.abs(p - judge_units(LAYOUT, y).contrasts.p).max())


def mixed_peer(seasons: int = 40) -> float:
    from statsmodels.regression.mixed_linear_model import MixedLM

    y = draw_plants(generator(1, "peer mixed"), seasons, np.zeros(N), UNITS, **SDS)
    x = np.hstack([np.eye(ARMS)[CELLS], np.eye(BLOCKS)[BLOCK][:, 1:]])[UNITS]

    def work() -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for s in range(seasons):
                MixedLM(y[s], x, groups=UNITS).fit(reml=True)

    return rate(work, seasons)


def lme4(seasons: int = 40) -> tuple[float, float, str] | None:
    """R's lmer with Satterthwaite: rate, largest difference in p of complete seasons."""
    if shutil.which("Rscript") is None:
        return None
    y = draw_plants(generator(1, "peer mixed"), seasons, np.zeros(N), UNITS, **SDS)
    given = {
        "y": y.tolist(), "arm": CELLS[UNITS].tolist(), "block": BLOCK[UNITS].tolist(),
        "plot": UNITS.tolist(),
    }  # fmt: skip
    done = subprocess.run(
        ["Rscript", "-e", R_SCRIPT], input=json.dumps(given), capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    if done.returncode:
        return None
    found = json.loads(done.stdout)
    layout = lay_mixed(CELLS, ARMS, np.full(N, PLANTS), blocks=BLOCK, contrasts=PAIRS)
    ours = judge_mixed(layout, unit_means(y, UNITS, N), within_squares(y, UNITS, N))
    # with all components above zero both are exact in balanced data
    inside = (ours.components > 0).all(axis=1)
    apart = np.abs(ours.p_all - np.array(found["p"]))[inside].max()
    return found["rate"], float(apart), f"{found['r']}, lme4 {found['lme4']}"


def comparisons() -> list[tuple[str, float, float]]:
    """Milliseconds for all p and the critical value of a family, and the stated error.

    Nothing is kept of the family; the directions of its dimension are.
    """
    out = []
    for name, variances in (
        ("Dunnett, 5 unequal arms and a reference", [0.1, 0.3, 0.25, 0.2, 0.3, 0.15]),
        ("Tukey, 5 equal arms", [0.2] * 5),
        ("all pairs of 4 unequal arms", [0.3, 0.25, 0.2, 0.35]),
        ("all pairs of 8 unequal arms", [0.3, 0.25, 0.2, 0.35, 0.2, 0.15, 0.4, 0.2]),
        ("all pairs of 10 unequal arms", [0.3, 0.25, 0.2, 0.35, 0.2, 0.15, 0.4, 0.2, 0.3, 0.1]),
        (
            "all pairs of 11 unequal arms",
            [0.3, 0.25, 0.2, 0.35, 0.2, 0.15, 0.4, 0.2, 0.3, 0.1, 0.25],
        ),
    ):
        t = len(variances)
        rows = np.eye(t)[1:] - np.eye(t)[0] if "reference" in name else all_pairs(t)
        covariance = rows @ np.diag(variances) @ rows.T
        scale = np.sqrt(np.diag(covariance))
        out.append((name, *_family(covariance / np.outer(scale, scale))))
    return out


def _family(r: np.ndarray) -> tuple[float, float]:
    error = 0.0

    def work() -> None:
        nonlocal error
        joint._recognized.cache_clear()  # a new trial, not one seen before
        joint._critical.cache_clear()
        found = joint.joint_t(r)
        found.critical(0.95, 12.0)
        error = max(found.tail(c, 12.0)[1] for c in np.linspace(0.5, 5.0, len(r)))

    return 1000.0 / rate(work, 1), error


def main() -> int:
    if not one_thread():
        return 1
    print(f"{platform.processor() or platform.machine()}, Python {platform.python_version()}, "
          f"numpy {np.__version__}, scipy {scipy.__version__}, "
          f"statsmodels {statsmodels.__version__}; one thread")  # fmt: skip
    print(f"{BLOCKS} blocks x {ARMS} treatments, {PLANTS} plants a plot\n")
    ols, apart = ordinary()
    mixed = mixed_peer()
    r = lme4()
    rows = [
        ("first line, unit summaries", unit_summaries(), ols, "statsmodels OLS"),
        ("first line, plants drawn", plant_rows(), ols, "statsmodels OLS"),
        ("first line, plots and plants lost, one pattern", shared_pattern(), ols, "OLS"),
        ("first line, plots and plants lost, own patterns", own_patterns(), ols, "OLS"),
        ("second line, plants lost", second_line(), mixed, "statsmodels MixedLM (z)"),
    ]
    if r is not None:
        rows.append(("second line, plants lost", second_line(), r[0], f"lmer, {r[2]}"))
    print(f"{'':50}{'seasons/s':>12}{'peer':>10}{'ratio':>9}")
    for name, ours, theirs, peer in rows:
        print(f"{name:50}{ours:12,.0f}{theirs:10,.0f}{ours / theirs:9,.0f}  {peer}")
    print(f"\nlargest difference in p: OLS {apart:.1e}", end="")
    print("" if r is None else f", lmer with Satterthwaite {r[1]:.1e}")
    print(f"\n{'many comparisons: all p and the critical value':50}{'ms':>12}{'error':>12}")
    for name, ms, error in comparisons():
        print(f"{name:50}{ms:12.1f}{error:12.1e}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
