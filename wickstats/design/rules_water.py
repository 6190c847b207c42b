"""Water, power and costs against treatments and responses. Leans on parts."""

from wickstats.design.findings import Findings, Path, listing
from wickstats.design.parts import (
    Values,
    check_responses_known,
    check_treatments,
    responses_of,
)

_MEANS = frozenset({"mean", "plot_cv", "plant_cv", "plot_sd", "plant_sd", "plot_correlation"})
_ASSUMED: dict[str, frozenset[str]] = {
    "survival": frozenset({"alive_at_end", "plot_correlation"}),
    "yield per liter": _MEANS | {"liters", "liters_cv"},
    "water used": _MEANS | {"liters", "liters_cv"},
}


def check_water(values: Values, out: Findings) -> None:
    """Treatments known; what cannot be used is less than what a reservoir holds."""
    water = values.get("water", {})
    check_treatments(
        water.get("planned_l", {}), ("water", "planned_l"), values, out, complete=True
    )
    size = water.get("reservoirs", {})
    holds, unusable = size.get("holds_l"), size.get("unusable_l")
    if holds is not None and unusable is not None and unusable >= holds:
        out.add(
            ("water", "reservoirs", "unusable_l"),
            "impossible value",
            found=f"{unusable:g} L that cannot be used of {holds:g} L",
            expected="less than the reservoir holds",
            fix="correct one of the two",
        )


def check_power(values: Values, out: Findings) -> None:
    """Assumptions are about responses and treatments of this file."""
    assume = values.get("power", {}).get("assume", {})
    check_responses_known(assume, ("power", "assume"), values, out)
    for name, given in assume.items():
        path: Path = ("power", "assume", name)
        for key in ("alive_at_end", "mean", "liters"):
            check_treatments(given.get(key, {}), (*path, key), values, out, complete=True)
        kind = responses_of(values).get(name, {}).get("kind")
        if kind is None:
            continue
        allowed = _ASSUMED.get(kind, _MEANS)
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


def check_costs(values: Values, out: Findings) -> None:
    """Treatments named in costs are known."""
    costs = values.get("costs", {})
    hours = costs.get("hours_per_visit", {})
    check_treatments(hours, ("costs", "hours_per_visit"), values, out, complete=False)
    for i, item in enumerate(costs.get("items", ())):
        names = (item or {}).get("for_", ())
        path: Path = ("costs", "items", i, "for")
        check_treatments({n: 1 for n in names if n}, path, values, out, complete=False)
