"""Questions of the audit: layouts, persons, last digits, values that repeat, plan, links.

Truth is planted by hand; what an honest demo season gives is held to no question.
"""

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pandas as pd
import pytest
from support_audit import audited

from wickstats.api import analyze, audit, read_records, read_trial, write_report
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.recheck.audit import judge
from wickstats.recheck.chance import chance_findings
from wickstats.recheck.findings import Finding
from wickstats.recheck.habits import habit_findings
from wickstats.records.season import Season

TRIAL = cast("Trial", SimpleNamespace())


def season(layout: Layout | None = None, **tables: pd.DataFrame) -> Season:
    for frame in tables.values():
        frame["file"], frame["row"] = "x.csv", range(2, len(frame) + 2)
    plots = layout or Layout("completely randomized", ("w",), (), "elsewhere")
    return Season(layout=plots, tables=tables, queries=(), exclusions=(), inputs=())


def blocks_of(orders: list[str]) -> Layout:
    plots = tuple(
        Plot(f"{b}{k}", {"w": arm}, block=str(b), row=b + 1, column=k + 1)
        for b, order in enumerate(orders)
        for k, arm in enumerate(order)
    )
    return Layout("randomized complete block", ("w",), plots, "elsewhere")


def test_the_same_order_in_every_block_is_a_question() -> None:
    found, _ = chance_findings(TRIAL, season(blocks_of(["abcd"] * 6)))
    assert {f.kind for f in found} == {"layout"}
    told = [f.sentence.split(",")[0] for f in found]
    assert told == ["which treatments lie side by side", "how treatments lie over columns"]
    assert all("less evenly" in f.sentence for f in found)
    assert not any(f.serious for f in found)


@pytest.mark.parametrize(
    "orders",
    [
        ["abcd", "bcda", "cdab", "dabc", "abcd", "bcda", "cdab", "dabc"],  # shifted by one
        ["abcd", "dcba"] * 4,  # there and back
        ["abcd"] * 4,
    ],
    ids=["shifted", "there and back", "four alike"],
)
def test_orders_that_follow_a_rule_are_a_question(orders: list[str]) -> None:
    found, _ = chance_findings(TRIAL, season(blocks_of(orders)))
    assert found
    assert {(f.kind, f.weight) for f in found} == {("layout", "question")}


def test_columns_that_are_evener_than_chance_are_a_question() -> None:
    """Every treatment once in every column is what a Latin square has, not complete blocks."""
    orders = ["abcd", "badc", "cdab", "dcba", "acdb", "cabd", "bdac", "dbca"]
    assert all(sorted(o[k] for o in orders) == list("aabbccdd") for k in range(4))
    found, _ = chance_findings(TRIAL, season(blocks_of(orders)))
    assert any("columns, more evenly" in f.sentence for f in found)


def test_a_shuffled_layout_is_none() -> None:
    orders = ["abcd", "bdac", "cadb", "dbca", "acbd", "cbda"]
    found, words = chance_findings(TRIAL, season(blocks_of(orders)))
    assert found == []
    assert len(words) == 4


def test_chance_of_a_layout_is_a_p_value() -> None:
    """Under the scheme p is 0.05 or less in about 5 % (100 layouts, four standard errors)."""
    made = np.random.default_rng(1)
    low = 0
    for _ in range(100):
        orders = ["".join(made.permutation(list("abcd"))) for _ in range(6)]
        _, words = chance_findings(TRIAL, season(blocks_of(orders)))
        told = [w for w in words if "columns" in w]
        low += not told or float(told[0].rsplit(" ", 1)[1].rstrip(".")) <= 0.05
    assert low <= 100 * 0.05 + 4 * (100 * 0.05 * 0.95) ** 0.5


def test_one_person_for_one_treatment_is_a_question_of_balance() -> None:
    layout = blocks_of(["abcd", "bdac", "cadb", "dbca", "acbd", "cbda"])
    frame = pd.DataFrame(
        {
            "plot": [p.plot for p in layout.plots],
            "observer": ["Ann" if p.treatment == "a" else "Bo" for p in layout.plots],
        }
    )
    found, _ = chance_findings(TRIAL, season(layout, visits=frame))
    assert [f.kind for f in found] == ["balance"]
    assert "observer in visits" in found[0].sentence
    assert found[0].asked().ask.startswith("Why did this person")


def sizes(values: np.ndarray) -> pd.DataFrame:
    n = values.size
    return pd.DataFrame(
        {
            "date": pd.to_datetime(["2025-05-01"] * n),
            "plot": [f"P{k // 5}" for k in range(n)],
            "plant": [str(k % 5) for k in range(n)],
            "height_cm": values,
        }
    )


def test_values_read_to_the_nearest_five_are_a_question() -> None:
    made = np.random.default_rng(2)
    even = made.permutation(np.arange(100, 300)).astype(float)
    assert [
        f for f in habit_findings(season(measurements=sizes(even))) if f.kind == "digits"
    ] == []
    found = habit_findings(season(measurements=sizes(np.round(even / 5.0) * 5.0)))
    digits = [f for f in found if f.kind == "digits"]
    assert len(digits) == 1
    assert "height_cm in measurements" in digits[0].sentence


