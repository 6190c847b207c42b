"""The field map as SVG: plots with their codes, blocks, guards, walk, scale, arrows.

Drawn by hand and not by matplotlib: black lines and text of fixed sizes, for paper. Rows run
from the top, columns from the left; parts of the field that lie apart stand in as many columns
as print largest. Leans on markupsafe and core.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, log10
from textwrap import wrap

from wickstats.core.words import say
from wickstats.pages.text import clean

WIDTH = 1000.0
LEFT, TOP, GAP = 84.0, 34.0, 46.0
_PER_EM = 0.58  # width of a letter by its size
UNDER = 128.0  # for the scale and the arrows
UPRIGHT, ACROSS = (180.0, 225.0), (265.0, 145.0)  # what a sheet has for the map, in mm
LEAST_MM = 1.8  # height of letters that are read in the field


@dataclass(frozen=True, slots=True)
class MapPlot:
    """A plot: where, its code, what it gets (blank: not told), block, step of the walk."""

    part: int
    row: int
    column: int
    code: str
    gets: str
    block: str | None
    step: int
    piece: str | None = None  # the larger piece that it is part of, where that is told


@dataclass(frozen=True, slots=True)
class FieldMap:
    """All that the map shows; sizes in meters, bearings in degrees from north, clockwise."""

    plots: tuple[MapPlot, ...]  # in walking order
    parts: tuple[str | None, ...]
    width_m: float | None = None
    length_m: float | None = None
    top_bearing: float | None = None
    downhill_bearing: float | None = None
    guards: bool = False
    block_word: str = "paper in block"
    numbered: bool = True  # rows and columns are those of the layout
    outdoors: bool = True  # with arrows to the north and down the slope


@dataclass(frozen=True, slots=True)
class _Sizes:
    w: float
    h: float
    scaled: bool
    lefts: tuple[float, ...]
    tops: tuple[float, ...]
    first: tuple[tuple[int, int], ...]  # least row and column of each part
    right: float
    bottom: float


def map_svg(field: FieldMap) -> bytes:
    """Draw the map."""
    sizes = _sizes(field)
    height, width = sizes.bottom + UNDER, sizes.right
    body = [
        *_parts(field, sizes),
        *_edges(field, sizes),
        *_walk(field, sizes),
        *_names(field, sizes),
        *_steps(field, sizes),
        *_margins(field, sizes),
        *_under(field, sizes),
    ]
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(width)} {_n(height)}" '
        "font-family=\"system-ui,'Segoe UI',Roboto,'DejaVu Sans',sans-serif\">"
        f'<rect width="{_n(width)}" height="{_n(height)}" fill="#fff"/>'
    )
    return (head + "\n".join(body) + "</svg>\n").encode("utf-8")


def is_tall(field: FieldMap) -> bool:
    """Whether the map prints larger on an upright sheet."""
    sizes = _sizes(field)
    return _mm(sizes, UPRIGHT) >= _mm(sizes, ACROSS)


def names_fit(names: list[str], field: FieldMap) -> bool:
    """Whether treatments can be written into plots and read; else letters stand for them."""
    sizes = _sizes(field)
    size = sizes.w / 9.5
    read = size * max(_mm(sizes, UPRIGHT), _mm(sizes, ACROSS)) >= LEAST_MM
    fit = all(len(_wrapped(name, sizes.w, size)) <= 3 for name in names)
    return sizes.w >= 90 and read and fit


def _mm(sizes: _Sizes, sheet: tuple[float, float]) -> float:
    """Millimeters on a sheet for one unit of the drawing."""
    return min(sheet[0] / sizes.right, sheet[1] / (sizes.bottom + UNDER))


def _n(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


def _text(x: float, y: float, text: str, size: float, more: str = "") -> str:
    from markupsafe import escape

    told = escape(clean(text))
    return f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}"{more}>{told}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, width: float) -> str:
    return (
        f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" stroke="#000" '
        f'stroke-width="{_n(width)}" stroke-linecap="square"/>'
    )


def _wrapped(name: str, w: float, size: float) -> list[str]:
    return wrap(clean(name), max(int(w * 0.9 / (size * _PER_EM)), 4)) or [""]


def _sizes(field: FieldMap) -> _Sizes:
    """The arrangement of the parts in which a plot prints largest."""
    ways = [_arranged(field, across) for across in range(1, len(field.parts) + 1)]
    return max(ways, key=lambda z: round(z.w * max(_mm(z, UPRIGHT), _mm(z, ACROSS)), 3))


def _arranged(field: FieldMap, across: int) -> _Sizes:
    first, spans = [], []
    for part in range(len(field.parts)):
        here = [p for p in field.plots if p.part == part]
        rows, columns = [p.row for p in here], [p.column for p in here]
        first.append((min(rows), min(columns)))
        spans.append((max(rows) - min(rows) + 1, max(columns) - min(columns) + 1))
    most = max(c for _, c in spans)
    w = min(150.0, (WIDTH / across - LEFT - 20) / most)
    h, scaled = max(0.72 * w, 62.0), False
    if field.width_m and field.length_m:
        ratio = field.length_m / field.width_m
        scaled = 0.55 <= ratio <= 1.8
        h = w * min(max(ratio, 0.55), 1.8)
    step = LEFT + most * w + 20
    lefts, tops, y = [], [], TOP
    for line in range(ceil(len(spans) / across)):
        here_spans = spans[line * across : (line + 1) * across]
        for k in range(len(here_spans)):
            lefts.append(LEFT + k * step)
            tops.append(y)
        y += max(deep for deep, _ in here_spans) * h + GAP
    right = max(min(across, len(spans)) * step, 640.0)
    return _Sizes(w, h, scaled, tuple(lefts), tuple(tops), tuple(first), right, y - GAP + 10)


def _corner(plot: MapPlot, sizes: _Sizes) -> tuple[float, float]:
    row, column = sizes.first[plot.part]
    return (
        sizes.lefts[plot.part] + (plot.column - column) * sizes.w,
        sizes.tops[plot.part] + (plot.row - row) * sizes.h,
    )


def _parts(field: FieldMap, sizes: _Sizes) -> Iterator[str]:
    w, h = sizes.w, sizes.h
    for plot in field.plots:
        x, y = _corner(plot, sizes)
        yield (
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(w)}" height="{_n(h)}" fill="#fff" '
            'stroke="#777" stroke-width="0.8"/>'
        )
        if field.guards:
            yield (
                f'<rect x="{_n(x + w * 0.04)}" y="{_n(y + h * 0.05)}" '
                f'width="{_n(w * 0.92)}" height="{_n(h * 0.9)}" fill="none" stroke="#555" '
                'stroke-width="0.8" stroke-dasharray="4 3"/>'
            )


def _names(field: FieldMap, sizes: _Sizes) -> Iterator[str]:
    """Codes and what plots get, over the walk's line, which makes way for them."""
    w, h = sizes.w, sizes.h
    for plot in field.plots:
        x, y = _corner(plot, sizes)
        fitted = min(w / 5.2, w * 0.9 / (max(len(plot.code), 1) * 0.66))
        yield from _cleared(x + w / 2, y + h * 0.26, plot.code, fitted, w, bold=True)
        size = w / 9.5 if len(plot.gets) > 3 else min(16.0, w / 2.6)
        for k, line in enumerate(_wrapped(plot.gets, w, size)[:3] if plot.gets else []):
            below = y + h * 0.3 + size * 1.05 + k * size * 1.15
            yield from _cleared(x + w / 2, below, line, size, w)


