"""results.json in and out, its schema, the CSV tables."""

import csv
import io
import json

import jsonschema
import pytest
from support_results import hostile_results, rich_results

from wickstats.archive.results_file import read_results, write_results
from wickstats.archive.schema import results_schema, schema_bytes, shipped_schema
from wickstats.archive.tables import response_stems, table_files
from wickstats.core.errors import ReportError


def test_results_come_back_unchanged_and_so_do_their_bytes() -> None:
    results = rich_results()
    data = write_results(results)
    again = read_results(data)
    assert again == results
    assert write_results(again) == data


def test_source_bytes_stay_out_of_the_file() -> None:
    assert b"source_bytes" not in write_results(rich_results())


def test_the_shipped_schema_is_the_generated_one() -> None:
    assert shipped_schema() == schema_bytes()


def test_results_satisfy_the_schema_and_a_wrong_type_does_not() -> None:
    plain = json.loads(write_results(rich_results()))
    schema = results_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(plain, schema)
    plain["responses"][0]["means"][0]["n_units"] = "six"
    with pytest.raises(jsonschema.ValidationError, match="six"):
        jsonschema.validate(plain, schema)


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ('"results_format": 1', '"results_format": 2', "results_format 2"),
        ('"results_format": 1', '"results_format": true', "results_format True"),
        ('"simulated": false', '"simulated": "no"', "simulated: expected bool, found 'no'"),
        ('"simulated": false', '"simulated": false, "x": 1', "x: unknown key"),
        ('"simulated": false', '"simulated": false, "simulated": false', "stands twice"),
        ('"estimate": 0.72', '"estimate": NaN', "NaN is not allowed"),
        (
            '"estimate": 0.72',
            '"estimate": "big"',
            "responses[0].means[0].estimate: expected float, found 'big'",
        ),
    ],
)
def test_a_file_that_does_not_fit_is_refused_by_its_path(
    old: str, new: str, found: str
) -> None:
    text = write_results(rich_results()).decode()
    assert old in text
    with pytest.raises(ReportError) as caught:
        read_results(text.replace(old, new, 1).encode())
    (problem,) = caught.value.problems
    assert found in problem.found
    assert problem.file == "results.json"


@pytest.mark.parametrize("data", [b"", b"\xff\xfe{}", b"[]", b"{", b"null", b"[" * 9000])
def test_bytes_that_are_not_results_are_refused(data: bytes) -> None:
    with pytest.raises(ReportError):
        read_results(data)


def _rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


def test_tables_hold_full_precision_and_blank_where_no_number() -> None:
    files = table_files(rich_results())
    units = _rows(files["height-units.csv"])
    response = rich_results().response("height")
    for row, unit in zip(units, response.unit_summary.values, strict=True):
        assert row["unit"] == unit.unit
        assert row["value"] == ("" if unit.value is None else repr(unit.value))
    lost = next(row for row in units if row["value"] == "")
    assert lost["not_estimable"] == "the plot was lost"
    comparisons = _rows(files["survival-comparisons.csv"])
    assert comparisons[0]["absolute.estimate"] == "25.0"


def test_formulas_in_text_cells_are_neutralized() -> None:
    (row,) = _rows(table_files(hostile_results())["queries.csv"])
    assert row["found"] == "'=cmd|' /C calc'!A0"
    assert row["expected"] == "'+1"
    assert row["fix"] == "'@SUM(1)"


def test_negative_numbers_stay_numbers() -> None:
    rows = _rows(table_files(rich_results())["survival-comparisons.csv"])
    assert float(rows[2]["low"]) == -0.15


def test_stems_differ_for_responses_of_one_spelling() -> None:
    stems = response_stems(hostile_results())
    assert len(set(stems)) == len(stems)
    assert all(stem.replace("-", "").isalnum() for stem in stems)
