"""Pictures of survival, read as SVG: lines, bands, labels, counts, causes, comparisons, gray.

Contrast: relative luminance as in WCAG 2.1; gray print is taken as that luminance.
"""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import wickstats as ws
from wickstats.core.words import say
from wickstats.pages.figures import causes as causes_picture
from wickstats.pages.figures.palette import QUIET, looks

OAKS = Path(ws.__file__).parent / "demo" / "quarry-oaks" / "trial.yaml"
ARMS = ("hand watering", "capillary wick", "gravity wick", "buried clay pot")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def pictures(oak_report: tuple[bytes, dict[str, bytes]]) -> dict[str, ET.Element]:
    return {name: ET.fromstring(data) for name, data in oak_report[1].items()}


def style(element: ET.Element, key: str) -> str | None:
    found = re.search(rf"(?:^|;)\s*{key}:\s*([^;]+)", element.get("style", ""))
    return found.group(1).strip() if found else None


def corners(element: ET.Element) -> list[tuple[float, float]]:
    return [
        (float(x), float(y))
        for x, y in re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", element.get("d", ""))
    ]


def line_of(picture: ET.Element, color: str) -> ET.Element:
    """The longest unfilled path of one color: the arm's curve."""
    found = [
        p
        for p in picture.iter(f"{SVG}path")
        if style(p, "stroke") == color and style(p, "fill") == "none" and p.get("clip-path")
        if float(style(p, "stroke-width") or 1.0) > 1.0  # thin ones are the smooth curves
    ]
    return max(found, key=lambda p: len(corners(p)))


def texts(picture: ET.Element) -> list[tuple[str, float, float]]:
    out = []
    for t in picture.iter(f"{SVG}text"):
        place = re.search(r"translate\((-?[\d.]+) (-?[\d.]+)\)", t.get("transform", ""))
        x = float(place.group(1)) if place else float(t.get("x", "nan"))
        y = float(place.group(2)) if place else float(t.get("y", "nan"))
        out.append(("".join(t.itertext()).strip(), x, y))
    return out


