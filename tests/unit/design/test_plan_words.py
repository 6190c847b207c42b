"""Trends and differences of differences in the plan: what is read, what is refused."""

import pytest

import wickstats as ws
from wickstats.design.defaults import comparisons_of

GOOD = """\
format: 1
trial: {id: made}
factors:
  rate: [{name: none, amount: 0, reference: true}, {name: 2 L, amount: 2},
    {name: 5 L, amount: 5}]
  mulch: [bare, straw]
design: {type: randomized complete block, blocks: 4, layout: layout.csv}
plan:
  comparisons:
    - ENTRY
"""


def read(tmp_path, entry):
    path = tmp_path / "trial.yaml"
    path.write_text(GOOD.replace("ENTRY", entry))
    return ws.read_trial(path)


@pytest.mark.parametrize(
    ("entry", "name", "adjustment"),
    [
        (
            "{factor: rate, compare: trend over amount}",
            "rate: trend over amount",
            "single-step",
        ),
        (
            "{factor: rate, differs_by: mulch}",
            "rate: each with none, differing by mulch",
            "single-step",
        ),
        ("{factor: mulch, differs_by: rate, adjustment: holm}", None, "holm"),
        (
            "{factor: rate, name: any, weights: {2 L: 1, none: -1}, differs_by: mulch}",
            "any",
            "none",
        ),
        ("{factor: rate, compare: trend over amount, within: mulch}", None, "single-step"),
    ],
)
def test_what_an_entry_becomes(tmp_path, entry, name, adjustment):
    (found,) = comparisons_of(read(tmp_path, entry))
    assert found.adjustment == adjustment
    assert name is None or found.name == name


@pytest.mark.parametrize(
    ("entry", "line", "words"),
    [
        ("{factor: mulch, compare: trend over amount}", 10, "levels of mulch have no amounts"),
        (
            "{factor: rate, compare: trend over amount, adjustment: tukey}",
            10,
            "tukey for trend",
        ),
        (
            "{factor: rate, differs_by: mulch, adjustment: dunnett}",
            10,
            "dunnett for differences",
        ),
        ("{factor: rate, differs_by: mulch, within: mulch}", 10, "within and differs_by"),
        ("{factor: rate, differs_by: mulhc}", 10, "mulhc"),
        ("{factor: rate, differs_by: rate}", 10, "rate"),
        ("{factor: rate, compare: trend}", 10, "trend over amount"),
    ],
)
def test_what_does_not_fit_is_told_at_its_line(tmp_path, entry, line, words):
    with pytest.raises(ws.TrialError) as caught:
        read(tmp_path, entry)
    (problem,) = caught.value.problems
    assert problem.line == line
    assert words in str(problem)
