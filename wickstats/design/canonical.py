"""The part of a trial that is fixed before planting, and its digest.

Design, factors, responses and plan; without the seed and the layout's file name, which
the layout's record holds itself, and without defaults, so that a later version that
knows more keys gives the same digest. Leans on core.codec.
"""

from typing import Any

from wickstats.core.codec import canonical_sha256
from wickstats.design.trial import Trial


def canonical(trial: Trial) -> dict[str, Any]:
    """Plain values of design, factors, responses and plan."""
    plain = trial.model_dump(
        mode="json",
        by_alias=True,
        exclude_defaults=True,
        include={"design", "factors", "responses", "plan"},
    )
    # a trial without a plan and one with an empty plan say the same
    design = {k: v for k, v in plain["design"].items() if k not in ("seed", "layout")}
    if "field" in design:  # bearings may be read off a compass once the stakes stand
        field = {k: v for k, v in design.pop("field").items() if not k.endswith("bearing_deg")}
        design |= {"field": field} if field else {}
    return {
        "design": design,
        "factors": plain["factors"],
        "responses": plain.get("responses", []),
        "plan": plain.get("plan") or {},
    }


def canonical_hash(trial: Trial) -> str:
    """SHA-256 of the canonical values' JSON."""
    return canonical_sha256(canonical(trial))
