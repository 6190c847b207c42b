"""A reader given only page one answers six set questions right, on two demo seasons."""

import pytest
from six_questions import QUESTIONS, answers, page_one

import wickstats as ws
from wickstats.demo.make_seasons import HERE
from wickstats.report.facts import headline
from wickstats.report.write import report_files

WORDS = {
    "better": "did better than",
    "worse": "did worse than",
    "cannot tell": "we cannot tell",
    "no worse by more than matters": "is not much worse than",
    "no better by more than matters": "is not much better than",
    "the same for practical purposes": "is as good as",
}


@pytest.mark.parametrize("name", ["quarry-oaks", "garden-peppers"])
def test_six_questions_are_answered_by_page_one(name: str) -> None:
    trial = ws.read_trial(HERE / name / "trial.yaml")
    results = ws.analyze(trial, ws.read_records(trial))
    told = answers(page_one(report_files(results)["report.html"]))
    assert len(QUESTIONS) == 6
    (levels,) = results.trial.factors.values()
    (reference,) = results.trial.references.values()
    assert (told.ways, told.against) == (len(levels), reference)
    rows = headline(results.response(str(results.trial.primary)))
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
                assert number == pytest.approx(limit, abs=0.006)
            else:
                assert number == round(100 * abs(limit))
                assert ("more" in word) == (limit > 0)
    values = results.response(str(results.trial.primary)).unit_summary.values
    assert told.blocks == len({u.block for u in values})
    assert float(told.percent) == pytest.approx(100 * results.trial.confidence)
    assert "other soil" in told.not_for
    assert any("second season at another place" in item for item in told.more)
