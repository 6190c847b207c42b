"""Every public name has an example, and each runs in the folder of a small trial."""

import doctest
from pathlib import Path

import pytest

import wickstats as ws

TRIAL = """\
format: 1
trial:
  id: beds
  season: {start: 2025-03-03, end: 2025-10-06}
  site: {latitude: 41.2, elevation_m: 640}
factors: {watering: [{name: can, reference: true}, {name: wick}]}
design:
  type: randomized complete block
  blocks: 4
  plants_per_plot: 5
  layout: layout.csv
records:
  visits: {file: visits.csv}
  water: {file: water.csv}
  weather: {file: weather.csv}
responses: [{name: survival, kind: survival, at: 2025-10-06, better: more}]
plan: {primary: survival, matters: {survival: {difference: 0.1}}}
water: {crop_coefficient: 0.8, wetted_m2: 0.25, reservoirs: {holds_l: 20}}
power:
  assume:
    survival: {alive_at_end: {can: 0.5, wick: 0.9}, plot_correlation: 0.1}
"""
DEAD = {"can": (3, 2, 3, 3), "wick": (0, 1, 0, 0)}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Four blocks of two plots of five plants, with water and a week of weather."""
    layout, visits, water = ["plot,block,watering"], ["date,plot,plant,status"], []
    water = ["plot,date,applied_l"]
    for block in range(4):
        for place, (arm, dead) in enumerate(DEAD.items(), start=1):
            plot = f"{block + 1}0{place}"
            layout.append(f"{plot},{block + 1},{arm}")
            water.append(f"{plot},2025-03-10,{20 + block}")
            for plant in range(1, 6):
                state = "dead" if plant <= dead[block] else "alive"
                visits += [
                    f"2025-03-03,{plot},{plant},alive",
                    f"2025-10-06,{plot},{plant},{state}",
                ]
    days = [f"2025-03-{day:02d},{day},{day + 12}" for day in range(3, 10)]
    tables = {"layout": layout, "visits": visits, "water": water}
    tables["weather"] = ["date,tmin_c,tmax_c", *days]
    for name, rows in tables.items():
        (tmp_path / f"{name}.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "trial.yaml").write_text(TRIAL)
    return tmp_path


@pytest.mark.parametrize("name", ws.__all__)
def test_the_example_of_every_public_name_runs(
    name: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    finder = doctest.DocTestFinder(recurse=False)
    (example,) = finder.find(getattr(ws, name), name, globs={"ws": ws})
    assert example.examples, f"no example of {name}"
    told: list[str] = []
    doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(example, out=told.append)
    assert told == [], "".join(told)
