"""What the page says follows what was recorded: plants, subjects of another kind, or plots."""

from dataclasses import replace
from pathlib import Path

import pytest
from support_page import Element, parse_page
from support_results import rich_results

import wickstats as ws
from wickstats.core.numbers import confidence_level, percent
from wickstats.core.responses import Extra
from wickstats.core.results import Results, WaterUnit
from wickstats.core.water import UnitLedger, WaterPlot
from wickstats.pages.figures.units import shown_value
from wickstats.report.amounts import extra_words
from wickstats.report.facts import per_plot
from wickstats.report.write import report_files
from wickstats.sizing.plan import DETECTABLE, NEEDED, NEEDED_MATTERS, POWER
from wickstats.sizing.season import next_rows

OPEN = Path(__file__).resolve().parents[2] / "designs" / "open"

FRUIT = """\
format: 1
trial: {id: few-fruits, season: {start: 2025-05-01, end: 2025-09-30}}
factors:
  watering: [{name: hand watering, reference: true}, {name: wick}, {name: drip}]
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records: {picks: {file: picks.csv}, water: {file: water.csv}}
responses:
  - {name: fruit per liter, kind: yield per liter, yield: fruit, water: applied, better: more}
  - {name: fruit, kind: yield, column: mass_kg, measured_in: kg, better: more}
plan:
  primary: fruit per liter
  secondary: [fruit]
  matters: {fruit: {ratio: 1.2}}
  comparisons:
    - {factor: watering, compare: each with the reference, adjustment: dunnett}
"""
ARMS = {"hand watering": 200.0, "wick": 90.0, "drip": 195.0}


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> Results:
    """Six blocks; the wick never bears; drip's water is about that of the can."""
    folder = tmp_path_factory.mktemp("few")
    layout, picks, water = (
        ["plot,block,watering"],
        ["plot,date,mass_kg"],
        ["plot,date,applied_l"],
    )
    for k in range(6):
        for a, (arm, liters) in enumerate(ARMS.items()):
            plot = f"p{k + 1}{a}"
            layout.append(f"{plot},{k + 1},{arm}")
            kg = 0.0 if arm == "wick" else 5.0 + 0.3 * k + 0.1 * a * (-1) ** k
            picks.append(f"{plot},2025-08-01,{kg:.3f}")
            water.append(f"{plot},2025-08-01,{liters + 4 * (-1) ** (k + a // 2) * (k + 1):.2f}")
    (folder / "trial.yaml").write_text(FRUIT)
    for name, rows in (("layout", layout), ("picks", picks), ("water", water)):
        (folder / f"{name}.csv").write_text("\n".join(rows) + "\n")
    trial = ws.read_trial(folder / "trial.yaml")
    return ws.analyze(trial, ws.read_records(trial))


def page_of(results: Results) -> Element:
    return parse_page(report_files(results)["report.html"])


def opened(name: str) -> Element:
    trial = ws.read_trial(OPEN / name / "trial.yaml")
    return page_of(ws.analyze(trial, ws.read_records(trial)))


def table_of(page: Element, caption: str) -> Element:
    return next(t for t in page.all("table") if caption in t.all("caption")[0].text)


def cells(table: Element) -> list[list[str]]:
    return [[c.text for c in row.children] for row in table.all("tbody")[0].all("tr")]


def test_a_measurement_without_plants_tells_plots_only() -> None:
    page = opened("plant-growth")
    assert "Where every plot went" in page.text
    assert "Plants planned" not in page.text
    assert "plants stood in" not in page.text
    table = table_of(page, "Plots by treatment")
    assert [row[1:] for row in cells(table)] == [["10", "10"]] * 3
    for caption in ("Means by treatment", "one number per unit"):
        heads = [h.text for h in table_of(page, caption).all("thead")[0].all("th")]
        assert "Plants" not in heads
    assert "Every plot that was laid out is in the analysis." in page.text


def test_subjects_that_are_no_plants_are_not_called_plants() -> None:
    page = opened("remission")
    text = page.text.lower()
    assert "planted" not in text.split("for the reviewer")[0]
    assert "We followed 42 subjects in 42 units." in page.text
    assert "alive of 100 followed" in page.text
    assert [row[1] for row in cells(table_of(page, "Subjects and units"))] == ["21", "21"]


def test_plants_stay_plants() -> None:
    page = page_of(rich_results())
    assert "Where every plant went" in page.text
    assert "alive of 100 planted" in page.text


