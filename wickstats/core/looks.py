"""Looks at one season: every analysis that saw other records, or another plan."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Look:
    """One analysis of a season, told by what it saw and never by a clock.

    ``until`` is the last day of the crew's records (None where they name no day), ``rows``
    their number, ``records`` the SHA-256 of their bytes, ``plan`` that of design, factors,
    responses and plan.
    """

    until: str | None
    rows: int
    records: str
    plan: str


@dataclass(frozen=True, slots=True)
class Looks:
    """All looks that are known of, in the order in which they were taken.

    ``number`` (from 1) is the look of this report; ``early`` says that its records end more
    than two weeks before ``planned_until``, the last day of the season or of its responses.
    """

    number: int
    held: tuple[Look, ...]
    planned_until: str | None
    early: bool

    @property
    def own(self) -> Look:
        """The look of this report."""
        return self.held[self.number - 1]

    @property
    def confirms(self) -> bool:
        """Whether no look with later records is known, and the season was over."""
        later = max((look.until or "" for look in self.held), default="")
        return not self.early and (self.own.until or "") >= later
