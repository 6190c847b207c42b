"""Whether the sizes of a design that is drawn here fit each other, and what sizes would.

Leans on parts and findings.
"""

from math import gcd

from wickstats.design.findings import Findings, listing
from wickstats.design.parts import Values, cells_of, check_treatments, factors_of

MAX_PLOTS = 100_000
MOST_ORDER = 40  # of Latin squares
MOST_PLANNED = 100  # treatments for which plans of blocks or rows and columns are searched
BY_TREATMENT = {
    # design -> whether every treatment must be named under replicates
    "completely randomized": True,
    "randomized complete block": False,
    "incomplete block": True,
    "split-plot": True,
}


def check_fit(kind: str, design: Values, values: Values, out: Findings) -> None:
    """Keep a problem for each size that does not fit the treatments or another size."""
    treatments = len(cells_of(values))
    _by_treatment(kind, design, values, out)
    if not treatments or not out.sound("factors"):
        return
    here = design.get("drawn", "here") == "here"
    if kind == "incomplete block":
        _block_size(design, treatments, out)
    if not here or not out.sound("design"):
        return
    if kind in ("incomplete block", "row-column") and treatments > MOST_PLANNED:
        out.add(
            ("design", "type"),
            "impossible value",
            found=f"{treatments} treatments in a design of type {kind}",
            expected=f"at most {MOST_PLANNED} treatments where the layout is drawn here",
            fix="compare fewer treatments, or draw the layout elsewhere",
        )
    elif kind == "Latin square":
        _order(treatments, out)
    elif kind == "incomplete block":
        _incomplete(design, treatments, out)
    elif kind == "row-column":
        _arrays(design, treatments, out)
    _total(kind, design, treatments, out)


def _by_treatment(kind: str, design: Values, values: Values, out: Findings) -> None:
    given = design.get("replicates")
    if not isinstance(given, dict):
        return
    path = ("design", "replicates")
    if kind not in BY_TREATMENT:
        out.add(
            path,
            "contradiction",
            found=f"replicates by treatment in a {kind} design",
            expected="one number" if kind == "row-column" else "no replicates by treatment",
            fix="write one number; or use "
            + ", ".join(name for name in BY_TREATMENT if name != "split-plot"),
            on_key=True,
        )
        return
    complete = BY_TREATMENT[kind]
    if kind == "split-plot":
        whole = [f for f in values.get("factors", ()) if f.get("applied_to") == "whole plot"]
        values = {**values, "factors": whole}
        complete = "blocks" not in design
        if not factors_of(values):
            return
    check_treatments(given, path, values, out, complete=complete)
    if design.get("resolvable") and len(set(given.values())) > 1:
        out.add(
            path,
            "contradiction",
            found="resolvable: true with more replicates of some treatments",
            expected="one number: each replicate holds every treatment once",
            fix="write one number, or take resolvable out",
        )


def _block_size(design: Values, treatments: int, out: Findings) -> None:
    size = design.get("block_size")
    if size and not 2 <= size < treatments:
        out.add(
            ("design", "block_size"),
            "impossible value",
            found=f"blocks of {size} for {treatments} treatments",
            expected=f"from 2 to {treatments - 1}: an incomplete block holds some of them"
            if treatments > 2
            else "no incomplete blocks: two treatments fit into any block",
            fix="correct block_size, or use randomized complete block",
        )


def _order(treatments: int, out: Findings) -> None:
    if treatments > MOST_ORDER:
        out.add(
            ("design", "type"),
            "impossible value",
            found=f"a Latin square for {treatments} treatments, of {treatments} rows",
            expected=f"at most {MOST_ORDER} treatments",
            fix="use row-column, with fewer rows and columns than treatments",
        )