def test_one_sided_bounds_read_as_such_on_the_page(few: Results) -> None:
    page = page_of(few)
    row = next(c for c in few.response("fruit").comparisons if c.treatment == "wick")
    assert (row.bound, row.verdict) == ("upper", "worse")
    table = table_of(page, "Comparisons of fruit, total")
    told = next(r for r in cells(table) if r[0].startswith("wick against"))
    assert told[2].startswith("no lower limit to ")
    assert told[5].startswith("no lower limit to ")
    assert "wick bore in 0 of 6 blocks" in page.text
    assert "NaN" not in page.text


def test_extra_liters_name_their_denominator_and_say_where_they_are_not_defined(
    few: Results,
) -> None:
    table = table_of(page_of(few), "yield for each extra liter of water applied")
    heads = [h.text for h in table.all("thead")[0].all("th")]
    assert heads[1] == "More water applied, L a plot"
    assert heads[3] == "More yield, kg a plot"
    assert heads[5] == "Yield for each extra liter, kg/L"
    rows = {row[0]: row for row in cells(table)}
    assert rows["drip against hand watering"][5:7] == ["—", "—"]
    assert "covers zero" in table.text or "not defined" in page_of(few).text
    files = report_files(few)
    told = files["tables/fruit-per-liter-extra-liters.csv"].decode().splitlines()
    assert len(told) == 3
    assert "water applied" in told[1]


def test_each_block_left_out_stands_in_a_table_and_a_file(few: Results) -> None:
    files = report_files(few)
    table = table_of(parse_page(files["report.html"]), "fruit: every verdict with each block")
    rows = cells(table)
    assert len(rows) == 12
    assert [row[0] for row in rows[::2]] == list("123456")
    told = files["tables/fruit-left-out.csv"].decode().splitlines()
    assert len(told) == 13
    assert told[0].startswith("block,term,name,treatment,versus")


def test_no_probability_strictly_between_is_printed_as_all_or_none() -> None:
    assert percent(0.9962) == ">99\N{NO-BREAK SPACE}%"
    assert percent(0.99999, 1) == ">99.9\N{NO-BREAK SPACE}%"
    assert percent(0.0004) == "<1\N{NO-BREAK SPACE}%"
    assert percent(1.0) == "100\N{NO-BREAK SPACE}%"
    assert percent(0.0) == "0\N{NO-BREAK SPACE}%"
    assert percent(0.994) == "99\N{NO-BREAK SPACE}%"
    assert percent(0.006) == "1\N{NO-BREAK SPACE}%"
    assert confidence_level(0.999) == "99.9\N{NO-BREAK SPACE}%"
    assert confidence_level(0.95) == "95\N{NO-BREAK SPACE}%"
    results = rich_results()
    power = results.power
    sure = replace(power, planned=tuple(replace(r, power=0.9999) for r in power.planned))
    page = page_of(replace(results, power=sure))
    table = table_of(page, "Before the season")
    assert {row[4] for row in cells(table)} == {">99\N{NO-BREAK SPACE}%"}


def test_power_is_one_row_a_comparison_under_its_sentence() -> None:
    results = rich_results()
    (first,) = results.power.planned
    notes = (POWER, DETECTABLE, NEEDED, NEEDED_MATTERS)
    rows = tuple(
        replace(
            first,
            comparison=name,
            power=power if note == POWER else 0.8,
            difference=size,
            blocks=blocks,
            note=f"{note}; approximate: by {first.response}",
        )
        for name, power in (("wick against can", 0.31), ("drip against can", 0.58))
        for note, size, blocks in zip(
            notes, (0.25, 0.4, 0.25, 0.1), (6.0, 6.0, 14.0, 80.0), strict=True
        )
    )
    page = page_of(replace(results, power=replace(results.power, planned=rows)))
    table = table_of(page, "Before the season")
    space = "\N{NO-BREAK SPACE}"
    assert cells(table) == [
        ["survival", name, "0.250", chance, "0.400", "14", "0.100", "80"]
        for name, chance in (
            ("wick against can", f"31{space}%"),
            ("drip against can", f"58{space}%"),
        )
    ]
    assert "with 6 blocks, the chance" in page.text
    assert f"assumes was 31{space}% to 58{space}%." in page.text
    assert page.text.count("approximate: by survival") == 1


