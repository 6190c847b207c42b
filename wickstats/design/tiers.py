"""On which piece of ground each factor's levels are set up, from the largest down.

In a split-plot design ``plot`` and ``subplot`` are two tiers only where both are used
(split-split-plot); one of them alone means the smallest piece, the subplot. Leans on
the trial's values.
"""

from collections.abc import Mapping

from wickstats.design.trial import Trial


def tiers_of(trial: Trial) -> dict[str, str]:
    """Factor -> whole plot, plot, subplot, row strip, column strip, coil or piece."""
    given = {factor.name: str(factor.applied_to) for factor in trial.factors}
    if trial.design.type == "split-plot":
        at_bench = {"coil": "whole plot", "piece": "subplot"}
        given = {name: at_bench.get(tier, tier) for name, tier in given.items()}
        lower = {tier for tier in given.values() if tier != "whole plot"}
        if len(lower) == 1:
            return {n: t if t == "whole plot" else "subplot" for n, t in given.items()}
    if trial.design.type == "strip-plot":
        return {n: "plot" if t == "subplot" else t for n, t in given.items()}
    return given


def applied_to(tiers: Mapping[str, str], tier: str) -> tuple[str, ...]:
    """The factors of one tier, in the order of the file."""
    return tuple(name for name, held in tiers.items() if held == tier)
