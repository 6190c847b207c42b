"""Factors and design: names, references, sizes, what levels are applied to. Leans on parts."""

from typing import Any

from wickstats.design.findings import Findings, listing, quote
from wickstats.design.keep import BY_ORDER, KEEP
from wickstats.design.parts import JOIN, Values, cells_of, check_treatments, factors_of
from wickstats.design.rules_sizes import check_fit
from wickstats.design.tables import LAYOUT

MAX_BLOCKS = 10_000
MAX_PLOTS = 100_000

# names that would be taken for something else in the layout's table
RESERVED = (*LAYOUT.column_names, "unit", "file")

# sizes that belong to a type; those in the second place are needed where drawn is here
_SIZES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "completely randomized": (("replicates",), ("replicates",)),
    "randomized complete block": (("blocks", "replicates"), ("blocks",)),
    "Latin square": (("squares",), ()),
    "split-plot": (("blocks", "replicates"), ("blocks or replicates",)),
    "strip-plot": (("blocks",), ("blocks",)),
    "incomplete block": (
        ("block_size", "replicates", "resolvable", "blocks"),
        ("block_size", "replicates"),
    ),
    "row-column": (("rows", "columns", "replicates"), ("rows", "columns")),
}
_ALL_SIZES = ("blocks", "replicates", "squares", "block_size", "resolvable", "rows", "columns")
_PIECES = ("plot", "coil", "piece")
_APPLIED: dict[str, tuple[str, ...]] = {
    "split-plot": ("whole plot", "subplot"),
    "strip-plot": ("row strip", "column strip"),
}
# types that are made of comparisons: a pilot of one treatment has none
_COMPARED = ("Latin square", "incomplete block", "split-plot", "strip-plot")
# a third piece that a factor may be applied to: plots between whole plots and subplots,
# or where strips cross
_APPLIED_TOO = {"split-plot": ("plot",), "strip-plot": ("plot", "subplot")}


def check_factors(values: Values, out: Findings) -> None:
    """Names, one reference at most, levels each once, what they are applied to."""
    factors = [f for f in values.get("factors", ()) if "name" in f]
    for factor in factors:
        _factor_name(factor["name"], len(factors), out)
        _levels(factor, out)
        _one_level(factor, len(factors), values.get("design", {}).get("type"), out)
    _applied_to(factors, values, out)
    cells = 1
    for names in factors_of(values).values():
        cells *= max(len(names), 1)
    if cells > MAX_PLOTS:
        out.add(
            ("factors",),
            "impossible value",
            found=f"{cells} treatments",
            expected=f"at most {MAX_PLOTS}",
            fix="take factors or levels out",
            on_key=True,
        )


def _factor_name(name: str, count: int, out: Findings) -> None:
    reserved = name in RESERVED or (name == "treatment" and count > 1)
    taken = "a name that is no column of the layout"
    if name == "treatment" and count > 1:
        taken = "another name: of several factors, treatment means their combination"
    if reserved or JOIN in name:
        out.add(
            ("factors", name),
            "unusable name",
            found=f"a factor called {quote(name)}",
            expected='no " x " in a name' if JOIN in name else taken,
            fix="rename it, for example after what is varied: watering, shelter, variety",
            on_key=True,
        )


def _levels(factor: dict[str, Any], out: Findings) -> None:
    seen: dict[str, int] = {}
    reference: str | None = None
    for i, level in enumerate(factor.get("levels", ())):
        name = (level or {}).get("name")
        if name is None:
            continue
        path = ("factors", factor["name"], "levels", i)
        if JOIN in name:
            out.add(
                path,
                "unusable name",
                found=f"the level {quote(name)}",
                expected='no " x " in a name: it joins the levels of several factors',
                fix='write "by" or "times" in its place',
            )
        alike = next((s for s in seen if s.casefold() == name.casefold()), None)
        if alike is not None:
            out.add(
                path,
                "duplicate level",
                found=f"the level {quote(name)} a second time"
                if alike == name
                else f"the levels {quote(alike)} and {quote(name)}, alike but for capitals",
                expected="each level once",
                fix="rename one of the two, or take it out",
            )
        seen[name] = i
        if level.get("reference"):
            if reference is not None:
                out.add(
                    (*path, "reference"),
                    "contradiction",
                    found=f"a second reference, {quote(name)}, besides {quote(reference)}",
                    expected="one reference in a factor",
                    fix="take reference: true from one of them",
                )
            reference = reference or name


def _one_level(factor: dict[str, Any], count: int, kind: Any, out: Findings) -> None:
    """Only a pilot, all of whose plots get one treatment, has a factor of one level."""
    if len(factor.get("levels", ())) != 1:
        return
    if count < 2:
        if kind in _COMPARED:
            out.add(
                ("design", "type"),
                "contradiction",
                found=f"{kind} with one treatment",
                expected="two treatments or more; a pilot is completely randomized, in "
                "complete blocks, or in rows and columns",
                fix="write randomized complete block, or add a level to compare with",
            )
        return
    out.add(
        ("factors", factor["name"], "levels"),
        "too few",
        found=f"one level of {factor['name']}, beside other factors",
        expected="at least 2 levels, or no other factor (a pilot of one treatment)",
        fix="add a level, or take the factor out and say it in a level's detail",
        on_key=True,
    )


