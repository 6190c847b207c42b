"""The page and the files about single plants, on the invented oak season."""

import csv
import io
from pathlib import Path

import pytest
from support_page import Element, parse_page

import wickstats as ws
from wickstats.archive.tables import table_files
from wickstats.report.page import report_page

OAKS = Path(ws.__file__).parent / "demo" / "quarry-oaks" / "trial.yaml"


@pytest.fixture(scope="module")
def made(oak_report: tuple[bytes, dict[str, bytes]]) -> tuple[Element, dict[str, bytes]]:
    page, figures = oak_report
    return parse_page(page), figures


def table(page: Element, caption: str) -> list[list[str]]:
    found = next(t for t in page.all("table") if caption in t.all("caption")[0].text)
    return [[c.text for c in row.children] for row in found.all("tr")]


def test_the_endings_of_the_histories_add_up_to_what_was_planted(made) -> None:
    heads, *rows = table(made[0], "Every plant's history")
    assert heads[1:5] == ["hand watering", "capillary wick", "gravity wick", "buried clay pot"]
    stop = next(k for k, row in enumerate(rows) if row[0] == "planted first, all")
    assert rows[stop][1:6] == ["48", "48", "48", "48", "192"]
    for column in range(1, 6):
        assert sum(int(row[column]) for row in rows[:stop]) == int(rows[stop][column])
    assert all(row[-1] for k, row in enumerate(rows) if k != stop)
    assert any(row[0] == "of these: seen dead, later alive" for row in rows)
    assert any(row[0] == "beside these: replacement plants" for row in rows)


def test_the_primary_way_of_taking_browsed_plants_is_said_and_the_others_stand_by(made) -> None:
    page, _ = made
    assert "Primary, as planned: browsed plants as seen" in page.text
    heads, *rows = table(page, "More alive of 100 planted, browsed plants taken four ways")
    assert heads[1:] == ["as seen (primary)", "counts as death", "competing cause", "set aside"]
    effects = table(page, "Comparisons of survival, alive of 100 planted on 2025-10-13")
    first = next(r for r in effects if r[0] == "capillary wick against hand watering")
    assert rows[0][1] == f"{first[1]} ({first[2]}); {first[8]}"


def test_causes_are_drawn_for_every_treatment_and_named_at_their_areas(oaks, made) -> None:
    svg = made[1]["survival-causes.svg"].decode()
    for arm in ("hand watering", "capillary wick", "gravity wick", "buried clay pot"):
        assert f">{arm}<" in svg
    ends = {}
    for point in oaks.response("survival").plant_lives.incidence:
        ends[point.group, point.cause] = point.share
    for (_, cause), share in ends.items():
        if share:
            assert f">{cause} {100 * share:.0f}<" in svg
    # hatching tells causes apart without color
    assert svg.count("<pattern") >= 3


def test_causes_and_the_share_alive_make_up_the_whole(oaks) -> None:
    found = oaks.response("survival")
    for arm in {p.group for p in found.curves}:
        alive = [p.share for p in found.curves if p.group == arm][-1]
        ends = {p.cause: p.share for p in found.plant_lives.incidence if p.group == arm}
        assert alive + sum(ends.values()) == pytest.approx(1.0, abs=1e-9)


def test_every_table_about_plants_is_a_file_too(oaks) -> None:
    files = table_files(oaks)
    lives = oaks.response("survival").plant_lives
    for part, rows in (
        ("histories", lives.histories),
        ("visit-spacing", lives.visit_spacing),
        ("early-deaths", lives.early_deaths),
        ("conditions", lives.conditions),
        ("incidence", lives.incidence),
        ("cause-comparisons", lives.cause_comparisons),
        ("stand", lives.stand),
        ("late-curves", lives.late_curves),
    ):
        told = list(csv.DictReader(io.StringIO(files[f"survival-{part}.csv"].decode())))
        assert len(told) == len(rows)
    ways = list(
        csv.DictReader(io.StringIO(files["survival-browsing-comparisons.csv"].decode()))
    )
    assert {row["browsing"] for row in ways if row["primary"] == "yes"} == {"as seen"}
    assert len({row["browsing"] for row in ways}) == 4


def test_growth_of_survivors_stands_beside_survival(oaks, made) -> None:
    page, _ = made
    rows = table(page, "height of survivors beside survival")
    alive = {m.treatment: m for m in oaks.response("survival").means if m.at == "2025-10-13"}
    for row in rows[1:]:
        share = alive[row[0]]
        assert row[1].startswith(f"{100 * share.estimate:.0f} (")
        assert int(row[2]) > 0
    assert "its survivors are smaller on average" in page.text
    assert "dead plants ranked below all living" in page.text


def test_seasons_without_plants_have_no_such_section(made) -> None:
    peppers = OAKS.parent.parent / "garden-peppers" / "trial.yaml"
    trial = ws.read_trial(peppers)
    results = ws.analyze(trial, ws.read_records(trial))
    assert all(r.plant_lives is None for r in results.responses)
    assert all("plant_lives" not in r for r in results.to_dict()["responses"])
    page = parse_page(report_page(results)[0])
    assert "What became of the plants" not in page.text
    # one pepper was replaced: its plot's totals stand beside without it
    assert "without the units that hold replacement plants" in page.text
