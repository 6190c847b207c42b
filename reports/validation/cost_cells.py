"""The cells of the study of costs: per survivor, per kg, per cubic meter saved, per one more.

Leans on the standard library.
"""

from dataclasses import asdict, dataclass
from typing import Any

BLOCKS = (3, 4, 5, 6, 8)
SHARES = (0.3, 0.6, 0.8, 0.95)
CORRELATIONS = (0.0, 0.15)
YIELD_CV = (0.2, 0.5)
ZEROS = (0.0, 0.1)
SAVED_CV = (0.2, 0.3, 0.5)
TOGETHER = (0.0, 0.7)
MORE = (0.2, 0.35)


@dataclass(frozen=True, slots=True)
class CostCell:
    """One setting of a trial in complete blocks with two arms.

    Attributes
    ----------
    kind
        survivor, kg, m3 saved, extra survivor.
    blocks
        Blocks.
    level
        Share alive (survivor), coefficient of variation between units (kg) or between
        blocks (m3 saved), difference of two shares (extra survivor).
    more
        Correlation of plants in a plot (survivor, extra survivor), share of units that bear
        nothing (kg), correlation of cost with what is saved (m3 saved).
    """

    kind: str
    blocks: int
    level: float
    more: float = 0.0

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        return f"cost|{self.kind}|{self.blocks}|{self.level:g}|{self.more:g}"

    def settings(self) -> dict[str, Any]:
        """All settings as plain values."""
        return asdict(self)


def cost_cells() -> list[CostCell]:
    """Every cell, in a fixed order."""
    kinds = (
        ("survivor", SHARES, CORRELATIONS),
        ("kg", YIELD_CV, ZEROS),
        ("m3 saved", SAVED_CV, TOGETHER),
        ("extra survivor", MORE, (0.15,)),
    )
    return [
        CostCell(kind, blocks, level, more)
        for kind, levels, others in kinds
        for blocks in BLOCKS
        for level in levels
        for more in others
    ]
