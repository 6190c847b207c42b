"""Assumptions about seasons against responses, treatments, ranges and the season.

Everything that cannot be is told here, before anything is reckoned or simulated.
Leans on parts.
"""

import math

from wickstats.design.findings import Findings, Path, listing, quote
from wickstats.design.parts import (
    Values,
    check_responses_known,
    check_treatments,
    model_scale,
    responses_of,
)

_GROUND = frozenset({"block_cv", "block_sd", "whole_plot_cv", "whole_plot_sd"})
_TOTALS = _GROUND | {"mean", "plot_cv", "plot_sd", "spread_df"}
_SIZES = _TOTALS | {"plant_cv", "plant_sd", "plot_correlation"}
_WATER = _GROUND | {"mean", "plot_cv", "liters", "liters_cv", "spread_df"}
_ASSUMED: dict[str, frozenset[str]] = {
    "survival": frozenset(
        {
            *("alive_at_end", "plot_correlation", "block_correlation"),
            *("whole_plot_correlation", "causes", "death_shape", "spread_df"),
        }
    ),
    "growth": _SIZES | {"start_size"},
    "measurement": _SIZES,
    "score": _SIZES,
    "count": frozenset({"mean", "plot_cv", "block_cv", "whole_plot_cv", "spread_df"}),
    "yield per liter": _WATER,
    "water used": _WATER,
}
_CLOSE = 1e-6
_CORRELATIONS = ("plot_correlation", "block_correlation", "whole_plot_correlation")


def check_power(values: Values, out: Findings) -> None:
    """Assumptions are about responses and treatments of this file, and can be."""
    power = values.get("power", {})
    assume = power.get("assume", {})
    check_responses_known(assume, ("power", "assume"), values, out)
    for name, given in assume.items():
        path: Path = ("power", "assume", name)
        for key in ("alive_at_end", "mean", "liters"):
            check_treatments(given.get(key, {}), (*path, key), values, out, complete=True)
        response = responses_of(values).get(name, {})
        kind = response.get("kind")
        if kind is None:
            continue
        _keys(kind, given, path, out)
        _told_twice(kind, given, path, out)
        _causes(given.get("causes", {}), path, out)
        _correlations(given, path, out)
        if kind != "survival":
            _means(given.get("mean", {}), response, (*path, "mean"), out)
        _margin(name, given, response, values, out)
    _crew(power.get("crew", {}), values, out)


def assumed_keys(kind: str) -> frozenset[str]:
    """What may be assumed about a response of that kind."""
    return _ASSUMED.get(kind, _TOTALS)


def _keys(kind: str, given: Values, path: Path, out: Findings) -> None:
    allowed = assumed_keys(kind)
    for key in given:
        if key not in allowed:
            out.add(
                (*path, key),
                "contradiction",
                found=f"{key} for a response of kind {kind}",
                expected=f"only: {listing(sorted(allowed))}",
                fix="take it out, or correct the response",
                on_key=True,
            )


def _told_twice(kind: str, given: Values, path: Path, out: Findings) -> None:
    """One way of telling how much plots or plants differ; a correlation needs the other's."""
    pairs = [(f"{what}_cv", f"{what}_sd") for what in ("plot", "plant", "block", "whole_plot")]
    if kind != "survival":
        pairs += [("plot_cv", "plot_correlation"), ("plot_sd", "plot_correlation")]
    for one, two in pairs:
        if given.get(one) is not None and given.get(two) is not None:
            out.add(
                (*path, two),
                "contradiction",
                found=f"{one} and {two} both",
                expected="one of the two: they say the same thing in two ways",
                fix="take one of them out",
                on_key=True,
            )
    plants = given.get("plant_cv") is not None or given.get("plant_sd") is not None
    sizes = assumed_keys(kind) >= _SIZES
    if sizes and given.get("plot_correlation") is not None and not plants:
        out.add(
            (*path, "plot_correlation"),
            "missing key",
            found="plot_correlation without plant_cv or plant_sd",
            expected="how much plants of one plot differ: it tells the plots' part of that",
            fix="add plant_cv or plant_sd, or say plot_cv or plot_sd instead",
            on_key=True,
        )