def _cleared(
    x: float, y: float, text: str, size: float, w: float, *, bold: bool = False
) -> Iterator[str]:
    """Text in the middle of a plot, on white."""
    wide = min(len(text) * size * (0.72 if bold else 0.6) + 4, w * 0.88)
    yield (
        f'<rect x="{_n(x - wide / 2)}" y="{_n(y - size * 0.86)}" width="{_n(wide)}" '
        f'height="{_n(size * 1.08)}" fill="#fff"/>'
    )
    yield _text(x, y, text, size, ' text-anchor="middle"' + ' font-weight="700"' * bold)


def _margins(field: FieldMap, sizes: _Sizes) -> Iterator[str]:
    """Names of parts and blocks, numbers of rows and columns."""
    named: set[tuple[int, str]] = set()
    for part, name in enumerate(field.parts):
        left = sizes.lefts[part]
        here = [p for p in field.plots if p.part == part]
        if name:
            yield _text(left - 70, sizes.tops[part] - 14, name, 13, ' font-weight="700"')
        for column in sorted({p.column for p in here}) if field.numbered else []:
            x = left + (column - sizes.first[part][1] + 0.5) * sizes.w
            yield _text(x, sizes.tops[part] - 5, str(column), 14, ' text-anchor="middle"')
        for row in sorted({p.row for p in here}):
            line = [p for p in here if p.row == row]
            y = sizes.tops[part] + (row - sizes.first[part][0]) * sizes.h
            if field.numbered:
                yield _text(left - 6, y + sizes.h / 2, str(row), 14, ' text-anchor="end"')
            blocks = {p.block for p in line}
            block = line[0].block
            if len(blocks) == 1 and block is not None and (part, block) not in named:
                named.add((part, block))
                words = say(field.block_word, block=block, run=block)
                for k, told in enumerate(wrap(words, 8)[:2]):
                    yield _text(left - 82, y + sizes.h / 2 - 12 + 16 * k, told, 14)
    for plot in field.plots:  # blocks that share rows are named in their first plot
        if plot.block is not None and (plot.part, plot.block) not in named:
            named.add((plot.part, plot.block))
            x, y = _corner(plot, sizes)
            words = say(field.block_word, block=plot.block, run=plot.block)
            yield _text(x + 4, y + sizes.h * 0.1 + 3, words, min(9.0, sizes.w / 7))


