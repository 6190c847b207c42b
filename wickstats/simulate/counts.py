"""Counts of plots in many seasons: Poisson around lognormal means.

    x ~ Poisson(mu exp(e - s^2/2)),   e = ground + piece + unit, normal with variance s^2

so that E x = mu and var x = mu + mu^2 (exp(s^2) - 1) (Poisson-lognormal: Bulmer 1974,
Biometrics 30:101). The calibration study draws its counts here too. Leans on numpy.
"""

import numpy as np

from wickstats.simulate.assumed import Counts
from wickstats.simulate.effects import Array, unit_effects
from wickstats.simulate.places import Places
from wickstats.simulate.quantities import groups_of


def poisson_around(rng: np.random.Generator, means: Array, effects: Array) -> Array:
    """(S, n) counts around ``means`` (n,) times exp of the effects (S, n)."""
    return rng.poisson(means * np.exp(effects)).astype(float)


def count_seasons(
    rng: np.random.Generator, seasons: int, model: Counts, places: Places
) -> Array:
    """(S, n) counts of units, all their plots together."""
    groups = groups_of(places, model.ground_sd, model.piece_sd)
    unit_sd = np.full(places.n, model.unit_sd)
    effects = unit_effects(rng, seasons, unit_sd, groups)
    variance = model.unit_sd**2 + sum(sd**2 for _, sd in groups)
    means = model.means[places.cells] * places.n_plots
    return poisson_around(rng, means, effects - 0.5 * variance)
