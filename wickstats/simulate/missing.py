"""Assumptions that are missing: which, and an example to paste.

Leans on core and the trial's values.
"""

from wickstats.core.errors import Problem
from wickstats.core.words import say
from wickstats.design.places import place_of
from wickstats.design.trial import Response, Trial

_EXAMPLE = {"count": 60, "score": 3, "growth": 45, "yield": 3.5, "water used": 300}


def missing(
    trial: Trial, response: Response, cells: tuple[str, ...], key: str, treatments: str = ""
) -> Problem:
    """A problem at power.assume; ``key``: "missing", "missing spread", "missing treatment"."""
    name = response.name
    held = trial.power.assume.get(name) if trial.power else None
    known = [("power", "assume", name), ("power", "assume")] if trial.power else []
    place = next((p for path in known if (p := place_of(trial, path)) is not None), None)
    words = "simulate add" if held is not None else "simulate paste"
    if trial.power is None:
        words = "simulate paste whole"
    return Problem(
        trial.file or "trial.yaml",
        "missing assumption",
        say(f"simulate {key} found", name=name, treatments=treatments),
        say(f"simulate {key} expected"),
        say(words, example=example(response, cells), name=name),
        line=None if place is None else place.line,
    )


def example(response: Response, cells: tuple[str, ...]) -> str:
    """Lines of a trial file that assume something about a response."""

    def levels(value: object) -> str:
        return "{" + ", ".join(f"{_quoted(cell)}: {value}" for cell in cells) + "}"

    if response.kind == "survival":
        given = f"{{alive_at_end: {levels(0.7)}, plot_correlation: 0.1}}"
    elif response.kind in ("yield per liter", "water used"):
        given = f"{{liters: {levels(300)}, liters_cv: 0.10}}"
    else:
        value = _EXAMPLE.get(response.kind, 10)
        plants = response.kind in ("growth", "measurement", "score")
        given = f"{{mean: {levels(value)}, plot_cv: 0.10{', plant_cv: 0.25' * plants}}}"
    return f"    {_quoted(response.name)}: {given}"


def _quoted(name: str) -> str:
    plain = all(c.isalnum() or c in " -_" for c in name) and name[:1].isalpha()
    return name if plain else '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'
