"""The plan against factors and responses: names, weights, adjustments, what matters.

Leans on parts.
"""

import math
from collections.abc import Iterable, Sequence

from wickstats.design.defaults import usual_better
from wickstats.design.findings import Findings, Path, listing, quote
from wickstats.design.parts import (
    Values,
    cells_of,
    check_responses_known,
    factors_of,
    model_scale,
    references_of,
    responses_of,
    unknown_name,
)

REFERENCE, PAIRS = "each with the reference", "all pairs"
TREND = "trend over amount"
_CLOSE = 1e-9


def check_plan(values: Values, out: Findings) -> None:
    """Everything that the plan refers to exists and fits."""
    plan = values.get("plan")
    if not plan:
        return
    _roles(plan, values, out)
    _better_for(plan, values, out)
    entries = plan.get("comparisons", ())
    if entries and out.sound("factors") and len(cells_of(values)) == 1:
        out.add(
            ("plan", "comparisons"),
            "contradiction",
            found="comparisons in a trial of one treatment",
            expected="none: a pilot shows what such plots come to and how much they vary",
            fix="take them out, or add a treatment to compare with",
            on_key=True,
        )
        entries = ()
    for i, entry in enumerate(entries):
        if entry:
            _comparison(entry, ("plan", "comparisons", i), values, out)
            _entry_once(i, entries, out)
    _interactions(plan, values, out)
    for key in ("matters", "variance", "covariates", "growth_over_visits"):
        check_responses_known(plan.get(key, {}), ("plan", key), values, out)
    _growth_over_visits(plan.get("growth_over_visits", {}), values, out)
    for name, given in plan.get("matters", {}).items():
        response = responses_of(values).get(name)
        if response and "kind" in response and out.sound("plan", "matters", name):
            _matters(name, given, response, out)
    _equal_water(plan.get("equal_water"), values, out)
    if plan.get("recovery") and values.get("design", {}).get("type") != "incomplete block":
        out.add(
            ("plan", "recovery"),
            "contradiction",
            found="recovery in a design without incomplete blocks",
            expected="recovery of inter-block information only in incomplete blocks",
            fix="take it out",
            on_key=True,
        )


def _roles(plan: Values, values: Values, out: Findings) -> None:
    primary, secondary = plan.get("primary"), plan.get("secondary", ())
    if not out.sound("responses"):
        return
    known = responses_of(values)
    if primary is not None and primary not in known:
        unknown_name(primary, ("plan", "primary"), known, "response", out)
    seen: set[str] = set()
    for i, name in enumerate(secondary):
        path: Path = ("plan", "secondary", i)
        if name is None:
            continue
        if name not in known:
            unknown_name(name, path, known, "response", out)
        elif name == primary or name in seen:
            out.add(
                path,
                "contradiction",
                found=f"{quote(name)} named twice",
                expected="each response primary or secondary, once",
                fix="take it out of secondary",
            )
        seen.add(name)


def _better_for(plan: Values, values: Values, out: Findings) -> None:
    """A plan that asks only whether better needs responses that have a better side.

    The primary one where there is one, else any.
    """
    entries = plan.get("comparisons", ())
    asking = [i for i, e in enumerate(entries) if e and e.get("asks") == "only whether better"]
    known = responses_of(values)
    judged = [plan["primary"]] if plan.get("primary") in known else list(known)
    if asking and judged and not any(_has_better(known[name]) for name in judged):
        out.add(
            ("plan", "comparisons", asking[0], "asks"),
            "contradiction",
            found=f"only whether better, but {quote(judged[0])} has no better side",
            expected="a primary response with better: more or less",
            fix="say under responses which way is better, or take asks out",
            on_key=True,
        )


def _has_better(response: Values) -> bool:
    usual = usual_better(response.get("kind", ""))
    return bool(response.get("better", usual) != "neither")


def _comparison(entry: Values, path: Path, values: Values, out: Findings) -> None:
    factors = factors_of(values)
    factor, within = entry.get("factor"), entry.get("within")
    if not out.sound("factors") or factor is None:
        return
    if factor not in factors:
        unknown_name(factor, (*path, "factor"), factors, "factor", out)
        return
    if within is not None and (within not in factors or within == factor):
        others = [name for name in factors if name != factor]
        unknown_name(within, (*path, "within"), others, "factor", out)
    _differs_by(entry, path, factor, factors, out)
    _asks(entry, path, references_of(values).get(factor), out)
    if entry.get("compare") == TREND:
        _trend(entry, path, factor, values, out)
        return
    if "weights" in entry:
        _weights(entry, path, factors[factor], out)
    else:
        _words(entry, path, factor, references_of(values).get(factor), out)


