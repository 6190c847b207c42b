"""Schemas agree with the reader; templates and notes say what they should."""

import csv
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from support_trials import GOOD

from wickstats.design.notes import notes_on
from wickstats.design.read import parse_trial, read_trial
from wickstats.design.schema import table_schemas, trial_schema
from wickstats.design.tables import LAYOUT, RECORD_TABLES
from wickstats.design.templates import template

DEMO = Path(__file__).parents[3] / "wickstats" / "demo"


def plain(text: str) -> Any:
    return json.loads(json.dumps(yaml.safe_load(text), default=str))


def test_schema_is_a_schema_and_accepts_good_files() -> None:
    schema = trial_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(plain(GOOD), schema)
    for path in DEMO.glob("*/trial.yaml"):
        jsonschema.validate(plain(path.read_text(encoding="utf-8")), schema)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("blocks: 6", "blokcs: 6"),
        ("blocks: 6", "blocks: 0"),
        ("drawn: here", "drawn: her"),
        ("  layout: layout.csv\n", ""),
        ("picks: picks.csv", "harvest: picks.csv"),
    ],
)
def test_schema_refuses(old: str, new: str) -> None:
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(plain(GOOD.replace(old, new)), trial_schema())


def test_table_schemas() -> None:
    frictionless = pytest.importorskip("frictionless")
    schemas = table_schemas()
    assert set(schemas) == {*RECORD_TABLES, "layout"}
    for name, schema in schemas.items():
        table = LAYOUT if name == "layout" else RECORD_TABLES[name]
        read = frictionless.Schema.from_descriptor(schema)
        assert tuple(field.name for field in read.fields) == table.column_names
    visits = {field["name"]: field for field in schemas["visits"]["fields"]}
    assert visits["status"]["constraints"]["enum"][2] == "dead"
    assert visits["date"]["type"] == "date"


@pytest.mark.parametrize("like", ["field", "garden", "bench"])
def test_templates_are_clean(like: str, tmp_path: Path) -> None:
    for name, text in template(like, "My first trial!").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    trial = read_trial(tmp_path / "trial.yaml")
    assert trial.trial.id == "My-first-trial"
    for table, (source,) in trial.records.items():
        with (tmp_path / source.file).open(encoding="utf-8") as file:
            (heads,) = list(csv.reader(file))
        assert set(RECORD_TABLES[table].required_names) <= set(heads)
    assert "{" not in (tmp_path / "trial.yaml").read_text(encoding="utf-8")


def test_template_of_any_folder_name() -> None:
    assert "id: my-trial " in template("field", "...")["trial.yaml"]


def test_notes_have_places_and_used_keys_none() -> None:
    text = GOOD.replace("measured_in: cm", "measured_in: cubit")
    assert text != GOOD
    notes = notes_on(parse_trial(text.encode(), file="trial.yaml", folder=DEMO))
    line = next(k for k, at in enumerate(text.splitlines(), 1) if "cubit" in at)
    assert [(note.code, note.line) for note in notes] == [("unknown unit", line)]
    # money and rain are used: nothing is said of them
    both = GOOD.replace("  reservoirs: {holds_l: 20, unusable_l: 1.5}", "  rain_catch_m2: 0.5")
    for told in (GOOD, both):
        assert notes_on(parse_trial(told.encode(), file="trial.yaml", folder=DEMO)) == ()
