"""Notes on a trial file: units that are only names, no reference.

Leans on the trial's values and on places.
"""

from collections.abc import Iterator

from wickstats.core.errors import Problem
from wickstats.core.units import unit_of_name, unknown_unit
from wickstats.design.defaults import is_pilot
from wickstats.design.findings import Findings
from wickstats.design.places import places
from wickstats.design.trial import Trial


def notes_on(trial: Trial) -> tuple[Problem, ...]:
    """Notes by place; each says what to look at, none stops anything."""
    out, _ = places(trial)
    notes = [*_units(trial, out), *_references(trial, out)]
    return tuple(sorted(notes, key=lambda note: (note.line or 0, note.found)))


def _units(trial: Trial, out: Findings) -> Iterator[Problem]:
    """Units that are only names to us, and column names that end in another unit."""
    for i, response in enumerate(trial.responses):
        given = response.measured_in
        if given is None:
            continue
        place = out.place(("responses", i, "measured_in"))
        named = unit_of_name(response.column or "")
        hint = unknown_unit(given)
        if hint is not None:
            near = f"; if {hint} is meant, write {hint}" if hint else ""
            yield Problem(
                file=trial.file,
                code="unknown unit",
                found=f"{response.name} measured in {given}",
                expected="a unit that is known, such as cm, kg, L",
                fix=f"nothing to do if the word is right: it is shown as it stands{near}",
                line=place.line,
                column=place.column,
            )
        elif named is not None and named != given:
            yield Problem(
                file=trial.file,
                code="unit and name differ",
                found=f"{response.column} measured in {given}, though its name ends in {named}",
                expected="a name and a unit that agree",
                fix=f"nothing to do if the values are in {given}: measured_in counts; else "
                f"correct it",
                line=place.line,
                column=place.column,
            )


def _references(trial: Trial, out: Findings) -> Iterator[Problem]:
    """Factors without a reference, of which the plan says no comparison; a pilot."""
    if is_pilot(trial):
        only = trial.factors[0].name
        place = out.place(("factors", only), on_key=True)
        yield Problem(
            file=trial.file,
            code="one treatment",
            found=f"one level of {only}, so nothing is compared",
            expected="two levels or more, if ways of watering are to be compared",
            fix="nothing to do for a pilot: it shows what such plots come to and how they vary",
            line=place.line,
            column=place.column,
        )
        return
    planned = {c.factor for c in trial.plan.comparisons} if trial.plan is not None else set()
    for factor in trial.factors:
        if factor.name in planned or any(level.reference for level in factor.levels):
            continue
        place = out.place(("factors", factor.name), on_key=True)
        yield Problem(
            file=trial.file,
            code="no reference",
            found=f"no level of {factor.name} is the reference",
            expected="one level with reference: true, if the others are to be compared with it",
            fix="nothing to do if all pairs are wanted: they are compared as it stands",
            line=place.line,
            column=place.column,
        )
