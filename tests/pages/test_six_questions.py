"""A reader given only page one answers six set questions right, on every demo season."""

from math import prod

import pytest
from six_questions import QUESTIONS, answers, page_one
from support_audit import audited
from support_demos import DEMOS, demo_results

from wickstats.report.facts import headline

WORDS = {
    "better": "did better than",
    "worse": "did worse than",
    "cannot tell": "we cannot tell",
    "no worse by more than matters": "is not much worse than",
    "no better by more than matters": "is not much better than",
    "the same for practical purposes": "is as good as",
}


@pytest.mark.parametrize("name", DEMOS)
def test_six_questions_are_answered_by_page_one(name: str) -> None:
    results = demo_results(name)
    told = answers(page_one(audited(name).files["report.html"]))
    assert len(QUESTIONS) == 6
    levels = results.trial.factors.values()
    assert told.ways == prod(map(len, levels))
    assert told.against == tuple(results.trial.references.values())
    rows = headline(results.response(str(results.trial.primary)))
    rows = rows[: len(told.lines)] if name == "bench-cords" else rows
    assert len(told.lines) == len(told.limits) == len(rows) >= 3
    for line, limits, row in zip(told.lines, told.limits, rows, strict=True):
        assert row.versus in line
        assert row.treatment.lower() in line.lower()
        assert row.verdict is not None
        assert WORDS[row.verdict] in line
        assert row.low_adjusted is not None
        assert row.high_adjusted is not None
        for limit, word in zip(
            (row.low_adjusted, row.high_adjusted), limits.split(" to "), strict=True
        ):
            number = float(word.split()[0])
            if row.measure == "ratio":
                decimals = len(word.split()[0].partition(".")[2])
                assert number == pytest.approx(limit, abs=0.501 * 10.0**-decimals)
            else:
                assert number == round(100 * abs(limit))
                assert ("more" in word) == (limit > 0)
    values = results.response(str(results.trial.primary)).unit_summary.values
    assert told.blocks == len({u.block for u in values})
    assert float(told.percent) == pytest.approx(100 * results.trial.confidence)
    bench = results.trial.place == "bench"
    assert ("another make" if bench else "other soil") in told.not_for
    place = "a season in the field" if bench else "second season at another place"
    assert any(place in item for item in told.more)
