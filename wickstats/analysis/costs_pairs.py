"""Cost difference against effect difference, block by block, against the reference.

    shares of the quadrants: the mean pair of differences (d_c, d_e) as bivariate t with
    blocks - 1 df and covariance S/b, S the covariance between blocks: 10,000 seeded draws

The plane of cost and effect differences is that of Black (1990, Med. Decis. Making 10:212;
from memory). Leans on units, models.ratios, models.redraw's generator and core.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.costs import BlockDifference, Cost, CostDifference
from wickstats.core.numbers import fixed, said
from wickstats.core.words import say
from wickstats.design.trial import Trial
from wickstats.models.linear.estimates import t_quantile
from wickstats.models.ratios.fieller import fieller_ratio_of_sums
from wickstats.models.redraw.scheme import generator

FIELLER = "Fieller"
FEWEST_FOR_SHARES = 6
DRAWS = 10_000
SMALL, THOUSAND = 1.0, 1000.0  # below it kg are told in g, m3 in L


@dataclass(frozen=True, slots=True, eq=False)
class Effect:
    """What more of is better: (n,) unit totals times ``factor``."""

    per: str  # extra survivor | extra kg | m3
    name: str  # survivors | kg | m3 saved
    values: Array
    factor: float


def pair_costs(
    total: Array,
    effect: Effect,
    units: Units,
    cell: int,
    reference: int,
    confidence: float,
    trial: Trial,
) -> tuple[Cost, CostDifference | None]:
    """One treatment less the reference: cost for one more of the effect, and the pair."""
    names, blocks = units.cell_names, units.block_codes
    if blocks is None:
        reason = say("cost needs blocks")
        return Cost(names[cell], effect.per, None, None, None, reason, names[reference]), None
    points = _points(total, effect, units, blocks, cell, reference)
    if len(points) < 2:
        reason = say("ratio few blocks")
        return Cost(names[cell], effect.per, None, None, None, reason, names[reference]), None
    cost = np.array([p.cost for p in points])
    gain = np.array([p.effect for p in points])
    row = _ratio(cost, gain, effect, names[cell], names[reference], confidence)
    shares, none = _shares(cost, gain, f"{trial.trial.id} costs {cell} {effect.name}")
    limits = [_limits(values, confidence) for values in (cost, gain)]
    difference = CostDifference(
        treatment=names[cell],
        versus=names[reference],
        effect_of=effect.name,
        cost=float(cost.mean()),
        cost_low=limits[0][0],
        cost_high=limits[0][1],
        effect=float(gain.mean()),
        effect_low=limits[1][0],
        effect_high=limits[1][1],
        points=points,
        shares=shares,
        no_shares=none,
        sentence=_sentence(trial, names[cell], names[reference], effect, cost, gain),
    )
    return row, difference


def _points(
    total: Array, effect: Effect, units: Units, blocks: IntArray, cell: int, reference: int
) -> tuple[BlockDifference, ...]:
    """Differences per plot within blocks that hold both with known effects."""
    known = np.isfinite(effect.values)
    out = []
    for code, name in enumerate(units.block_names):
        sides = []
        for arm in (cell, reference):
            mine = known & (blocks == code) & (units.cells == arm)
            plots = float(units.n_plots[mine].sum())
            if plots:
                own = float(effect.values[mine].sum()) * effect.factor
                sides.append((float(total[mine].sum()) / plots, own / plots))
        if len(sides) == 2:
            (c1, e1), (c0, e0) = sides
            out.append(BlockDifference(name, c1 - c0, e1 - e0))
    return tuple(out)


def _ratio(
    cost: Array, gain: Array, effect: Effect, name: str, versus: str, confidence: float
) -> Cost:
    if gain.mean() <= 0.0:
        reason = say(f"cost no {effect.per}", versus=versus)
        return Cost(name, effect.per, None, None, None, reason, versus)
    if cost.mean() <= 0.0:
        key = "cost cheaper and sparing" if effect.per == "m3" else "cost cheaper and better"
        reason = say(key, versus=versus)
        return Cost(name, effect.per, None, None, None, reason, versus)
    found = fieller_ratio_of_sums(cost, gain, confidence=confidence)
    if isinstance(found, str):
        return Cost(name, effect.per, None, None, None, found, versus)
    return Cost(
        name,
        effect.per,
        found.ratio,
        found.low,
        found.high,
        None if found.unbounded is None else say("cost effect open", versus=versus),
        versus,
        FIELLER,
        found.df,
        len(cost),
    )


def _limits(values: Array, confidence: float) -> tuple[float | None, float | None]:
    n = len(values)
    if float(np.ptp(values)) <= 1e-9 * float(np.abs(values).max(initial=0.0)):
        return None, None  # the same in every block: nothing tells how sure it is
    half = t_quantile(confidence, n - 1.0) * float(values.std(ddof=1)) / np.sqrt(n)
    return float(values.mean() - half), float(values.mean() + half)


def _shares(cost: Array, gain: Array, stream: str) -> tuple[tuple[float, ...], str | None]:
    n = len(cost)
    if n < FEWEST_FOR_SHARES:
        return (), say("cost few blocks", n=n, fewest=FEWEST_FOR_SHARES)
    both = np.vstack([cost, gain])
    values, vectors = np.linalg.eigh(np.cov(both, ddof=1) / n)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    rng = generator("costs", stream)
    scale = np.sqrt((n - 1.0) / rng.chisquare(n - 1.0, DRAWS))
    draws = both.mean(axis=1)[:, None] + root @ rng.standard_normal((2, DRAWS)) * scale
    dearer, better = draws[0] > 0.0, draws[1] > 0.0
    told = (dearer & better, dearer & ~better, ~dearer & better, ~dearer & ~better)
    return tuple(float(np.mean(t)) for t in told), None


def _sentence(
    trial: Trial, name: str, versus: str, effect: Effect, cost: Array, gain: Array
) -> str:
    """One plain line: dearer or cheaper, and what it gave."""
    currency = "" if trial.costs is None else trial.costs.currency
    money, more = float(cost.mean()), float(gain.mean())
    return say(
        "cost pair sentence",
        treatment=name,
        versus=versus,
        money=f"{fixed(abs(money), 2)} {currency}",
        dearer=say("cost dearer" if money >= 0.0 else "cost cheaper"),
        effect=_gained(effect.name, more),
    )


def _gained(what: str, more: float) -> str:
    """What was gained or lost, in a unit whose number people say: g, L, plants."""
    size = abs(more)
    smaller = {"kg": "g", "m3 saved": "L saved"}.get(what)
    if smaller is not None and size < SMALL:
        what, size = smaller, THOUSAND * size
    if what == "survivors" and size < 1.0:
        what, size = "survivors of 100 plots", 100.0 * size
    return say(f"cost {'more' if more >= 0.0 else 'fewer'} {what}", n=said(size))
