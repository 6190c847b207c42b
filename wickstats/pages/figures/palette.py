"""One look per treatment, told apart by color, by shade and without any color.

Each arm has its color, marker and dash; lightness differs in gray print. All
colors have a contrast of at least 3:1 on white, so that lines and markers can
be seen (text in pictures is always dark). The reference comes first. Leans on
nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

INK = "#1b2226"
QUIET = "#5a666d"
RULE = "#c3cbcf"
ZONE = "#e9edee"

_COLORS = (
    "#1b2226",
    "#0072b2",
    "#c0501c",
    "#00805e",
    "#8a4a9e",
    "#8a6d00",
    "#5a7080",
    "#b03060",
)
_MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
_DASHES: tuple[tuple[float, ...], ...] = (
    (),
    (6.0, 2.0),
    (2.0, 1.5),
    (6.0, 2.0, 1.5, 2.0),
    (9.0, 3.0),
    (1.0, 2.5),
    (4.0, 1.0, 1.0, 1.0, 1.0, 1.0),
    (3.0, 3.0),
)


@dataclass(frozen=True, slots=True)
class Look:
    """How one treatment is drawn; ``dash`` empty for a whole line."""

    color: str
    marker: str
    dash: tuple[float, ...]

    @property
    def line_style(self) -> "str | tuple[float, tuple[float, ...]]":
        """The dash in matplotlib's form."""
        return (0.0, self.dash) if self.dash else "-"


def looks(treatments: Sequence[str]) -> dict[str, Look]:
    """Return a look for each treatment, in their order.

    Beyond eight treatments colors repeat with another dash and marker, so that no
    two of the first 64 look the same.
    """
    out: dict[str, Look] = {}
    for i, name in enumerate(treatments):
        turn = i // len(_COLORS)
        j = (i + turn) % len(_COLORS)
        out[name] = Look(_COLORS[i % len(_COLORS)], _MARKERS[j], _DASHES[j])
    return out
