"""What is the same for every summary of one response.

Leans on plan, units and the shape of a restriction.
"""

from dataclasses import dataclass

from wickstats.analysis.plan import Family, Term
from wickstats.analysis.sentences import Told
from wickstats.analysis.units import Units
from wickstats.analysis.verdict import Better
from wickstats.design.trial import GrowthOverVisits, Response
from wickstats.models.redraw.terms import Allowed


@dataclass(frozen=True, slots=True, eq=False)
class Context:
    """One response in its trial.

    Attributes
    ----------
    role
        primary | secondary | exploratory.
    matters
        Smallest important difference on the model's scale, or None.
    by_arm
        The plan asks for variance by arm.
    planned_correlation
        The plan's plot correlation of survival, for bounds.
    seed
        Of the re-randomization streams.
    survival_gap
        (treatment, versus, within) -> difference of shares alive, where survival differs by
        more than matters; growth of survivors gets no verdict there.
    allowed
        Which layouts (draws, n units) of cells the restrictions allow; None: all.
    visits
        What the plan says of growth over the visits, or None.
    """

    response: Response
    units: Units
    families: tuple[Family, ...]
    terms: tuple[Term, ...]
    role: str
    better: Better
    confidence: float
    matters: float | None
    by_arm: bool
    planned_correlation: float | None
    seed: int | str
    design: str
    measured_in: str
    survival_gap: dict[tuple[str, str, str | None], float]
    allowed: Allowed | None = None
    visits: GrowthOverVisits | None = None

    @property
    def told(self) -> Told:
        """What sentences need."""
        return Told(
            self.response.name, self.role, self.measured_in, self.matters, self.confidence
        )
