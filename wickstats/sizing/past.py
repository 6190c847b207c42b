"""What a past season says about how much units differ, with its degrees of freedom.

The unit summaries of the past report are fitted again: treatments and ground (blocks; rows
and columns) fixed, RSS = sum of squared residuals, M the residual projector.

    numbers   s^2 = RSS/df of one unit's summary on the model's scale, df = tr M
    shares    phi = RSS/tr(MD), D the units' binomial variances p(1 - p)/m with
              p = (x + 0.5)/(n + 1) of the treatment; df = tr(MD)^2/tr(MDMD)
              (Satterthwaite 1946; Box 1954); 1 + (m - 1) rho = phi gives the plot
              correlation (Kish 1965)
    several error strata (complete trials)   the variance of one smallest unit, from the
              strata's mean squares; df by Satterthwaite

s^2 df/chi-square(df) is what is known of the true variance; the one-sided 80 % upper limit
is s^2 df over the 20 % point of chi-square. Leans on core and numpy.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wickstats.core.errors import Problem, ReportError
from wickstats.core.responses import ResponseResult, StrataRow, UnitValue
from wickstats.core.results import Results
from wickstats.core.units import UnitError, conversion
from wickstats.core.words import say

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PastSeason:
    """A past report: its results, the digest of its results.json, and what is doubtful.

    ``data`` are the bytes of results.json, to keep beside what was reckoned from them.
    """

    results: Results
    sha256: str
    notes: tuple[str, ...] = ()
    data: bytes = field(default=b"", repr=False)

    def keep_in(self, folder: Path) -> Path:
        """Copy results.json into a folder, named by its digest."""
        path = folder / f"past-{self.sha256[:16]}-results.json"
        folder.mkdir(parents=True, exist_ok=True)
        partial = path.with_suffix(".partial")
        partial.write_bytes(self.data)
        partial.replace(path)
        return path


@dataclass(frozen=True, slots=True)
class PastVariance:
    """How much units differed.

    Attributes
    ----------
    variance
        Of one unit's summary on the model's scale; for shares the dispersion phi.
    df
        Degrees of freedom of the stratum.
    plants
        Plants behind a unit (harmonic mean), or None where they are not counted.
    between_plants
        Variance between plants of a unit from the mixed model, or None.
    shares
        Shares alive by treatment, "" for all; empty for other responses.
    counts
        Mean counts by treatment, "" for all; empty for other responses.
    """

    variance: float
    df: float
    plants: float | None
    between_plants: float | None
    shares: Mapping[str, float]
    counts: Mapping[str, float] = field(default_factory=dict)

    def with_plants(self, plants: float | None) -> float:
        """The variance (or phi) of a unit with another number of plants."""
        if plants is None or self.plants is None or plants == self.plants:
            return self.variance
        if self.shares:
            if self.plants <= 1.0:
                return self.variance
            correlation = max(self.variance - 1.0, 0.0) / (self.plants - 1.0)
            return 1.0 + (plants - 1.0) * correlation
        if self.between_plants is None:
            return self.variance
        between_units = max(self.variance - self.between_plants / self.plants, 0.0)
        return between_units + self.between_plants / plants


def past_variance(response: ResponseResult) -> PastVariance | str:
    """Read off how much units differed, or say why that cannot be told."""
    units = [u for u in response.unit_summary.values if u.value is not None]
    if len(units) < 3:
        return say("past no units", response=response.name)
    # counts are summed as they are, whatever scale their ratios are on
    log = response.model_scale == "log" and response.kind != "count"
    if log and not response.unit_summary.measured_in.startswith("log("):
        return say("past zeros", response=response.name)
    strata = {test.stratum for test in response.tests if test.statistic == "F"}
    if len(strata) > 1:
        return _of_strata(response, units)
    values = np.array([float(u.value or 0.0) for u in units])
    counts = _by_treatment(units, values) if response.kind == "count" else {}
    if counts:
        values = np.log(values + 0.5)
    m = _projector(units)
    df = float(np.rint(np.trace(m)))
    residual = m @ values
    rss = float(residual @ residual)
    if df < 1.0 or rss <= 1e-24 * max(float(values @ values), 1e-300):
        return say("past no error", response=response.name)
    plants = np.array([float(u.n_plants) for u in units])
    if response.kind == "survival":
        return _of_shares(units, values, plants, m, rss)
    shown = [u.residual for u in units]
    if "paired" not in {c.rule for c in response.comparisons} and None not in shown:
        # a covariate took part of the scatter away, and one degree of freedom
        own = float(sum(float(r or 0.0) ** 2 for r in shown))
        if response.kind != "count" and own < rss * (1.0 - 1e-6) and df > 1.0:
            rss, df = own, df - 1.0
    between, counted = _between_plants(response), bool(plants.min() > 0)
    return PastVariance(
        rss / df,
        df,
        float(1.0 / np.mean(1.0 / plants)) if counted and between is not None else None,
        between,
        {},
        counts,
    )


def _by_treatment(units: list[UnitValue], values: Array) -> dict[str, float]:
    """Means of all units ("") and of each treatment's."""
    treatments = [u.treatment for u in units]
    return {
        arm: float(values[np.array([arm in ("", t) for t in treatments])].mean())
        for arm in ("", *dict.fromkeys(treatments))
    }


