"""Totals of plots with and without what replacement plants bore, worked by hand."""

import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial

from wickstats.analysis.season import analyze_season
from wickstats.core.responses import ResponseResult
from wickstats.design.trial import Response

START = pd.Timestamp("2025-05-01")
ARMS = ("hand", "wick")
KG = {"hand": (2.0, 3.0, 4.0, 5.0), "wick": (4.0, 5.0, 8.0, 9.0)}


def fruit(kind: str = "yield", named: bool = False, replaced: tuple[str, ...] = ("hand1",)):
    """Four blocks; each plot bears its kg by plant 1, a replacement bears 1 kg more."""
    rows, picks, lives = [], [], []
    for arm in ARMS:
        for k, kg in enumerate(KG[arm]):
            plot = f"{arm}{k + 1}"
            rows.append({"plot": plot, "treatment": arm, "block": str(k + 1), "plants": 2})
            mine = [("1", kg), ("9", 1.0)] if plot in replaced else [("1", kg)]
            for plant, mass in mine:
                original = plant != "9"
                lives.append(
                    {
                        "plot": plot,
                        "plant": plant,
                        "planted_on": START + pd.Timedelta(days=0 if original else 30),
                        "original": original,
                        "replaces": None if original else "2",
                        "fate": "alive",
                    }
                )
                if named:
                    picks.append({"plot": plot, "plant": plant, "mass_kg": mass, "count": mass})
            if not named:
                whole = sum(mass for _, mass in mine)
                picks.append({"plot": plot, "mass_kg": whole, "count": whole})
    days = ("last_alive", "first_dead", "last_seen", "doubtful_from")
    frame = pd.DataFrame(lives).assign(**dict.fromkeys(days, pd.NaT), cause=None)
    trial = make_trial(
        [factor("treatment", ARMS, "hand")], [Response(name="fruit", kind=kind, better="more")]
    )
    layout = make_layout(rows, ["treatment"])
    season = make_season(layout, lives=frame, tables={"picks": pd.DataFrame(picks)})
    return trial, layout, season


def run(**how) -> ResponseResult:
    return analyze_season(*fruit(**how)).responses[0]


def ratio(values: dict[str, tuple[float, ...]]) -> float:
    """Ratio of geometric means over the blocks."""
    product = 1.0
    for a, b in zip(values["wick"], values["hand"], strict=True):
        product *= a / b
    return product ** (1 / len(values["hand"]))


def test_plots_with_replacements_stay_in_and_stand_beside_without() -> None:
    found = run()
    withal = {"hand": (3.0, 3.0, 4.0, 5.0), "wick": KG["wick"]}
    assert found.comparisons[0].estimate == pytest.approx(ratio(withal), rel=1e-9)
    (row,) = [c for c in found.sensitivity if "without the units that hold" in c.name]
    kept = {arm: KG[arm][1:] for arm in ARMS}  # block 1 has lost its hand plot
    assert row.estimate == pytest.approx(ratio(kept), rel=1e-9)
    assert row.verdict is None
    assert any("in 1 units (hand1)" in text for text in found.cautions)


def test_where_picks_name_plants_the_first_plants_are_told_apart() -> None:
    found = run(named=True)
    (row,) = [c for c in found.sensitivity if "without what replacement plants bore" in c.name]
    assert row.estimate == pytest.approx(ratio(KG), rel=1e-9)
    unit = next(u for u in found.unit_summary.values if u.unit == "hand1")
    assert unit.value == pytest.approx(1.0986123, abs=1e-6)  # log of 2 + 1 kg stays primary


def test_counts_are_told_the_same_way() -> None:
    found = run(kind="count", named=True, replaced=("hand1", "wick2"))
    labels = {c.name.split(" (")[1].rstrip(")") for c in found.sensitivity}
    assert {
        "without the units that hold replacement plants",
        "without what replacement plants bore",
    } <= labels
    row = next(c for c in found.sensitivity if "without what" in c.name)
    assert row.estimate == pytest.approx(26 / 14, rel=1e-9)
    assert found.comparisons[0].estimate == pytest.approx(27 / 15, rel=1e-9)


def test_without_replacements_there_is_nothing_to_tell() -> None:
    found = run(replaced=())
    assert not [c for c in found.sensitivity if "replacement" in c.name]
    assert not [c for c in found.cautions if "replacement" in c.lower()]
