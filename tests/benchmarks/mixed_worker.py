"""One program, one file: fits it several times and prints what it found as JSON.

Run by mixed.py, possibly with another environment's Python.
"""

from __future__ import annotations

import json
import sys
import time
from importlib import metadata
from pathlib import Path

import pandas as pd

GROUPS = ("block", "plot", "plant")


def best(job, repeats):
    """Result, least seconds and least processor seconds of several runs."""
    wall, own, found = float("inf"), float("inf"), None
    for _ in range(repeats):
        start, busy = time.perf_counter(), time.process_time()
        found = job()
        own = min(own, time.process_time() - busy)
        wall = min(wall, time.perf_counter() - start)
    return found, wall, own


def peak_kb():
    """Peak memory of this process alone (getrusage would count the parent's at the fork)."""
    status = Path("/proc/self/status")
    lines = status.read_text().splitlines() if status.exists() else ["VmHWM: 0 kB"]
    return next(int(s.split()[1]) for s in lines if s.startswith("VmHWM"))


def formula(frame, *, random):
    if "column" in frame:
        groups, fixed = ("row", "column"), "treatment"
    else:
        groups, fixed = GROUPS, "treatment*visit"
    return f"y ~ {fixed}" + "".join(f" + (1|{g})" for g in groups if random)


def wickstats(frame, repeats):
    import numpy as np

    from wickstats.models.linear.degrees import mixed_contrasts, mixed_test
    from wickstats.models.linear.frame import fit_frame

    layout = "column" in frame
    cells = ("treatment",) if layout else ("treatment", "visit")
    groups = {g: g for g in (("row", "column") if layout else GROUPS)}
    found, *seconds = best(lambda: fit_frame(frame, "y", cells=cells, groups=groups), repeats)
    fit, peak = found.fit, peak_kb()
    arms = sorted({c[0] for c in found.cells})
    p = len(found.cells)
    if layout:
        term = np.eye(p)[1:] - np.eye(p)[:1]
    else:
        visits = sorted({c[1] for c in found.cells})
        at = {c: i for i, c in enumerate(found.cells)}
        rows = np.zeros((len(arms) - 1, len(visits) - 1, p))
        for i, a in enumerate(arms[1:]):
            for j, v in enumerate(visits[1:]):
                for name, sign in (
                    ((a, v), 1),
                    ((a, visits[0]), -1),
                    ((arms[0], v), -1),
                    ((arms[0], visits[0]), 1),
                ):
                    rows[i, j, at[name]] = sign
        term = rows.reshape(-1, p)
    # objective in the coding of the peers: first levels as reference
    reference = np.linalg.slogdet(coded(found.cells))[1]
    (test, _), _, kr = best(
        lambda: (mixed_test(fit, term), mixed_contrasts(fit, np.eye(p))), repeats
    )
    means = np.array([found.mean_rows({0: a}) for a in arms])
    pairs = np.array([a - b for i, a in enumerate(means) for b in means[:i]])
    _, _, both = best(lambda: mixed_contrasts(fit, np.vstack([means, pairs])), repeats)
    return {
        "seconds": seconds,
        "peak_kb": peak,
        "objective": fit.objective + 2.0 * float(reference),
        "components": dict(zip(fit.names, fit.components, strict=True)),
        "kr": [kr, test.f, test.df_den],
        "means": both,
        "version": f"wickstats {metadata.version('wickstats')}",
    }


def coded(cells):
    """Fixed columns of the cells with the first levels as reference."""
    import numpy as np

    columns = [np.ones((len(cells), 1))]
    for k in range(len(cells[0])):
        levels = sorted({c[k] for c in cells})[1:]
        columns.append(np.array([[float(c[k] == v) for v in levels] for c in cells]))
    if len(columns) == 3:
        _, A, B = columns
        columns.append((A[:, :, None] * B[:, None, :]).reshape(len(cells), -1))
    return np.column_stack(columns)


def mixedlm(frame, repeats):
    import mixedlm as peer

    text = formula(frame, random=True)
    fit, *seconds = best(lambda: peer.lmer(text, frame), repeats)
    groups = [g for g in ("block", "plot", "plant", "row", "column") if g in frame]
    square = fit.sigma**2
    parts = {g: float(t) ** 2 * square for g, t in zip(groups, fit.theta, strict=True)}
    return {
        "seconds": seconds,
        "objective": float(fit.REMLcrit()),
        "components": parts | {"residual": square},
        "version": f"mixedlm {metadata.version('mixedlm')}",
    }


def lme_python(frame, repeats):
    import lme_python as peer
    import polars as pl

    table = pl.DataFrame({c: frame[c].tolist() for c in frame})
    text = formula(frame, random=True)
    fit, *seconds = best(lambda: peer.lmer(text, data=table, reml=True), repeats)
    groups = [g for g in ("block", "plot", "plant", "row", "column") if g in frame]
    square = float(fit.sigma2)
    parts = {g: float(t) ** 2 * square for g, t in zip(groups, fit.theta, strict=True)}
    return {
        "seconds": seconds,
        "objective": float(fit.reml_criterion),
        "components": parts | {"residual": square},
        "version": f"lme-python {metadata.version('lme-python')}",
    }


def statsmodels(frame, repeats):
    import warnings

    from statsmodels.regression.mixed_linear_model import MixedLM

    warnings.simplefilter("ignore")
    parts = {"plot": "0 + C(plot)", "plant": "0 + C(plant)"}
    model = "y ~ treatment*visit"

    def job():
        return MixedLM.from_formula(
            model, frame, groups="block", re_formula="1", vc_formula=parts
        ).fit(reml=True)

    fit, *seconds = best(job, 1)
    found = {"block": float(fit.cov_re.iloc[0, 0]), "residual": float(fit.scale)}
    found |= dict(zip(fit.model.exog_vc.names, map(float, fit.vcomp), strict=True))
    return {
        "seconds": seconds,
        "objective": None,
        "components": found,
        "version": f"statsmodels {metadata.version('statsmodels')}",
    }


def main():
    peer, path, repeats = sys.argv[1:]
    frame = pd.read_csv(path)
    jobs = {"wickstats": wickstats, "mixedlm": mixedlm, "statsmodels": statsmodels}
    jobs["lme-python"] = lme_python
    out = jobs[peer](frame, int(repeats))
    out.setdefault("peak_kb", peak_kb())
    print(json.dumps(out))


if __name__ == "__main__":
    main()
