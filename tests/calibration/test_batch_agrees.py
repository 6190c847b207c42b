"""The study's seasons, judged many at once, give the package's own numbers one by one."""

import numpy as np
import pytest
from study_cells import Cell, generator
from study_linear import judge
from study_seasons import Seasons, simulate

from wickstats.models.linear.contrasts import steps
from wickstats.models.linear.dispersion import fit_shares
from wickstats.models.linear.strata import UnitFit, fit_units
from wickstats.models.ratios.counts import POISSON, CountRatios, fit_counts

SEASONS = 12


def by_package(seasons: Seasons, s: int, arms: int) -> UnitFit | CountRatios:
    """Fit one season with the package."""
    here = seasons.present[s]
    cells, blocks = seasons.cells[here], seasons.blocks[here]
    values, plants = seasons.values[s, here], seasons.plants[s, here]
    if seasons.kind == "count":
        return fit_counts(values, cells, arms, blocks=blocks)
    if seasons.kind == "share":
        return fit_shares(values, plants, cells, arms, blocks=blocks)
    guard = plants if seasons.kind == "size" else None
    return fit_units(values, cells, arms, blocks=blocks, plants=guard)


@pytest.mark.parametrize("kind", ["total", "size", "share", "count"])
@pytest.mark.parametrize("loss", ["complete", "random gaps", "loss by arm"])
@pytest.mark.parametrize(("blocks", "arms"), [(3, 2), (6, 4)])
def test_many_seasons_equal_single_ones(kind: str, loss: str, blocks: int, arms: int) -> None:
    truth = "partial null" if arms == 4 else "global null"
    cell = Cell(kind, blocks, arms, 0.25, loss, truth)
    seasons = simulate(cell, SEASONS, generator(7, cell.key))
    contrasts = np.array([np.eye(arms)[0] - np.eye(arms)[k] for k in (1, arms - 1)])
    judged_all = judge(seasons, contrasts)
    many = judged_all.contrasts
    judged = 0
    for s in range(SEASONS):
        fit = by_package(seasons, s, arms)
        for k, weights in enumerate(contrasts):
            one = fit.contrast(weights)
            found = [many.low[s, k], many.high[s, k], many.p[s, k]]
            if one.p is None:
                assert np.isnan(found).all()
                continue
            judged += 1
            np.testing.assert_allclose(
                [many.estimate[s, k], *found],
                [one.estimate, one.low, one.high, one.p],
                rtol=1e-10,
                atol=1e-10,
            )
        p = fit.test(steps(arms)).p
        expected = np.nan if p is None else p
        np.testing.assert_allclose(judged_all.p_all[s], expected, rtol=1e-9, atol=1e-10)
    assert judged >= SEASONS  # most seasons give inference


@pytest.mark.parametrize("level", [0.5, 0.02])
def test_counts_with_empty_blocks_or_arms_go_through_the_package(level: float) -> None:
    cell = Cell("count", 4, 4, 0.25, "complete", "global null")
    base = simulate(cell, 30, generator(7, "few counts"))
    thin = generator(8, "thinned").binomial(base.values.astype(int), level / 12.0) * 1.0
    seasons = Seasons("count", base.cells, base.blocks, thin, base.plants, base.present)
    contrasts = np.array([[1.0, -1.0, 0.0, 0.0]])
    many = judge(seasons, contrasts).contrasts
    blank = 0
    for s in range(30):
        one = fit_counts(thin[s], base.cells, 4, blocks=base.blocks).contrast(contrasts[0])
        blank += one.p is None
        expected = [np.nan if v is None else v for v in (one.low, one.high, one.p)]
        found = [many.low[s, 0], many.high[s, 0], many.p[s, 0]]
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-9)
    assert blank > 0


def test_counts_without_scatter_in_their_logarithms_keep_the_first_interval() -> None:
    base = simulate(
        Cell("count", 3, 2, 0.0, "complete", "global null"), 1, generator(7, "alike")
    )
    alike = np.full_like(base.values, 5.0)
    seasons = Seasons("count", base.cells, base.blocks, alike, base.plants, base.present)
    found = judge(seasons, np.array([[1.0, -1.0]]))
    many = found.contrasts
    fit = fit_counts(alike[0], base.cells, 2, blocks=base.blocks)
    one = fit.contrast([1.0, -1.0])
    assert (one.low, one.basis) == (pytest.approx(many.low[0, 0], rel=1e-10), POISSON)
    assert fit.test([[1.0, -1.0]]).p == pytest.approx(found.p_all[0], rel=1e-10)
