"""Visit histories written by hand, and the lives that follow from them."""

from typing import Any

import pandas as pd
import pytest
from support_records import season_of

from wickstats.records.season import Season

HEAD = "date,plot,plant,status,cause\n"
A, B, C, D = "2025-04-01", "2025-05-01", "2025-06-01", "2025-07-01"
START = "2025-03-01"


def asked(season: Season) -> list[str]:
    """Codes of the queries but that most plots of the layout are not in these tables."""
    return [q.code for q in season.queries if q.code != "plots without records"]


def life(season: Any, plant: str = "1", plot: str = "A1") -> dict[str, Any]:
    """One plant's life as text, None where there is no day."""
    lives = season.lives
    row = lives[(lives["plot"] == plot) & (lives["plant"] == plant)]
    assert len(row) == 1
    said = row.iloc[0].to_dict()
    return {
        k: (None if pd.isna(v) else str(v)[:10] if isinstance(v, pd.Timestamp) else v)
        for k, v in said.items()
    }


def visits(*states: tuple[str, str]) -> str:
    return HEAD + "\n".join(f"{day},A1,1,{status}," for day, status in states)


@pytest.mark.parametrize(
    ("states", "last_alive", "first_dead", "last_seen", "fate", "doubtful_from"),
    [
        ([(A, "alive"), (B, "alive")], B, None, B, "alive", None),
        ([(A, "alive"), (B, "dead")], A, B, B, "dead", None),
        ([(A, "alive"), (C, "dead"), (D, "dead")], A, C, D, "dead", None),
        ([(A, "dead")], START, A, A, "dead", None),
        # doubtful then dead keeps the interval from the last confirmed life
        ([(A, "alive"), (B, "doubtful"), (C, "dead")], A, C, C, "dead", B),
        # doubtful then alive is forgotten
        ([(A, "alive"), (B, "doubtful"), (C, "alive")], C, None, C, "alive", None),
        ([(A, "alive"), (B, "doubtful"), (C, "doubtful")], A, None, C, "alive", B),
        # not found is censored where it was last seen
        ([(A, "alive"), (B, "not found"), (C, "not found")], A, None, A, "not found", None),
        ([(A, "alive"), (B, "not found"), (C, "alive")], C, None, C, "alive", None),
        ([(A, "alive"), (B, "not found"), (C, "dead")], A, C, C, "dead", None),
        # nobody went: nothing is known of that day
        ([(A, "alive"), (B, "not visited"), (C, "dead")], A, C, C, "dead", None),
        ([(A, "alive"), (B, "not visited")], A, None, A, "alive", None),
        ([(A, "not visited")], START, None, None, "never seen", None),
        # dead, then alive: the death is set aside
        ([(A, "dead"), (B, "alive")], B, None, B, "alive", None),
        ([(A, "dead"), (B, "alive"), (C, "dead")], B, C, C, "dead", None),
    ],
)
def test_a_history_becomes_an_interval(
    states: list[tuple[str, str]],
    last_alive: str,
    first_dead: str | None,
    last_seen: str | None,
    fate: str,
    doubtful_from: str | None,
) -> None:
    found = life(season_of(visits=visits(*states)))
    assert found["last_alive"] == last_alive
    assert found["first_dead"] == first_dead
    assert found["last_seen"] == last_seen
    assert found["fate"] == fate
    assert found["doubtful_from"] == doubtful_from
    assert found["planted_on"] == START
    assert found["original"] is True


def test_a_death_that_was_set_aside_is_no_row_of_the_table() -> None:
    season = season_of(visits=visits((A, "dead"), (B, "alive")))
    assert list(season.tables["visits"]["status"]) == ["alive"]
    assert [(x.row, x.reason) for x in season.exclusions] == [(2, "dead, but seen alive later")]


def test_the_cause_is_the_one_noted_first() -> None:
    text = (
        HEAD + f"{A},A1,1,alive,\n{B},A1,1,dead,\n{C},A1,1,dead,drought\n{D},A1,1,dead,disease"
    )
    assert life(season_of(visits=text))["cause"] == "drought"


def test_planting_days_come_from_the_table_of_plants() -> None:
    plants = "plot,plant,planted_on\nA1,1,2025-03-20\nA1,2,2025-03-21\nA1,3,2025-03-21\n"
    season = season_of(visits=visits((A, "dead")), plants=plants)
    assert life(season)["last_alive"] == life(season)["planted_on"] == "2025-03-20"
    unseen = life(season, "2")
    assert (unseen["fate"], unseen["last_alive"], unseen["last_seen"]) == (
        "never seen",
        "2025-03-21",
        None,
    )


def test_without_any_planting_day_the_first_visit_is_taken_and_said() -> None:
    season = season_of(visits=visits((A, "alive"), (B, "dead")), season=False)
    assert life(season)["planted_on"] == A
    assert asked(season) == ["no planting day"]


def test_a_replacement_enters_late_under_its_own_name() -> None:
    text = HEAD + f"{A},A1,1,alive,\n{B},A1,1,dead,\n{C},A1,9,alive,\n{D},A1,9,dead,"
    events = f"date,plot,what,plant,new_plant\n{B},A1,replaced,1,9\n"
    season = season_of(visits=text, events=events)
    old, new = life(season), life(season, "9")
    assert (old["fate"], old["first_dead"], old["original"]) == ("dead", B, True)
    assert (new["planted_on"], new["original"], new["replaces"]) == (B, False, "1")
    assert (new["last_alive"], new["first_dead"]) == (C, D)
    assert asked(season) == []


