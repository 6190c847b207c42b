"""Split-plots and strip-plots in many seasons: the single-season code's own numbers."""

import numpy as np
import pytest

from wickstats.models.batch.error_strata import judge_error_strata, lay_error_strata
from wickstats.models.linear.contrasts import all_pairs, term_rows
from wickstats.models.linear.error_strata import ErrorStratum, fit_error_strata
from wickstats.models.redraw.scheme import generator

B, A, S = 4, 3, 2
BLOCK, WHOLE, SUB = (part.ravel() for part in np.indices((B, A, S)))
CELLS = WHOLE * S + SUB
SPLIT = [
    ErrorStratum("whole plot", BLOCK * A + WHOLE, (0,), (BLOCK,)),
    ErrorStratum("subplot", np.arange(BLOCK.size), (0, 1), (BLOCK * A + WHOLE,)),
]
FREE = [ErrorStratum("whole plot", BLOCK * A + WHOLE, (0,)), SPLIT[1]]
STRIP = [
    ErrorStratum("row strip", BLOCK * A + WHOLE, (0,), (BLOCK,)),
    ErrorStratum("column strip", BLOCK * S + SUB, (1,), (BLOCK,)),
    ErrorStratum("plot", np.arange(BLOCK.size), (0, 1), (BLOCK * A + WHOLE, BLOCK * S + SUB)),
]
TERMS = {"main": (0,), "second": (1,), "interaction": (0, 1)}


@pytest.mark.parametrize("kind", ["split", "free", "strip", "whole plots lost"])
@pytest.mark.parametrize("term", TERMS)
def test_the_numbers_of_single_seasons(kind: str, term: str) -> None:
    strata = {"free": FREE, "strip": STRIP}.get(kind, SPLIT)
    kept = np.ones(CELLS.size, dtype=bool)
    if kind == "whole plots lost":
        kept[:S] = False
        strata = [
            ErrorStratum(s.name, s.units[kept], s.factors, tuple(w[kept] for w in s.within))
            for s in strata
        ]
    y = 5.0 + generator(4, kind).standard_normal((5, int(kept.sum())))
    contrasts, together = all_pairs(A * S), term_rows((A, S), TERMS[term])
    means = np.eye(A * S) if kind != "strip" else None
    layout = lay_error_strata(
        CELLS[kept], (A, S), strata, contrasts=contrasts, means=means, together=together
    )
    assert not isinstance(layout, str)
    many = judge_error_strata(layout, y)
    assert many.contrasts.judged.all()
    for s in range(5):
        fit = fit_error_strata(y[s], CELLS[kept], (A, S), strata)
        assert not isinstance(fit, str)
        asked = [(many.contrasts, k, fit.contrast(w)) for k, w in enumerate(contrasts)]
        if means is not None:
            asked += [(many.means, k, fit.mean(w)) for k, w in enumerate(means)]
        for answers, k, one in asked:
            for name in ("estimate", "se", "df", "low", "high", "p"):
                found = getattr(answers, name)[s, k]
                assert found == pytest.approx(getattr(one, name), rel=1e-10, abs=1e-12)
        assert many.p_all[s] == pytest.approx(fit.test(together).p, rel=1e-10)


def test_gaps_are_told_as_for_one_season() -> None:
    kept = np.ones(CELLS.size, dtype=bool)
    kept[0] = False
    strata = [
        ErrorStratum(s.name, s.units[kept], s.factors, tuple(w[kept] for w in s.within))
        for s in SPLIT
    ]
    told = lay_error_strata(CELLS[kept], (A, S), strata, contrasts=all_pairs(A * S))
    y = generator(1, "gap").standard_normal(int(kept.sum()))
    assert told == fit_error_strata(y, CELLS[kept], (A, S), strata)


def test_contrasts_of_several_strata_have_no_joint_test() -> None:
    with pytest.raises(ValueError, match="no exact F"):
        lay_error_strata(
            CELLS, (A, S), SPLIT, contrasts=all_pairs(A * S), together=all_pairs(A * S)
        )
