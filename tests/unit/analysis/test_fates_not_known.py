"""Where plants were not found, no sentence says that every plant of a treatment lived."""

import pandas as pd
from analysis_makers import survival_season

import wickstats as ws
from wickstats.design.trial import Matters, Plan

PLAN = Plan(primary="survival", matters={"survival": Matters(difference=0.10)})


def told(*, missing: bool) -> tuple[str, str]:
    trial, _, season = survival_season(
        {"hand": (4, 3, 5, 2), "wick": (8, 8, 8, 8)}, 8, plan=PLAN, reference="hand"
    )
    if missing:
        lives = season.lives
        gone = (lives["plot"] == "wick-1") & (lives["plant"] == "1")
        lives.loc[gone, ["last_alive", "last_seen"]] = pd.Timestamp("2025-04-10")
        lives.loc[gone, "fate"] = "not found"
    found = ws.analyze(trial, season).response("survival")
    (row,) = [c for c in found.comparisons if c.sentence is not None]
    return row.sentence or "", " ".join(found.cautions)


def test_a_plant_that_was_not_found_is_not_said_to_have_lived() -> None:
    sentence, cautions = told(missing=True)
    assert "every plant of wick whose fate is known lived" in sentence
    assert "Not of every plant of wick is it known what became of it" in cautions


def test_where_all_were_seen_every_plant_lived() -> None:
    sentence, cautions = told(missing=False)
    assert "every plant of wick lived" in sentence
    assert "Not of every plant" not in cautions
