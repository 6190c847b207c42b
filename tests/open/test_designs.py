"""The example designs can be read, laid out and sized as they stand."""

from collections import Counter
from pathlib import Path

import pytest
from support import ROOT

import wickstats as ws

DRAWN_HERE = ["terrace-six-blocks", "garden-buckets"]


@pytest.mark.parametrize(
    "path", sorted((ROOT / "designs").glob("*.yaml")), ids=lambda p: p.stem
)
def test_example_is_named_like_its_trial(path: Path) -> None:
    assert ws.read_trial(path).trial.id == path.stem


@pytest.mark.parametrize("name", DRAWN_HERE)
def test_example_lays_out_every_treatment_in_every_block(name: str) -> None:
    trial = ws.read_trial(ROOT / "designs" / f"{name}.yaml")
    layout = ws.randomize(trial, seed=1)
    got = Counter((plot.block, plot.treatment) for plot in layout.plots)
    fed = trial.design.plots_per_reservoir
    levels = trial.factors[0].level_names
    assert len({block for block, _ in got}) == trial.design.blocks
    assert len(got) == trial.design.blocks * len(levels)
    assert all(count == fed.get(level, 1) for (_, level), count in got.items())


@pytest.mark.parametrize("name", DRAWN_HERE)
def test_example_states_enough_for_power(name: str) -> None:
    planned = ws.power(ws.read_trial(ROOT / "designs" / f"{name}.yaml"))
    powers = [row.power for row in planned.rows if row.power is not None]
    assert powers
    assert all(0 < value <= 1 for value in powers)


TYPES = sorted((ROOT / "designs" / "types").glob("*/trial.yaml"))


def test_every_design_type_has_an_example() -> None:
    seen = {ws.read_trial(path).design.type for path in TYPES}
    assert seen >= {
        "Latin square",
        "split-plot",
        "strip-plot",
        "incomplete block",
        "row-column",
        "randomized complete block",
    }


@pytest.mark.parametrize("path", TYPES, ids=lambda p: p.parent.name)
def test_example_of_a_type_is_invented_and_laid_out_as_its_seed_says(path: Path) -> None:
    trial = ws.read_trial(path)
    assert trial.trial.id == path.parent.name
    assert trial.trial.invented
    layout = ws.read_layout(trial)
    assert layout.seed == trial.design.seed
    assert layout.plots == ws.randomize(trial, seed=layout.seed).plots


@pytest.mark.parametrize("path", TYPES, ids=lambda p: p.parent.name)
def test_example_of_a_type_passes_the_check(path: Path) -> None:
    from wickstats.cli.commands.check import examine

    outcome = examine(path)
    assert outcome["problems"] == []
    assert [note.code for note in outcome["notes"]] == []
