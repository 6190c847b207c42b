"""Numbers as text, cleaned text, aligned cells, labels moved apart, SVG in a page."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_page import parse_page

from wickstats.core.numbers import (
    MINUS,
    MISSING,
    column_with_intervals,
    degrees,
    places_for,
    with_interval,
)
from wickstats.pages.blocks import Column, Items, Note, Page, Pairs, Section, Table, Text
from wickstats.pages.figures.svg import inline_svg, spread
from wickstats.pages.shell import aligned_cells, render
from wickstats.pages.text import anchor, clean, one_line


@pytest.mark.parametrize(
    ("numbers", "texts"),
    [
        ((25.04, 8.2, 42.1), ("25", "8 to 42")),
        ((1.2712, 1.0312, 1.5671), ("1.27", "1.03 to 1.57")),
        ((-0.0004, -0.05, 0.05), ("0.000", f"{MINUS}0.050 to 0.050")),
        ((12345.6, 12000.0, 13000.0), ("12\u202f346", "12\u202f000 to 13\u202f000")),
        ((0.93, None, None), ("0.930", MISSING)),
        ((100.0, 90.0, None), ("100", "90 to no upper limit")),
        ((None, None, None), (MISSING, MISSING)),
    ],
)
def test_decimals_follow_the_width_of_the_interval(
    numbers: tuple[float | None, float | None, float | None], texts: tuple[str, str]
) -> None:
    assert with_interval(*numbers) == texts


def test_a_column_has_one_number_of_decimals() -> None:
    rows = [(178.2, 160.1, 197.4), (208.71, 200.92, 210.0), (None, None, None)]
    assert column_with_intervals(rows) == [
        ("178.2", "160.1 to 197.4"),
        ("208.7", "200.9 to 210.0"),
        (MISSING, MISSING),
    ]


@given(st.floats(1e-6, 1e6), st.integers(-4, 4))
def test_decimals_shift_with_the_unit(width: float, power: int) -> None:
    wide = places_for(0.0, width)
    if 0 < wide < 9 and 0 < wide - power < 9:
        shifted = places_for(0.0, width * 10.0**power)
        assert abs(shifted - (wide - power)) <= 1  # the edge of a power of ten may round


@pytest.mark.parametrize(
    ("value", "text"), [(14.0, "14"), (13.72, "13.7"), (None, MISSING), (12.0000001, "12")]
)
def test_degrees_of_freedom(value: float | None, text: str) -> None:
    assert degrees(value) == text


@pytest.mark.parametrize(
    ("raw", "cleaned"),
    [
        ("a\u202eb\u2066c", "abc"),
        ("a\x00\x1b[31mb", "a[31mb"),
        (
            "5\u202f000\u00a0L \N{EM DASH} \N{MINUS SIGN}1",
            "5\u202f000\u00a0L \N{EM DASH} \N{MINUS SIGN}1",
        ),
        ("zero\u200bwidth\ufeff", "zerowidth"),
        ("\ud800", ""),
    ],
)
def test_control_and_direction_characters_go(raw: str, cleaned: str) -> None:
    assert clean(raw) == cleaned


def test_long_text_is_cut_on_one_line() -> None:
    assert one_line("a\n b  c") == "a b c"
    assert one_line("word " * 20, 12) == "word word w\N{HORIZONTAL ELLIPSIS}"


@given(st.text())
def test_anchors_are_plain(text: str) -> None:
    assert anchor(text)
    assert set(anchor(text)) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")


def test_cells_are_padded_to_the_decimal_point() -> None:
    table = Table(
        "c",
        (Column("a"), Column("n", numeric=True)),
        (("x", "1.25"), ("y", "3"), ("z", MISSING), ("w", "2.5")),
    )
    assert [row[1]["pad"] for row in aligned_cells(table)] == ["", ".25", "", "5"]


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="3 cells"):
        aligned_cells(Table("c", (Column("a"),), (("1", "2", "3"),)))


def test_two_sections_of_one_name_are_refused() -> None:
    with pytest.raises(ValueError, match="share the anchor 'a-b'"):
        render(Page("t", (Section("A b"), Section("a B"))))


def test_every_kind_of_block_is_rendered_and_escaped() -> None:
    blocks = (
        Text("one & <two>"),
        Text("three", strong=True),
        Items(("four", "<five>")),
        Pairs((("six", "seven"),)),
        Note("eight", "caution"),
        Table("nine", (Column("ten"), Column("n", numeric=True)), (("<r>", "1.5"),), "eleven"),
    )
    page = parse_page(render(Page("T <t>", (Section("S", blocks),), banners=("B",))))
    assert [p.text for p in page.all("main")[0].all("p")] == [
        "one & <two>",
        "three",
        "eight",
        "eleven",
    ]
    assert [i.text for i in page.all("li")] == ["four", "<five>"]
    assert page.all("dt")[0].text == "six"
    assert page.all("tbody")[0].all("th")[0].text == "<r>"
    assert page.all("h1")[0].text == "T <t>"


@given(
    st.lists(st.floats(0.0, 10.0), min_size=1, max_size=12),
    st.floats(0.05, 0.8),
)
def test_labels_are_moved_apart_in_their_order(positions: list[float], gap: float) -> None:
    moved = spread(positions, gap, 0.0, 10.0)
    pairs = sorted(zip(positions, moved, strict=True))
    ordered = sorted(moved)
    assert all(b - a >= gap - 1e-9 for a, b in pairwise(ordered))
    assert ordered == pytest.approx([m for _, m in sorted(pairs, key=lambda p: (p[0], p[1]))])
    assert min(moved) >= -1e-9
    assert max(moved) <= 10.0 + 1e-9


def test_labels_far_apart_stay_where_they_are() -> None:
    assert spread([3.0, 1.0, 2.0], 0.5, 0.0, 4.0) == [3.0, 1.0, 2.0]


def test_identifiers_of_pictures_do_not_meet_in_a_page() -> None:
    svg = (
        b'<?xml version="1.0"?><svg width="1pt" height="2pt" viewBox="0 0 1 2">'
        b'<defs><path id="m1"/></defs><use xlink:href="#m1" clip-path="url(#p1)"/></svg>'
    )
    text = inline_svg(svg, "height", "wide")
    assert 'id="height-m1"' in text
    assert 'href="#height-m1"' in text
    assert "url(#height-p1)" in text
    assert text.startswith('<svg class="wide" aria-hidden="true" viewBox')
