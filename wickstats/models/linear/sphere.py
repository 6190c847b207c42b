"""How the largest of correlated normals is spread over directions: two and three dimensions.

The statistics are a_j'u rho with unit vectors a_j, u uniform on the circle or the sphere
(``directions``); m(u) = max_j |a_j'u|. In few dimensions the mean of a function h of m over
u is a sum over the parts where one a_j leads, each a smooth integral:

    circle   half gaps g between neighboring lines a_j: (2/pi) sum int_0^g h(cos x) dx
    sphere   around a_j, psi the direction and x = cos of the distance from it,
             (1/2 pi) sum_j int dpsi int_m(psi)^1 h(x) dx.
             The lead ends where cot(distance) = max_v p_v'(cos psi, sin psi) over the points
             p = b_i/(1 - r_ij) and -b_i/(1 + r_ij), b_i the part of a_i across a_j: the
             support function of their convex hull, smooth between the normals of its edges.

Gauss-Legendre rules on the parts, the angle from a corner's direction as the inverse of
tau = asinh(tan(angle)), in which nothing is steep: to about 1e-13, where statistics are
correlated by 0.9999 to 1e-7. Three arms compared in any way lie on a circle, four on a
sphere. Leans on numpy.
"""

from functools import lru_cache

import numpy as np

from wickstats.models.linear.estimates import Array

NODES_CIRCLE = 48
NODES = (20, 16)  # on every part of the direction psi, and from its edge to its middle
NODES_FLAT = (40, 32)  # where two statistics are nearly one
FLAT = 0.9
ALIKE = 1e-12  # correlations this near to one are one statistic


def spread_on_circle(root: Array) -> tuple[Array, Array]:
    """Values of m and their weights (sum one) for unit vectors (k, 2)."""
    angles = np.sort(np.arctan2(root[:, 1], root[:, 0]) % np.pi)
    gaps = np.sort(np.diff(np.r_[angles, angles[0] + np.pi]))
    far = np.arcsinh(np.tan(0.5 * gaps[gaps > 0.0]))[:, None]
    x, w = _rule(NODES_CIRCLE)
    m = 1.0 / np.cosh(0.5 * far * (1.0 + x))
    weight = far * w * m
    return m.ravel(), weight.ravel() / weight.sum()


def spread_on_sphere(root: Array) -> tuple[Array, Array]:
    """Values of m and their weights (sum one) for unit vectors (k, 3), not all in a plane."""
    lines, flat = _different(root)
    nodes_around, nodes_out = NODES_FLAT if flat else NODES
    edges = [_edge(lines, j, nodes_around) for j in range(len(lines))]
    ends = np.concatenate([m for m, _ in edges])
    around = np.concatenate([w for _, w in edges])
    x, w = _rule(nodes_out)
    half = 0.5 * (1.0 - ends)
    m = ends[:, None] + half[:, None] * (1.0 + x)
    weight = (around * half)[:, None] * w
    return m.ravel(), weight.ravel() / weight.sum()


@lru_cache(maxsize=8)
def _rule(nodes: int) -> tuple[Array, Array]:
    x, w = np.polynomial.legendre.leggauss(nodes)
    return x, w


def _different(root: Array) -> tuple[Array, bool]:
    """Vectors of different directions (or opposites), and whether two are close."""
    near = np.triu(np.abs(root @ root.T), 1)
    kept = ~(near > 1.0 - ALIKE).any(axis=0)
    return root[kept], bool(near[np.ix_(kept, kept)].max() > FLAT)


def _edge(lines: Array, j: int, nodes: int) -> tuple[Array, Array]:
    """Values of m where the lead of line j ends, at nodes of psi, and their weights."""
    lead = lines[j]
    away = np.eye(3)[int(np.argmin(np.abs(lead)))]
    first = away - (away @ lead) * lead
    first /= np.sqrt(first @ first)
    across = np.stack([first, np.cross(lead, first)])
    others = np.delete(lines, j, axis=0)
    r = (others @ lead)[:, None]
    flat = others @ across.T
    hull = _hull(np.vstack([flat / (1.0 - r), -flat / (1.0 + r)]))
    side = np.roll(hull, -1, axis=0) - hull
    normal = np.arctan2(-side[:, 0], side[:, 1])  # outward, the hull runs counterclockwise
    start = np.roll(normal, 1)
    width = (normal - start) % (2.0 * np.pi)
    far = np.sqrt((hull * hull).sum(axis=1))
    low = (start - np.arctan2(hull[:, 1], hull[:, 0]) + np.pi) % (2.0 * np.pi) - np.pi
    low, high = np.arcsinh(np.tan(low)), np.arcsinh(np.tan(low + width))
    x, w = _rule(nodes)
    half = 0.5 * (high - low)[:, None]
    cosine = 1.0 / np.cosh(low[:, None] + half * (1.0 + x))
    reach = far[:, None] * cosine
    m = reach / np.sqrt(1.0 + reach * reach)
    return m.ravel(), (half * w * cosine).ravel()


def _hull(points: Array) -> Array:
    """Corners of the convex hull of points (n, 2), counterclockwise (Andrew 1979)."""
    ordered = sorted((float(a), float(b)) for a, b in points)
    size = max(abs(v) for point in ordered for v in point) ** 2

    def chain(sequence: list[tuple[float, float]]) -> list[tuple[float, float]]:
        out: list[tuple[float, float]] = []
        for a, b in sequence:
            while len(out) > 1:
                (p, q), (s, t) = out[-2:]
                if (s - p) * (b - q) - (t - q) * (a - p) > 1e-14 * size:
                    break
                out.pop()
            out.append((a, b))
        return out[:-1]

    return np.array(chain(ordered) + chain(ordered[::-1]))
