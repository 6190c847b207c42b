"""Text cut to the width it has in a picture, so that long names never lie on numbers.

Leans on matplotlib's measures of the font that pictures are drawn in.
"""

from functools import cache
from typing import TYPE_CHECKING

from wickstats.pages.text import one_line

if TYPE_CHECKING:
    from matplotlib.textpath import TextToPath

_CUT = "\N{HORIZONTAL ELLIPSIS}"


def fitted(text: str, inches: float, size: float, *, after: str = "") -> str:
    """Return the text in one line, then ``after``, cut where it is wider than ``inches``.

    ``size``: of the type, in points. ``after`` is never cut.
    """
    whole = one_line(text, len(text))
    if _inches(whole + after, size) <= inches:
        return whole + after
    cut = whole
    while cut and _inches(cut.rstrip() + _CUT + after, size) > inches:
        cut = cut[:-1]
    return cut.rstrip() + _CUT + after


def _inches(text: str, size: float) -> float:
    from matplotlib.font_manager import FontProperties

    width, _, _ = _measures().get_text_width_height_descent(
        text, FontProperties(size=size), ismath=False
    )
    return float(width) / 72.0


@cache
def _measures() -> "TextToPath":
    from matplotlib.textpath import TextToPath

    return TextToPath()
