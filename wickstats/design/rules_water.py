"""Water and costs against treatments. Leans on parts."""

from wickstats.design.findings import Findings, Path
from wickstats.design.parts import Values, check_treatments


def check_water(values: Values, out: Findings) -> None:
    """Treatments known; what cannot be used is less than what a reservoir holds."""
    water = values.get("water", {})
    check_treatments(
        water.get("planned_l", {}), ("water", "planned_l"), values, out, complete=True
    )
    flow = water.get("bench_flow", {})
    check_treatments(flow, ("water", "bench_flow"), values, out, complete=False)
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


def check_costs(values: Values, out: Findings) -> None:
    """Treatments named in costs are known; hours have every treatment and a wage."""
    costs = values.get("costs", {})
    hours = costs.get("hours_per_visit", {})
    path: Path = ("costs", "hours_per_visit")
    check_treatments(hours, path, values, out, complete=True)
    if hours and "wage_per_hour" not in costs and out.sound("costs", "wage_per_hour"):
        out.add(
            path,
            "missing key",
            found="hours_per_visit without wage_per_hour",
            expected="what an hour costs; 0 where nobody is paid",
            fix="add wage_per_hour under costs",
            on_key=True,
        )
    for i, item in enumerate(costs.get("items", ())):
        names = (item or {}).get("for_", ())
        path = ("costs", "items", i, "for")
        check_treatments({n: 1 for n in names if n}, path, values, out, complete=False)
