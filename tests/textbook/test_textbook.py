"""Textbook tables, as trial files, through the public road: the printed numbers come out.

All data are from memory and reproduce the printed analyses, which are from memory as well
unless a line says otherwise.
"""

from pathlib import Path

import pytest
from support import analyze, analyze_by_command, find, numbers

HERE = Path(__file__).resolve().parent


def test_rice_seeding_rates() -> None:
    # Gomez & Gomez (1984), table 2.6, from memory
    (item,) = analyze(HERE / "rice-seeding-rates")["responses"]
    got = numbers(item)
    for name, squares, df in (
        ("block", 1_944_361, 3),
        ("treatment", 1_198_331, 5),
        ("plot residual", 1_658_376, 15),
    ):
        assert got[f"{name} sum of squares"] == pytest.approx(squares, abs=0.55)
        assert got[f"{name} df"] == df
    assert got["treatment F"] == pytest.approx(2.16778, abs=5e-6)
    assert got["treatment p"] == pytest.approx(0.1128, abs=5e-5)
    assert got["mixed treatment F"] == pytest.approx(2.16778, abs=5e-6)
    assert sum(m["estimate"] for m in item["means"]) / 6 == pytest.approx(4960, abs=0.5)


def test_soybean_failures() -> None:
    # Snedecor & Cochran, Statistical Methods, from memory
    (item,) = analyze(HERE / "soybean-failures")["responses"]
    got = numbers(item)
    for name, squares, df in (
        ("block", 49.84, 4),
        ("treatment", 83.84, 4),
        ("plot residual", 86.56, 16),
    ):
        assert got[f"{name} sum of squares"] == pytest.approx(squares, abs=1e-9)
        assert got[f"{name} df"] == df
    assert got["treatment F"] == pytest.approx(3.874, abs=5e-4)
    assert got["treatment p"] == pytest.approx(0.0219, abs=5e-5)
    means = {m["treatment"]: m["estimate"] for m in item["means"]}
    assert means == pytest.approx(
        {"Check": 10.8, "Arasan": 6.2, "Spergon": 8.2, "Semesan Jr": 6.6, "Fermate": 5.8}
    )


def test_soybean_with_a_lost_plot_is_least_squares_on_what_is_there() -> None:
    # Yates (1933): the lost value is (tT + bB - G)/((t - 1)(b - 1)) = 7.3125, hence the mean
    # of Spergon (31 + 7.3125)/5; exact analysis of variance computed from the data: error
    # 81.9375 on 15 df, treatments adjusted 81.2625, F 3.719, p 0.0270
    tree = analyze(HERE / "soybean-missing-plot")
    (item,) = tree["responses"]
    row = find(item["tests"], term="treatment")
    assert row["value"] == pytest.approx((81.2625 / 4) / (81.9375 / 15), rel=1e-10)
    assert row["df_den"] == 15
    assert row["p"] == pytest.approx(0.0270, abs=5e-5)
    means = {m["treatment"]: m["estimate"] for m in item["means"]}
    assert means["Spergon"] == pytest.approx((31 + 7.3125) / 5, rel=1e-10)
    assert [lost["plot"] for lost in tree["accounting"]["lost"]] == ["q08"]


def test_irrigation_fields_are_the_units_of_irrigation() -> None:
    # Faraway's irrigation data; SDs 4.02 and 1.45 and the tests are computed; with plots taken
    # for fields the denominator would be wrong: F(3,8) = 0.732
    (item,) = analyze(HERE / "irrigation-fields")["responses"]
    got = numbers(item)
    assert got["test irrigation F"] == pytest.approx(0.388, abs=5e-4)
    assert got["test irrigation p"] == pytest.approx(0.769, abs=6e-4)
    assert got["test irrigation df"] == 4
    assert got["test variety F"] == pytest.approx(1.068, abs=5e-4)
    assert got["test variety df"] == 4
    assert got["component whole plot"] ** 0.5 == pytest.approx(4.02, abs=5e-3)
    assert got["component residual"] ** 0.5 == pytest.approx(1.45, abs=5e-3)
    row = find(item["tests"], term="irrigation")
    assert row["stratum"] == "whole plot"


def check_rice(got: dict[str, float]) -> None:
    # Gomez & Gomez (1984), chapter 3, from memory
    for name, squares, df in (
        ("block", 1_082_577, 2),
        ("nitrogen", 30_429_200, 5),
        ("whole plot residual", 1_419_679, 10),
        ("variety", 89_888_101, 3),
        ("nitrogen x variety", 69_343_487, 15),
        ("subplot residual", 12_584_873, 36),
    ):
        assert got[f"{name} sum of squares"] == pytest.approx(squares, abs=0.55)
        assert got[f"{name} df"] == df
    for name, f in (("nitrogen", 42.87), ("variety", 85.71), ("nitrogen x variety", 13.22)):
        assert got[f"{name} F"] == pytest.approx(f, abs=5e-3)


def test_rice_split_plot() -> None:
    (item,) = analyze(HERE / "rice-split-plot")["responses"]
    got = numbers(item)
    check_rice(got)
    # the whole-plot mean square lies below that of subplots: the component at zero is an
    # answer, and the first line keeps its own stratum all the same
    assert got["component whole plot"] == 0


def test_command_line_says_the_same_as_the_functions(tmp_path: Path) -> None:
    folder = HERE / "soybean-failures"
    assert analyze_by_command(folder, tmp_path)["responses"] == analyze(folder)["responses"]