def luminance(color: str) -> float:
    parts = [int(color[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_curve_has_its_own_dash_and_a_band_of_its_color(pictures) -> None:
    picture = pictures["survival-curves.svg"]
    wanted = looks(ARMS)
    dashes = set()
    for arm in ARMS:
        line = line_of(picture, wanted[arm].color)
        dashes.add(style(line, "stroke-dasharray"))
        bands = [
            p
            for p in picture.iter()
            if style(p, "fill") == wanted[arm].color
            and float(style(p, "fill-opacity") or 1) < 0.5
        ]
        assert bands, arm
    assert len(dashes) == len(ARMS)


def test_curves_slope_where_deaths_lie_between_visits(oaks, pictures) -> None:
    picture = pictures["survival-curves.svg"]
    points = [p for p in oaks.response("survival").curves if p.group == ARMS[0]]
    uncertain = sum(
        later.time_low > sooner.time_high and later.share < sooner.share
        for sooner, later in pairwise(points)
    )
    line = corners(line_of(picture, looks(ARMS)[ARMS[0]].color))
    sloped = sum(
        x1 > x0 + 1e-6 and abs(y1 - y0) > 1e-6 for (x0, y0), (x1, y1) in pairwise(line)
    )
    assert uncertain >= 4
    # no fall is drawn upright: every death here lies between two visits
    assert sloped == uncertain
    upright = [1 for (x0, y0), (x1, y1) in pairwise(line) if x1 == x0 and y1 != y0]
    assert not upright


def test_labels_stand_at_the_lines_and_counts_under_their_ticks(oaks, pictures) -> None:
    picture = pictures["survival-curves.svg"]
    told = texts(picture)
    curves = oaks.response("survival").curves
    for arm in ARMS:
        last = max((p for p in curves if p.group == arm), key=lambda p: p.time_low)
        label = [t for t in told if t[0] == f"{arm} {100 * last.share:.0f}"]
        assert len(label) == 1
        assert label[0][1] > max(
            x for x, _ in corners(line_of(picture, looks(ARMS)[arm].color))
        )
    ticks = [(t, x) for t, x, y in told if re.fullmatch(r"\d+", t) and _is_tick(told, t, x, y)]
    head = next(y for t, _, y in told if t == say("at risk"))
    below = [(t, x) for t, x, y in told if y > head + 1 and re.fullmatch(r"\d+", t)]
    places = sorted({round(x, 0) for _, x in below})
    assert len(below) == len(places) * len(ARMS)
    # each column of counts stands under a tick's own label
    centers = sorted(round(x, 0) for _, x in ticks)
    assert len(centers) == len(places)
    for one, other in zip(places, centers, strict=True):
        assert abs(one - other) <= 12
    starts = [p.at_risk for arm in ARMS for p in curves if p.group == arm and p.time_low == 0]
    first = [int(t) for t, x in below if round(x, 0) == places[0]]
    assert first == starts


def _is_tick(told: list[tuple[str, float, float]], text: str, x: float, y: float) -> bool:
    """A number in the row of the day 0's label, which stands lowest above the counts."""
    head = next(v for t, _, v in told if t == say("at risk"))
    rows = sorted({round(v, 1) for t, _, v in told if re.fullmatch(r"\d+", t) and v < head})
    del text, x
    return round(y, 1) == rows[-1]


def test_the_forest_tells_every_comparison_and_its_interval(oaks, pictures) -> None:
    told = [t for t, _, _ in texts(pictures["survival-comparisons.svg"])]
    lead = [c for c in oaks.response("survival").comparisons if c.verdict]
    for row in lead:
        low, high = 100 * row.low_adjusted, 100 * row.high_adjusted
        numbers = f"{100 * row.estimate:.0f} ({low:.0f} to {high:.0f})".replace("-", "−")
        assert numbers in told


def test_causes_have_their_own_hatching_and_are_dark_enough(pictures) -> None:
    picture = pictures["survival-causes.svg"]
    assert len(list(picture.iter(f"{SVG}pattern"))) >= 3
    assert len(set(causes_picture._HATCHES)) == len(causes_picture._FILLS)


COLORS = {look.color for look in looks([str(k) for k in range(40)]).values()}


@pytest.mark.parametrize("color", sorted({*COLORS, QUIET, *causes_picture._FILLS}))
def test_in_gray_every_line_stands_out_three_to_one(color: str) -> None:
    gray = round(255 * _to_display(luminance(color)))
    printed = f"#{gray:02x}{gray:02x}{gray:02x}"
    assert (1.0 + 0.05) / (luminance(printed) + 0.05) >= 3.0


def _to_display(value: float) -> float:
    return 12.92 * value if value <= 0.0031308 else 1.055 * value ** (1 / 2.4) - 0.055


def test_an_arm_that_lost_nothing_has_a_level_line_and_a_band_that_widens(oaks) -> None:
    from wickstats.analysis.curves import _curve
    from wickstats.analysis.lives import read_lives
    from wickstats.analysis.units import lay_out_units

    trial = ws.read_trial(OAKS)
    season = ws.read_records(trial)
    units = lay_out_units(trial, season.layout)
    lives = read_lives(season, units)
    spared = replace(
        lives, low=np.full_like(lives.low, 210.0), high=np.full_like(lives.high, np.inf)
    )
    points = _curve(spared, units, units.cells[:1] * 0, "hand watering", 0.95)
    assert [p.share for p in points] == [1.0, 1.0]
    assert (points[0].low, points[0].high) == (None, None)
    assert points[0].time_high == points[0].time_low  # the band opens from the first day
    assert points[1].time_low == 210.0
    assert 0.8 < points[1].low < 1.0
    assert points[1].at_risk == points[0].at_risk


def test_smooth_curves_are_thin_and_stay_where_they_are_drawn(oaks, pictures) -> None:
    picture = pictures["survival-curves.svg"]
    fits = {fit.group: fit for fit in oaks.response("survival").curve_fits}
    for arm in ARMS:
        thin = [
            p
            for p in picture.iter(f"{SVG}path")
            if style(p, "stroke") == looks(ARMS)[arm].color
            and style(p, "fill") == "none"
            and p.get("clip-path")
            and float(style(p, "stroke-width") or 1.0) < 1.0
        ]
        assert len(thin) == int(fits[arm].drawn)
        if thin:
            # as tall as its shares, on the scale of the whole figure's axis
            xs, ys = zip(*corners(thin[0]), strict=True)
            assert min(xs) == xs[0]
            assert list(ys) == sorted(ys)
    assert {arm for arm in ARMS if not fits[arm].drawn} == {"capillary wick"}
    assert say("smooth key", shapes="Weibull, log-logistic") in [
        t for t, _, _ in texts(picture)
    ]


def test_words_name_the_smooth_curves_and_why_one_is_missing(oak_report) -> None:
    page = oak_report[0]
    told = page.decode() if isinstance(page, bytes) else str(page)
    assert "hand watering: log-logistic" in told
    assert "capillary wick (fewer than 5 deaths" in told
