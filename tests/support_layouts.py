"""Small trials for the tests of layouts."""

from pathlib import Path

from wickstats.design.read import parse_trial
from wickstats.design.trial import Trial


def trial_of(
    design: str,
    folder: Path | str = "/nowhere",
    *,
    factors: str = "watering: [{name: A, reference: true}, B, C]",
    more: str = "",
) -> Trial:
    """A trial of that design, as if read from ``folder``."""
    text = (
        "format: 1\ntrial: {id: small}\n"
        f"factors: {{{factors}}}\ndesign: {{layout: layout.csv, {design}}}\n{more}"
    )
    return parse_trial(text.encode(), file="trial.yaml", folder=Path(folder))


BLOCKS = "type: randomized complete block"
FREE = "type: completely randomized"
SPLIT = (
    "variety: {applied_to: whole plot, levels: [V1, V2, V3]}, "
    "nitrogen: {applied_to: subplot, levels: [N0, N1, N2, N3]}"
)

SPLIT_SPLIT = (
    "w: {applied_to: whole plot, levels: [A, B]}, p: {applied_to: plot, levels: [c, d]}, "
    "n: {applied_to: subplot, levels: [x, y]}"
)
STRIPS = (
    "w: {applied_to: row strip, levels: [A, B, C]}, "
    "n: {applied_to: column strip, levels: [x, y]}"
)


def letters(count: int) -> str:
    """A factor ``watering`` of so many levels: A, B, C, ..."""
    names = [chr(65 + k) if k < 26 else f"A{k}" for k in range(count)]
    return "watering: [" + ", ".join(names) + "]"
