"""Every kind of picture beside a small stored copy of itself, within a tolerance.

Chromium draws, and squares of pixels are averaged, so that letters a hair wider or another
smoothing of edges do not count, but a mark that moved, a color that changed or a label that
went does. ``WICKSTATS_STORE=1`` stores the copies anew; look at them before they
are kept.
"""

import io
import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from wickstats.archive.tables import response_stems
from wickstats.core.results import Results
from wickstats.report.drawn import forest_picture
from wickstats.report.facts import scene

if TYPE_CHECKING:
    from playwright.sync_api import Browser

STORED = Path(__file__).parent / "stored"
WIDTH, CELL = 480, 3  # pixels drawn across, and those of a square
MEAN, PEAK = 1.0, 40.0  # of 255: over all squares, and of the 99.9th percentile
KINDS = (
    "survival-curves.svg",
    "survival-causes.svg",
    "survival-comparisons.svg",
    "survival-checks.svg",
    "survival-season-curves.svg",
    "height-units.svg",
    "water.svg",
    "costs-survivors.svg",
)
Pixels = NDArray[np.float64]


def drawn(browser: "Browser", pictures: dict[str, bytes]) -> dict[str, Pixels]:
    """Each picture as (rows, columns, 3) means of squares, 0 to 255."""
    page = browser.new_page(viewport={"width": WIDTH, "height": 1200})
    out = {}
    for name, svg in pictures.items():
        code = svg.decode().split("?>", 1)[-1]
        page.set_content(
            f"<style>body{{margin:0}}svg{{display:block;width:{WIDTH}px;height:auto}}</style>"
            f"<div id=box>{code[code.index('<svg') :]}</div>"
        )
        shot = page.locator("#box").screenshot()
        pixels = np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), dtype=float)
        high, wide = (n // CELL for n in pixels.shape[:2])
        squares = pixels[: high * CELL, : wide * CELL].reshape(high, CELL, wide, CELL, 3)
        out[name] = squares.mean(axis=(1, 3))
    page.close()
    return out


def apart(one: Pixels, other: Pixels) -> tuple[float, float]:
    """Mean and 99.9th percentile of the difference of squares; rows may differ by one."""
    assert abs(one.shape[0] - other.shape[0]) <= 1, (one.shape, other.shape)
    rows = min(one.shape[0], other.shape[0])
    differences = np.abs(one[:rows] - other[:rows]).max(axis=2)
    return float(differences.mean()), float(np.quantile(differences, 0.999))


def test_pictures_look_as_they_did(
    browser: "Browser", oak_report: tuple[bytes, dict[str, bytes]]
) -> None:
    found = drawn(browser, {name: oak_report[1][name] for name in KINDS})
    if os.environ.get("WICKSTATS_STORE"):
        STORED.mkdir(exist_ok=True)
        for name, pixels in found.items():
            image = Image.fromarray(pixels.round().astype(np.uint8))
            image.save(STORED / f"{Path(name).stem}.png", optimize=True)
    far = {}
    for name, pixels in found.items():
        image = Image.open(STORED / f"{Path(name).stem}.png").convert("RGB")
        mean, peak = apart(pixels, np.asarray(image, dtype=float))
        if mean > MEAN or peak > PEAK:
            far[name] = (round(mean, 2), round(peak, 1))
    assert far == {}


def test_a_mark_that_moved_is_seen(browser: "Browser", oaks: Results) -> None:
    first = oaks.responses[0]
    rows = tuple(
        replace(row, estimate=0.9 * row.estimate) if row.estimate is not None else row
        for row in first.comparisons
    )
    moved = replace(oaks, responses=(replace(first, comparisons=rows), *oaks.responses[1:]))
    pictures = {}
    for name, season in (("before", oaks), ("after", moved)):
        view = scene(season, response_stems(season))
        picture = forest_picture(view, season.responses[0], view.stems[0])
        assert picture is not None
        pictures[name] = picture.svg
    found = drawn(browser, pictures)
    assert apart(found["before"], found["after"])[1] > PEAK
