"""Figures to SVG: the same bytes every time, text as text, nothing from outside.

Every figure is drawn twice: wide, and narrow for a phone (``narrow``), where names stand
over what they name and no text is smaller than ``LEAST_PT``.

The user's own matplotlib settings, clock, and locale do not matter. Math text is
off. Leans on matplotlib and core.language.
"""

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from textwrap import fill
from typing import TYPE_CHECKING, Any

from wickstats.core.language import decimal_sign
from wickstats.pages.figures.palette import INK, QUIET, RULE, Look
from wickstats.pages.text import one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HASH_SALT = "wickstats"
WIDTH_IN = 8.0
NARROW_IN = 4.5  # 324 points: about one pixel a point on the narrowest phone
LEAST_PT = 9.5
KEY_ROW_IN = 0.2

_SETTINGS: dict[str, Any] = {
    "svg.hashsalt": HASH_SALT,
    "svg.fonttype": "none",
    "svg.image_inline": True,
    "text.parse_math": False,
    "text.usetex": False,
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.titlesize": 9.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "axes.axisbelow": True,
    "axes.formatter.use_locale": False,
    "axes.formatter.use_mathtext": False,
    "axes.formatter.useoffset": False,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "grid.color": RULE,
    "grid.linewidth": 0.5,
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
    "timezone": "UTC",
}
_FONTS = "system-ui,-apple-system,'Segoe UI',Roboto,'DejaVu Sans',sans-serif"


@contextmanager
def drawing(*, narrow: bool = False) -> Iterator[None]:
    """Draw and save inside this: our settings over matplotlib's defaults."""
    import matplotlib as mpl

    settings: Any = mpl.rcParams
    defaults: Any = mpl.rcParamsDefault
    with mpl.rc_context():
        # past the validation, which would warn of settings that are about to go
        dict.update(settings, {k: v for k, v in defaults.items() if k not in _NOT_RESET})
        settings.update(_SETTINGS)
        if narrow:
            settings["font.size"] = LEAST_PT
        yield


_NOT_RESET = {"backend", "backend_fallback", "interactive", "toolbar"}


