"""The bench study: a slice held to four standard errors, and the stored study to its bounds."""

import json
from math import sqrt
from pathlib import Path

import bench_page
import bench_run
import pytest

SEASONS = 80
SLICE = (
    "flow, half as much again",
    "flow, coils, no difference",
    "flow, coils and lost pieces",
    "flow, cords only, a lost piece",
    "rise, no difference, half at the top",
    "rise, a null pair beside two at the top",
    "rise, two coils each, two at the top",
)
STORED = Path(bench_run.__file__).with_name("bench.json")


def four(rate: float, n: int) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / n)


@pytest.mark.parametrize("name", SLICE)
def test_a_slice_covers_and_rarely_rejects(name: str) -> None:
    cell = next(c for c in bench_run.CELLS if c.name == name)
    found = bench_run.run_bench(cell, SEASONS, seed=11)["rates"]
    judged = [key for key in found if key.endswith(("covered", "rejected"))]
    assert judged
    for key in judged:
        rate, n = found[key]["rate"], found[key]["judged"]
        if key.endswith("covered"):
            assert rate >= bench_run.COVER - four(bench_run.COVER, n), key
        else:
            assert rate <= bench_run.REJECT + four(bench_run.REJECT, n), key


def test_the_stored_study_keeps_its_bounds() -> None:
    stored = json.loads(STORED.read_text(encoding="utf-8"))
    assert [c["settings"]["name"] for c in stored["cells"]] == [c.name for c in bench_run.CELLS]
    for cell in stored["cells"]:
        for key, of in cell["rates"].items():
            what = f"{cell['settings']['name']}: {key}"
            if key.endswith("covered"):
                assert of["rate"] >= bench_run.COVER, what
            elif key.endswith("rejected"):
                assert of["rate"] <= bench_run.REJECT, what
            if not key.endswith("not judged"):  # all pieces at the top: no interval
                assert of["judged"] >= 0.999 * cell["seasons"], what


def test_the_readme_quotes_the_study() -> None:
    told = " ".join((STORED.parents[2] / "README.md").read_text(encoding="utf-8").split())
    of = bench_page.summarize_bench(json.loads(STORED.read_text(encoding="utf-8"))["cells"])
    assert (
        f"The bench, {of['cells']} settings of cords, coils, pieces and runs, some at the top: "
        f"intervals of differences cover {of['lowest coverage']:.3f} or more, of the variation "
        f"between pieces {of['lowest coverage between pieces']:.3f}; true nulls are rejected "
        f"in {of['highest rejection']:.3f} at most."
    ) in told