def test_copied_rows_are_a_question_that_names_the_row() -> None:
    values = np.random.default_rng(3).permutation(np.arange(100, 200)).astype(float)
    frame = sizes(values)
    assert habit_findings(season(measurements=frame)) == []
    values[15:20] = values[5:10]
    found = habit_findings(season(measurements=sizes(values)))
    assert [(f.kind, f.place) for f in found] == [("copied", "inputs/x.csv, row 17")]
    assert "P3 and P1" in found[0].sentence


def picks(values: np.ndarray, plots: int = 8) -> pd.DataFrame:
    """One row a plot and day."""
    n = values.size
    return pd.DataFrame(
        {
            "date": pd.to_datetime("2025-05-01") + pd.to_timedelta(np.arange(n) // plots, "D"),
            "plot": [f"P{k % plots}" for k in range(n)],
            "mass_kg": values,
        }
    )


def test_a_day_of_picks_carried_over_is_a_question_that_names_its_rows() -> None:
    made = np.random.default_rng(4)
    values = np.round(made.gamma(4.0, 0.5, size=64), 2)
    assert habit_findings(season(picks=picks(values))) == []
    copied = values.copy()
    copied[40:48] = copied[8:16]  # the sixth day is the second
    (found,) = habit_findings(season(picks=picks(copied)))
    assert (found.kind, found.weight) == ("copied", "question")
    assert found.place == "inputs/x.csv, row 42"
    assert found.sentence.startswith("rows 42 to 49 hold the same 8 values of mass_kg")
    assert found.sentence.endswith("as rows 10 to 17")
    # block by block on one day, too
    copied = values.copy()
    copied[20:26] = copied[2:8]
    assert [f.place for f in habit_findings(season(picks=picks(copied)))] == [
        "inputs/x.csv, row 22"
    ]


def test_a_day_on_which_most_plots_give_the_same_is_no_question() -> None:
    """First fruits: nearly every plot gives one, of nearly one mass."""
    made = np.random.default_rng(5)
    first = made.choice([0.09, 0.10, 0.10, 0.10, 0.20], size=32)
    later = np.round(made.gamma(4.0, 0.5, size=96), 2)
    values = np.concatenate([first, later])
    found = habit_findings(season(picks=picks(values, plots=32)))
    assert [f for f in found if f.kind == "copied"] == []


def test_values_that_repeat_by_chance_are_asked_about_seldom() -> None:
    """Of 150 columns of 60 coarse values at most four standard errors above 1 in 1,000."""
    made = np.random.default_rng(6)
    asked = sum(
        bool(habit_findings(season(picks=picks(np.round(made.gamma(4.0, 0.5, size=60), 1)))))
        for _ in range(150)
    )
    assert asked <= 150 * 1e-3 + 4 * (150 * 1e-3) ** 0.5


def test_the_demo_seasons_are_audited_with_their_plan() -> None:
    held = audited("quarry-oaks")
    words = " ".join(held.again.looked_at)
    assert "claimed on 2025-02-24" in words
    assert "Side by side plots" in words
    outcome = judge(held.files, held.again, name="report", results=held.results)
    assert outcome.serious == 0


def test_every_kind_of_finding_says_what_to_ask() -> None:
    first = ("manifest", "input", "number", "file", "against", "second engine", "link")
    for kind in (*first, "plan", "layout", "balance", "digits", "copied", "looks"):
        assert Finding("serious", kind, "x", "y").asked().ask.endswith((".", "?")), kind


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from wickstats.demo.trials import copy_demo

    place = tmp_path_factory.mktemp("demo")
    (trial_folder, *_) = copy_demo(place)
    text = (trial_folder / "trial.yaml").read_text(encoding="utf-8")
    changed = text.replace("survival: {difference: 0.10}", "survival: {difference: 0.30}")
    assert changed != text
    (trial_folder / "trial.yaml").write_text(changed, encoding="utf-8")
    trial = read_trial(trial_folder / "trial.yaml")
    return write_report(analyze(trial, read_records(trial)), place / "report")


def state(folder: Path) -> dict[str, Any]:
    return {
        str(p): (p.lstat().st_mtime_ns, p.read_bytes() if p.is_file() else None)
        for p in sorted(folder.rglob("*"))
    }


def test_a_plan_changed_before_an_honest_report_a_link_and_a_folder_left_as_it_was(
    folder: Path, tmp_path: Path
) -> None:
    """The margin was widened after the draw and everything was then made anew."""
    (tmp_path / "elsewhere.csv").write_text("a\n1\n", encoding="utf-8")
    (folder / "tables" / "more.csv").symlink_to(tmp_path / "elsewhere.csv")
    before = state(folder)
    outcome = audit(folder)
    assert state(folder) == before
    assert [(f.kind, f.place) for f in outcome.findings if f.serious] == [
        ("link", "tables/more.csv")
    ]
    plan = [f for f in outcome.findings if f.kind == "plan"]
    assert [(f.weight, f.place) for f in plan] == [("question", "inputs/trial.yaml")]
    assert list(outcome.to_frame()["place"]) == [f.place for f in outcome.findings]