def _applied_to(factors: list[dict[str, Any]], values: Values, out: Findings) -> None:
    kind = values.get("design", {}).get("type")
    bench = values.get("trial", {}).get("place") == "bench"
    if kind is None or not out.sound("design", "type"):
        return
    allowed = _APPLIED.get(kind, ("plot",))
    if bench and kind not in _APPLIED:
        allowed = _PIECES
    pieces = _APPLIED.get(kind, ())
    if bench and kind == "split-plot":
        allowed = pieces = ("coil", "piece")
    for factor in factors:
        path = ("factors", factor["name"], "applied_to")
        given = factor.get("applied_to", "plot")
        missing = "applied_to" not in factor
        fits = given in allowed or (not missing and given in _APPLIED_TOO.get(kind, ()))
        if fits or not out.sound(*path):
            continue
        out.add(
            path if not missing else path[:2],
            "contradiction",
            found=f"{factor['name']} without applied_to"
            if missing
            else f"{factor['name']} applied to {quote(given)}",
            expected=f"applied_to: {' or '.join(allowed)}, since the design is {kind}",
            fix="say for each factor on which piece of ground its levels were set up",
            on_key=missing,
        )
    used = {f.get("applied_to") for f in factors}
    if kind == "split-plot" and "plot" in used:
        used.add("subplot")
    absent = [a for a in pieces if a not in used]
    known = {*allowed, *_APPLIED_TOO.get(kind, ())}
    if absent and used <= known and out.sound("factors"):
        out.add(
            ("design", "type"),
            "contradiction",
            found=f"a {kind} design without a factor applied to {listing(absent)}",
            expected=f"factors applied to {' and to '.join(allowed)}",
            fix="correct applied_to, or the type of the design",
        )


def check_design(values: Values, out: Findings) -> None:
    """Sizes that belong to the type, that are needed, and that are possible."""
    design = values.get("design", {})
    kind = design.get("type")
    if kind is not None:
        _foreign_sizes(kind, design, out)
        if design.get("drawn", "here") == "here" and out.sound("design", "drawn"):
            _needed_sizes(kind, design, values, out)
        _possible_sizes(design, values, out)
        check_fit(kind, design, values, out)
    _keep(design, out)
    fed = design.get("plots_per_reservoir", {})
    check_treatments(fed, ("design", "plots_per_reservoir"), values, out, complete=False)
    if design.get("evaporation_controls") and values.get("trial", {}).get("place") != "bench":
        out.add(
            ("design", "evaporation_controls"),
            "contradiction",
            found="evaporation_controls in a field trial",
            expected="this key only where place is bench",
            fix="take it out, or write place: bench",
            on_key=True,
        )


def _foreign_sizes(kind: str, design: Values, out: Findings) -> None:
    own = _SIZES[kind][0]
    for key in _ALL_SIZES:
        if key in design and key not in own:
            out.add(
                ("design", key),
                "contradiction",
                found=f"{key} in a {kind} design",
                expected=f"of the sizes only {listing(own)}",
                fix="take it out, or correct the type of the design",
                on_key=True,
            )


def _needed_sizes(kind: str, design: Values, values: Values, out: Findings) -> None:
    for size in _SIZES[kind][1]:
        options = size.split(" or ")
        if any(key in design or not out.sound("design", key) for key in options):
            continue
        out.add(
            ("design", options[0]),
            "missing key",
            found=f"no {size} under design",
            expected=f"{size}, since the layout is drawn here",
            fix=f"add {options[0]}; or write drawn: elsewhere where a layout exists",
        )
    survival = any(r and r.get("kind") == "survival" for r in values.get("responses", ()))
    if survival and "plants_per_plot" not in design and out.sound("design", "plants_per_plot"):
        out.add(
            ("design", "plants_per_plot"),
            "missing key",
            found="no plants_per_plot under design",
            expected="plants_per_plot: survival counts plants, and the layout is drawn here",
            fix="add plants_per_plot",
        )


def _possible_sizes(design: Values, values: Values, out: Findings) -> None:
    cells = cells_of(values)
    for key in _ALL_SIZES:
        size = design.get(key)
        if isinstance(size, int) and not isinstance(size, bool) and size > MAX_BLOCKS:
            _too_many(("design", key), f"{key} {size}", MAX_BLOCKS, out)
    blocks = design.get("blocks")
    if blocks and cells and blocks <= MAX_BLOCKS and blocks * len(cells) > MAX_PLOTS:
        found = f"{blocks} blocks of {len(cells)} treatments"
        _too_many(("design", "blocks"), found, MAX_PLOTS, out)
    if (design.get("plants_per_plot") or 0) > MAX_PLOTS:
        found = f"{design['plants_per_plot']} plants in a plot"
        _too_many(("design", "plants_per_plot"), found, MAX_PLOTS, out)


def _too_many(path: tuple[str, ...], found: str, most: int, out: Findings) -> None:
    out.add(
        path,
        "impossible value",
        found=found,
        expected=f"at most {most}",
        fix="correct the number",
    )


def _keep(design: Values, out: Findings) -> None:
    fed = set(design.get("plots_per_reservoir", {}).values())
    for i, word in enumerate(design.get("keep", ())):
        path = ("design", "keep", i)
        if word is None:
            continue
        if word not in KEEP:
            out.add(
                path,
                "unknown word",
                found=f"{quote(word)} for design.keep",
                expected=f"one of: {listing(KEEP)}",
                fix="use the words given, or take the restriction out",
            )
        elif fed - {1} and word not in BY_ORDER:
            out.add(
                path,
                "contradiction",
                found=f"{quote(word)} together with plots_per_reservoir above 1",
                expected="restrictions on columns only where every unit is one plot: units of "
                "several plots have no column of their own, and shift those beside them",
                fix=f"take one of the two out, or keep to: {listing(BY_ORDER)}",
            )
