"""Kenward-Roger in many seasons, from the likelihood's derivatives at the estimates.

Symbols and rules as in ``models.linear.degrees``: W = 2 (expected information of -2 l)^-1,
P_k and Q_kl the first and second derivatives of X'V^-1 X,

    Phi_A = Phi + 2 Phi [ sum_kl W_kl (Q_kl - P_k Phi P_l) ] Phi,

df = 2 v^2/var(v) for one row; joint tests scaled as in the paper's section 3, on
2 q / A2 df without scaling where the scaling is that of a 0/0. Leans on ``likelihood``.
"""

import numpy as np
from scipy.special import fdtrc

from wickstats.models.batch.likelihood import Evaluated
from wickstats.models.batch.newton import Flags
from wickstats.models.batch.results import Answers
from wickstats.models.batch.strata import t_quantiles, t_tails
from wickstats.models.linear.degrees import FEWEST_DF, NEAR_TWO, SAME, SCALINGS
from wickstats.models.linear.estimates import Array


def judge_fixed(
    at: Evaluated,
    active: Flags,
    rows: Array,
    scale: Array,
    centers: Array,
    confidence: float,
) -> Answers:
    """Answers (S, k) to ``rows`` (k, p) of cells.

    ``scale`` (S,) is what the values were divided by and ``centers`` (S, p) the cell means
    that were taken off before.
    """
    seasons = at.objective.size
    if len(rows) == 0:
        return Answers.empty(seasons, 0)
    parameters = _parameters(at, active)
    adjusted = _adjusted(at, active, parameters)
    side = np.einsum("ki,ijs->kjs", rows, at.phi)
    model = np.einsum("kjs,kj->sk", side, rows)
    variance = np.einsum("ki,ijs,kj->sk", rows, adjusted, rows, optimize=True)
    slopes = np.einsum("kis,aijs,kjs->ska", side, at.first[active], side, optimize=True)
    spread = np.einsum("ska,sab,skb->sk", slopes, parameters, slopes, optimize=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        df = 2.0 * model**2 / spread
    judged = (spread > 0.0) & (variance > 0.0) & (df >= FEWEST_DF)
    df = np.where(judged, df, np.nan)
    se = scale[:, None] * np.sqrt(np.where(judged, variance, np.nan))
    estimate = centers @ rows.T + scale[:, None] * np.einsum("ki,is->sk", rows, at.fixed)
    half = t_quantiles(confidence, df) * se
    return Answers(
        estimate=estimate,
        se=se,
        df=df,
        low=estimate - half,
        high=estimate + half,
        p=t_tails(estimate / se, df),
        judged=judged,
    )


def joint_f(at: Evaluated, active: Flags, rows: Array, centers: Array) -> Array:
    """(S,) p of the joint test of independent ``rows`` (q, p); NaN where there is none.

    ``centers`` (S, p) are the cell means taken off before, on the unit scale.
    """
    q = len(rows)
    parameters = _parameters(at, active)
    adjusted = np.moveaxis(_adjusted(at, active, parameters), -1, 0)
    effect = centers @ rows.T + np.einsum("ki,is->sk", rows, at.fixed)
    spread = rows @ adjusted @ rows.T
    wald = np.einsum(
        "sq,sq->s", effect, np.linalg.solve(spread, effect[:, :, None])[:, :, 0]
    ) / q  # fmt: skip
    model = rows @ np.moveaxis(at.phi, -1, 0) @ rows.T
    side = np.einsum("ki,ijs->kjs", rows, at.phi)
    slopes = np.einsum("kis,aijs,ljs->sakl", side, at.first[active], side, optimize=True)
    turned = np.linalg.solve(model[:, None], slopes)
    traces = np.trace(turned, axis1=2, axis2=3)
    crossed = np.einsum("sakl,sblk->sab", turned, turned, optimize=True)
    a1 = np.einsum("sa,sab,sb->s", traces, parameters, traces, optimize=True)
    a2 = np.einsum("sab,sab->s", parameters, crossed)
    df, scaling = _scaled_df(q, a1, a2)
    good = (a2 > 0.0) & (df >= FEWEST_DF) & (wald >= 0.0)
    f = scaling * np.where(good, wald, np.nan)
    found: Array = fdtrc(float(q), np.where(good, df, np.nan), f)
    return found


def _scaled_df(q: int, a1: Array, a2: Array) -> tuple[Array, Array]:
    """Denominator df and scaling of a joint test (Kenward & Roger 1997, section 3)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        own = 2.0 * q / a2
        b = (a1 + 6.0 * a2) / (2.0 * q)
        g = ((q + 1) * a1 - (q + 4) * a2) / ((q + 2) * a2)
        d = 3.0 * q + 2.0 * (1.0 - g)
        v0 = 1.0 + g / d * b
        v1 = 1.0 - (q - g) / d * b
        v2 = 1.0 - (q + 2.0 - g) / d * b
        e = 1.0 - a2 / q
        rho = e / q * e * v0 / (v1**2 * v2)
        df = 4.0 + (q + 2.0) / (q * rho - 1.0)
        scaling = df * e / (df - 2.0)
        scaling = np.where(np.abs(df - 2.0) < NEAR_TWO, 1.0, scaling)
        fits = (df > 0) & (scaling >= SCALINGS[0]) & (scaling <= SCALINGS[1])
    # one row, or one component alone: df are exact and there is no scaling
    plain = (q == 1) | (np.abs(a1 - q * a2) <= SAME * a1) | ~np.isfinite(df) | ~fits
    return np.where(plain, own, df), np.where(plain, 1.0, scaling)


def _parameters(at: Evaluated, active: Flags) -> Array:
    """(S, a, a) covariance of the components that are there."""
    held = np.moveaxis(at.expected[active][:, active], -1, 0)
    return np.asarray(2.0 * np.linalg.inv(held), dtype=float)


def _adjusted(at: Evaluated, active: Flags, parameters: Array) -> Array:
    """(p, p, S) Phi_A."""
    first, second = at.first[active], at.second[active][:, active]
    turned = np.einsum("ijs,ajks->aiks", at.phi, first)
    middle = np.einsum("sab,abijs->ijs", parameters, second, optimize=True)
    weighted = np.einsum("sab,bjks->ajks", parameters, turned, optimize=True)
    middle -= np.einsum("aijs,ajks->iks", first, weighted, optimize=True)
    both = middle + middle.transpose(1, 0, 2)
    product: Array = at.phi + np.einsum("ijs,jks,kls->ils", at.phi, both, at.phi, optimize=True)
    return product
