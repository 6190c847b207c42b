"""Time and peak memory of reading 200,000 rows of visits from csv and from xlsx.

Run: python tests/benchmarks/records.py. Each file is read in a process of its own;
beside it stands pandas' own reader, which checks nothing. Invented data.
"""

import subprocess
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

import pandas as pd

from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.records.read import read_records

PLOTS, PLANTS, VISITS = 100, 40, 50


def peak_mb() -> float:
    """Peak memory of this process in MB (Linux: VmHWM, which starts anew at exec)."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(float(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM"))


def say(text: str) -> None:
    sys.stdout.write(text + "\n")


def layout() -> Layout:
    arms = ("hand watering", "capillary wick")
    plots = tuple(
        Plot(f"Q{i:03d}", {"watering": arms[i % 2]}, block=str(i // 2), plants=PLANTS)
        for i in range(PLOTS)
    )
    return Layout("randomized complete block", ("watering",), plots, "elsewhere")


def trial(folder: Path, file: str) -> Trial:
    levels = ({"name": "hand watering"}, {"name": "capillary wick"})
    return Trial.model_validate(
        {
            "format": 1,
            "trial": {
                "id": "large",
                "season": {"start": date(2025, 1, 1), "end": date(2026, 12, 31)},
            },
            "factors": ({"name": "watering", "levels": levels},),
            "design": {"type": "randomized complete block", "layout": "layout.csv"},
            "records": {"visits": ({"file": file},)},
            "folder": str(folder),
        }
    )


def visits() -> pd.DataFrame:
    days = pd.date_range("2025-01-07", periods=VISITS, freq="7D").strftime("%Y-%m-%d")
    index = pd.MultiIndex.from_product(
        [days, [p.plot for p in layout().plots], [str(k + 1) for k in range(PLANTS)]],
        names=["date", "plot", "plant"],
    )
    frame = index.to_frame(index=False)
    late = pd.factorize(frame["date"])[0] > 30
    frame["status"] = "alive"
    frame.loc[late & (frame["plant"].astype(int) % 5 == 0), "status"] = "dead"
    frame["note"] = ""
    return frame


def measure(folder: Path, file: str) -> None:
    """Read one file and print what it took (called in its own process)."""
    given = trial(folder, file)
    plots = layout()
    before = peak_mb()
    start = time.perf_counter()
    season = read_records(given, plots)
    took = time.perf_counter() - start
    rows = len(season.tables["visits"])
    say(
        f"wickstats {file}: {rows} rows, {took:.2f} s, peak {peak_mb():.0f} MB "
        f"({peak_mb() - before:.0f} MB above the libraries)"
    )


def measure_pandas(folder: Path, file: str) -> None:
    """The same file through pandas, unchecked."""
    start = time.perf_counter()
    if file.endswith(".csv"):
        rows = len(pd.read_csv(folder / file))
    else:
        rows = len(pd.read_excel(folder / file, engine="openpyxl"))
    took = time.perf_counter() - start
    say(f"pandas    {file}: {rows} rows, {took:.2f} s, peak {peak_mb():.0f} MB")


def main() -> None:
    if len(sys.argv) == 4:
        {"ours": measure, "pandas": measure_pandas}[sys.argv[1]](Path(sys.argv[2]), sys.argv[3])
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        frame = visits()
        frame.to_csv(folder / "visits.csv", index=False)
        frame.to_excel(folder / "visits.xlsx", index=False, engine="openpyxl")
        for file in ("visits.csv", "visits.xlsx"):
            for who in ("ours", "pandas"):
                subprocess.run([sys.executable, __file__, who, name, file], check=True)


if __name__ == "__main__":
    main()
