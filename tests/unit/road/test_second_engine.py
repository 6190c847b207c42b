"""Every number that was computed twice agrees, and what was not says why."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from open import make_tables

import wickstats as ws
from wickstats.core.results import Results, SecondEngineRow
from wickstats.demo.trials import TRIALS, copy_demo
from wickstats.road.material import material_of
from wickstats.road.second_opinion import second_opinion


@pytest.mark.parametrize("name", TRIALS)
def test_the_second_engine_agrees_on_the_demo(name: str, tmp_path: Path) -> None:
    folders = {folder.name: folder for folder in copy_demo(tmp_path)}
    trial = ws.read_trial(folders[name] / "trial.yaml")
    rows = ws.analyze(trial, ws.read_records(trial)).second_engine
    checked = [row for row in rows if row.not_checked is None]
    assert [row.what for row in checked if not row.agrees] == []
    assert any("standard error" in row.what for row in checked)
    assert any("dense generalized least squares" in row.what for row in checked)


def test_a_layout_without_its_record_is_told(tmp_path: Path) -> None:
    folder = copy_demo(tmp_path)[0]
    (folder / "layout.record.json").unlink()
    trial = ws.read_trial(folder / "trial.yaml")
    (told,) = [
        d for d in ws.analyze(trial, ws.read_records(trial)).deviations if "record" in d.what
    ]
    assert told.done.startswith("none was read")


def rows_of(folder: Path) -> tuple[Results, list[SecondEngineRow]]:
    trial = ws.read_trial(folder / "trial.yaml")
    results = ws.analyze(trial, ws.read_records(trial))
    return results, list(results.second_engine)


@pytest.mark.parametrize("name", sorted(make_tables.MAKERS))
def test_every_comparison_of_the_open_trials_is_checked(name: str, tmp_path: Path) -> None:
    results, rows = rows_of(make_tables.lay_out(name, tmp_path / name).parent)
    assert [row.what for row in rows if not row.agrees] == []
    assert all_checked(results, rows)


@pytest.mark.parametrize("name", TRIALS)
def test_every_planned_comparison_of_the_demo_is_checked(name: str, tmp_path: Path) -> None:
    folders = {folder.name: folder for folder in copy_demo(tmp_path)}
    results, rows = rows_of(folders[name])
    assert [row.what for row in rows if not row.agrees] == []
    assert all_checked(results, rows)
    if name == "quarry-oaks":
        assert sum("lifelines" in row.what for row in rows) == 4
        assert any("restricted mean survival time" in row.what for row in rows)


def all_checked(results: Results, rows: list[SecondEngineRow]) -> bool:
    """Whether every numbered comparison of a planned response has its three checks."""
    told = {row.what.split(" (")[0] for row in rows if row.agrees}
    chosen = [r for r in results.responses if r.role in ("primary", "secondary")]
    wanted = set()
    for response in chosen:
        for row in response.comparisons:
            if row.estimate is None or (response.role == "secondary" and row.verdict is None):
                continue
            parts = (response.name, row.name, row.within, row.at, row.estimand)
            what = ": ".join(part for part in parts if part)
            wanted.add(f"{what}: estimate")
            if row.se is not None:
                wanted |= {f"{what}: standard error", f"{what}: degrees of freedom"}
    assert wanted
    return wanted <= told


PEPPERS = """
format: 1
trial: {id: small-garden}
factors: {watering: [{name: hand, reference: true}, {name: wick}, {name: drip}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records: {picks: {file: picks.csv}, water: {file: water.csv}}
responses:
  - {name: fruit, kind: yield, column: mass_kg, measured_in: kg, better: more}
  - {name: fruits, kind: count, column: count, better: more}
  - {name: per liter, kind: yield per liter, yield: fruit, water: applied, better: more}
plan:
  primary: PRIMARY
  secondary: []
  comparisons: [{factor: watering, compare: all pairs, adjustment: holm}]
"""


def small_garden(folder: Path, primary: str, *, zeros: bool) -> Path:
    """Four blocks of three plots; some plots bear nothing."""
    folder.mkdir()
    (folder / "trial.yaml").write_text(PEPPERS.replace("PRIMARY", primary), encoding="utf-8")
    layout, picks, water = ["plot,block,watering"], ["plot,mass_kg,count"], []
    for block in range(1, 5):
        for place, arm in enumerate(("hand", "wick", "drip")):
            plot = f"{arm[0]}{block}"
            mass = 1.0 + 0.37 * block * (place + 1) + 0.21 * ((block * 7 + place * 3) % 5)
            none = zeros and (block, arm) in ((1, "hand"), (3, "drip"))
            layout.append(f"{plot},{block},{arm}")
            picks.append(
                f"{plot},{0 if none else round(mass, 3)},{0 if none else round(9 * mass)}"
            )
            water.append(f"2025-06-01,{plot},{40 - 7 * place + block}")
    for name, lines in (
        ("layout.csv", layout),
        ("picks.csv", picks),
        ("water.csv", ["date,plot,applied_l", *water]),
    ):
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    ("primary", "zeros", "engine"),
    [
        ("fruits", False, "statsmodels GLM (Poisson)"),
        ("fruits", True, "statsmodels GLM (Poisson)"),
        ("per liter", True, "leave one out by plain loops"),
        ("per liter", False, "statsmodels OLS"),
    ],
)
def test_counts_and_zero_yields_are_checked(
    primary: str, zeros: bool, engine: str, tmp_path: Path
) -> None:
    results, rows = rows_of(small_garden(tmp_path / "garden", primary, zeros=zeros))
    assert [row.what for row in rows if not row.agrees] == []
    assert all_checked(results, rows)
    assert sum(engine in row.what for row in rows) >= 3


@pytest.mark.parametrize("field", ["estimate", "se", "df"])
def test_a_wrong_number_is_called_out(field: str, tmp_path: Path) -> None:
    folder = small_garden(tmp_path / "garden", "per liter", zeros=False)
    trial = ws.read_trial(folder / "trial.yaml")
    season = ws.read_records(trial)
    results = ws.analyze(trial, season)
    response = results.response("per liter")
    first, *rest = response.comparisons
    wrong = replace(first, **{field: 1.001 * (getattr(first, field) or 1.0)})
    turned = replace(response, comparisons=(wrong, *rest))
    others = tuple(turned if r.name == response.name else r for r in results.responses)
    material = material_of(replace(results, responses=others), trial, season)
    bad = [row.what for row in second_opinion(material) if row.agrees is False]
    word = {"estimate": "estimate", "se": "standard error", "df": "degrees of freedom"}[field]
    assert len(bad) == 1
    assert word in bad[0]
    assert first.name in bad[0]


def test_what_no_other_code_knows_says_so(tmp_path: Path) -> None:
    """A split-plot with gaps goes through restricted likelihood: no second code for it."""
    folder = make_tables.lay_out("oats", tmp_path / "oats").parent
    path = folder / "yields.csv"
    path.write_text("\n".join(path.read_text().splitlines()[:-1]) + "\n")
    _, rows = rows_of(folder)
    why = {row.not_checked for row in rows if row.agrees is None}
    assert "no independent code for this rule; recomputed by this program only" in why
    assert [row.what for row in rows if row.agrees is False] == []


DESIGNS = {
    "randomized complete block": ("{type: randomized complete block, blocks: 4}", 1),
    "completely randomized": ("{type: completely randomized, replicates: 4}", 1),
    "Latin square": ("{type: Latin square, squares: 2}", 1),
    "incomplete block": ("{type: incomplete block, block_size: 3, replicates: 3}", 1),
    "row-column": ("{type: row-column, rows: 4, columns: 4}", 1),
    "split-plot": ("{type: split-plot, blocks: 4}", 2),
    "strip-plot": ("{type: strip-plot, blocks: 4}", 2),
}


@pytest.mark.parametrize("by_arm", [False, True])
@pytest.mark.parametrize("lost", [0, 2])
@pytest.mark.parametrize("name", sorted(DESIGNS))
def test_no_design_is_called_wrong(name: str, lost: int, by_arm: bool, tmp_path: Path) -> None:
    """Every design type, whole and with plots lost: what is checked agrees."""
    design, factors = DESIGNS[name]
    names = {
        "split-plot": ("whole plot", "subplot"),
        "strip-plot": ("row strip", "column strip"),
    }
    levels = "[{name: a, reference: true}, {name: b}, {name: c}, {name: d}]"
    held = f"  one: {levels}\n"
    if factors == 2:
        upper, lower = names[name]
        held = f"  one: {{applied_to: {upper}, levels: {levels}}}\n"
        held += f"  two: {{applied_to: {lower}, levels: [x, y, z]}}\n"
    variance = "variance: {size: by arm}, " if by_arm else ""
    (tmp_path / "trial.yaml").write_text(
        "format: 1\ntrial: {id: any}\nfactors:\n"
        + held
        + f"design: {design[:-1]}, layout: layout.csv, plants_per_plot: 4, seed: 5}}\n"
        "records: {measurements: {file: sizes.csv}}\n"
        "responses: [{name: size, kind: measurement, column: size_cm, measured_in: cm}]\n"
        f"plan: {{primary: size, {variance}comparisons: "
        "[{factor: one, compare: each with the reference}]}\n",
        encoding="utf-8",
    )
    trial = ws.read_trial(tmp_path / "trial.yaml")
    layout = ws.randomize(trial)
    draws = np.random.default_rng(len(name) + lost)
    rows = [
        {"plot": plot.plot, "plant": k, "size_cm": 20 + 3 * draws.normal()}
        for plot in layout.plots[lost:]
        for k in range(2 + int(draws.integers(0, 3)))
    ]
    tables = {"measurements": pd.DataFrame(rows)}
    results = ws.analyze(trial, ws.read_records(trial, tables=tables, layout=layout))
    assert [row for row in results.second_engine if row.agrees is False] == []
    assert all(row.agrees or row.not_checked for row in results.second_engine)
    if factors == 1:
        assert any("standard error" in row.what for row in results.second_engine)
