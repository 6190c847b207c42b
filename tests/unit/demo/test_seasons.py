"""The invented seasons: rebuilt to the byte, with exactly the mess that their truth lists."""

import csv
import io
import itertools
import zipfile
from collections import Counter, defaultdict
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

import wickstats as ws
from wickstats.core.codec import parse_json
from wickstats.demo.make_seasons import HERE, main, read_truth
from wickstats.demo.trials import TRIALS, copy_demo, demo_trials

OAKS, PEPPERS = HERE / "quarry-oaks", HERE / "garden-peppers"
CORDS = HERE / "bench-cords"
Row = dict[str, str]


def rows_of(path: Path, delimiter: str = ",") -> list[Row]:
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8")), delimiter=delimiter))


def sheet_of(path: Path, name: str) -> list[dict[str, Any]]:
    sheet = load_workbook(path)[name]
    head, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(head, row, strict=True)) for row in rows]


def plot_at(folder: Path, where: dict[str, Any]) -> str:
    return next(
        row["plot"]
        for row in rows_of(folder / "layout.csv")
        if row["block"] == str(where["block"]) and row["watering"] == where["treatment"]
    )


@pytest.fixture(scope="module")
def rebuilt(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("seasons")
    assert main([str(folder)]) == 0
    return folder


@pytest.mark.parametrize("name", TRIALS)
def test_script_rebuilds_what_ships_to_the_byte(name: str, rebuilt: Path) -> None:
    shipped = {part.name for part in (HERE / name).iterdir()}
    assert {part.name for part in (rebuilt / name).iterdir()} == shipped
    for part in shipped - {"layout.record.json"}:
        assert (rebuilt / name / part).read_bytes() == (HERE / name / part).read_bytes(), part
    record, again = (
        parse_json((root / name / "layout.record.json").read_bytes())
        for root in (HERE, rebuilt)
    )
    assert {**record, "wickstats": None} == {**again, "wickstats": None}  # whoever rebuilds it


def test_workbooks_hold_no_clock() -> None:
    for book in (OAKS / "sizes.xlsx", PEPPERS / "season.xlsx"):
        with zipfile.ZipFile(book) as packed:
            assert {part.date_time for part in packed.infolist()} == {(1980, 1, 1, 0, 0, 0)}
            core = packed.read("docProps/core.xml").decode()
        assert core.count("2000-01-01T00:00:00Z") == 2


def test_copies_are_what_ships(tmp_path: Path) -> None:
    folders = copy_demo(tmp_path)
    assert [folder.name for folder in folders] == list(TRIALS)
    for folder, parts in zip(folders, demo_trials().values(), strict=True):
        assert next(iter(parts)) == "trial.yaml"
        assert {p.name: p.read_bytes() for p in folder.iterdir()} == {
            name: source.read_bytes() for name, source in parts.items()
        }


@pytest.mark.parametrize(
    ("folder", "queries"),
    [
        (OAKS, {"alive after dead": 1, "duplicate": 1}),
        (PEPPERS, {"duplicate": 1, "missing days": 1}),
        (CORDS, {"readings fall": 1, "impossible temperature": 1}),
    ],
)
def test_check_finds_the_planted_slips_and_no_problem(
    folder: Path, queries: dict[str, int]
) -> None:
    trial = ws.read_trial(folder / "trial.yaml")
    season = ws.read_records(trial)  # a problem would raise
    assert trial.trial.invented
    assert Counter(query.code for query in season.queries) == queries


def visits() -> dict[tuple[str, str], list[Row]]:
    """Return plot and plant -> its visits in order."""
    out: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows_of(OAKS / "visits.csv"):
        out[row["plot"], row["plant"]].append(row)
    return out


def test_oak_visits_hold_the_planted_mess_and_no_other() -> None:
    mess = read_truth(OAKS)["mess"]
    lives = visits()
    lost = plot_at(OAKS, mess["lost_plot"])
    away = plot_at(OAKS, mess["not_visited"])
    revived = plot_at(OAKS, mess["dead_then_alive"])
    twice = plot_at(OAKS, mess["duplicate_visit_row"])

    not_found = Counter(
        plot
        for (plot, _), rows in lives.items()
        for row in rows
        if row["status"] == "not found"
    )
    again = [plot_at(OAKS, where) for where in mess["not_found_again"]]
    once = plot_at(OAKS, mess["not_found_once"])
    assert set(not_found) == {lost, once, *again}
    assert not_found[once] == 1

    washed = [row for (plot, _), rows in lives.items() if plot == lost for row in rows]
    assert max(row["date"] for row in washed) == "2025-05-12"
    assert {r["status"] for r in washed if r["date"] == "2025-05-12"} == {"not found"}

    unvisited = {
        (plot, row["date"])
        for (plot, _), rows in lives.items()
        for row in rows
        if row["status"] == "not visited"
    }
    assert unvisited == {(away, str(mess["not_visited"]["day"]))}

    back = {
        plot
        for (plot, _), rows in lives.items()
        for before, after in itertools.pairwise(rows)
        if before["status"] == "dead" and after["status"] != "dead"
    }
    assert back == {revived}

    double = [
        (plot, row["date"])
        for (plot, _), rows in lives.items()
        for row, count in ((r, rows.count(r)) for r in rows)
        if count > 1
    ]
    assert double == [(twice, str(mess["duplicate_visit_row"]["day"]))] * 2


def test_doubtful_plants_die_or_live_as_planted() -> None:
    mess = read_truth(OAKS)["mess"]
    lives = visits()
    recovered = plot_at(OAKS, mess["doubtful_but_alive"])
    died = mess["doubtful_then_dead"]
    doubtful = {
        key for key, rows in lives.items() if any(r["status"] == "doubtful" for r in rows)
    }
    ended = {key: [r["status"] for r in lives[key]][-1] for key in doubtful}
    assert {plot for (plot, _), last in ended.items() if last == "alive"} == {recovered}
    pairs = [
        (a["date"], b["date"])
        for (plot, _), rows in lives.items()
        if plot == plot_at(OAKS, died)
        for a, b in itertools.pairwise(rows)
        if (a["status"], b["status"]) == ("doubtful", "dead")
    ]
    assert (str(died["doubtful_on"]), str(died["dead_on"])) in pairs


def test_browsing_touches_one_block_only() -> None:
    planted = read_truth(OAKS)["mess"]["browsed_block"]
    block = {r["plot"]: r["block"] for r in rows_of(OAKS / "layout.csv")}
    seen = [r for rows in visits().values() for r in rows if r["condition"] == "browsed"]
    killed = [r for rows in visits().values() for r in rows if r["cause"] == "browsing"]
    assert seen
    assert killed
    assert {block[r["plot"]] for r in seen + killed} == {str(planted["block"])}
    assert min(r["date"] for r in seen) > str(planted["day"])


def test_one_oak_is_replaced_under_its_own_name() -> None:
    planted = read_truth(OAKS)["mess"]["replaced"]
    (new,) = [row for row in rows_of(OAKS / "plants.csv") if row["replaces"]]
    assert new["plot"] == plot_at(OAKS, planted)
    assert (new["replaces"], new["plant"]) == (str(planted["plant"]), "9")
    assert new["planted_on"] == str(planted["day"])
    old = visits()[new["plot"], new["replaces"]]
    assert old[-1]["status"] == "dead"
    assert max(row["date"] for row in old) <= new["planted_on"]
    (event,) = [e for e in rows_of(OAKS / "events.csv") if e["what"] == "replaced"]
    assert (event["plant"], event["new_plant"]) == (new["replaces"], new["plant"])


def test_oak_water_keeps_its_own_books() -> None:
    """Cans raise the level by what they hold, to the reading of half a centimeter."""
    truth = read_truth(OAKS)
    water = truth["water"]
    log = rows_of(OAKS / "water.csv", ";")

    def number(text: str) -> float:
        return float(text.replace(",", "."))

    for row in log:
        if row["level_before_cm"]:
            rise = number(row["level_after_cm"]) - number(row["level_before_cm"])
            poured = number(row["cans"]) * water["can_l"] / water["liters_per_cm"]
            assert rise == pytest.approx(poured, abs=0.51)
            assert number(row["level_after_cm"]) * water["liters_per_cm"] <= water["holds_l"]
    leaks = [(r["plot"], number(r["leaked_l"])) for r in log if r["leaked_l"]]
    leak = truth["mess"]["leak"]
    assert leaks == [(plot_at(OAKS, leak), leak["liters"])]


def test_peppers_hold_the_planted_mess_and_no_other() -> None:
    truth = read_truth(PEPPERS)
    mess = truth["mess"]
    picks = sheet_of(PEPPERS / "season.xlsx", "picks")
    lost = plot_at(PEPPERS, mess["lost_plot"])
    missed = (plot_at(PEPPERS, mess["pick_missed"]), mess["pick_missed"]["day"])
    not_picked = {(r["plot"], r["date"].date()) for r in picks if r["status"] == "not picked"}
    later = {d for d in truth["fruit"]["picks"] if d >= mess["lost_plot"]["day"]}
    assert not_picked == {missed} | {(lost, day) for day in later}
    for row in picks:
        blank = row["mass_kg"] is None and row["marketable_kg"] is None and row["count"] is None
        assert blank == (row["status"] != "picked")
        assert blank or row["marketable_kg"] <= row["mass_kg"]
    counted = Counter((r["plot"], r["date"].date()) for r in picks)
    assert {key for key, times in counted.items() if times > 1} == {
        (plot_at(PEPPERS, mess["duplicate_pick_row"]), mess["duplicate_pick_row"]["day"])
    }


def test_a_bucket_feeds_two_plots_of_its_arm_in_every_block() -> None:
    layout = rows_of(PEPPERS / "layout.csv")
    fed = defaultdict(list)
    for row in layout:
        if row["reservoir"]:
            fed[row["reservoir"]].append((row["block"], row["watering"]))
    assert len(fed) == 6
    assert all(len(two) == 2 and len(set(two)) == 1 for two in fed.values())
    refills = sheet_of(PEPPERS / "season.xlsx", "refills")
    assert {r["reservoir"] for r in refills if r["reservoir"]} == set(fed)
    assert all((r["plot"] is None) != (r["reservoir"] is None) for r in refills)
    leak = read_truth(PEPPERS)["mess"]["leak"]
    bucket = next(r["reservoir"] for r in layout if r["plot"] == plot_at(PEPPERS, leak))
    assert [(r["reservoir"], r["leaked_l"]) for r in refills if r["leaked_l"]] == [
        (bucket, leak["liters"])
    ]


def test_dates_of_refills_are_text_with_the_day_first() -> None:
    refills = sheet_of(PEPPERS / "season.xlsx", "refills")
    assert refills[0]["date"] == "12/05/2025"
    picks = sheet_of(PEPPERS / "season.xlsx", "picks")
    assert picks[0]["date"].date() == date(2025, 7, 7)
