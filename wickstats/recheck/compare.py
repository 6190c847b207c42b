"""Two result trees compared leaf by leaf; a file's rows named where digests tell.

Numbers agree within 1e-8 relative (1e-12 absolute), everything else exactly.
Leans on archive and core.
"""

import math
from typing import Any

from wickstats.archive.manifest import Change
from wickstats.core.words import say
from wickstats.recheck.findings import Finding

RELATIVE = 1e-8
ABSOLUTE = 1e-12
NAMES = ("name", "treatment", "group", "unit", "term", "what", "path")
LONGEST_NAME = 60
LONGEST_TEXT = 78  # of a text that is shown whole
BEFORE = 30  # characters shown before two longer texts part
_ABSENT = object()


def same_number(a: float, b: float) -> bool:
    """Whether two numbers agree as closely as two machines can be asked to."""
    return math.isclose(a, b, rel_tol=RELATIVE, abs_tol=ABSOLUTE)


def compare_trees(
    recorded: Any, recomputed: Any, *, key: str = "audit number"
) -> tuple[list[Finding], int]:
    """Return a finding for every leaf that differs, and the number of leaves compared.

    ``key`` is the sentence of a leaf that differs; the names of what the leaf belongs to
    (response, comparison, unit) stand behind it.
    """
    walk = _Walk(key)
    count = walk.through(recorded, recomputed, "", ())
    return walk.findings, count


class _Walk:
    def __init__(self, key: str) -> None:
        self._key = key
        self.findings: list[Finding] = []

    def through(self, a: Any, b: Any, path: str, of: tuple[str, ...]) -> int:
        """Compare two trees; return the number of leaves."""
        if isinstance(a, dict) and isinstance(b, dict):
            names = [*a, *(name for name in b if name not in a)]
            within = (*of, *_called(b))
            return sum(
                self.through(
                    a.get(name, _ABSENT),
                    b.get(name, _ABSENT),
                    f"{path}.{name}" if path else str(name),
                    within,
                )
                for name in names
            )
        if isinstance(a, list) and isinstance(b, list):
            longest = max(len(a), len(b))
            pad_a = [*a, *[_ABSENT] * (longest - len(a))]
            pad_b = [*b, *[_ABSENT] * (longest - len(b))]
            return sum(
                self.through(x, y, f"{path}[{i}]", of)
                for i, (x, y) in enumerate(zip(pad_a, pad_b, strict=True))
            )
        if not _same_leaf(a, b):
            sentence = _sentence(a, b, self._key)
            if of:
                sentence = say("audit of", told=sentence, names=", ".join(of))
            self.findings.append(Finding("serious", "number", path, sentence))
        return 1


def _called(row: dict[str, Any]) -> tuple[str, ...]:
    """What a row is called, where it has a name of any kind."""
    for key in NAMES:
        name = row.get(key)
        if isinstance(name, str) and name:
            return (name if len(name) <= LONGEST_NAME else f"{name[:LONGEST_NAME]}...",)
    return ()


def _same_leaf(a: Any, b: Any) -> bool:
    if a is _ABSENT or b is _ABSENT:
        return False
    numbers = (int, float)
    plain = isinstance(a, numbers) and isinstance(b, numbers)
    if plain and not isinstance(a, bool) and not isinstance(b, bool):
        return same_number(float(a), float(b))
    return type(a) is type(b) and a == b


def _sentence(a: Any, b: Any, key: str) -> str:
    if a is _ABSENT:
        return say("audit only recomputed", recomputed=shown(b))
    if b is _ABSENT:
        return say("audit only recorded", recorded=shown(a))
    a, b = where_they_part(a, b)
    return say(key, recorded=shown(a), recomputed=shown(b))


def where_they_part(a: Any, b: Any) -> tuple[Any, Any]:
    """Two long texts from a little before their first difference on; else as they are."""
    if not isinstance(a, str) or not isinstance(b, str) or max(len(a), len(b)) <= LONGEST_TEXT:
        return a, b
    start = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), None)
    start = min(len(a), len(b)) if start is None else start
    if start <= BEFORE:
        return a, b
    return f"...{a[start - BEFORE :]}", f"...{b[start - BEFORE :]}"


def shown(value: Any) -> str:
    """A value for a sentence, shortened where it is long."""
    if value is None:
        return "nothing"
    text = repr(value) if not isinstance(value, dict | list) else type(value).__name__
    return text if len(text) <= 80 else text[:77] + "..."


def change_finding(change: Change) -> Finding:
    """Turn a difference from the manifest into a finding that names file and rows."""
    if change.what == "missing":
        return Finding("serious", "manifest", change.path, say("audit missing"))
    if change.what in ("unlisted", "misdescribed", "listed twice"):
        return Finding("serious", "manifest", change.path, say(f"audit {change.what}"))
    if not change.rows:
        return Finding("serious", "manifest", change.path, say("audit changed file"))
    shown = ", ".join(
        f"row {row}" if sheet is None else f"sheet {sheet} row {row}"
        for sheet, row in change.rows[:5]
    )
    if len(change.rows) > 5:
        shown += f" and {len(change.rows) - 5} more"
    sentence = say("audit changed rows", rows=shown)
    return Finding("serious", "manifest", f"{change.path}, {shown}", sentence)