def _incomplete(design: Values, treatments: int, out: Findings) -> None:
    size, each = design.get("block_size"), design.get("replicates")
    if not size or not each:
        return
    total = sum(each.values()) if isinstance(each, dict) else each * treatments
    if isinstance(each, dict) and len(each) != treatments:
        return  # named by levels of one factor, or not complete: told elsewhere
    if design.get("resolvable") and treatments % size:
        fits = [k for k in range(2, treatments) if treatments % k == 0]
        _no_fit(
            ("design", "block_size"),
            f"blocks of {size} for {treatments} treatments, resolvable",
            f"a block_size that divides {treatments}"
            + (f": {_some(fits)}" if fits else "; it has no divisor, so none is resolvable"),
            out,
        )
        return
    if total % size:
        _unfilled(treatments, each, total, size, out)
        return
    blocks = total // size
    if design.get("blocks") not in (None, blocks):
        _no_fit(
            ("design", "blocks"),
            f"blocks: {design['blocks']}, but {total} plots fill {blocks} blocks of {size}",
            f"blocks: {blocks} ({treatments} treatments, blocks x block_size = plots)",
            out,
        )
    elif blocks * (size - 1) < treatments - 1:
        needed = -(-(treatments - 1) // (size - 1))
        least = -(-needed * size // treatments)
        _no_fit(
            ("design", "replicates"),
            f"{blocks} blocks of {size} for {treatments} treatments",
            f"at least {needed} blocks, so that all treatments can be compared: "
            f"at least {max(2, least)} replicates",
            out,
        )


def _unfilled(treatments: int, each: object, total: int, size: int, out: Findings) -> None:
    sizes = [k for k in range(2, treatments) if total % k == 0]
    works = []
    if isinstance(each, int):
        step = size // gcd(treatments, size)
        low = each // step * step
        works.append("replicates: " + _either([n for n in (low, low + step) if n]))
    else:
        low = total // size * size
        works.append(
            "replicates that add up to " + _either([n for n in (low, low + size) if n])
        )
    if sizes:
        works.append(f"block_size: {_some(sizes)}")
    plots = (
        f"{treatments} treatments x {each} replicates = {total} plots"
        if isinstance(each, int)
        else f"replicates that add up to {total} plots"
    )
    _no_fit(
        ("design", "block_size"),
        f"{plots}, which do not fill blocks of {size}",
        " or ".join(works),
        out,
    )


def _arrays(design: Values, treatments: int, out: Findings) -> None:
    rows, columns = design.get("rows"), design.get("columns")
    if not rows or not columns:
        return
    arrays = design.get("replicates", 1)
    if not isinstance(arrays, int):
        return
    if rows < 2 or columns < 2:
        _no_fit(
            ("design", "rows" if rows < 2 else "columns"),
            f"{rows} row{'' if rows == 1 else 's'} of {columns}",
            "at least 2 rows and 2 columns; one line of blocks is randomized complete block",
            out,
        )
        return
    plots = rows * columns * arrays
    times = f" x {arrays} replicates" if arrays > 1 else ""
    if plots % treatments:
        wide = _near(columns, treatments // gcd(treatments, rows * arrays))
        long = _near(rows, treatments // gcd(treatments, columns * arrays))
        _no_fit(
            ("design", "columns"),
            f"{rows} rows x {columns} columns{times} = {plots} plots, {treatments} treatments",
            f"a multiple of {treatments} plots: columns: {_either(wide)}, "
            f"or rows: {_either(long)}",
            out,
        )
    elif arrays * (rows - 1) * (columns - 1) < treatments - 1:
        _no_fit(
            ("design", "rows"),
            f"{rows} rows x {columns} columns{times} for {treatments} treatments",
            f"(rows - 1) x (columns - 1){' x replicates' if arrays > 1 else ''} at least "
            f"{treatments - 1}: rows and columns take up the other comparisons",
            out,
        )


def _total(kind: str, design: Values, treatments: int, out: Findings) -> None:
    each = design.get("replicates", 1)
    most = max(each.values()) if isinstance(each, dict) else each
    plots = {
        "Latin square": treatments**2 * design.get("squares", 1),
        "row-column": design.get("rows", 1) * design.get("columns", 1) * most,
    }.get(kind, treatments * most * design.get("blocks", 1))
    if kind == "incomplete block":
        plots = treatments * most
    if plots > MAX_PLOTS and isinstance(each, int):
        out.add(
            ("design",),
            "impossible value",
            found=f"{plots} plots",
            expected=f"at most {MAX_PLOTS}",
            fix="correct the sizes under design",
            on_key=True,
        )


def _no_fit(path: tuple[str, ...], found: str, expected: str, out: Findings) -> None:
    out.add(
        path,
        "sizes do not fit",
        found=found,
        expected=expected,
        fix="change one of the sizes under design; power tells what more plots would bring",
    )


def _near(size: int, step: int) -> list[int]:
    """The multiples of a step beside a size, none below 2."""
    low = size // step * step
    return [n for n in (low, low + step) if n >= 2]


def _either(numbers: list[int]) -> str:
    return " or ".join(map(str, numbers))


def _some(numbers: list[int]) -> str:
    shown = numbers[:8]
    return listing(map(str, shown)) + (", ..." if len(numbers) > len(shown) else "")
