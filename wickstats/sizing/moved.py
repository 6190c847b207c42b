"""Other true differences than the assumed one, where the scatter goes with the mean.

Shares and counts scatter as their mean says, so that "a difference of 0.15" is no question
until one knows from where. The treatments that a comparison sets against others are moved
until it is as large as asked, those others stay as assumed; towards where the difference is
assumed, else towards what is better, and the other way only where that side has no room.
Leans on ``adapted``, ``reckon`` and the trial's values; scipy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from wickstats.analysis.plan import Family
from wickstats.design.defaults import better_of
from wickstats.design.trial import Response, Trial
from wickstats.sizing.adapted import adapted, filled, judged_as
from wickstats.sizing.assumed import Expected
from wickstats.sizing.plots import Sizes
from wickstats.sizing.reckon import power_of, precision

Array = NDArray[np.float64]
FARTHEST = 7.0  # of a log ratio: a thousand times as many
NEAR = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """One comparison of a response in a trial of that size."""

    trial: Trial
    response: Response
    sizes: Sizes
    family: Family
    which: int
    what: Expected

    @property
    def weights(self) -> Array:
        """(t,) of the comparison."""
        return self.family.contrasts[self.which].weights

    @property
    def moves(self) -> bool:
        """Whether its scatter goes with the mean."""
        return self.response.kind in ("survival", "count")

    @property
    def signs(self) -> tuple[float, float]:
        """The side that is asked about, and the other one."""
        assumed = float(self.weights @ filled(self.what).values)
        if abs(assumed) > NEAR:
            first = float(np.sign(assumed))
        else:
            first = -1.0 if better_of(self.response) == "less" else 1.0
        return first, -first

    def values_at(self, size: float) -> Array | None:
        """(t,) values that make the comparison ``size``; None where it cannot be so large."""
        values = filled(self.what).values
        up = self.weights > 0.0
        limits = (-np.inf, np.inf) if self.what.ratio else (0.0, 1.0)

        def moved(by: float) -> Array:
            return np.where(up, np.clip(values + by, *limits), values)

        def missing(by: float) -> float:
            return float(self.weights @ moved(by)) - size

        # weights of one side sum to 1 in a mean; a share moves by 1 at most
        far = 1.0 if not self.what.ratio else (abs(size) + abs(missing(0.0)) + 1.0)
        far = far / min(1.0, float(self.weights[up].sum()))
        if missing(-far) > NEAR or missing(far) < -NEAR:
            return None
        if missing(-far) >= 0.0 or missing(far) <= 0.0:
            return moved(-far if missing(-far) >= 0.0 else far)
        return moved(float(brentq(missing, -far, far, xtol=1e-13)))

    def trial_at(self, size: float) -> Trial | None:
        """The trial that assumes it; None where it cannot be so large."""
        values = self.values_at(size)
        if values is None or self.trial.power is None:
            return None
        cells = self.sizes.cells
        told = np.exp(values) if self.what.ratio else values
        known = np.isfinite(self.what.values)
        given = {c: float(v) for c, v, k in zip(cells, told, known, strict=True) if k}
        key = "alive_at_end" if self.response.kind == "survival" else "mean"
        power, name = self.trial.power, self.response.name
        assumed = power.assume[name].model_copy(update={key: given})
        assume = {**power.assume, name: assumed}
        return self.trial.model_copy(
            update={"power": power.model_copy(update={"assume": assume})}
        )

    def expected_at(self, size: float) -> Expected | None:
        """What is expected then."""
        changed = self.trial_at(size)
        found = None if changed is None else adapted(changed, self.response, self.sizes)
        return None if found is None or isinstance(found, str) else filled(found)

    def power_at(self, size: float, target: float) -> float | None:
        """Chance to show it then, with the planned size."""
        what = self.expected_at(size)
        if what is None:
            return None
        weights = [c.weights for c in self.family.contrasts]
        plan = judged_as(self.trial, self.family, self.response, target)
        at = precision(self.sizes, self.sizes.count, what, weights, plan)[self.which]
        return power_of(size, at)


def at_size(place: Place, size: float) -> tuple[float, Expected] | None:
    """The difference with its sign, and what is expected then; None where neither side can."""
    if not place.moves:
        return size, filled(place.what)
    for sign in place.signs:
        what = place.expected_at(sign * size)
        if what is not None:
            return sign * size, what
    return None


def smallest_shown(place: Place, target: float) -> float | None:
    """The smallest difference (signed) shown with that chance; None where there is none."""
    for sign in place.signs:
        far = FARTHEST if place.what.ratio else room_of(place, sign)
        if far <= NEAR or _missing(place, sign * far, target) < 0.0:
            continue

        def missing(size: float, sign: float = sign) -> float:
            return _missing(place, sign * size, target)

        return sign * float(brentq(missing, 1e-6 * far, far, xtol=1e-7))
    return None


def _missing(place: Place, size: float, target: float) -> float:
    power = place.power_at(size, target)
    return -target if power is None else power - target


def room_of(place: Place, sign: float) -> float:
    """How far a share can go on that side."""
    values = filled(place.what).values
    up = place.weights > 0.0
    ends = np.where(up, 1.0 if sign > 0.0 else 0.0, values)
    return max(sign * float(place.weights @ ends), 0.0)
