"""Seasons a second of simulated power, beside statsmodels, and R's lm where there is R.

``python tests/benchmarks/power.py``: one thread; each season is judged for one pair.
"""

import pickle
import shutil
import subprocess
import time
from pathlib import Path

import numpy as np

import wickstats as ws
from wickstats.models.power import t_power
from wickstats.sizing.adapted import adapted
from wickstats.sizing.plan import layout_for
from wickstats.sizing.plots import sizes_of
from wickstats.sizing.seasons import PART, Work, do_part, work_of

OAKS = Path(ws.__file__).parent / "demo" / "quarry-oaks" / "trial.yaml"
R_LOOP = """
set.seed(1); b <- factor(rep(1:6, each = 4)); t <- factor(rep(1:4, 6)); n <- 400
s <- proc.time()[[3]]
for (i in 1:n) anova(lm(rnorm(24) ~ b + t))
cat(n / (proc.time()[[3]] - s))
"""


def ours(name: str) -> float:
    trial = ws.read_trial(OAKS)
    layout = layout_for(trial)
    sizes = sizes_of(trial, layout)
    what = adapted(trial, trial.response(name), sizes)
    work = work_of(trial, layout, name, what)
    assert isinstance(work, Work)
    data = pickle.dumps(work)
    do_part(data, 0)
    start = time.perf_counter()
    for part in range(1, 9):
        do_part(data, part)
    return 8 * PART / (time.perf_counter() - start)


def statsmodels_loop(seasons: int = 60) -> float:
    import pandas as pd
    import statsmodels.formula.api as smf

    frame = pd.DataFrame({"b": np.repeat(np.arange(6), 4), "t": np.tile(np.arange(4), 6)})
    rng = np.random.default_rng(1)
    start = time.perf_counter()
    for _ in range(seasons):
        frame["y"] = rng.standard_normal(24)
        smf.ols("y ~ C(b) + C(t)", frame).fit().pvalues  # noqa: B018 - the p is worked out when asked
    return seasons / (time.perf_counter() - start)


def closed_forms() -> tuple[float, float]:
    from statsmodels.stats.power import TTestIndPower

    start = time.perf_counter()
    for _ in range(500):
        t_power(1.0, np.sqrt(2 / 20), 38)
    own = 500 / (time.perf_counter() - start)
    theirs = TTestIndPower()
    start = time.perf_counter()
    for _ in range(500):
        theirs.power(1.0, 20, 0.05)
    return own, 500 / (time.perf_counter() - start)


def main() -> None:
    loop = statsmodels_loop()
    print(f"{'statsmodels OLS, season by season':<44}{loop:>12,.0f} seasons/s")
    if shutil.which("Rscript"):
        found = subprocess.run(
            ["Rscript", "-e", R_LOOP], capture_output=True, text=True, check=True
        )
        print(
            f"{'R lm and anova, season by season':<44}{float(found.stdout):>12,.0f} seasons/s"
        )
    for name in ("height", "survival"):
        rate = ours(name)
        label = f"wickstats, {name}, 24 plots, 4 comparisons"
        print(f"{label:<44}{rate:>12,.0f} seasons/s   x {rate / loop:,.0f}")
    own, theirs = closed_forms()
    print(f"closed form of two samples: {own:,.0f}/s; statsmodels {theirs:,.0f}/s")


if __name__ == "__main__":
    main()
