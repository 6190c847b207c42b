"""What an audit finds. Leans on core."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from wickstats.core.frames import frame_of
from wickstats.core.notebook import Shown
from wickstats.core.results import SecondEngineRow
from wickstats.core.words import CATALOG, say

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    Attributes
    ----------
    weight
        "serious" where the report cannot be relied on until it is explained; "question"
        where the records or the layout are unusual, which chance may explain; else "note".
    kind
        manifest, input, number, file, against, second engine, plan, layout, balance, digits,
        copied, looks, link, line ends or note.
    place
        File (with row) or key of results.json, e.g. ``responses[0].means[2].low``.
    sentence
        What was found.
    ask
        What to ask those who ran the trial.
    """

    weight: Literal["serious", "question", "note"]
    kind: str
    place: str
    sentence: str
    ask: str = ""

    @property
    def serious(self) -> bool:
        """Whether the finding is serious."""
        return self.weight == "serious"

    def asked(self) -> "Finding":
        """The finding with what to ask about its kind, where nothing better is said."""
        key = f"audit ask {self.kind}"
        return replace(self, ask=say(key)) if not self.ask and key in CATALOG else self


@dataclass(frozen=True, slots=True)
class Audit(Shown):
    """The outcome of an audit.

    Attributes
    ----------
    recomputed
        Number of values of results.json that were recomputed and compared.
    second_engine
        Numbers that independent code gave, and what it could not check.
    layout
        Whether the layout follows from its seed, in words.
    simulated
        Whether the report is a rehearsal: by its results, its trial file or its rows.
    looked_at
        What else was looked at and gave no finding, in words: plan, chance of the layout.
    """

    folder: str
    trial: str
    wickstats: str
    findings: tuple[Finding, ...]
    recomputed: int
    layout: str
    second_engine: tuple[SecondEngineRow, ...]
    simulated: bool = False
    looked_at: tuple[str, ...] = ()

    @property
    def serious(self) -> int:
        """How many findings are serious."""
        return sum(finding.serious for finding in self.findings)

    @property
    def questions(self) -> int:
        """How many findings are questions."""
        return sum(finding.weight == "question" for finding in self.findings)

    def to_frame(self) -> "pd.DataFrame":
        """Return the findings as a tidy table, one row a finding."""
        return frame_of(self.findings, ("weight", "kind", "place", "sentence", "ask"))
