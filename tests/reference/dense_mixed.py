"""Mixed models as a textbook writes them: n x n matrices, derivatives taken numerically.

Slow and plain on purpose, and apart from the engine, whose terms it only reads.
"""

import math

import numpy as np

from wickstats.models.linear.terms import Intercept, Residual, Slope


def covariance(terms, theta):
    """Var(y), written out row by row."""
    n = len(next(t.group for t in terms if not isinstance(t, Residual)))
    V, at = np.zeros((n, n)), 0
    for term in terms:
        if isinstance(term, Residual):
            h = max(1, len(term.levels))
            by = np.zeros(n, int) if term.by is None else term.by
            V += np.diag(theta[at : at + h][by])
            at += h
            continue
        same = term.group[:, None] == term.group[None, :]
        if isinstance(term, Intercept):
            V += theta[at] * same
            at += 1
        elif isinstance(term, Slope):
            Z = np.column_stack([np.ones(n), term.x])
            G = np.array([[theta[at], theta[at + 1]], [theta[at + 1], theta[at + 2]]])
            V += same * (Z @ G @ Z.T)
            at += 3
        else:
            h = max(1, len(term.levels))
            by = np.zeros(n, int) if term.by is None else term.by
            sd = np.sqrt(theta[at : at + h])[by]
            lag = np.abs(term.times[:, None] - term.times[None, :]) / term.unit
            V += same * np.outer(sd, sd) * float(theta[at + h]) ** lag
            at += h + 1
    return V


def slopes_of(f, theta, h=1e-4):
    """First and second central differences (five points) of a matrix-valued function."""
    m = len(theta)
    steps = [h * max(abs(t), 0.1) * np.eye(m)[k] for k, t in enumerate(theta)]
    weights = ((-2, 1 / 12), (-1, -8 / 12), (1, 8 / 12), (2, -1 / 12))

    def slope(g, k, at):
        return sum(w * g(at + i * steps[k]) for i, w in weights) / steps[k][k]

    first = [slope(f, k, theta) for k in range(m)]
    second = [
        [slope(lambda t, k=k: slope(f, k, t), j, theta) for j in range(m)] for k in range(m)
    ]
    return np.array(first), np.array(second)


def textbook(terms, X, y, theta):
    """Searle, Casella & McCulloch (1992), section 6.6, with curved covariance matrices."""
    V = covariance(terms, theta)
    first, second = slopes_of(lambda t: covariance(terms, t), theta)
    H = np.linalg.inv(V)
    A = X.T @ H @ X
    phi = np.linalg.inv(A)
    P = H - H @ X @ phi @ X.T @ H
    objective = np.linalg.slogdet(V)[1] + np.linalg.slogdet(A)[1] + y @ P @ y
    objective += (len(y) - X.shape[1]) * math.log(2 * math.pi)
    m = len(theta)
    gradient = np.array([np.trace(P @ g) - y @ P @ g @ P @ y for g in first])
    expected = np.array([[np.trace(P @ g @ P @ h) for h in first] for g in first])
    observed = np.array(
        [
            [
                np.trace(P @ second[k, j])
                - y @ P @ second[k, j] @ P @ y
                + 2 * y @ P @ first[k] @ P @ first[j] @ P @ y
                - expected[k, j]
                for j in range(m)
            ]
            for k in range(m)
        ]
    )
    return objective, gradient, expected, observed, (first, second, H, phi)


def textbook_kenward_roger(X, theta, parts, expected):
    """Kenward & Roger (1997), equations 4 and 5: adjusted covariance, and P_k, W for df."""
    first, second, H, phi = parts
    W = 2 * np.linalg.inv(expected)
    P = [-X.T @ H @ g @ H @ X for g in first]
    middle = np.zeros_like(phi)
    for k in range(len(theta)):
        for j in range(len(theta)):
            Q = X.T @ H @ first[k] @ H @ first[j] @ H @ X
            R = X.T @ H @ second[k, j] @ H @ X
            middle += W[k, j] * (Q - P[k] @ phi @ P[j] - R / 4)
    return phi + 2 * phi @ middle @ phi, P, W


def textbook_joint(M, adjusted, phi, P, W, fixed):
    """Scaled F and denominator df of M b = 0: Kenward & Roger (1997), section 3."""
    inner = M.T @ np.linalg.inv(M @ phi @ M.T) @ M
    A1 = A2 = 0.0
    for k, Pk in enumerate(P):
        for j, Pj in enumerate(P):
            one, other = inner @ phi @ Pk @ phi, inner @ phi @ Pj @ phi
            A1 += W[k, j] * np.trace(one) * np.trace(other)
            A2 += W[k, j] * np.trace(one @ other)
    q = len(M)
    B = (A1 + 6 * A2) / (2 * q)
    g = ((q + 1) * A1 - (q + 4) * A2) / ((q + 2) * A2)
    c = [v / (3 * q + 2 * (1 - g)) for v in (g, q - g, q + 2 - g)]
    E = 1 / (1 - A2 / q)
    V = 2 / q * (1 + c[0] * B) / ((1 - c[1] * B) ** 2 * (1 - c[2] * B))
    df = 4 + (q + 2) / (q * V / (2 * E**2) - 1)
    wald = (M @ fixed) @ np.linalg.solve(M @ adjusted @ M.T, M @ fixed) / q
    return df / (E * (df - 2)) * wald, df
