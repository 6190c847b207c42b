"""``wickstats supply`` from the trial file to what is printed.

Reference evapotranspiration is held against the worked examples of its source: Allen,
Pereira, Raes & Smith (1998), Crop evapotranspiration, FAO Irrigation and Drainage Paper 56,
examples 17, 18 and 20. The publication was not at hand: u2, es, VPD and Ra of Brussels, the
psychrometric constant, Rn, ea, G of Bangkok, Ra of all three, and every ET0 are as quoted in
secondary material and from memory; the other intermediates are from memory; all were
recomputed from the printed equations.
"""

import json
from pathlib import Path

import numpy as np
import pytest
from support_weather import (
    BANGKOK,
    BRUSSELS,
    PRINTED_BANGKOK,
    PRINTED_BRUSSELS,
    PRINTED_LYON,
)

import wickstats as ws
from wickstats.cli.app import run
from wickstats.demand.visits import Losses, of_hundred, reservoir_plan

TRIAL = """\
format: 1
trial:
  id: place
  season: {{start: {start}, end: {end}}}
  site: {{latitude: {latitude}, elevation_m: {elevation}}}
factors: {{watering: [{{name: hand watering, reference: true}}, {{name: wick}}]}}
design: {{type: randomized complete block, blocks: 3, plants_per_plot: 4, layout: layout.csv,
  plots_per_reservoir: {{wick: 1}}}}
records:
  weather: {{file: weather.csv}}
water:
  planned_l: {{hand watering: 60, wick: 40}}
  crop_coefficient: 0.8
  wetted_m2: 0.25
  visits_every_d: 7
  reservoirs: {{holds_l: 20, unusable_l: 1.5}}
"""
LYON = "date,tmin_c,tmax_c\n2025-07-15,14.8,26.6\n"
# weather, latitude, elevation, season, which row, printed
EXAMPLES = {
    "example 18, Brussels": (
        BRUSSELS, 50.80, 100, "2025-07-06", "2025-07-19", -1,
        PRINTED_BRUSSELS | {"et0_mm": (3.88, 0.02)},
    ),
    "example 17, Bangkok": (
        BANGKOK, 13.73, 2, "2025-03-01", "2025-04-30", -1,
        PRINTED_BANGKOK
        | {"u2_m_s": (2.0, 0.0), "ea_kpa": (2.85, 0.0), "gamma_kpa_c": (0.0674, 0.0001)}
        | {"g": (0.14, 0.001), "et0_mm": (5.72, 0.02)},
    ),
    "example 20, Lyon, temperatures only": (
        LYON, 45.72, 200, "2025-07-15", "2025-07-28", -1,
        PRINTED_LYON | {"gamma_kpa_c": (0.0658, 0.0001), "et0_mm": (5.03, 0.02)},
    ),
}  # fmt: skip


def _write(folder: Path, weather: str, **fields: object) -> Path:
    given = {
        "latitude": 50.8, "elevation": 100, "start": "2025-07-06", "end": "2025-07-19",
        **fields,
    }  # fmt: skip
    (folder / "weather.csv").write_text(weather)
    path = folder / "trial.yaml"
    path.write_text(TRIAL.format(**given))
    return path


def _brussels(day: int) -> str:
    """The same day's weather on another day of July."""
    return BRUSSELS.splitlines()[1].replace("07-06", f"07-{day:02d}") + "\n"


