"""The cells of the water study: ledgers, yield per liter, equal water, plants along a line.

Leans on the standard library.
"""

from dataclasses import asdict, dataclass
from typing import Any

BLOCKS = (3, 4, 5, 6, 8)
LEDGER_CV = (0.1, 0.3, 0.5, 0.8)
YIELD_CV = (0.2, 0.5, 0.8)
ZEROS = (0.0, 0.1, 0.3)
PLACES = (3, 6, 10)
MISHAPS = ("none", "planted")
INSTRUMENTS = ("one can", "can and meters")


@dataclass(frozen=True, slots=True)
class WaterCell:
    """One setting of a randomized complete block trial with two arms.

    Attributes
    ----------
    kind
        ledger, yield per liter, equal water, along a line.
    blocks
        Blocks; lines of one arm where plants hang on lines.
    cv
        Between units: of water (ledger, equal water), of yield (yield per liter), of the
        falls of lines (along a line, where it is their standard deviation).
    mishaps
        Ledgers: none, or planted leaks and blocked wicks.
    instrument
        Ledgers: one can for both arms, or a can for the first arm, a meter for the second.
    zeros
        Share of units that bear nothing.
    places
        Plants on a line.
    """

    kind: str
    blocks: int
    cv: float
    mishaps: str = "none"
    instrument: str = "one can"
    zeros: float = 0.0
    places: int = 0

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        parts = (self.mishaps, self.instrument, f"{self.zeros:g}", str(self.places))
        return f"water|{self.kind}|{self.blocks}|{self.cv:g}|{'|'.join(parts)}"

    def settings(self) -> dict[str, Any]:
        """All settings as plain values."""
        return asdict(self)


def water_cells() -> list[WaterCell]:
    """Every cell, in a fixed order."""
    ledgers = [
        WaterCell("ledger", blocks, cv, mishaps, instrument)
        for blocks in BLOCKS
        for cv in LEDGER_CV
        for mishaps in MISHAPS
        for instrument in INSTRUMENTS
    ]
    yields = [
        WaterCell("yield per liter", blocks, cv, zeros=zeros)
        for blocks in BLOCKS
        for cv in YIELD_CV
        for zeros in ZEROS
    ]
    equal = [
        WaterCell("equal water", blocks, cv) for blocks in BLOCKS for cv in (0.03, 0.1, 0.3)
    ]
    along = [
        WaterCell("along a line", blocks, cv, places=places)
        for blocks in BLOCKS
        for cv in (0.0, 0.05)
        for places in PLACES
    ]
    return [*ledgers, *yields, *equal, *along]
