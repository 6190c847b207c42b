"""Replacements that cannot all be true are asked about, each with its words."""

import pytest
from support_records import season_of
from test_lives import HEAD, A, B, C, D, life

EVENTS = "date,plot,what,plant,new_plant\n"
PLANTS = "plot,plant,planted_on,replaces\n"
SEEN = HEAD + "".join(f"{A},A1,{k},alive,\n" for k in (1, 2, 3)) + f"{B},A1,1,dead,\n"


def found_of(code, visits=SEEN, **tables):
    season = season_of(visits=visits, **tables)
    return season, [q.found for q in season.queries if q.code == code]


@pytest.mark.parametrize(
    ("code", "plants", "events", "found"),
    [
        (
            "replaced twice",
            None,
            f"{B},A1,replaced,1,8\n{C},A1,replaced,1,9\n",
            "plant 1 of plot A1 replaced by 8 and by 9",
        ),
        (
            "replaced twice",
            f"A1,1,{A},\nA1,2,{A},\nA1,3,{A},\nA1,8,{C},1\n",
            f"{B},A1,replaced,1,9\n",
            "plant 1 of plot A1 replaced by 8 and by 9",
        ),
        (
            "replaces itself",
            f"A1,1,{A},\nA1,2,{A},\nA1,3,{A},3\n",
            None,
            "plant 3 of plot A1 replaces 3",
        ),
        (
            "planted before the other",
            f"A1,1,{B},\nA1,2,{A},\nA1,3,{A},\nA1,8,{A},1\n",
            None,
            f"plant 8 of plot A1, planted on {A}, replaces 1, planted on {B}",
        ),
        (
            "two planting days",
            f"A1,1,{A},\nA1,2,{A},\nA1,3,{A},\nA1,8,{D},1\n",
            f"{C},A1,replaced,1,8\n",
            f"plant 8 of plot A1 planted on {D}, and in place of 1 on {C}",
        ),
        (
            "dead after replacement",
            None,
            "2025-04-10,A1,replaced,1,8\n",
            f"plant 1 of plot A1 replaced on 2025-04-10, first seen dead on {B}",
        ),
    ],
)
def test_a_contradiction_is_asked_about(code, plants, events, found):
    tables = {}
    if plants is not None:
        tables["plants"] = PLANTS + plants
    if events is not None:
        tables["events"] = EVENTS + events
    season, said = found_of(code, **tables)
    assert said == [found]
    codes = {q.code for q in season.queries}
    assert not codes & {"replaced but not dead"}


def test_replacements_that_follow_each_other_are_not_asked_about():
    visits = SEEN + f"{C},A1,8,dead,\n{D},A1,9,alive,\n"
    plants = PLANTS + f"A1,1,{A},\nA1,2,{A},\nA1,3,{A},\nA1,8,{B},1\nA1,9,{C},8\n"
    events = EVENTS + f"{B},A1,replaced,1,8\n{C},A1,replaced,8,9\n"
    season, _ = found_of("", visits, plants=plants, events=events)
    assert [q.code for q in season.queries if q.code != "plots without records"] == []


def test_the_old_label_as_new_name_leaves_the_first_plant_an_original():
    visits = SEEN + f"{C},A1,1,alive,\n"
    season, said = found_of(
        "replacement without a name", visits, events=EVENTS + f"{B},A1,replaced,1,1\n"
    )
    assert len(said) == 1
    assert life(season)["original"] is True
    assert life(season)["fate"] == "dead"
    assert life(season, "1 (replacement)")["last_alive"] == C
