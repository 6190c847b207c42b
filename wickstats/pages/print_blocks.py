"""What a paper to print holds, as frozen values beside the blocks of pages.

Text is plain: it is cleaned and escaped when rendered. Leans on pages.blocks.
"""

from dataclasses import dataclass
from typing import TypeAlias

from wickstats.pages.blocks import Items, Note, Pairs, Table, Text


@dataclass(frozen=True, slots=True)
class Blank:
    """Names with lines to write on."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Code:
    """Lines to copy as they stand."""

    text: str


@dataclass(frozen=True, slots=True)
class Checks:
    """Steps with a box to tick; ``cautions`` stand framed under them."""

    steps: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FormColumn:
    """A column to fill in: head, what stands small under it, width, words to tick."""

    head: str
    under: str = ""
    width_mm: int | None = None
    ticks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FormGroup:
    """Rows under a heading of their own; blank cells are to be written in."""

    title: str | None
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Form:
    """A table to fill in; ``running`` is repeated on every sheet of paper."""

    caption: str
    columns: tuple[FormColumn, ...]
    groups: tuple[FormGroup, ...]
    running: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing of ours (SVG bytes) and what it shows in words."""

    svg: bytes
    alternative: str


@dataclass(frozen=True, slots=True)
class Label:
    """A label: what its symbol holds, the code in large type, small lines under it."""

    holds: str
    code: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Labels:
    """Labels of one size, so many beside and below each other on a sheet of paper."""

    labels: tuple[Label, ...]
    across: int
    down: int
    width_mm: float
    height_mm: float


PrintBlock: TypeAlias = (
    Text | Items | Pairs | Note | Table | Code | Blank | Checks | Form | Drawing | Labels
)


@dataclass(frozen=True, slots=True)
class Part:
    """A heading with its blocks; ``new_page`` begins a sheet of paper."""

    title: str
    blocks: tuple[PrintBlock, ...]
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class Paper:
    """A whole paper: black on white, made for printing."""

    title: str
    parts: tuple[Part, ...]
    lead: tuple[str, ...] = ()
    footer: tuple[str, ...] = ()
    landscape: bool = False
    banners: tuple[str, ...] = ()
