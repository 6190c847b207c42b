"""What changed between two reports, in numbers and words, by response and comparison.

Two looks at one season are named as such. Where both reports were made of the same inputs by
the same version, they must say the same, and a difference is serious; where not, it is only
told. Leans on archive, core and ``compare``.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest
from typing import Any, Literal

from wickstats.archive.archived import archived_of
from wickstats.archive.miappe import record_days
from wickstats.core.codec import to_plain
from wickstats.core.numbers import number
from wickstats.core.responses import ResponseResult
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.recheck.compare import compare_trees, same_number, shown
from wickstats.recheck.contents import by_name
from wickstats.recheck.findings import Finding
from wickstats.recheck.recompute import INPUTS
from wickstats.recheck.versions import areas

Row = Mapping[str, Any]
Weight = Literal["serious", "question", "note"]
ONE_BY_ONE = ("comparisons", "means", "tests")
FIRST_OF_GROUP = 2
SAME_BY = {
    "comparisons": ("term", "name", "treatment", "versus", "within", "estimand", "measure"),
    "means": ("term", "treatment", "within", "estimand"),
    "tests": ("term", "stratum"),
}
FIRST_TOLD = ("verdict", "sentence", "estimate", "low", "high", "p", "p_adjusted")
MOST_FIELDS = 9
LONGEST = 200  # of a sentence that is quoted


def differences(
    ours: Results,
    theirs: Results,
    our_files: Mapping[str, bytes],
    their_files: Mapping[str, bytes],
) -> list[Finding]:
    """Name every difference; one note where there is none.

    Parameters
    ----------
    ours, theirs
        The results of the two folders.
    our_files, their_files
        Every file of the two folders, path -> bytes.
    """
    if ours.trial.id != theirs.trial.id:
        sentence = say("against trials", here=ours.trial.id, there=theirs.trial.id)
        return [Finding("serious", "against", "trial.id", sentence)]
    changed = list(_inputs(ours, theirs))
    alike = not changed and ours.wickstats == theirs.wickstats
    weight: Weight = "serious" if alike else "note"
    told = [Finding("note", "against", INPUTS + path, words) for path, words in changed]
    if ours.wickstats != theirs.wickstats:
        words = say("audit against", recorded=ours.wickstats, recomputed=theirs.wickstats)
        told.append(Finding("note", "against", "wickstats", words))
    told += _looks(ours, theirs, our_files, their_files)
    told += [Finding(weight, "against", place, words) for place, words in _named(ours, theirs)]
    every, _ = compare_trees(to_plain(ours), to_plain(theirs), key="audit against")
    counted = [replace(f, weight="note") for f in areas(every)]
    told += [Finding(weight, "against", p, w) for p, w in _rest(ours, theirs)]
    if not told:
        return [Finding("note", "against", "results.json", say("against same"))]
    return [*counted, *told]


def _inputs(ours: Results, theirs: Results) -> Iterator[tuple[str, str]]:
    here = {item.path: item for item in ours.inputs}
    there = {item.path: item for item in theirs.inputs}
    for path in dict.fromkeys((*here, *there)):
        a, b = here.get(path), there.get(path)
        if a is None or b is None:
            yield path, say("against only here" if b is None else "against only there")
        elif a.sha256 != b.sha256:
            yield path, say("against input", here=a.rows, there=b.rows)


def _looks(
    ours: Results,
    theirs: Results,
    our_files: Mapping[str, bytes],
    their_files: Mapping[str, bytes],
) -> list[Finding]:
    """Two reports of one layout whose records end on different days are two looks."""
    if ours.layout.hash != theirs.layout.hash or ours.layout.seed != theirs.layout.seed:
        sentence = say("against layouts")
        return [Finding("question", "against", "layout", sentence)]
    here, there = _last_day(ours, our_files), _last_day(theirs, their_files)
    if here is None or there is None or here == there:
        return []
    sentence = say("against looks", here=here, there=there, later=max(here, there))
    return [Finding("question", "looks", "results.json", sentence)]


def _last_day(results: Results, files: Mapping[str, bytes]) -> str | None:
    held = {p.removeprefix(INPUTS): d for p, d in files.items() if p.startswith(INPUTS)}
    days = record_days(archived_of(replace(results, source_bytes=held)))
    return days[-1] if days else None


def _named(ours: Results, theirs: Results) -> Iterator[tuple[str, str]]:
    """Comparisons, means and tests, each by its name."""
    here = {r.name: r for r in ours.responses}
    there = {r.name: r for r in theirs.responses}
    for name in dict.fromkeys((*here, *there)):
        a, b = here.get(name), there.get(name)
        if a is None or b is None:
            yield name, say("against only here" if b is None else "against only there")
            continue
        if a.role != b.role:
            yield f"{name}, role", say("audit against", recorded=a.role, recomputed=b.role)
        for part in ONE_BY_ONE:
            yield from _rows(name, part, a, b)


def _rows(
    response: str, part: str, a: ResponseResult, b: ResponseResult
) -> Iterator[tuple[str, str]]:
    one, other = (to_plain(getattr(r, part)) for r in (a, b))
    for x, y in _paired(SAME_BY[part], one, other):
        place = f"{response}, {_place_of(part, x or y or {})}"
        if x is None or y is None:
            yield place, say("against only here" if y is None else "against only there")
            continue
        told = list(_fields(dict(_flat(x)), dict(_flat(y))))
        more = len(told) - MOST_FIELDS
        if more > 0:
            told = [*told[:MOST_FIELDS], say("audit and more", n=more)]
        if told:
            yield place, "; ".join(told)


def _fields(here: Mapping[str, Any], there: Mapping[str, Any]) -> Iterator[str]:
    for field in dict.fromkeys((*FIRST_TOLD, *here, *there)):
        one, other = here.get(field), there.get(field)
        if not _same(one, other):
            told_here, told_there = _texts(one, other)
            what = field.replace("_", " ")
            yield say("against value", what=what, here=told_here, there=told_there)


def _flat(row: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in row.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{before}{key} ")
        else:
            yield before + key, value


def _paired(
    fields: Sequence[str], one: Sequence[Row], other: Sequence[Row]
) -> Iterator[tuple[Row | None, Row | None]]:
    """Rows that say the same thing; of several dates the same one, then the next in order.

    The last date of two looks is another day, and still the one that carries the verdict.
    """
    groups: dict[tuple[Any, ...], tuple[list[Row], list[Row]]] = {}
    for side, rows in enumerate((one, other)):
        for row in rows:
            key = tuple(row.get(field) for field in fields)
            groups.setdefault(key, ([], []))[side].append(row)
    for here, there in groups.values():
        left: list[Row] = []
        for row in here:
            same = next((o for o in there if o.get("at") == row.get("at")), None)
            if same is None:
                left.append(row)
                continue
            there.remove(same)
            yield row, same
        yield from zip_longest(left, there)


def _place_of(part: str, row: Mapping[str, Any]) -> str:
    if part == "tests":
        return say("against test", term=row["term"], stratum=row["stratum"])
    if part == "means":
        name = str(row["treatment"])
    else:
        name = str(row.get("name") or "") or say(
            "against pair", one=row["treatment"], other=row["versus"]
        )
    beside = [str(row[k]) for k in ("within", "estimand", "at") if row.get(k)]
    return f"{name} ({', '.join(beside)})" if beside else name


def _same(a: Any, b: Any) -> bool:
    if _is_number(a) and _is_number(b):
        return same_number(float(a), float(b))
    return bool(a == b)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _texts(a: Any, b: Any) -> tuple[str, str]:
    """Both values short, but never so short that they look the same."""
    if _is_number(a) and _is_number(b):
        for digits in (3, 6, 9):
            one, other = number(float(a), digits), number(float(b), digits)
            if one != other:
                return one, other
    one, other = _text(a), _text(b)
    return (one, other) if one != other else (repr(a), repr(b))


def _text(value: Any) -> str:
    if isinstance(value, str):
        return f'"{value[:LONGEST]}..."' if len(value) > LONGEST else f'"{value}"'
    return number(float(value), 4) if _is_number(value) else shown(value)


def _rest(ours: Results, theirs: Results) -> Iterator[tuple[str, str]]:
    """Everything else, one line a part: how many values differ, and the first of them."""
    found, _ = compare_trees(_other(ours), _other(theirs), key="audit against")
    groups: dict[str, list[Finding]] = {}
    for finding in found:
        groups.setdefault(_group(finding.place), []).append(finding)
    for place, parts in groups.items():
        first = "; ".join(f"{f.place}: {f.sentence}" for f in parts[:FIRST_OF_GROUP])
        yield place, say("against part", n=len(parts), first=first)


def _other(results: Results) -> dict[str, Any]:
    plain: dict[str, Any] = to_plain(results)
    for key in ("wickstats", "inputs", "looks"):
        plain.pop(key, None)
    plain["responses"] = {
        r["name"]: {k: v for k, v in r.items() if k not in (*ONE_BY_ONE, "role", "name")}
        for r in plain["responses"]
    }
    return {key: by_name(value) for key, value in plain.items()}


def _group(place: str) -> str:
    parts = place.split(".")
    kept = parts[:3] if parts[0] == "responses" else parts[:1]
    return ".".join(kept).split("[")[0]
