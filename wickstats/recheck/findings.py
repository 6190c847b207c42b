"""What an audit finds. Leans on core."""

from dataclasses import dataclass
from typing import Literal

from wickstats.core.results import SecondEngineRow


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    Attributes
    ----------
    weight
        "serious" where the report cannot be relied on until it is explained, else "note".
    kind
        manifest, input, number, file, against, second engine or note.
    place
        File (with row) or key of results.json, e.g. ``responses[0].means[2].low``.
    sentence
        What was found.
    """

    weight: Literal["serious", "note"]
    kind: str
    place: str
    sentence: str

    @property
    def serious(self) -> bool:
        """Whether the finding is serious."""
        return self.weight == "serious"


@dataclass(frozen=True, slots=True)
class Audit:
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
    """

    folder: str
    trial: str
    wickstats: str
    findings: tuple[Finding, ...]
    recomputed: int
    layout: str
    second_engine: tuple[SecondEngineRow, ...]
    simulated: bool = False

    @property
    def serious(self) -> int:
        """How many findings are serious."""
        return sum(finding.serious for finding in self.findings)
