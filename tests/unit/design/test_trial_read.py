"""Scalars mean what the writer meant; short and long forms give the same values."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from support_trials import GOOD

from wickstats.core.errors import Problem, TrialError
from wickstats.design.read import parse_trial, read_trial
from wickstats.design.rules_files import is_date_example
from wickstats.design.scalars import Unread, day, number, whole
from wickstats.design.trial import Trial
from wickstats.records.dates import style_from_example

HERE = Path(__file__).parent
LEAST = """\
format: 1
trial: {id: seed-rates}
factors: {rate: [{name: 25 kg, reference: true}, {name: 50 kg}, {name: 75 kg}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records: {measurements: {file: yields.csv}}
responses: [{name: grain, kind: measurement, column: kg_per_ha, measured_in: kg/ha}]
"""


def read(text: str) -> Trial:
    return parse_trial(text.encode(), file="trial.yaml", folder=HERE)


def test_least_trial() -> None:
    trial = read(LEAST)
    assert trial.factors[0].level_names == ("25 kg", "50 kg", "75 kg")
    assert trial.factors[0].reference == "25 kg"
    assert trial.records["measurements"][0].file == "yields.csv"
    assert trial.plan is None


@pytest.mark.parametrize(
    "name", ["no", "on", "0123", "12:30", "1e3", "null", "~", "2025-01-01"]
)
def test_names_keep_their_text(name: str) -> None:
    trial = read(LEAST.replace("{name: 50 kg}", name))
    assert trial.factors[0].level_names[1] == name
    assert read(LEAST.replace("50 kg", name)).factors[0].level_names[1] == name
    assert read(LEAST.replace("{rate:", f"{{{name}:")).factors[0].name == name


def test_level_names_as_keys_keep_their_text() -> None:
    text = LEAST.replace("25 kg", "no").replace("50 kg", "0123").replace("75 kg", "on")
    trial = read(text + "water: {planned_l: {no: 0, 0123: 1e3, on: 0480}}\n")
    assert trial.water is not None
    assert trial.water.planned_l == {"no": 0.0, "0123": 1000.0, "on": 480.0}


@pytest.mark.parametrize(
    ("text", "value"), [("yes", True), ("on", True), ("False", False), ("no", False)]
)
def test_truth(text: str, value: bool) -> None:
    trial = read(LEAST.replace("id: seed-rates", f"id: seed-rates, invented: {text}"))
    assert trial.trial.invented is value


def test_factor_forms() -> None:
    short = read(LEAST)
    long = read(
        LEAST.replace(
            "[{name: 25 kg, reference: true}, {name: 50 kg}, {name: 75 kg}]",
            "{applied_to: plot, levels: [{name: 25 kg, reference: true}, 50 kg, 75 kg]}",
        )
    )
    assert short.factors == long.factors


def test_record_forms() -> None:
    def sources(text: str) -> list[str]:
        trial = read(LEAST.replace("{file: yields.csv}", text))
        return [source.file for source in trial.records["measurements"]]

    assert sources("yields.csv") == ["yields.csv"]
    assert sources("[a.csv, {file: b.xlsx, sheet: May}]") == ["a.csv", "b.xlsx"]
    assert sources("{file: [a.csv, b.csv]}") == ["a.csv", "b.csv"]
    short = read(LEAST.replace("yields.csv}", "y.csv, columns: {kg_per_ha: Yield}}"))
    long = read(LEAST.replace("yields.csv}", "y.csv, columns: {kg_per_ha: {head: Yield}}}"))
    assert short.records == long.records


def test_times_one_or_several_dates_or_days() -> None:
    one = read(GOOD.replace("[2025-07-01, 2025-10-13]", "2025-07-01"))
    assert one.response("survival").at == (date(2025, 7, 1),)
    text = GOOD.replace("[2025-07-01, 2025-10-13]", "[90, 210.5]")
    days = read(text.replace("visits: {file: visits.csv}", "lifetimes: lives.csv"))
    assert days.response("survival").at == (90.0, 210.5)


def test_byte_order_mark_and_crlf() -> None:
    data = b"\xef\xbb\xbf" + LEAST.replace("\n", "\r\n").encode()
    trial = parse_trial(data, file="trial.yaml", folder=HERE)
    assert trial.factors == read(LEAST).factors
    assert trial.source == data


def test_demo_trials_read() -> None:
    demo = HERE.parents[2] / "wickstats" / "demo"
    for folder in ("quarry-oaks", "garden-peppers"):
        assert read_trial(demo / folder / "trial.yaml").trial.id == folder


@given(st.floats(allow_nan=False, allow_infinity=False, width=64))
def test_numbers_round_trip(value: float) -> None:
    assert number(repr(value)) == value


@given(st.integers(-(10**15), 10**15))
def test_whole_numbers_round_trip(value: int) -> None:
    assert whole(str(value)) == value


@given(st.dates())
def test_dates_round_trip(value: date) -> None:
    assert day(value.isoformat()) == value


@given(st.text(max_size=12))
def test_text_is_a_number_or_an_advice(text: str) -> None:
    value = number(text)
    assert isinstance(value, float | Unread)
    if not isinstance(value, Unread):
        assert value == float(text)


@given(st.binary(max_size=300))
@example(b"\r[")
@example("a: 1\u2028b: [".encode())
def test_any_bytes_give_problems_and_no_fault(data: bytes) -> None:
    with pytest.raises(TrialError) as caught:
        parse_trial(data, file="trial.yaml", folder=HERE)
    assert caught.value.problems


@given(st.integers(0, len(GOOD) - 1), st.sampled_from("{}[]:,#&*!|>%@`\"'\t\n -?0a\x00"))
def test_any_changed_character_gives_a_trial_or_problems(at: int, sign: str) -> None:
    text = GOOD[:at] + sign + GOOD[at + 1 :]
    problems: tuple[Problem, ...] = ()
    try:
        assert read(text).format == 1
    except TrialError as error:
        problems = error.problems
    assert all(p.line and p.found and p.expected and p.fix for p in problems)


@pytest.mark.parametrize(
    "text", ["31/12/2025", "31.12.25", "12/31/2024", "2025-12-31", "31. 12. 2025"]
)
def test_date_examples_are_those_that_the_tables_can_be_read_by(text: str) -> None:
    assert is_date_example(text)
    assert style_from_example(text).read(text.replace("31", "30")) is not None


@pytest.mark.parametrize(
    "text", ["dd/mm/yyyy", "01/02/2025", "31/12", "20251231", "31 Dec 2025"]
)
def test_other_texts_are_no_date_examples(text: str) -> None:
    assert not is_date_example(text)
    with pytest.raises(ValueError, match="last day of a year"):
        style_from_example(text)