def _causes(causes: Values, path: Path, out: Findings) -> None:
    total = math.fsum(causes.values())
    if causes and out.sound(*path, "causes") and abs(total - 1.0) > _CLOSE:
        out.add(
            (*path, "causes"),
            "impossible value",
            found=f"shares of causes that sum to {total:g}",
            expected="shares of all deaths that sum to 1",
            fix="give the rest to unknown" if total < 1.0 else "correct the shares",
        )


def _correlations(given: Values, path: Path, out: Findings) -> None:
    """Plants of one plot share their block as well: the parts stay below 1 together."""
    held = [key for key in _CORRELATIONS if given.get(key) is not None]
    total = math.fsum(given[key] for key in held)
    if len(held) > 1 and total >= 1.0:
        out.add(
            (*path, held[-1]),
            "impossible value",
            found=f"{' and '.join(held)} that sum to {total:g}",
            expected="correlations whose sum is below 1",
            fix="make them smaller",
        )


def _means(means: Values, response: Values, path: Path, out: Findings) -> None:
    kind = str(response.get("kind"))
    positive = kind in ("count", "yield", "yield per liter", "water used", "rise", "flow")
    positive = positive or model_scale(response) == "log"
    limits = response.get("range")
    for treatment, mean in means.items():
        if mean is None or not out.sound(*path, treatment):
            continue
        if positive and mean <= 0:
            out.add(
                (*path, treatment),
                "impossible value",
                found=f"a mean of {mean:g} for {quote(treatment)}",
                expected=f"a mean above 0 for a response of kind {kind}"
                + (" on a log scale" if model_scale(response) == "log" else ""),
                fix="correct the mean",
            )
        elif limits and not limits[0] <= mean <= limits[1]:
            out.add(
                (*path, treatment),
                "impossible value",
                found=f"a mean of {mean:g} for {quote(treatment)}",
                expected=f"a mean from {limits[0]:g} to {limits[1]:g}, the response's range",
                fix="correct the mean, or the range",
            )


def _margin(name: str, given: Values, response: Values, values: Values, out: Findings) -> None:
    """A difference that no treatment could show, whichever way it goes."""
    path: Path = ("plan", "matters", name)
    matters = (values.get("plan") or {}).get("matters", {}).get(name, {})
    margin = matters.get("difference")
    levels: Values = given.get("alive_at_end", {})
    limits = (0.0, 1.0)
    if response.get("kind") != "survival":
        levels, limits = given.get("mean", {}), response.get("range") or (-math.inf, math.inf)
    held = [level for level in levels.values() if level is not None]
    if margin is None or not held or not out.sound(*path):
        return
    reach = max(max(limits[1] - level, level - limits[0]) for level in held)
    if margin > reach + _CLOSE:
        out.add(
            (*path, "difference"),
            "impossible value",
            found=f"a difference of {margin:g} for {quote(name)}, assumed from "
            f"{min(held):g} to {max(held):g}",
            expected=f"one that can be reached between {limits[0]:g} and {limits[1]:g}: "
            f"at most {reach:g}",
            fix="make the difference smaller, or correct what is assumed",
        )


def _crew(crew: Values, values: Values, out: Findings) -> None:
    """Visits fit into the season and follow one another."""
    season = values.get("trial", {}).get("season", {})
    start, end = season.get("start"), season.get("end")
    every, spread = crew.get("visits_every_d"), crew.get("visits_spread_d")
    if every and start and end and start < end and every > (end - start).days:
        out.add(
            ("power", "crew", "visits_every_d"),
            "impossible value",
            found=f"a visit every {every} days in a season of {(end - start).days} days",
            expected="at least one visit in the season",
            fix="make it shorter, or correct the season",
        )
    if every and spread and spread >= every:
        out.add(
            ("power", "crew", "visits_spread_d"),
            "impossible value",
            found=f"rounds spread over {spread} days, one every {every} days",
            expected="a round that ends before the next one begins",
            fix="make visits_spread_d smaller than visits_every_d",
        )