def test_blocks_for_the_next_season_are_withheld_where_all_lived() -> None:
    survival = rich_results().response("survival")
    asked = {"units": 6, "treatments": 4, "confidence": 0.95, "target": 0.8}
    open_rows = next_rows(survival, **asked)
    row = next(c for c in survival.comparisons if c.matters is not None and c.se)
    means = tuple(
        replace(m, bound="lower", high=None)
        if (m.treatment, m.estimand, m.at) == (row.treatment, row.estimand, row.at)
        else m
        for m in survival.means
    )
    withheld = next_rows(replace(survival, means=means), **asked)
    before = next(r for r in open_rows if r.comparison == row.name)
    after = next(r for r in withheld if r.comparison == row.name)
    assert before.blocks is not None
    assert after.blocks is None
    assert "does not show how much its plots differ" in after.not_estimable
    assert sum(r.blocks is None for r in withheld) == 1 + sum(
        r.blocks is None for r in open_rows
    )


def test_units_with_zeros_are_drawn_on_their_own_scale(few: Results) -> None:
    fruit = few.response("fruit")
    told = {u.unit: u.value for u in fruit.unit_summary.values}
    assert fruit.model_scale == "log"
    assert shown_value(fruit, told["p11"]) == 0.0
    assert shown_value(fruit, told["p10"]) == pytest.approx(5.0)
    water = few.response("fruit per liter")
    assert shown_value(water, 0.02) == pytest.approx(0.02)
    logged = replace(fruit, unit_summary=replace(fruit.unit_summary, measured_in="log(kg)"))
    assert shown_value(logged, 0.0) == 1.0
    drawn = page_of(few).text
    assert "at most 0.665 (one-sided)" in drawn


EXTRA = Extra(
    term="watering", name="wick against can", treatment="wick", versus="can", within=None,
    measure="incremental yield per extra liter", measured_in="kg/L", denominator="water",
    estimate=0.00367, df=4.0, low=0.000036, high=0.00745, n_blocks=5, water_l=-90.0,
    water_low_l=-95.0, water_high_l=-85.0, yield_difference=-0.33, yield_low=-0.67,
    yield_high=-0.003, sentence="as in results.json", not_estimable=None,
)  # fmt: skip


def test_small_yields_for_each_extra_liter_are_told_in_grams() -> None:
    assert extra_words([EXTRA], "95 %") == [
        (
            "From wick to can, each extra liter of water went with 3.67 g more "
            "(95 % interval: 0.0360 to 7.45 g for each liter)."
        )
    ]
    open_one = replace(EXTRA, estimate=-0.000346, low=-0.00448)
    assert extra_words([open_one], "95 %") == [
        (
            "From wick to can, extra liters of water brought no clear gain or loss: "
            "−0.346 g for each liter (95 % interval: −4.48 to 7.45 g)."
        )
    ]
    # all rows in one unit: one large amount keeps the kg, and the sentence of the results
    large = replace(EXTRA, estimate=0.4, sentence="large")
    assert extra_words([EXTRA, large], "95 %") == ["as in results.json", "large"]
    assert extra_words([replace(EXTRA, measured_in="{fruit}/L")], "95 %") == [EXTRA.sentence]
    assert extra_words([replace(EXTRA, not_estimable="not defined")], "95 %") == []


def test_liters_of_a_reservoir_are_told_for_each_plot_that_it_feeds() -> None:
    parts = tuple(WaterPlot(name, 0.5, 130.0, 140.0, 129.0) for name in ("a", "b"))
    ledger = UnitLedger(
        rain_l=0.0, stored_change_l=22.0, leaked_l=0.0, left_l=22.0, by_can_l=280.0,
        by_meter_l=0.0, refills=9, plants=8, days=140.0, per_plant_l=32.0, per_plant_low=31.0,
        per_plant_high=33.0, per_day_l=1.84, per_plant_and_day_l=0.23, note=None, plots=parts,
        periods=(),
    )  # fmt: skip
    bucket = WaterUnit("R", "wick", 260.0, 280.0, 258.0, 250.0, 266.0, (), None, ledger)
    told = per_plot(bucket)
    assert (told.planned_l, told.applied_l, told.delivered_l) == (130.0, 140.0, 129.0)
    assert (told.low, told.high, told.ledger.per_day_l) == (125.0, 133.0, 0.92)
    assert told.ledger.per_plant_l == 32.0  # a plant is a plant
    alone = replace(bucket, ledger=replace(ledger, plots=()))
    assert per_plot(alone) == alone
