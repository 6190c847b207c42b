"""Whether the parts of a trial file fit together, after each was read on its own.

Works on the plain values of the walk, of which any may be missing; what failed before
is not judged again. Leans on the rule modules of this package.
"""

from pathlib import Path
from typing import Any

from wickstats.design.findings import Findings
from wickstats.design.rules_design import check_design, check_factors
from wickstats.design.rules_files import check_files
from wickstats.design.rules_plan import check_plan
from wickstats.design.rules_power import check_power
from wickstats.design.rules_responses import check_responses
from wickstats.design.rules_water import check_costs, check_water


def check_parts(values: dict[str, Any], folder: Path, out: Findings) -> None:
    """Keep every contradiction between parts."""
    check_season(values, out)
    check_factors(values, out)
    check_design(values, out)
    check_files(values, folder, out)
    check_responses(values, out)
    check_plan(values, out)
    check_water(values, out)
    check_power(values, out)
    check_costs(values, out)


def check_season(values: dict[str, Any], out: Findings) -> None:
    """The season ends after it starts."""
    season = values.get("trial", {}).get("season", {})
    start, end = season.get("start"), season.get("end")
    if start and end and end <= start:
        out.add(
            ("trial", "season", "end"),
            "impossible value",
            found=f"a season that ends on {end} and starts on {start}",
            expected="an end after the start",
            fix="correct one of the two dates",
        )