def _entry_once(i: int, entries: Sequence[Values], out: Findings) -> None:
    """An entry again would only make the same family of comparisons twice."""

    def content(entry: Values) -> Values:
        return {k: v for k, v in entry.items() if k != "name"}

    first = next((k for k in range(i) if content(entries[k]) == content(entries[i])), None)
    if first is not None:
        out.add(
            ("plan", "comparisons", i),
            "duplicate comparison",
            found=f"the comparisons of entry {first + 1} again",
            expected="each family of comparisons once",
            fix="take one of the two out",
        )


def _asks(entry: Values, path: Path, reference: str | None, out: Findings) -> None:
    """Only whether better needs something that each treatment is to be better than."""
    if entry.get("asks") != "only whether better":
        return
    compare = entry.get("compare") or (REFERENCE if reference else PAIRS)
    if "weights" in entry or (compare == REFERENCE and "differs_by" not in entry):
        return
    asked = "differences of differences" if "differs_by" in entry else compare
    out.add(
        (*path, "asks"),
        "contradiction",
        found=f"only whether better for {asked}",
        expected=f"it with {REFERENCE}, or with weights: one side is the one to be better than",
        fix="take it out, or name the reference",
        on_key=True,
    )


def _differs_by(
    entry: Values, path: Path, factor: str, factors: Iterable[str], out: Findings
) -> None:
    other = entry.get("differs_by")
    if other is None:
        return
    others = [name for name in factors if name != factor]
    if other not in others:
        unknown_name(other, (*path, "differs_by"), others, "factor", out)
    if "within" in entry:
        out.add(
            (*path, "differs_by"),
            "contradiction",
            found="within and differs_by in one entry",
            expected="within (in each level) or differs_by (between the levels)",
            fix="make two entries of it",
            on_key=True,
        )
    _not_for_means(entry, path, "differences of differences", out)


def _not_for_means(
    entry: Values,
    path: Path,
    what: str,
    out: Findings,
    *,
    expected: str = "single-step, holm or none",
    fix: str = "write single-step",
) -> None:
    """Dunnett and Tukey adjust comparisons of means only."""
    if entry.get("adjustment") in ("dunnett", "tukey"):
        out.add(
            (*path, "adjustment"),
            "contradiction",
            found=f"{entry['adjustment']} for {what}",
            expected=expected,
            fix=fix,
        )


def _trend(entry: Values, path: Path, factor: str, values: Values, out: Findings) -> None:
    """A trend needs an amount at every level, and no adjustment for means."""
    given: Values = next((f for f in values.get("factors", ()) if f.get("name") == factor), {})
    amounts = [(level or {}).get("amount") for level in given.get("levels", ())]
    if any(amount is None for amount in amounts) or len(set(amounts)) < 2:
        out.add(
            (*path, "compare"),
            "contradiction",
            found=f"{TREND}, but the levels of {factor} have no amounts, or all the same",
            expected="an amount at every level, at least two of them different",
            fix="write the levels as {name: 2 L, amount: 2}",
        )
    _not_for_means(entry, path, TREND, out)


def _words(
    entry: Values, path: Path, factor: str, reference: str | None, out: Findings
) -> None:
    compare = entry.get("compare")
    adjustment = entry.get("adjustment")
    if compare == REFERENCE and reference is None:
        out.add(
            (*path, "compare"),
            "contradiction",
            found=f"{REFERENCE}, but {factor} has no reference",
            expected="a level with reference: true",
            fix=f"mark the reference among the levels of {factor}, or write {PAIRS}",
        )
        return
    resolved = compare or (REFERENCE if reference else PAIRS)
    fitting = {"dunnett": REFERENCE, "tukey": PAIRS}.get(adjustment or "", resolved)
    if fitting != resolved:
        why = "" if reference else f": {factor} has no reference"
        out.add(
            (*path, "adjustment"),
            "contradiction",
            found=f"{adjustment} for {resolved}{why if adjustment == 'dunnett' else ''}",
            expected=f"{adjustment} goes with: {fitting}",
            fix=f"write {'dunnett' if resolved == REFERENCE else 'tukey'}, single-step or holm",
        )


