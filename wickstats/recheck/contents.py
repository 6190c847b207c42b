"""Where a file of the folder differs from the one that the recomputed results give.

A table is told by row and column, a description by its key, a page by its words, a picture
by its texts and numbers. Leans on archive names, core and ``compare``.
"""

import csv
import html
import io
import re
from collections.abc import Iterator
from itertools import zip_longest
from typing import Any

from wickstats.core.codec import parse_json
from wickstats.core.words import say
from wickstats.recheck.compare import compare_trees, same_number, shown, where_they_part

MOST_TOLD = 5
SIZE_KEY = "contentSize"  # held against the folder's own files
VERSION_KEYS = ("softwareVersion",)  # other versions may rightly say otherwise
_PICTURE = re.compile(r"<svg\b.*?</svg>", re.DOTALL)
_HEAD = re.compile(r"<(style|script)\b.*?</\1>", re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
_ATTRIBUTE = re.compile(r'\b([a-z][a-z-]*)="([^"]*)"')
_OWN_VERSION = re.compile(r"wickstats \d[\w.+-]*\w")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")


def told_difference(path: str, found: bytes, given: bytes, *, loosely: bool) -> str | None:
    """Say in words where a file differs, or None where it says the same.

    Parameters
    ----------
    path
        The file's path in the folder; its ending tells the kind.
    found, given
        The file's bytes, and those that the recomputed results give.
    loosely
        Other versions wrote it: numbers may agree as numbers do, pictures may be drawn
        otherwise.
    """
    ours, theirs = found.decode("utf-8", "replace"), given.decode("utf-8", "replace")
    if path.endswith(".csv"):
        told = list(_cells(ours, theirs))
    elif path.endswith(".json"):
        told = list(_keys(ours, theirs, loosely=loosely))
    elif path.endswith(".html"):
        told = list(_page(ours, theirs, loosely=loosely))
    elif path.endswith(".svg"):
        told = list(_picture(ours, theirs, loosely=loosely))
    else:
        told = [say("audit bytes differ")] if found != given else []
    if not told:
        return None
    more = len(told) - MOST_TOLD
    shown_ones = told[:MOST_TOLD] + ([say("audit and more", n=more)] if more > 0 else [])
    return "; ".join(shown_ones)


def _pair(a: Any, b: Any) -> str:
    a, b = where_they_part(a, b)
    return say("audit number", recorded=shown(a), recomputed=shown(b))


def _cells(ours: str, theirs: str) -> Iterator[str]:
    rows, others = (list(csv.reader(io.StringIO(t, newline=""))) for t in (ours, theirs))
    heads = others[0] if others else []
    if len(rows) != len(others):
        yield say("audit rows", recorded=len(rows), recomputed=len(others))
    for number, (a, b) in enumerate(zip_longest(rows, others), start=1):
        if a is None or b is None:
            return
        if len(a) != len(b):
            yield say("audit row cells", row=number, recorded=len(a), recomputed=len(b))
            continue
        for place, (x, y) in enumerate(zip(a, b, strict=True)):
            if not _same_cell(x, y):
                head = heads[place] if place < len(heads) else str(place + 1)
                yield say("audit cell", row=number, column=head, told=_pair(x, y))


def _same_cell(a: str, b: str) -> bool:
    if a == b:
        return True
    try:
        return same_number(float(a), float(b))
    except ValueError:
        return False


def _keys(ours: str, theirs: str, *, loosely: bool) -> Iterator[str]:
    try:
        a, b = parse_json(ours.encode("utf-8")), parse_json(theirs.encode("utf-8"))
    except (ValueError, RecursionError) as error:
        yield str(error)
        return
    left_out = (SIZE_KEY, *(VERSION_KEYS if loosely else ()))
    a, b = _without(a, left_out), _without(b, left_out)
    found, _ = compare_trees(by_name(a), by_name(b))
    for finding in found:
        yield f"{finding.place}: {finding.sentence}"


def only_order(found: bytes, given: bytes, *, sizes: bool) -> bool:
    """Whether two JSON files hold the very same values, in another order or spacing.

    ``sizes``: whether the sizes of other files count; where not, they may be what differs.
    """
    try:
        a, b = parse_json(found), parse_json(given)
    except (ValueError, RecursionError):
        return False
    if not sizes:
        a, b = _without(a, (SIZE_KEY,)), _without(b, (SIZE_KEY,))
    return bool(by_name(a) == by_name(b))


def _without(value: Any, keys: tuple[str, ...]) -> Any:
    if isinstance(value, dict):
        return {k: _without(v, keys) for k, v in value.items() if k not in keys}
    return [_without(v, keys) for v in value] if isinstance(value, list) else value


def by_name(value: Any) -> Any:
    """Lists of things that have an identifier or a name are told by it, not by a number."""
    if isinstance(value, dict):
        return {key: by_name(item) for key, item in value.items()}
    if not isinstance(value, list) or not value:
        return value
    for key in ("@id", "name"):
        names = [v.get(key) if isinstance(v, dict) else None for v in value]
        if all(isinstance(n, str) for n in names) and len(set(names)) == len(names):
            return {str(n): by_name(v) for n, v in zip(names, value, strict=True)}
    return [by_name(v) for v in value]


def _page(ours: str, theirs: str, *, loosely: bool) -> Iterator[str]:
    if loosely:  # the page names the version that wrote it
        ours, theirs = (_OWN_VERSION.sub("wickstats", text) for text in (ours, theirs))
    a, b = _words(ours), _words(theirs)
    yield from _texts(a, b)
    one, other = (_HEAD.sub("", _PICTURE.sub("", text)) for text in (ours, theirs))
    said = list(_texts(_attributes(one), _attributes(other)))
    yield from said
    if a == b and not said and _PICTURE.sub("", ours) != _PICTURE.sub("", theirs):
        yield say("audit markup")
    pictures = zip_longest(_PICTURE.findall(ours), _PICTURE.findall(theirs), fillvalue="")
    for n, (x, y) in enumerate(pictures, start=1):
        for told in _picture(x, y, loosely=loosely):
            yield say("audit in picture", n=n, told=told)


def _attributes(text: str) -> list[str]:
    """What tags hold: text alternatives, links, languages."""
    found = (pair for tag in _TAG.findall(text) for pair in _ATTRIBUTE.findall(tag))
    return [f"{name}: {html.unescape(value)}" for name, value in found]


def _words(text: str) -> list[str]:
    """What a reader sees, piece by piece, without pictures."""
    bare = _HEAD.sub("", _PICTURE.sub("", text))
    pieces = (html.unescape(p).strip() for p in _TAG.split(bare))
    return [" ".join(p.split()) for p in pieces if p]


def _texts(a: list[str], b: list[str]) -> Iterator[str]:
    """Pieces that stand in one and not in the other, in order."""
    if a == b:
        return
    start = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), None)
    start = min(len(a), len(b)) if start is None else start
    end = 0
    while end < min(len(a), len(b)) - start and a[-1 - end] == b[-1 - end]:
        end += 1
    one, other = a[start : len(a) - end], b[start : len(b) - end]
    if len(one) == len(other):
        for x, y in zip(one, other, strict=True):
            if x != y:
                yield _pair(x, y)
        return
    yield _pair(" ".join(one), " ".join(other))


def _picture(ours: str, theirs: str, *, loosely: bool) -> Iterator[str]:
    """Other versions may choose other numbers for an axis and draw otherwise."""
    a, b = _words_drawn(ours), _words_drawn(theirs)
    if loosely:
        a, b = ([t for t in texts if any(map(str.isalpha, t))] for texts in (a, b))
    if a != b:
        yield from _texts(a, b)
        return
    if ours == theirs or loosely:
        return
    numbers, others = _NUMBER.findall(ours), _NUMBER.findall(theirs)
    if len(numbers) == len(others) and _NUMBER.sub("0", ours) == _NUMBER.sub("0", theirs):
        changed = [(x, y) for x, y in zip(numbers, others, strict=True) if x != y]
        yield say("audit drawn numbers", n=len(changed), told=_pair(*changed[0]))
    else:
        yield say("audit drawn")


def _words_drawn(text: str) -> list[str]:
    found = re.findall(r"<(?:text|title|desc)\b[^>]*>(.*?)</(?:text|title|desc)>", text, re.S)
    return [" ".join(html.unescape(_TAG.sub(" ", piece)).split()) for piece in found]
