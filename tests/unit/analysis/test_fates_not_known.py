"""Where plants were not found, no sentence says that every plant of a treatment lived."""

from dataclasses import replace

import pandas as pd
import pytest
from analysis_makers import survival_season

import wickstats as ws
from wickstats.core.results import Results
from wickstats.design.trial import Matters, Plan
from wickstats.pages.blocks import Items, Note, Section
from wickstats.report.advisor import advisor_part
from wickstats.report.drawn import main_picture
from wickstats.report.effects import adjusted
from wickstats.report.facts import scene

PLAN = Plan(primary="survival", matters={"survival": Matters(difference=0.10)})


def analyzed(*, missing: bool) -> Results:
    trial, _, season = survival_season(
        {"hand": (4, 3, 5, 2), "wick": (8, 8, 8, 8)}, 8, plan=PLAN, reference="hand"
    )
    if missing:
        lives = season.lives
        gone = (lives["plot"] == "wick-1") & (lives["plant"] == "1")
        lives.loc[gone, ["last_alive", "last_seen"]] = pd.Timestamp("2025-04-10")
        lives.loc[gone, "fate"] = "not found"
    return ws.analyze(trial, season)


def told(*, missing: bool) -> tuple[str, str]:
    found = analyzed(missing=missing).response("survival")
    (row,) = [c for c in found.comparisons if c.sentence is not None]
    return row.sentence or "", " ".join(found.cautions)


def test_a_plant_that_was_not_found_is_not_said_to_have_lived() -> None:
    sentence, cautions = told(missing=True)
    assert "every plant of wick whose fate is known lived" in sentence
    assert "Not of every plant of wick is it known what became of it" in cautions
    assert "Every plant of wick whose fate is known lived. That is no proof" in cautions
    assert "Every plant of wick lived" not in cautions


def test_where_all_were_seen_every_plant_lived() -> None:
    sentence, cautions = told(missing=False)
    assert "every plant of wick lived" in sentence
    assert "Not of every plant" not in cautions
    assert "Every plant of wick lived. That is no proof" in cautions


def texts_of(section: Section) -> str:
    """All items and notes of a part of the page."""
    texts = [texts_of(below) for below in section.sections]
    for block in section.blocks:
        if isinstance(block, Items):
            texts += block.items
        elif isinstance(block, Note):
            texts.append(block.text)
    return " ".join(texts)


@pytest.mark.parametrize(("missing", "fate"), [(True, " whose fate is known"), (False, "")])
def test_page_one_says_so_too(missing: bool, fate: str) -> None:
    found = analyzed(missing=missing)
    page = texts_of(advisor_part(scene(found, ()), None))
    assert f"All plants of wick{fate} lived." in page
    assert f"every plant of wick{fate} lived" in page
    means = found.response("survival").means
    (mean,) = [m for m in means if m.treatment == "wick" and m.estimand == "share alive"]
    assert mean.n_unseen == int(missing)
    assert mean.not_estimable is not None
    assert mean.not_estimable.startswith(f"all plants{fate} lived")


def test_an_arm_no_longer_watched_is_told_with_its_last_day() -> None:
    # no plant of wick was seen after day 40: alive then, and nobody knows what came later
    trial, _, season = survival_season(
        {"hand": (4, 3, 5, 2), "wick": (8, 8, 8, 8)}, 8, plan=PLAN, reference="hand"
    )
    lives = season.lives
    wick = lives["plot"].str.startswith("wick")
    lives.loc[wick, ["last_alive", "last_seen"]] = pd.Timestamp("2025-04-10")
    found = ws.analyze(trial, season)
    picture = main_picture(scene(found, ()), found.response("survival"), "a")
    assert picture is not None
    assert "hand 44 and wick 100 (on day 40, when last watched)" in picture.alternative
    whole = analyzed(missing=False)
    picture = main_picture(scene(whole, ()), whole.response("survival"), "a")
    assert picture is not None
    assert "when last watched" not in picture.alternative


def test_plants_that_browsing_took_are_not_said_to_have_lived() -> None:
    plan = PLAN.model_copy(update={"browsing": "competing cause"})
    trial, _, season = survival_season(
        {"hand": (4, 3, 5, 2), "wick": (8, 8, 7, 8)}, 8, plan=plan, reference="hand"
    )
    lives = season.lives
    taken = lives["plot"].str.startswith("wick") & lives["first_dead"].notna()
    lives.loc[taken, "cause"] = "browsing"
    means = ws.analyze(trial, season).response("survival").means
    (mean,) = [m for m in means if m.treatment == "wick" and "other causes" in m.estimand]
    assert mean.estimate == 1.0
    assert mean.not_estimable is not None
    assert mean.not_estimable.startswith("no plant, or every one, died of another cause")


def test_no_difference_of_shares_is_told_beyond_all_plants() -> None:
    found = analyzed(missing=False).response("survival")
    row = replace(found.comparisons[0], low_adjusted=-1.77, high_adjusted=1.2)
    assert adjusted(row) == (-1.0, 1.0)
    ratio = replace(row, measure="ratio", high_adjusted=1.7)
    assert adjusted(ratio) == (-1.77, 1.7)
