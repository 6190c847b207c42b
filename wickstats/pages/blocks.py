"""What a page holds, as frozen values; nothing is rendered here.

A page is a list of sections; a section holds blocks and further sections.
Text is plain: it is cleaned and escaped when rendered. Leans on nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Items:
    """A bulleted list."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Terms with what they say."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Note:
    """A framed sentence: a caution, a banner over everything, or a verdict."""

    text: str
    kind: Literal["caution", "banner", "verdict"]


@dataclass(frozen=True, slots=True)
class Column:
    """A table's column; numbers are aligned at the decimal point."""

    head: str
    numeric: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a caption; the first cell of a row is its heading.

    ``links``: text of a cell, and the anchor on this page that it leads to.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str | None = None
    links: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture: SVG bytes, file name without folder, title, and what it shows in words.

    ``narrow`` is the same picture drawn for a phone; ``data`` names the tables of the
    report's folder that hold the numbers drawn.
    """

    name: str
    svg: bytes
    title: str
    alternative: str
    narrow: bytes | None = None
    data: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Folded:
    """Blocks that stand closed on screen behind a line that tells what they find."""

    summary: str
    blocks: "tuple[Block, ...]"


Block: TypeAlias = Text | Items | Pairs | Note | Table | Picture | Folded


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with its blocks, then deeper sections.

    ``language``: of a part of the page and all in it.
    """

    title: str
    blocks: tuple[Block, ...] = ()
    sections: "tuple[Section, ...]" = ()
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Page:
    """A whole page: banners stand over everything, ``lead`` under the title.

    ``mark`` stands on every sheet of paper that the page is printed on.
    """

    title: str
    sections: tuple[Section, ...]
    banners: tuple[str, ...] = ()
    lead: str | None = None
    footer: tuple[str, ...] = ()
    language: str = "en"
    mark: str | None = None


def pictures(sections: Sequence[Section]) -> list[Picture]:
    """Return every picture in reading order."""
    found: list[Picture] = []
    for section in sections:
        found.extend(_drawn(section.blocks))
        found.extend(pictures(section.sections))
    return found


def with_pictures(
    sections: Sequence[Section], change: Callable[[Picture], Picture]
) -> tuple[Section, ...]:
    """The same sections with every picture changed."""
    return tuple(
        replace(
            s,
            blocks=tuple(_changed(block, change) for block in s.blocks),
            sections=with_pictures(s.sections, change),
        )
        for s in sections
    )


def _changed(block: Block, change: Callable[[Picture], Picture]) -> Block:
    if isinstance(block, Folded):
        return replace(block, blocks=tuple(_changed(inner, change) for inner in block.blocks))
    return change(block) if isinstance(block, Picture) else block


def _drawn(blocks: Sequence[Block]) -> list[Picture]:
    found: list[Picture] = []
    for block in blocks:
        if isinstance(block, Picture):
            found.append(block)
        elif isinstance(block, Folded):
            found.extend(_drawn(block.blocks))
    return found
