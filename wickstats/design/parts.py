"""Looking up parts of a half-read trial: factors, treatments, responses. Leans on findings."""

from collections.abc import Iterable
from itertools import product
from typing import Any

from wickstats.design.findings import Findings, Path, listing, nearest, quote, words_of

Values = dict[str, Any]
JOIN = " x "


def factors_of(values: Values) -> dict[str, tuple[str, ...]]:
    """Factor -> names of its levels, as far as they were read."""
    return {
        factor["name"]: tuple(
            level["name"] for level in factor.get("levels", ()) if level and "name" in level
        )
        for factor in values.get("factors", ())
    }


def references_of(values: Values) -> dict[str, str]:
    """Factor -> its first reference level."""
    out: dict[str, str] = {}
    for factor in values.get("factors", ()):
        for level in factor.get("levels", ()):
            if level and level.get("reference") and "name" in level:
                out.setdefault(factor["name"], level["name"])
    return out


def cells_of(values: Values) -> tuple[str, ...]:
    """All treatments; none where factors make more than 100,000."""
    levels = list(factors_of(values).values())
    total = 1
    for names in levels:
        total *= max(len(names), 1)
    if not levels or total > 100_000:
        return ()
    return tuple(JOIN.join(cell) for cell in product(*levels))


def responses_of(values: Values) -> dict[str, Values]:
    """Response name -> its values, as far as they were read."""
    return {r["name"]: r for r in values.get("responses", ()) if r and "name" in r}


def model_scale(response: Values) -> str:
    """``log`` or ``as measured``, with the default of the kind."""
    scale = response.get("scale")
    if scale:
        return str(scale)
    log_kinds = ("growth", "yield", "yield per liter", "water used")
    return "log" if response.get("kind") in log_kinds else "as measured"


def unknown_name(
    name: str,
    path: Path,
    known: Iterable[str],
    what: str,
    out: Findings,
    *,
    on_key: bool = False,
) -> None:
    """Keep the problem that a name refers to nothing."""
    names = list(known)
    near = nearest(name, names)
    out.add(
        path,
        f"unknown {what}",
        found=f"{quote(name)} in {words_of(path[:-1] if on_key else path)}",
        expected=f"one of: {listing(names)}" if names else f"a {what} of this file",
        fix=f"write {near}" if near else f"correct it, or add the {what}",
        on_key=on_key,
    )


def check_responses_known(mapping: Values, path: Path, values: Values, out: Findings) -> None:
    """Every key of ``mapping`` is a response of this file."""
    if not out.sound("responses"):
        return
    known = responses_of(values)
    for name in mapping:
        if name not in known:
            unknown_name(name, (*path, name), known, "response", out, on_key=True)


def check_treatments(
    mapping: Values, path: Path, values: Values, out: Findings, *, complete: bool
) -> None:
    """Keys are treatments, or levels of one factor; ``complete``: all of them."""
    if not out.sound("factors") or not mapping:
        return
    factors = factors_of(values)
    cells = cells_of(values)
    groups: list[tuple[str, ...]] = [cells, *factors.values()]
    # the group that most keys belong to is the one that the writer meant
    meant = max(groups, key=lambda names: sum(key in names for key in mapping))
    for key in mapping:
        if key not in meant:
            unknown_name(key, (*path, key), meant, "treatment", out, on_key=True)
    absent = [name for name in meant if name not in mapping]
    if complete and absent and out.sound(*path):
        out.add(
            path,
            "missing treatment",
            found=f"{words_of(path)} without {listing(quote(n) for n in absent)}",
            expected="a number for every treatment; 0 where there is none",
            fix="add what is missing",
            on_key=True,
        )