def _of_shares(
    units: list[UnitValue], values: Array, plants: Array, m: Array, rss: float
) -> PastVariance:
    shares: dict[str, float] = {}
    treatments = [u.treatment for u in units]
    for arm in ("", *dict.fromkeys(treatments)):
        mine = np.array([arm in ("", t) for t in treatments])
        alive, n = float(values[mine] @ plants[mine]), float(plants[mine].sum())
        shares[arm] = (alive + 0.5) / (n + 1.0)
    d = np.array([shares[t] * (1.0 - shares[t]) for t in treatments]) / plants
    first, second = float(np.diag(m) @ d), float(d @ (m * m) @ d)
    harmonic = float(1.0 / np.mean(1.0 / plants))
    return PastVariance(rss / first, first**2 / second, harmonic, None, shares)


def _of_strata(response: ResponseResult, units: list[UnitValue]) -> PastVariance | str:
    """Split-plots: the variance of one subplot, of both errors' mean squares."""
    errors = [row for row in response.strata if row.f is None and _is_error(row)]
    if len(errors) != 2 or not all(u.whole_plot for u in units):
        return say("past strata", response=response.name)
    size = len(units) / len({(u.block, u.whole_plot) for u in units})
    parts = [
        (share * (row.mean_square or 0.0), float(row.df))
        for share, row in zip((1.0 / size, 1.0 - 1.0 / size), errors, strict=True)
    ]
    total = sum(v for v, _ in parts)
    df = total**2 / sum(v**2 / d for v, d in parts)
    return PastVariance(total, df, None, None, {})


def _is_error(row: StrataRow) -> bool:
    return row.source in ("error", "residual") and row.df > 0 and row.mean_square is not None


def _projector(units: list[UnitValue]) -> Array:
    """I - X X^+, X treatments and ground."""
    labels = [[u.treatment for u in units]]
    if all(u.row and u.column for u in units):
        outer = [u.square or u.replicate or "" for u in units]
        labels.append([f"{o}/{u.row}" for o, u in zip(outer, units, strict=True)])
        labels.append([f"{o}/{u.column}" for o, u in zip(outer, units, strict=True)])
    elif all(u.block for u in units):
        labels.append([str(u.block) for u in units])
    parts = []
    for held in labels:
        names = list(dict.fromkeys(held))
        parts.append(np.array([[h == name for name in names] for h in held], dtype=float))
    x = np.hstack(parts)
    return np.asarray(np.eye(len(units)) - x @ np.linalg.pinv(x))


def _between_plants(response: ResponseResult) -> float | None:
    """The mixed model's variance between plants, where units are a component beside it."""
    model = response.mixed_model
    if model is None or not model.converged:
        return None
    found = {c.term: c.estimate for c in model.variance_components}
    beside = found.keys() & {"plot", "subplot", "reservoir"}
    return found.get("plant", found.get("residual")) if beside else None


def matching(
    past: Results, name: str, kind: str, scale: str, unit: str | None
) -> ResponseResult:
    """The past response of that name, which must be of the same kind and scale.

    Raises
    ------
    ReportError
        Where there is none, or it is another kind, scale or unit.
    """
    found = next((r for r in past.responses if r.name == name), None)
    if found is None:
        names = ", ".join(r.name for r in past.responses) or "no response"
        raise _problem(
            "response missing",
            f"no response {name}; there are: {names}",
            f"a response {name} of kind {kind}",
            "give the response the name it had, or leave --from out",
        )
    if found.kind != kind or (kind != "count" and found.model_scale != scale):
        raise _problem(
            "another response",
            f"{name} of kind {found.kind}, {found.model_scale}",
            f"{name} of kind {kind}, {scale}",
            "give kind and scale as they were, or the response another name",
        )
    if unit and scale != "log" and kind != "count":
        unit_factor(found.measured_in, unit, name)
    return found


def unit_factor(theirs: str, ours: str, name: str) -> float:
    """What turns a difference in ``theirs`` into one in ``ours``.

    Raises
    ------
    ReportError
        For units that measure different things.
    """
    try:
        way = conversion(theirs, ours)
    except UnitError as error:
        raise _problem(
            "another unit",
            f"{name} measured in {theirs}",
            f"{name} measured in {ours}, or in a unit that can be turned into it",
            "give measured_in as it was, or the response another name",
        ) from error
    both = np.asarray(way.apply(np.array([0.0, 1.0])), dtype=float)
    return float(both[1] - both[0])


def _problem(code: str, found: str, expected: str, fix: str) -> ReportError:
    return ReportError([Problem("results.json", code, found, expected, fix)])
