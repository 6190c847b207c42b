"""Which methods were used, read from the results; only those are told.

Leans on core.
"""

from collections.abc import Iterator

from wickstats.core.responses import Comparison
from wickstats.core.results import Results
from wickstats.core.words import CATALOG, say


def methods_used(results: Results) -> tuple[str, ...]:
    """Return the sentences of the methods that these results rest on."""
    comparisons = [c for r in results.responses for c in r.comparisons]
    every = [*comparisons, *(c for r in results.responses for c in r.sensitivity)]
    keys = ["method unit", "method strata", *_designs(results)]
    keys += [
        k
        for rule in ("dispersion", "paired", "hazards")
        if any(c.rule == rule for c in every)
        for k in (f"method {rule}",)
    ]
    keys += [*_mixed(results), *_growth(results)]
    models = [r.share_model for r in results.responses if r.share_model is not None]
    if any(fit.log_likelihood is not None for model in models for fit in model.fits):
        keys.append("method logit")
    if _redrawn(results, comparisons):
        keys.append("method redraws")
    adjustments = {c.adjustment for c in every}
    keys += [
        f"method {a}" for a in ("dunnett", "tukey", "single-step", "holm") if a in adjustments
    ]
    if any(c.verdict is not None for c in comparisons):
        keys.append("method verdict")
    kinds = {r.kind for r in results.responses}
    keys += [
        f"method {kind}"
        for kind in ("survival", "growth", "yield per liter", "count")
        if kind in kinds
    ]
    lives = [r.plant_lives for r in results.responses if r.plant_lives is not None]
    if any(len({p.cause for p in one.incidence}) > 1 for one in lives):
        keys.append("method causes")
    if any(fit.drawn for r in results.responses for fit in r.curve_fits or ()):
        keys.append("method smooth")
    if any(one.late_curves for one in lives):
        keys.append("method late entry")
    browsing = f"method browsing {results.trial.browsing}"
    if "survival" in kinds and browsing in CATALOG:
        keys.append(browsing)
    if results.second_engine:
        keys.append("method second")
    sentences = [say(key) for key in keys]
    for covariate in ("start size", "position"):
        names = [r.name for r in results.responses if r.unit_summary.covariate == covariate]
        if names:
            sentences.append(say(f"method {covariate}", names=", ".join(names)))
    logs = [r.name for r in results.responses if r.model_scale == "log"]
    if logs:
        sentences.append(say("method log", names=", ".join(logs)))
    return tuple(sentences)


def _designs(results: Results) -> Iterator[str]:
    """What the type of the design and the plan add."""
    kind = results.layout.type
    if kind in ("Latin square", "row-column"):
        yield "method rows and columns"
    if kind == "incomplete block":
        yield "method incomplete blocks"
    if kind in ("split-plot", "strip-plot"):
        yield "method several strata"
    if any(c.one_sided for c in results.trial.comparisons):
        yield "method one side"
    if results.trial.interactions == "left out":
        yield "method main effects"
    if any(c.compare == "trend over amount" for c in results.trial.comparisons):
        yield "method trend"


def _mixed(results: Results) -> Iterator[str]:
    fitted = [
        r.mixed_model
        for r in results.responses
        if r.mixed_model is not None and r.mixed_model.not_estimable is None
    ]
    if fitted:
        yield "method mixed"
    for name in ("Kenward-Roger", "Satterthwaite"):
        if any(name.lower() in m.df_method.lower() for m in fitted):
            yield f"method {name}"


def _growth(results: Results) -> Iterator[str]:
    """Growth over the visits, with what the plan said of it."""
    models = [
        r.growth_rates
        for r in results.responses
        if r.growth_rates is not None and r.growth_rates.not_estimable is None
    ]
    if models:
        yield "method growth rates"
    if any(m.diary.get("planned correlation") == "serial" for m in models):
        yield "method growth serial"
    if any(m.diary.get("planned course") == "straight" for m in models):
        yield "method growth straight"
    for words in ("by arm", "by visit"):
        if any(m.diary.get("planned variance") == words for m in models):
            yield f"method growth {words}"


def _redrawn(results: Results, comparisons: list[Comparison]) -> bool:
    every = [c.redraws for c in comparisons]
    every += [t.redraws for r in results.responses for t in r.tests]
    return any(r is not None and r.p is not None for r in every)
