"""Several strata with gaps: seasons without a difference are not rejected too often."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest
from analysis_makers import factor, make_layout, make_trial

from wickstats.analysis.first_line import fit_line
from wickstats.analysis.plan import terms_of
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import lay_out_units
from wickstats.design.trial import Response
from wickstats.models.linear.contrasts import term_rows

SEASONS = 150


def units_of(kind, first, second):
    rows = []
    for b, i, j in np.ndindex(4, 3, 2):
        place = {"row_strip": str(i), "column_strip": str(j)}
        if kind == "split-plot":
            place = {"whole_plot": f"{b}-{i}"}
        levels = {"A": f"a{i}", "B": f"b{j}"}
        rows.append({"plot": f"{b}-{i}-{j}", "block": str(b), **place, **levels})
    factors = [
        factor("A", ["a0", "a1", "a2"], applied_to=first),
        factor("B", ["b0", "b1"], applied_to=second),
    ]
    asked = [Response(name="value", kind="measurement", column="value")]
    trial = make_trial(factors, asked, design=kind)
    layout = make_layout(rows, ["A", "B"], design=kind)
    return lay_out_units(trial, replace(layout, applied_to={"A": first, "B": second}))


@pytest.mark.parametrize(
    ("kind", "first", "second"),
    [("split-plot", "whole plot", "subplot"), ("strip-plot", "row strip", "column strip")],
)
def test_terms_with_gaps_reject_at_most_five_percent(kind, first, second):
    units = units_of(kind, first, second)
    rng = np.random.default_rng(20)
    lost = rng.choice(units.n, 3, replace=False)
    terms = terms_of(units)
    count = dict.fromkeys((term.name for term in terms), 0)
    for _ in range(SEASONS):
        values = rng.normal(size=units.n) + 2 * rng.normal(size=4)[units.block_codes]
        for stratum in units.strata[:-1]:
            values += 0.7 * rng.normal(size=stratum.codes.max() + 1)[stratum.codes]
        values[lost] = np.nan
        none = (None,) * units.n
        line = fit_line(
            units,
            Summary("v", "mean", None, values, np.ones(units.n), none, "strata", "1"),
            0.95,
        )
        for term in terms:
            p = line.test(term_rows(units.shape, term.factors)).p
            assert p is not None
            count[term.name] += p < 0.05
    most = SEASONS * (0.05 + 4 * sqrt(0.05 * 0.95 / SEASONS))
    assert max(count.values()) <= most, count
