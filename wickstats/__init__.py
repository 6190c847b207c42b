"""Statistical analysis for irrigation comparison trials.

The same road as the command line, for notebooks and programs::

    import wickstats as ws

    trial = ws.read_trial("trial.yaml")
    layout = ws.randomize(trial)
    season = ws.read_records(trial)
    results = ws.analyze(trial, season)
    ws.write_report(results, "report")

Everything listed in ``__all__`` is loaded when it is first used.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wickstats.api import (
        analyze,
        audit,
        papers,
        power,
        randomize,
        read_layout,
        read_records,
        read_trial,
        rehearse,
        supply,
        write_report,
    )
    from wickstats.core.errors import (
        AnalysisError,
        LayoutError,
        RecordsError,
        ReportError,
        TrialError,
        WickstatsError,
    )

_ERRORS = (
    "AnalysisError",
    "LayoutError",
    "RecordsError",
    "ReportError",
    "TrialError",
    "WickstatsError",
)

__all__ = [
    "AnalysisError",
    "LayoutError",
    "RecordsError",
    "ReportError",
    "TrialError",
    "WickstatsError",
    "analyze",
    "audit",
    "papers",
    "power",
    "randomize",
    "read_layout",
    "read_records",
    "read_trial",
    "rehearse",
    "supply",
    "write_report",
]


def __getattr__(name: str) -> Any:
    """Load a public name on first use."""
    if name == "__version__":
        from importlib.metadata import version

        return version("wickstats")
    if name in __all__:
        module = "wickstats.core.errors" if name in _ERRORS else "wickstats.api"
        return getattr(import_module(module), name)
    raise AttributeError(f"module 'wickstats' has no attribute {name!r}")


def __dir__() -> list[str]:
    """List the public names."""
    return sorted([*__all__, "__version__"])
