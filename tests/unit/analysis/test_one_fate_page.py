"""Page one of seasons in which all plants of a treatment lived, or died, read as an advisor.

The shares that may be so in more plots are 0.05^(1/n) and 1 - 0.05^(1/n) for n effective
plants (Clopper & Pearson 1934, Biometrika 26:404, one-sided), computed here.
"""

import pytest
from analysis_makers import survival_season
from support_page import parse_page

import wickstats as ws
from wickstats.design.trial import Matters, Plan
from wickstats.report.page import report_page

PLAN = Plan(primary="survival", matters={"survival": Matters(difference=0.10)})
N = 4 * 8 / (1 + 7 * 0.1)  # four plots of eight plants at a correlation of 0.1
LIVE, DIE = round(100 * 0.05 ** (1 / N)), round(100 * (1 - 0.05 ** (1 / N)))
SOME = (4, 3, 5, 2)
ALL, NONE = (8,) * 4, (0,) * 4
OPEN = "Where all live, or all die, no number of blocks can be named."
FEW = "In more plots like these, as few as {} of 100 may live."
MANY = "In more plots like these, as many as {} of 100 may live."


def page_one(**alive: tuple[int, ...]) -> str:
    """The words of the advisor's part."""
    trial, _, season = survival_season(alive, 8, plan=PLAN, reference="hand")
    page = parse_page(report_page(ws.analyze(trial, season))[0])
    text = " ".join(page.text.split())
    begin = text.index("What was tried We compared")
    return text[begin : text.index("Where every plant went", begin)]


def test_a_treatment_that_lost_nothing_is_no_promise() -> None:
    words = page_one(hand=SOME, wick=ALL)
    assert "Wick did better than hand: 56 more of 100 plants alive" in words
    assert "every plant of wick lived" in words
    assert f"All plants of wick lived. {FEW.format(LIVE)}" in words
    assert "All plants of hand" not in words


def test_a_treatment_that_lost_all() -> None:
    words = page_one(hand=NONE, wick=SOME)
    assert "Wick did better than hand" in words
    assert f"All plants of hand died. {MANY.format(DIE)}" in words


@pytest.mark.parametrize(
    ("counts", "fate", "may"),
    [(ALL, "lived", FEW.format(LIVE)), (NONE, "died", MANY.format(DIE))],
)
def test_one_fate_for_all_cannot_tell_and_names_no_blocks(counts, fate, may) -> None:
    words = page_one(hand=counts, wick=counts)
    assert "Wick or hand: we cannot tell; as many of 100 plants alive" in words
    assert f"every plant of wick and of hand {fate}" in words
    assert f"All plants of hand and wick {fate}. {may}" in words
    assert OPEN in words
    assert "More blocks would narrow" not in words


def test_one_death_is_told_as_one_death() -> None:
    words = page_one(hand=(8, 7, 8, 8), wick=ALL)
    assert "Wick or hand: we cannot tell; 3 more of 100 plants alive" in words
    assert f"All plants of wick lived. {FEW.format(LIVE)}" in words
    assert OPEN in words


def test_where_some_died_in_both_nothing_of_it_is_said() -> None:
    words = page_one(hand=SOME, wick=(5, 6, 4, 6))
    assert "All plants of" not in words
    assert OPEN not in words


def test_in_spanish_too() -> None:
    trial, _, season = survival_season(
        {"hand": SOME, "wick": ALL}, 8, plan=PLAN, reference="hand"
    )
    results = ws.analyze(trial, season)
    text = " ".join(parse_page(report_page(results, language="es")[0]).text.split())
    assert "Todas las plantas de wick vivieron." in text
    assert f"pueden vivir solo {LIVE} de 100" in text
