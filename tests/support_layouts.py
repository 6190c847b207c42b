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
