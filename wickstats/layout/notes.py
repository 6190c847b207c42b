"""What is good to know of a layout before any data: columns not used, strata without error.

Leans on rows, on the degrees of freedom and on the places of the trial file.
"""

from collections.abc import Iterable

from wickstats.core.errors import Problem
from wickstats.core.results import StratumDf
from wickstats.core.words import say
from wickstats.design.places import place_of
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.rows import unused_columns

SIZES = ("blocks", "replicates", "squares", "rows")


def unused_in_layout(layout: Layout) -> tuple[Problem, ...]:
    """One note a column of the layout's file that nothing reads."""
    data = layout.source_bytes.get(layout.file) if layout.source_bytes else None
    if data is None:
        return ()
    return tuple(
        Problem(
            file=layout.file,
            code="column not used",
            found=f"the column {head}",
            expected="columns of a layout",
            fix="nothing to do if it is meant for people only"
            + (f"; if {near} is meant, rename it" if near else ""),
            row=1,
            column=head,
        )
        for head, near in unused_columns(data, layout.factors)
    )


def strata_without_error(degrees: Iterable[StratumDf]) -> tuple[str, ...]:
    """Strata in which a treatment is compared and nothing is left to tell its error."""
    return tuple(row.stratum for row in degrees if row.term == "residual" and row.df < 1)


def without_error(trial: Trial, degrees: Iterable[StratumDf]) -> tuple[Problem, ...]:
    """A note where a stratum has no degrees of freedom for error."""
    strata = strata_without_error(degrees)
    if not strata:
        return ()
    size = next((s for s in SIZES if getattr(trial.design, s, None) is not None), "type")
    place = place_of(trial, ("design", size))
    return (
        Problem(
            file=trial.file,
            code="no degrees of freedom for error",
            found=say("no error found", strata=", ".join(strata)),
            expected=say("no error expected"),
            fix=say("no error fix"),
            line=place.line if place else None,
            column=place.column if place else None,
        ),
    )