def test_a_replacement_that_took_the_old_label_is_told_apart_by_the_day() -> None:
    text = visits((A, "alive"), (B, "dead"), (C, "alive"), (D, "alive"))
    events = f"date,plot,what,plant,new_plant\n{B},A1,replaced,1,\n"
    season = season_of(visits=text, events=events)
    assert (life(season)["fate"], life(season)["first_dead"]) == ("dead", B)
    new = life(season, "1 (replacement)")
    assert (new["fate"], new["last_alive"], new["original"]) == ("alive", D, False)
    assert asked(season) == ["replacement without a name"]


def test_a_plant_replaced_without_having_been_dead_is_lost_when_last_seen() -> None:
    events = f"date,plot,what,plant,new_plant\n{C},A1,replaced,1,9\n"
    season = season_of(visits=visits((A, "alive"), (B, "alive")), events=events)
    found = life(season)
    assert (found["fate"], found["last_alive"], found["first_dead"]) == ("lost", B, None)
    assert "replaced but not dead" in [q.code for q in season.queries]


def test_old_label_alive_after_a_named_replacement_is_not_used() -> None:
    events = f"date,plot,what,plant,new_plant\n{B},A1,replaced,1,9\n"
    season = season_of(visits=visits((A, "alive"), (B, "dead"), (C, "alive")), events=events)
    assert life(season)["fate"] == "dead"
    assert [x.reason for x in season.exclusions] == ["the plant had been replaced"]


def test_a_flood_takes_the_plot_and_its_deaths_do_not_count() -> None:
    text = HEAD + "".join(
        f"{A},{p},{k},alive,\n{C},{p},{k},dead,\n" for p in ("A1", "A2") for k in (1, 2, 3)
    )
    events = f"date,plot,what\n{B},A1,flood damage\n"
    season = season_of(visits=text, events=events)
    assert season.lost_plots["A1"] == f"flood damage on {B}"
    assert (life(season)["fate"], life(season)["first_dead"]) == ("lost", None)
    assert life(season, plot="A2")["fate"] == "dead"
    assert {x.reason for x in season.exclusions} == {"the plot was lost"}


def test_a_flood_that_left_plants_alive_does_not_take_the_plot() -> None:
    events = f"date,plot,what\n{B},A1,flood damage\n"
    season = season_of(visits=visits((A, "alive"), (C, "alive")), events=events)
    assert "A1" not in season.lost_plots
    assert "life after loss" in [q.code for q in season.queries]


def test_plots_without_any_row_are_lost_without_records() -> None:
    season = season_of(visits=visits((A, "alive")))
    assert dict(season.lost_plots) == dict.fromkeys(("A2", "A3", "007", "B2"), "no records")


def test_falling_counts_are_interval_censored_deaths() -> None:
    text = (
        "date,plot,plant,alive_n,dead_n,not_found_n\n"
        f"{A},A1,,3,0,0\n{B},A1,,2,1,0\n{C},A1,,1,1,1\n{D},A1,,1,2,0\n"
    )
    lives = season_of(visits=text).lives
    assert lives is not None
    spans = sorted(
        (str(a)[:10], None if pd.isna(d) else str(d)[:10], fate)
        for a, d, fate in zip(
            lives["last_alive"], lives["first_dead"], lives["fate"], strict=True
        )
    )
    # one between A and B; one alive at B, not found at C, dead at D; one alive to the end
    assert spans == [(A, B, "dead"), (B, D, "dead"), (D, None, "alive")]


def test_counted_plants_have_the_planting_day_of_the_table_of_plants() -> None:
    text = f"date,plot,plant,alive_n,dead_n,not_found_n\n{C},A1,,3,0,0\n{D},A1,,2,1,0\n"
    rows = [f"A1,{k},{B}" for k in (1, 2, 3)]
    season = season_of(visits=text, plants="\n".join(["plot,plant,planted_on", *rows]))
    assert season.lives is not None
    assert {str(day)[:10] for day in season.lives["planted_on"]} == {B}
    assert [q.code for q in season.queries if "counted" in q.code] == []
    # of two days: asked about, and the death is that of a plant planted first
    rows[0] = f"A1,1,{A}"
    season = season_of(visits=text, plants="\n".join(["plot,plant,planted_on", *rows]))
    assert [q.code for q in season.queries if "counted" in q.code] == [
        "counted plants of several days"
    ]
    assert season.lives is not None
    dead = season.lives["first_dead"].notna()
    assert [str(day)[:10] for day in season.lives["planted_on"][dead]] == [A]
    assert sorted(str(day)[:10] for day in season.lives["planted_on"]) == sorted([A, B, B])


def test_lifetimes_count_days() -> None:
    text = "plot,plant,last_alive_d,first_dead_d\nA1,1,6,6\nA1,2,10,\nA1,3,0,3\n"
    season = season_of(lifetimes=text)
    assert season.days_not_dates
    assert season.lives is not None
    assert list(season.lives["fate"]) == ["dead", "alive", "dead"]
    assert list(season.lives["last_alive"]) == [6.0, 10.0, 0.0]
    assert season.lives["first_dead"].fillna(-1).tolist() == [6.0, -1.0, 3.0]
