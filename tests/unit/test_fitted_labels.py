"""Names in pictures are cut to the width they have; what stands after them is not."""

import pytest
from matplotlib.figure import Figure

from wickstats.pages.figures.fit import fitted


@pytest.mark.parametrize("text", ["hand", "W" * 60, "i" * 60, "a wick <b>of</b> & two & three"])
def test_a_label_is_no_wider_than_its_place(text: str) -> None:
    label = fitted(text, 1.0, 8.5, after=" 83")
    figure = Figure(figsize=(6, 1), dpi=720)
    drawn = figure.text(0, 0, label, fontsize=8.5, parse_math=False)
    assert drawn.get_window_extent().width <= 720.0 + 5.0  # hinting moves a letter by a pixel
    assert label.endswith(" 83")
    assert (label == f"{text} 83") == (len(text) < 10)
