"""The mark of a simulated season on everything that may be torn off the page.

Titles and pictures say it in words, and pictures show it in a line of their own below.
Leans on pages and core.
"""

import re
from collections.abc import Sequence
from dataclasses import replace

from wickstats.core.language import speaking
from wickstats.core.words import say
from wickstats.pages.blocks import Picture, Section, with_pictures

_BOX = re.compile(rb'viewBox="0 0 ([\d.]+) ([\d.]+)"')
_HEIGHT = re.compile(rb'(<svg [^>]*?\bheight=")([\d.]+)((?:pt|px)?")')
LINE = 18.0


def marked(sections: Sequence[Section]) -> tuple[Section, ...]:
    """Sections whose pictures say that they are simulated, each in its own language."""
    out: list[Section] = []
    for section in sections:
        with speaking(section.language):
            out.extend(with_pictures([section], _marked_picture))
    return tuple(out)


def marked_title(title: str) -> str:
    """A title that begins with the mark."""
    return say("simulated title", title=title)


def _marked_picture(picture: Picture) -> Picture:
    narrow = None if picture.narrow is None else with_mark(picture.narrow)
    return replace(
        picture, title=marked_title(picture.title), svg=with_mark(picture.svg), narrow=narrow
    )


def with_mark(svg: bytes) -> bytes:
    """The picture with the mark in a line of its own below it."""
    found = _BOX.search(svg)
    if found is None:
        return svg
    width, height = float(found.group(1)), float(found.group(2))
    tall = height + LINE
    out = svg[: found.start()] + b'viewBox="0 0 %.6g %.6g"' % (width, tall) + svg[found.end() :]
    held = _HEIGHT.search(out)
    if held is not None:
        told = float(held.group(2)) * tall / height
        out = out[: held.start(2)] + b"%.6g" % told + out[held.end(2) :]
    text = (
        f'<text x="{width / 2:.6g}" y="{height + 0.7 * LINE:.6g}" text-anchor="middle" '
        'font-family="sans-serif" font-size="11" font-weight="bold" fill="#7a1f1f">'
        f"{say('simulated mark')}</text>"
    )
    end = out.rindex(b"</svg>")
    return out[:end] + text.encode() + out[end:]