def _edges(field: FieldMap, sizes: _Sizes) -> Iterator[str]:
    """Thick lines where a block or the field ends, less thick where a larger piece ends."""
    at = {(p.part, p.row, p.column): p for p in field.plots}
    for plot in field.plots:
        x, y = _corner(plot, sizes)
        right, below = x + sizes.w, y + sizes.h
        for dr, dc, ends in (
            (-1, 0, (x, y, right, y)),
            (1, 0, (x, below, right, below)),
            (0, -1, (x, y, x, below)),
            (0, 1, (right, y, right, below)),
        ):
            beside = at.get((plot.part, plot.row + dr, plot.column + dc))
            if beside is None or beside.block != plot.block:
                yield _line(*ends, 2.6)
            elif beside.piece != plot.piece:
                yield _line(*ends, 1.7)


def _walk(field: FieldMap, sizes: _Sizes) -> Iterator[str]:
    """A dotted line through all plots."""
    points: dict[int, list[tuple[float, float]]] = {}
    for plot in field.plots:
        x, y = _corner(plot, sizes)
        points.setdefault(plot.part, []).append((x + sizes.w / 2, y + sizes.h * 0.82))
    for way in points.values():
        path = "L".join(f"{_n(x)} {_n(y)}" for x, y in way)
        yield (
            f'<path d="M{path}" fill="none" stroke="#000" stroke-width="1.6" '
            'stroke-dasharray="0.1 5" stroke-linecap="round"/>'
        )


def _steps(field: FieldMap, sizes: _Sizes) -> Iterator[str]:
    """Each plot's number on the walk."""
    radius = min(14.0, sizes.w / 4.5, sizes.h * 0.15)
    size = radius * 1.05
    for plot in field.plots:
        x, y = _corner(plot, sizes)
        x, y = x + sizes.w / 2, y + sizes.h * 0.82
        yield (
            f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}" fill="#fff" stroke="#000" '
            'stroke-width="0.9"/>'
        )
        small = size * (0.8 if plot.step > 99 else 1.0)
        yield _text(x, y + small * 0.36, str(plot.step), small, ' text-anchor="middle"')


def _under(field: FieldMap, sizes: _Sizes) -> Iterator[str]:
    """Scale bar and the two arrows."""
    y = sizes.bottom + 24
    arrows = sizes.right - 370
    words = ""
    if field.width_m and sizes.scaled:
        meters = _round_length(min(240.0, 1.6 * sizes.w) * field.width_m / sizes.w)
        long = meters * sizes.w / field.width_m
        yield _line(LEFT, y, LEFT + long, y, 2)
        for x in (LEFT, LEFT + long):
            yield _line(x, y - 6, x, y + 6, 2)
        yield _text(LEFT, y + 22, say("paper scale", meters=f"{meters:g}"), 16)
    elif field.width_m and field.length_m:
        words = say("paper odd scale", width=f"{field.width_m:g}", length=f"{field.length_m:g}")
    else:
        words = say("paper no scale")
    room = max(int((arrows - 44 - LEFT) / (14 * _PER_EM)), 10)
    for k, line in enumerate(wrap(words, room)):
        yield _text(LEFT, y + 16 * k, line, 14)
    if not field.outdoors:
        return
    top, downhill = field.top_bearing, field.downhill_bearing
    yield from _arrow(arrows, y + 34, top, 0.0, "paper north", "paper north none")
    yield from _arrow(arrows + 195, y + 34, top, downhill, "paper slope", "paper slope none")


def _arrow(
    x: float, y: float, top: float | None, bearing: float | None, word: str, none: str
) -> Iterator[str]:
    """An arrow in its direction on the map; a circle to draw it in where that is unknown."""
    if top is None or bearing is None:
        yield (
            f'<circle cx="{_n(x)}" cy="{_n(y)}" r="38" fill="none" stroke="#000" '
            'stroke-dasharray="3 3"/>'
        )
        for k, line in enumerate(wrap(say(none), 16)):
            yield _text(x + 46, y - 14 + 16 * k, line, 14)
        return
    turn = _n((bearing - top) % 360)
    yield (
        f'<g transform="rotate({turn} {_n(x)} {_n(y)})"><path d="M{_n(x)} {_n(y + 36)}V'
        f'{_n(y - 20)}" stroke="#000" stroke-width="2.4"/><path d="M{_n(x)} {_n(y - 38)}l9 20h'
        '-18z"/></g>'
    )
    yield _text(x + 46, y + 5, say(word), 15, ' font-weight="700"')


def _round_length(longest: float) -> float:
    """The longest of 1, 2, 5 times a power of ten that is no longer than ``longest``."""
    power = 10.0 ** floor(log10(longest))
    return max(step * power for step in (1, 2, 5) if step * power <= longest)