def _weights(entry: Values, path: Path, levels: tuple[str, ...], out: Findings) -> None:
    weights = entry["weights"]
    where = (*path, "weights")
    for level in weights:
        if level not in levels:
            unknown_name(level, (*where, level), levels, "level", out, on_key=True)
    if "compare" in entry:
        out.add(
            (*path, "compare"),
            "contradiction",
            found="compare and weights in one entry",
            expected="one of the two",
            fix="make two entries of it",
            on_key=True,
        )
    _not_for_means(
        entry,
        path,
        "one contrast",
        out,
        expected="none (a single contrast needs no adjustment), single-step or holm",
        fix="take it out",
    )
    if not out.sound(*where):
        return
    total = math.fsum(weights.values())
    if abs(total) > _CLOSE:
        out.add(
            where,
            "impossible value",
            found=f"weights that sum to {total:g}",
            expected="weights that sum to 0: what is compared against what",
            fix="give the compared level -1, or shares of -1 to several",
        )
    elif not any(weights.values()):
        out.add(
            where,
            "impossible value",
            found="weights that are all 0",
            expected="at least two levels with a weight",
            fix="correct the weights",
        )


def _matters(name: str, given: Values, response: Values, out: Findings) -> None:
    path: Path = ("plan", "matters", name)
    kind = response.get("kind")
    wanted = "ratio" if model_scale(response) == "log" or kind == "count" else "difference"
    other = "difference" if wanted == "ratio" else "ratio"
    if wanted in given and other not in given:
        if kind == "survival" and given["difference"] >= 1:
            out.add(
                (*path, "difference"),
                "impossible value",
                found=f"a difference of {given['difference']:g} in survival",
                expected="a share below 1: 0.10 is ten more alive of 100",
                fix=f"write {given['difference'] / 100:g}",
            )
        return
    scale = "as ratio" if wanted == "ratio" else "as difference"
    out.add(
        path,
        "contradiction",
        found=f"{listing(given) or 'nothing'} for {quote(name)}",
        expected=f"{wanted}: {kind} is compared {scale}",
        fix=f"give {wanted}" + (" alone" if wanted in given else ""),
        on_key=True,
    )


def _growth_over_visits(given: Values, values: Values, out: Findings) -> None:
    """Only growth has sizes of the same plants over many visits."""
    for name in given:
        kind = responses_of(values).get(name, {}).get("kind", "growth")
        if kind != "growth":
            out.add(
                ("plan", "growth_over_visits", name),
                "contradiction",
                found=f"growth over visits of {quote(name)}, which is of the kind {kind}",
                expected="a response of the kind growth, measured on three dates or more",
                fix="take it out, or name the response of the kind growth",
                on_key=True,
            )


def _interactions(plan: Values, values: Values, out: Findings) -> None:
    """Interactions that are left out are those of several factors, and nobody asks for them."""
    if plan.get("interactions") != "left out" or not out.sound("factors"):
        return
    if len(factors_of(values)) < 2:
        out.add(
            ("plan", "interactions"),
            "contradiction",
            found="interactions left out in a trial of one factor",
            expected="two factors or more",
            fix="take it out",
            on_key=True,
        )
    for i, entry in enumerate(plan.get("comparisons", ())):
        for key in ("within", "differs_by"):
            if entry and key in entry:
                out.add(
                    ("plan", "comparisons", i, key),
                    "contradiction",
                    found=f"{key} beside interactions left out",
                    expected="comparisons of one factor over all levels of the others: without "
                    "interactions they are the same at each",
                    fix=f"take {key} out, or write interactions: kept",
                    on_key=True,
                )


def _equal_water(given: Values | None, values: Values, out: Findings) -> None:
    if not given:
        return
    path: Path = ("plan", "equal_water")
    against = given.get("against", "planned")
    planned = values.get("water", {}).get("planned_l")
    if against == "planned" and not planned and out.sound("water"):
        out.add(
            path,
            "contradiction",
            found="equal_water against planned, but no water.planned_l",
            expected="the liters planned for each treatment",
            fix="add planned_l under water, or write against: reference",
            on_key=True,
        )
    if against == "reference" and not references_of(values) and out.sound("factors"):
        out.add(
            (*path, "against"),
            "contradiction",
            found="equal_water against the reference, but no level is the reference",
            expected="a level with reference: true",
            fix="mark the reference, or write against: planned",
        )