def new_figure(height_in: float, width_in: float = WIDTH_IN) -> "Figure":
    """Return an empty figure (inside ``drawing``)."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in), dpi=72)


def width_of(*, narrow: bool) -> float:
    """Width of a figure in inches."""
    return NARROW_IN if narrow else WIDTH_IN


def type_size(size: float, *, narrow: bool) -> float:
    """Size of a text: on a phone never under ``LEAST_PT``."""
    return max(size, LEAST_PT) if narrow else size


def wrapped(text: str, *, narrow: bool, longest: int = 44) -> str:
    """A name of an axis or a title, on several lines where the figure is narrow."""
    return fill(text, longest) if narrow else text


def lines_in(text: str) -> float:
    """Height in inches that the lines of a text after its first need."""
    return 0.17 * text.count("\n")


def name_rows(
    axes: "Axes", names: Sequence[str], *, narrow: bool, longest: int = 24, over: float = 0.38
) -> None:
    """Name the rows 0, 1, ... of a figure: beside the axis, or over each row if narrow."""
    told = [one_line(name, 46 if narrow else longest) for name in names]
    axes.set_yticks(range(len(told)), [""] * len(told) if narrow else told)
    axes.tick_params(axis="y", length=0)
    if narrow:
        for row, name in enumerate(told):
            axes.text(
                0.012,
                row - over,
                name,
                transform=axes.get_yaxis_transform(),
                va="center",
                fontsize=LEAST_PT,
            )


def key_under(
    axes: "Axes", arms: Sequence[str], looks: Mapping[str, Look], *, first_in: float
) -> None:
    """Rows of marker and name under the axes, the first ``first_in`` inches down."""
    figure = axes.figure
    height = axes.get_position().height * float(figure.get_size_inches()[1])  # type: ignore[union-attr]
    for i, arm in enumerate(arms):
        y = -(first_in + KEY_ROW_IN * i) / height
        axes.plot(
            [0.0, 0.09],
            [y, y],
            transform=axes.transAxes,
            clip_on=False,
            color=looks[arm].color,
            linestyle=looks[arm].line_style,
            marker=looks[arm].marker,
            markersize=5,
            linewidth=1.4,
        )
        axes.text(
            0.13,
            y,
            one_line(arm, 40),
            transform=axes.transAxes,
            va="center",
            fontsize=LEAST_PT,
        )


def axes_at(
    figure: "Figure", left: float, bottom: float, width: float, height: float
) -> "Axes":
    """Add axes placed in inches from the lower left corner."""
    w, h = figure.get_size_inches()
    return figure.add_axes((left / w, bottom / h, width / w, height / h))


def to_svg(figure: "Figure") -> bytes:
    """Return the figure's SVG bytes (inside ``drawing``)."""
    _numbers_in_language(figure)
    held = io.BytesIO()
    nothing = {"Date": None, "Creator": None, "Format": None, "Type": None}
    figure.savefig(held, format="svg", metadata=nothing)
    text = held.getvalue().decode("utf-8")
    # a style element would reach the whole page: say it on the root instead
    text = re.sub(r"<style[^>]*>.*?</style>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r"<!DOCTYPE[^>]*>\s*", "", text)
    text = re.sub(r"<!--.*?-->\s*", "", text, flags=re.DOTALL)
    text = re.sub(r" *<defs>\s*</defs>\s*", "", text)
    text = re.sub(r'<g id="[^"]*">', "<g>", text)
    text = text.replace("'DejaVu Sans'", _FONTS)
    root = '<svg stroke-linejoin="round" stroke-linecap="butt" '
    return text.replace("<svg ", root, 1).encode("utf-8")


def _numbers_in_language(figure: "Figure") -> None:
    """Give the numbers along the axes the decimal sign of the language spoken."""
    from matplotlib.ticker import FixedFormatter, FuncFormatter

    sign = decimal_sign()
    if sign == ".":
        return
    figure.draw_without_rendering()  # now the ticks are known
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            if isinstance(axis.get_major_formatter(), FixedFormatter):
                continue  # names, as users wrote them
            places = [float(place) for place in axis.get_majorticklocs()]
            told = axis.get_major_formatter().format_ticks(places)
            words = {p: t.replace(".", sign) for p, t in zip(places, told, strict=True)}
            axis.set_major_formatter(FuncFormatter(lambda x, _, w=words: w.get(float(x), "")))


def inline_svg(svg: bytes, key: str, kind: str) -> str:
    """Return the SVG to stand in a page: unnamed, with identifiers of its own.

    What it shows is said once, by the element around the wide and the narrow drawing.

    Parameters
    ----------
    svg
        Bytes from ``to_svg``.
    key
        Put before every identifier: letters, digits, hyphens.
    kind
        Class of the element: "wide" or "narrow".
    """
    text = svg.decode("utf-8")
    text = text[text.index("<svg ") :]
    text = re.sub(r' (width|height)="[\d.]+pt"', "", text, count=2)
    text = re.sub(r' (xmlns(:\w+)?|version)="[^"]*"', "", text)
    text = re.sub(r'\bid="', f'id="{key}-', text)
    text = re.sub(r"url\(#", f"url(#{key}-", text)
    text = re.sub(r'(xlink:)?href="#', f'href="#{key}-', text)
    text = re.sub(r"\n\s*", "\n", text).strip()
    return text.replace("<svg ", f'<svg class="{kind}" aria-hidden="true" ', 1)


def with_title(svg: bytes, title: str, description: str) -> bytes:
    """Return a free-standing SVG file with title and description for readers of the file."""
    from markupsafe import escape

    text = svg.decode("utf-8")
    end = text.index(">", text.index("<svg ")) + 1
    words = f"\n <title>{escape(title)}</title>\n <desc>{escape(description)}</desc>"
    return (text[:end] + words + text[end:]).encode("utf-8")


def spread(positions: list[float], gap: float, low: float, high: float) -> list[float]:
    """Move labels apart so that neighbors are at least ``gap`` away, as little as can be.

    Returns the new positions in the given order, between ``low`` and ``high`` where
    there is room.
    """
    order = sorted(range(len(positions)), key=lambda i: positions[i])

    def center(members: list[int]) -> float:
        half = gap * (len(members) - 1) / 2.0
        middle = sum(positions[k] for k in members) / len(members)
        return max(min(middle, high - half), low + half)

    groups: list[list[int]] = []
    for i in order:
        groups.append([i])
        while len(groups) > 1:
            need = gap * (len(groups[-2]) + len(groups[-1])) / 2.0
            if center(groups[-1]) - center(groups[-2]) >= need:
                break
            groups[-2:] = [groups[-2] + groups[-1]]
    out = list(positions)
    for members in groups:
        start = center(members) - gap * (len(members) - 1) / 2.0
        for k, i in enumerate(members):
            out[i] = start + k * gap
    return out
