"""What holds where the file is silent: comparisons, direction, roles, units; the digest."""

from pathlib import Path

import pytest
from support_trials import GOOD

from wickstats.design.canonical import canonical_hash
from wickstats.design.defaults import (
    better_of,
    cells_of,
    comparisons_of,
    measured_in_of,
    role_of,
    value_for,
)
from wickstats.design.read import parse_trial
from wickstats.design.trial import Response, Trial

HERE = Path(__file__).parent
TWO = """\
format: 1
trial: {id: two}
factors:
  watering: [{name: wick, reference: true}, hand]
  shelter: [tube, none, mulch]
design: {type: completely randomized, layout: layout.csv, drawn: elsewhere}
"""


def read(text: str) -> Trial:
    return parse_trial(text.encode(), file="trial.yaml", folder=HERE)


def test_default_comparisons() -> None:
    first, second = comparisons_of(read(TWO))
    assert (first.factor, first.compare, first.adjustment) == (
        "watering",
        "each with the reference",
        "dunnett",
    )
    assert (second.factor, second.compare, second.adjustment) == (
        "shelter",
        "all pairs",
        "tukey",
    )
    assert second.name == "shelter: all pairs"


def test_a_single_contrast_needs_no_adjustment() -> None:
    text = TWO + "plan: {comparisons: [{factor: shelter, weights: {tube: 1, none: -1}}]}\n"
    (entry,) = comparisons_of(read(text))
    assert (entry.name, entry.adjustment, entry.compare) == (
        "tube against none",
        "none",
        "weights",
    )


def test_cells_last_factor_fastest() -> None:
    cells = cells_of(read(TWO).factors)
    assert cells[:4] == ("wick x tube", "wick x none", "wick x mulch", "hand x tube")
    assert len(cells) == 6


def test_value_for_cells_or_levels() -> None:
    levels = {"watering": "wick", "shelter": "tube"}
    assert value_for({"wick": 3, "hand": 1}, levels) == 3
    assert value_for({"wick x tube": 5, "wick": 3}, levels) == 5
    assert value_for({"hand": 1}, levels) is None


@pytest.mark.parametrize(
    ("kind", "better", "unit"),
    [
        ("survival", "more", "share"),
        ("growth", "more", "cm"),
        ("measurement", "neither", "cm"),
        ("score", "neither", "points"),
        ("yield", "more", "kg"),
        ("water used", "less", "L"),
        ("count", "more", "{fruit}"),
    ],
)
def test_direction_and_unit(kind: str, better: str, unit: str) -> None:
    response = Response.model_validate({"name": "a", "kind": kind, "column": "height_cm"})
    assert better_of(response) == better
    assert measured_in_of(response) == unit


def test_roles() -> None:
    trial = read(GOOD)
    roles = [role_of(trial, response) for response in trial.responses]
    assert roles == ["primary", "secondary", "exploratory", "exploratory"]
    assert role_of(read(TWO), trial.responses[0]) == "exploratory"


def test_digest_tells_what_is_fixed_before_planting() -> None:
    digest = canonical_hash(read(GOOD))
    same = [
        GOOD.replace("seed: 7", "seed: 8"),
        GOOD.replace("layout: layout.csv", "layout: plots.csv"),
        GOOD.replace("title: Ways", "title: Other ways"),
        GOOD.replace("  confidence: 0.95\n", ""),
        GOOD.replace("blocks: 6", 'blocks: "6"') + "# a remark\n",
        GOOD.replace("visits.csv", "others.csv"),
    ]
    assert {canonical_hash(read(text)) for text in same} == {digest}
    other = [
        GOOD.replace("blocks: 6", "blocks: 5"),
        GOOD.replace("primary: survival", "primary: fruit"),
        GOOD.replace("difference: 0.10", "difference: 0.15"),
        GOOD.replace("kind: growth", "kind: measurement").replace(
            "ratio: 1.15", "difference: 2"
        ),
        GOOD.replace("drip", "ditch"),
    ]
    digests = {canonical_hash(read(text)) for text in other}
    assert len(digests) == len(other)
    assert digest not in digests
