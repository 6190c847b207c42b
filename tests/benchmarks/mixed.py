"""Mixed models: times side by side on the same data, agreement checked in the same run.

    python tests/benchmarks/mixed.py [--only 684] [--peers /path/to/python]

Invented growth trials (treatment x visit; block, plot and plant random; 5 % of the rows
missing) and one row-column layout, each from a table in memory to the fit, single thread.
Every fit is the least of several runs in a process of its own; memory is that process's
peak. Peers that are not installed are named with the line that installs them. They may live
in another environment, whose Python is given by --peers (their pins differ from ours).
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
from importlib import metadata
from pathlib import Path

HERE = Path(__file__).resolve().parent
# name -> blocks, treatments, plants a plot, visits; 5 % of the rows are taken out
GROWTH = {"684": (6, 4, 5, 6), "16416": (12, 6, 40, 6), "228000": (40, 10, 100, 6)}
LAYOUT = "row-column 40 x 40"
INSTALL = {
    "statsmodels": "pip install statsmodels",
    "mixedlm": "pip install mixedlm==1.3",
    "lme-python": "pip install lme-python==0.2.7",
    "lme4": "Rscript -e 'install.packages(\"lme4\")'",
    "pbkrtest": "Rscript -e 'install.packages(\"pbkrtest\")'",
}
# peers that take minutes or gigabytes from here on
TOO_SLOW = {"statsmodels": ("16416", "228000", LAYOUT), "pbkrtest": ("16416", "228000")}
COMPONENTS = 1e-2  # relative agreement of components asked of peers: they stop early
OBJECTIVE = 1e-8  # relative agreement of the criterion

WORKER = HERE / "mixed_worker.py"
R_WORKER = r"""
suppressMessages(library(lme4)); args <- commandArgs(TRUE)
d <- read.csv(args[1], stringsAsFactors = TRUE)
layout <- "column" %in% names(d)
f <- if (layout) y ~ treatment + (1 | row) + (1 | column) else
  y ~ treatment * visit + (1 | block) + (1 | plot) + (1 | plant)
times <- c()
for (i in seq_len(as.integer(args[3]))) {
  t <- system.time(m <- lmer(f, d, control = lmerControl(calc.derivs = FALSE)))
  times <- rbind(times, c(t[["elapsed"]], t[["user.self"]] + t[["sys.self"]])) }
peak <- function() {
  line <- grep("VmHWM", readLines("/proc/self/status"), value = TRUE)
  as.integer(gsub("[^0-9]", "", line)) }
vc <- as.data.frame(VarCorr(m)); fit_peak <- peak(); kr <- NA
if (args[2] == "pbkrtest") {
  suppressMessages(library(pbkrtest))
  small <- if (layout) y ~ 1 + (1 | row) + (1 | column) else
    y ~ treatment + visit + (1 | block) + (1 | plot) + (1 | plant)
  kr <- system.time(k <- KRmodcomp(m, lmer(small, d)))[["elapsed"]]
  kr <- c(kr, k$stats$Fstat, k$stats$ddf) }
names <- ifelse(vc$grp == "Residual", "residual", vc$grp)
cat(sprintf(paste0('{"seconds": [%.6f, %.6f], "peak_kb": %d, "objective": %.10f, ',
                   '"components": {%s}, "kr": [%s], "version": "%s"}\n'),
  min(times[, 1]), min(times[, 2]), fit_peak, REMLcrit(m),
  paste(sprintf('"%s": %.10g', names, vc$vcov), collapse = ", "),
  paste(ifelse(is.na(kr), "null", sprintf("%.10g", kr)), collapse = ", "),
  paste("R", getRversion(), args[2], packageVersion(args[2]))))