@pytest.mark.parametrize("name", EXAMPLES)
def test_published_examples_through_the_command_line(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    weather, latitude, elevation, start, end, place, printed = EXAMPLES[name]
    path = _write(
        tmp_path, weather, latitude=latitude, elevation=elevation, start=start, end=end
    )
    assert run(["supply", str(path), "--json"]) == 0
    row = json.loads(capsys.readouterr().out)["days"][place]
    for key, (value, within) in printed.items():
        assert row[key] == pytest.approx(value, abs=within + 1e-12), key
    assert row["route"] == ("Hargreaves" if "Lyon" in name else "Penman-Monteith")


def test_demand_is_liters_a_plant(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    days = [f"2025-07-{d:02}" for d in range(6, 20)]
    line = BRUSSELS.splitlines()[1].split(",", 1)[1]
    weather = BRUSSELS.splitlines()[0] + "".join(f"\n{d},{line}" for d in days) + "\n"
    assert run(["supply", str(_write(tmp_path, weather)), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    total = sum(day["et0_mm"] for day in found["days"])
    season = [row for row in found["table"] if row["period"] == "season"]
    weeks = [row for row in found["table"] if row["period"] == "week"]
    assert [row["treatment"] for row in season] == ["hand watering", "wick"]
    for row in season:
        assert row["demand_l"] == pytest.approx(0.8 * 0.25 * total, rel=1e-12)
    # planned liters are per plot of four plants and fourteen days
    assert [row["planned_l"] for row in season] == pytest.approx([15.0, 10.0], rel=1e-12)
    assert [row["planned_l"] for row in weeks] == pytest.approx([7.5, 5.0] * 2, rel=1e-12)
    assert season[1]["share"] == pytest.approx(10.0 / season[1]["demand_l"], rel=1e-12)
    # one reservoir feeds the four plants of a plot
    need = next(n for n in found["reservoirs"]["needs"] if n["every_d"] == 14)
    assert need["plants"] == 4
    assert need["rate_l_d"] == pytest.approx(4 * 0.2 * total / 14, rel=1e-12)


def test_days_without_weather_are_told_and_not_zero(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["supply", str(_write(tmp_path, BRUSSELS)), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert any("Only 1 of 14 days" in note for note in found["supply_notes"])
    assert len(found["table"]) == 6
    assert all(r["demand_l"] is None and r["share"] is None for r in found["table"])
    some = BRUSSELS + "".join(_brussels(day) for day in range(7, 14))
    assert run(["supply", str(_write(tmp_path, some)), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert any("6 of 14 days of the season have no weather" in n for n in found["supply_notes"])
    known = {(r["period"], r["from"]): r["demand_l"] for r in found["table"]}
    day = found["table"][0]["demand_l"] / 7.0
    assert known["week", "2025-07-13"] is None  # one day of seven
    # in the season's sum the other days count as the mean of those known, all near 0.78 L
    assert known["season", "2025-07-06"] == pytest.approx(14.0 * day, rel=0.01)


def test_refused_days_are_told_and_not_called_no_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = "".join(_brussels(day).replace("12.3,21.5", "21.5,12.3") for day in range(7, 20))
    assert run(["supply", str(_write(tmp_path, BRUSSELS + wrong))]) == 0
    text = capsys.readouterr().out
    assert (
        "Only 1 of 14 days of the season have weather that can be used (13 rows of the table "
        "were not used, see the list of rows): demand over the season is not reckoned"
    ) in text
    head = BRUSSELS.splitlines()[0] + "\n"
    assert run(["supply", str(_write(tmp_path, head + wrong))]) == 1
    text = capsys.readouterr().err
    assert "a table of weather of which no row can be used: 13 were set aside" in text
    assert "wickstats check says what is wrong" in text
    assert "trial.yaml, line 10" in text


def test_a_table_of_weather_without_rows_is_not_called_no_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = _write(tmp_path, BRUSSELS.splitlines()[0] + "\n")
    assert run(["supply", str(path)]) == 1
    said = capsys.readouterr().err
    assert "trial.yaml, line 10" in said
    assert "a table of weather without a row" in said
    assert "fill it in: date, tmin_c and tmax_c of every day at least" in said


def test_single_steps_of_the_source_through_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Examples 2, 3, 5, 8 and 14: Ra, P, gamma, e0, es, ea, u2; from memory, recomputed."""
    weather = (
        "date,tmin_c,tmax_c,rh_min,rh_max,wind_m_s,wind_height_m\n"
        "2025-09-03,15,24.5,,,3.2,10\n2025-09-04,18,25,54,82,3.2,10\n"
    )
    place = {"latitude": -20, "elevation": 1800, "start": "2025-09-03", "end": "2025-09-04"}
    assert run(["supply", str(_write(tmp_path, weather, **place)), "--json"]) == 0
    first, second = json.loads(capsys.readouterr().out)["days"]
    assert first["ra"] == pytest.approx(32.2, abs=0.05)
    assert first["pressure_kpa"] == pytest.approx(81.8, abs=0.05)
    assert first["gamma_kpa_c"] == pytest.approx(0.054, abs=0.0005)
    assert first["es_kpa"] == pytest.approx(2.39, abs=0.005)
    assert first["ea_kpa"] == pytest.approx(1.705, abs=0.0005)  # e0 at 15 degC
    assert 2 * first["es_kpa"] - first["ea_kpa"] == pytest.approx(3.075, abs=0.0005)
    assert first["u2_m_s"] == pytest.approx(2.4, abs=0.05)
    assert second["ea_kpa"] == pytest.approx(1.70, abs=0.005)


BENCH = "  bench_flow: {{wick: {{ml_h: 62, wicks: 2, cv: 0.2, found_in: cords of January}}}}\n"


def test_flow_at_the_bench_is_named_by_its_source(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = _write(tmp_path, BRUSSELS)
    path.write_text(path.read_text() + BENCH.format())
    assert run(["supply", str(path), "--json"]) == 0
    plan = json.loads(capsys.readouterr().out)["reservoirs"]
    need = next(n for n in plan["needs"] if (n["loss_from"], n["every_d"]) == ("bench flow", 7))
    # by hand: 2 wicks of 62 mL/h that differ each for itself; 95 % quantile of reservoirs
    rate = 2 * 62 * 24 / 1000
    spread = np.sqrt(np.log1p(0.2**2 / 2))
    upper = rate * np.exp(1.6448536 * spread - spread**2 / 2)
    assert need["rate_l_d"] == pytest.approx(rate, rel=1e-12)
    assert need["volume_l"] == pytest.approx(7 * upper + 1.5, rel=1e-6)
    assert need["with_reserve_l"] == pytest.approx(14 * upper + 1.5, rel=1e-6)
    assert need["cv"] == pytest.approx(0.2 / np.sqrt(2), rel=1e-12)
    # wick by wick: the volume runs dry in one reservoir of twenty
    one = np.sqrt(np.log1p(0.2**2))
    flows = np.exp(one * np.random.default_rng(8).standard_normal((20_000, 2)) - one**2 / 2)
    drawn = 7 * flows.sum(axis=1) * 62 * 24 / 1000
    dry = float(np.mean(drawn > need["volume_l"] - 1.5))
    assert abs(dry - 0.05) <= 4.0 * np.sqrt(0.05 * 0.95 / 20_000)
    told = [s for s in plan["sentences"] if "at the bench" in s]
    assert told[-1].startswith(
        "wick: 2 wicks on one reservoir give 2.98 L a day at the bench (3.71 L if they are "
        "fast ones; cords of January): 27.5 L to the next visit after 7 days"
    )
    path.write_text(path.read_text().replace("bench_flow: {wick", "bench_flow: {wik"))
    assert run(["check", str(path)]) == 1
    assert '"wik" in water.bench_flow' in capsys.readouterr().err


def test_columns_line_up_at_the_decimal_point(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    weather = BRUSSELS + "".join(_brussels(day) for day in range(7, 20))
    assert run(["supply", str(_write(tmp_path, weather))]) == 0
    text = capsys.readouterr().out
    lines = text.splitlines()
    start = lines.index("Reference evapotranspiration, step by step") + 2
    steps = lines[start : start + 21]
    assert len({line.rindex(".") for line in steps}) == 1
    head = lines.index("Demand and supply, liters a plant")
    rows = [line for line in lines[head + 2 : head + 20] if line.startswith("season")]
    demand = [row.split()[-4] for row in rows]
    assert len({row.index(cell) + cell.index(".") for row, cell in zip(rows, demand)}) == 1  # noqa: B905 - rows and cells are one list
    assert "a 20 L reservoir, visited every 7 days, runs dry before the next visit in" in text
    assert "air gap" in text
    assert "licensed or trained people" in text


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "latitude: 50.8, ",
            "",
            ("line 5", "no latitude", "add latitude: 41.2 under"),
        ),
        (", elevation_m: 100", "", ("no elevation_m", "add elevation_m: 640 under trial.site")),
        ("  crop_coefficient: 0.8\n", "", ("no crop_coefficient", "under water")),
        (
            "crop_coefficient: 0.8",
            "crop_coefficient: 80",
            ("for water.crop_coefficient", "above 0 and at most 3"),
        ),
        ("  wetted_m2: 0.25\n", "", ("no wetted_m2", "one plant wets and shades")),
        ("  weather: {file: weather.csv}\n", "  water: {file: no.csv}\n", ("no weather",)),
    ],
)
def test_what_is_missing_is_told_with_its_place(
    old: str,
    new: str,
    told: tuple[str, ...],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = _write(tmp_path, BRUSSELS)
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    assert run(["supply", str(path)]) == 1
    said = capsys.readouterr().err
    for part in ("trial.yaml, line", *told):
        assert part in said, said


def test_volume_and_reserve_worked_by_hand() -> None:
    # computed: 6 mm/d x 0.8 x 0.25 m2 = 1.2 L/d; 14 days 16.8 L; one missed visit 33.6 L
    loss = Losses("wick", "demand", 1, np.full(100, 6.0 * 0.8 * 0.25), 0.0, "none")
    plan = reservoir_plan([loss], every_d=14, holds_l=20.0, unusable_l=0.0, seed="x")
    assert plan is not None
    need = next(n for n in plan.needs if n.every_d == 14)
    assert (need.rate_l_d, need.volume_l, need.with_reserve_l) == pytest.approx(
        (1.2, 16.8, 33.6), rel=1e-12
    )
    # wicks that do not differ: never dry with 20 L for 14 days, always with 10 L
    found = {(c.volume_l, c.every_d): c.chance for c in plan.chances}
    assert found[20.0, 14] == 0.0
    assert found[10.0, 14] == 1.0
    assert "none of 10,000 simulated visits" in plan.sentences[0]


def test_chances_fall_with_volume_and_rise_with_the_interval() -> None:
    rng = np.random.default_rng(3)
    loss = Losses("wick", "demand", 4, rng.uniform(0.5, 4.0, 120), 0.5, "none")
    plan = reservoir_plan([loss], every_d=5, holds_l=20.0, unusable_l=1.0, seed="x")
    assert plan is not None
    by_days: dict[int, list[float]] = {}
    for row in plan.chances:
        by_days.setdefault(row.every_d, []).append(row.chance)
        assert 0.0 < row.error < 0.006  # at most sqrt(0.25 / 10,000)
    for chances in by_days.values():
        assert chances == sorted(chances, reverse=True)
    assert np.all(np.diff([by_days[d] for d in sorted(by_days)], axis=0) >= -0.02)


def test_chances_in_words() -> None:
    assert of_hundred(0.031) == "3 of 100 visits"
    assert of_hundred(0.004) == "fewer than 1 of 100 visits"
    assert of_hundred(0.996) == "more than 99 of 100 visits"
    assert of_hundred(1.0) == "all of 10,000 simulated visits"


def test_the_public_function_is_no_package(tmp_path: Path) -> None:
    trial = ws.read_trial(_write(tmp_path, BRUSSELS))
    for _ in range(2):  # the second call comes after everything was imported
        found = ws.supply(trial)
    assert found.days[0]["et0_mm"] == pytest.approx(3.88, abs=0.02)
