"""Profile-likelihood intervals for variance components. Leans on reml."""

from dataclasses import dataclass

from wickstats.models.linear.reml import MixedFit


@dataclass(frozen=True, slots=True)
class ComponentInterval:
    """Interval of one component; an end is None where ``not_estimable`` says why."""

    term: str
    estimate: float
    low: float | None
    high: float | None
    not_estimable: str | None = None


def profile_components(fit: MixedFit, *, level: float = 0.95) -> tuple[ComponentInterval, ...]:
    """One interval a component, residual last (nonnegative fits only)."""
    raise NotImplementedError