"""


def make(name: str, folder: Path) -> Path:
    """Write the invented data of one size."""
    import numpy as np
    import pandas as pd

    rng = np.random.default_rng(20240501)
    if name == LAYOUT:
        row, column = (v.ravel() for v in np.indices((40, 40)))
        treatment = (row + column * 7) % 40
        y = rng.normal(0, 1, 40)[row] + rng.normal(0, 0.6, 40)[column] + 0.05 * treatment
        frame = pd.DataFrame({"treatment": treatment, "row": row, "column": column})
    else:
        blocks, arms, plants, visits = GROWTH[name]
        shape = (blocks, arms, plants, visits)
        block, arm, k, visit = (v.ravel() for v in np.indices(shape))
        plot = block * arms + arm
        plant = plot * plants + k
        y = 10 + 0.3 * arm + visit + 0.2 * arm * visit + rng.normal(0, 1, blocks)[block]
        y = y + rng.normal(0, 0.7, plot.max() + 1)[plot]
        y = y + rng.normal(0, 1, plant.max() + 1)[plant]
        frame = pd.DataFrame({"treatment": arm, "visit": visit, "block": block, "plot": plot})
        frame["plant"] = plant
    frame = frame.apply(lambda s: s.name[0] + s.astype(str).str.zfill(3))
    frame["y"] = y + rng.normal(size=len(y))
    gone = rng.choice(len(frame), round(0.05 * len(frame)), replace=False)
    path = folder / f"{name.replace(' ', '-')}.csv"
    frame.drop(index=gone).to_csv(path, index=False)
    return path


def run(peer: str, path: Path, repeats: int, python: str) -> dict | str:
    """One peer on one file: what it found, or why there is nothing."""
    single = {
        f"{lib}_NUM_THREADS": "1" for lib in ("OMP", "OPENBLAS", "MKL", "RAYON", "POLARS")
    }
    single["POLARS_MAX_THREADS"] = "1"
    if peer in ("lme4", "pbkrtest"):
        if shutil.which("Rscript") is None:
            return "no Rscript: install R"
        command = ["Rscript", "-e", R_WORKER, str(path), peer, str(repeats)]
    else:
        command = [python, str(WORKER), peer, str(path), str(repeats)]
    done = subprocess.run(command, capture_output=True, text=True, env={**os.environ, **single})
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["?"])[-1]
        absent = "ModuleNotFoundError" in done.stderr or "there is no package" in done.stderr
        return INSTALL[peer] if absent else f"failed: {last}"
    return json.loads(done.stdout.strip().splitlines()[-1])


def agreement(found: dict, ours: dict) -> str:
    """Whether a peer found what we found, in a word or two."""
    if found is ours:
        return "-"
    worst = max(
        abs(found["components"][k] - v) / max(v, 1e-12) for k, v in ours["components"].items()
    )
    words = f"components to {worst:.0e}"
    if found.get("objective") is not None:
        off = (found["objective"] - ours["objective"]) / abs(ours["objective"])
        words += f", criterion {off:+.0e}"
        if off < -OBJECTIVE:
            return "PEER IS BETTER: " + words
        if off > OBJECTIVE:
            return "DIFFERS: " + words
    return words if worst <= COMPONENTS else "DIFFERS: " + words


def machine() -> str:
    """Processor, system and versions."""
    model = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        names = [s for s in cpuinfo.read_text().splitlines() if s.startswith("model name")]
        model = names[0].split(":")[1].strip() if names else model
    libraries = ", ".join(f"{n} {metadata.version(n)}" for n in ("numpy", "scipy", "pandas"))
    return f"{model}, {os.cpu_count()} cores, Python {platform.python_version()}, {libraries}"


def table(name: str, path: Path, args: argparse.Namespace) -> None:
    """Print one table: one line a program."""
    print(f"\n{name} rows" if name in GROWTH else f"\n{name}, 1,520 rows")
    head = ("program", "fit, s", "busy, s", "ratio", "peak, MB", "F, SEs, df, ms")
    head = (*head, "means, pairs, ms")
    print("{:12} {:>10} {:>10} {:>7} {:>9} {:>15} {:>17}  agreement".format(*head))
    ours: dict = {}
    for peer in ("wickstats", "mixedlm", "lme-python", "statsmodels", "lme4", "pbkrtest"):
        if name in TOO_SLOW.get(peer, ()) and not args.slow:
            print(f"{peer:12} left out: minutes or gigabytes (--slow runs it)")
            continue
        python = sys.executable if peer in ("wickstats", "statsmodels") else args.peers
        repeats = _repeats(peer, name, args.repeats)
        found = run(peer, path, repeats, python)
        if isinstance(found, str):
            print(f"{peer:12} {found}")
            continue
        if peer == "wickstats":
            ours = found
        kr = found.get("kr") or [None]
        kr_ms = "-" if kr[0] is None else f"{1000 * kr[0]:.1f}"
        means = "-" if found.get("means") is None else f"{1000 * found['means']:.1f}"
        wall, busy = found["seconds"]
        ratio = busy / ours["seconds"][1]
        words = agreement(found, ours)
        if peer == "pbkrtest" and kr[0] is not None:
            words += (
                f"; F {kr[1]:.6f} ({ours['kr'][1]:.6f}), df {kr[2]:.4f} ({ours['kr'][2]:.4f})"
            )
        print(
            f"{peer:12} {wall:10.4f} {busy:10.4f} {ratio:7.1f} {found['peak_kb'] / 1024:9.0f} "
            f"{kr_ms:>15} {means:>17}  {words} [{found['version']}]"
        )


def _repeats(peer: str, name: str, wanted: int) -> int:
    """Runs of which the least counts: many where they are short, one where they are long."""
    if name == "684":
        return 5 if peer in ("statsmodels", "pbkrtest") else 8 * wanted
    if peer == "wickstats" or (peer == "mixedlm" and name != "228000"):
        return wanted
    return 1 if name == "228000" else 3


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    names = [*GROWTH, LAYOUT]
    parser.add_argument("--only", nargs="*", choices=names, default=names)
    parser.add_argument("--peers", default=sys.executable, help="Python that has the peers")
    parser.add_argument("--repeats", type=int, default=15)
    parser.add_argument("--slow", action="store_true", help="also what takes minutes")
    args = parser.parse_args()
    print(machine())
    print(
        "Least of several runs, one thread; invented data. busy: the processor's own time, "
        "without waiting for other programs; ratio: busy over ours."
    )
    with tempfile.TemporaryDirectory() as folder:
        for name in args.only:
            table(name, make(name, Path(folder)), args)


if __name__ == "__main__":
    main()
