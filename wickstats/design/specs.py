"""What each part of the file may be; reading a node by its specification.

A specification reads one node: it returns a plain value (text, number, date, tuple,
dict) or ``MISSING`` with the problem in the findings. Leans on nodes, scalars, findings.
"""

from collections.abc import Mapping as MappingABC
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

from wickstats.design.findings import Findings, Path, listing, nearest, quote, words_of
from wickstats.design.nodes import Listing, Mapping, Node, Scalar
from wickstats.design.scalars import Unread, day, number, truth, whole, word
from wickstats.design.source import forbidden_in

MISSING: Final = object()


class Spec(Protocol):
    """Reads one node."""

    @property
    def words(self) -> str:
        """What is expected, in words."""
        ...

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """The value, or MISSING with a problem in ``out``."""
        ...


def shown(node: Node) -> str:
    """What stands in the file, in words."""
    if isinstance(node, Mapping):
        keys = listing(quote(k.text) for k, _ in node.pairs[:3])
        return f"keys and values ({keys})" if keys else "empty braces"
    if isinstance(node, Listing):
        return f"a list of {len(node.items)}"
    return "nothing" if node.empty else quote(node.text)


def mismatch(spec: Spec, node: Node, path: Path, out: Findings, fix: str) -> Any:
    """Keep the problem that a node is of the wrong kind."""
    empty = isinstance(node, Scalar) and node.empty
    out.add(
        path,
        "missing value" if empty else "wrong type",
        found=f"{words_of(path)} with {'no value' if empty else shown(node)}",
        expected=spec.words,
        fix="fill it in, or take the key out" if empty else fix,
    )
    return MISSING


def _unread(spec: Spec, node: Scalar, path: Path, out: Findings, why: str, code: str) -> Any:
    out.add(
        path,
        code,
        found=f"{quote(node.text)} for {words_of(path)}",
        expected=spec.words,
        fix=why,
    )
    return MISSING


@dataclass(frozen=True)
class TextSpec:
    """Text exactly as written; a name may not be blank, padded or on several lines."""

    name: bool = False
    pattern: str | None = None
    longest: int = 2000
    words: str = "text"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Scalar) or node.empty:
            return mismatch(self, node, path, out, "write one text; put quotes around signs")
        text = node.text
        sign = forbidden_in(text)
        if sign:
            why = f"take the invisible character {sign} out"
            return _unread(self, node, path, out, why, "control character")
        if len(text) > self.longest:
            why = f"shorten it to {self.longest} characters"
            return _unread(self, node, path, out, why, "too long")
        if self.name and (text != text.strip() or "\n" in text or not text):
            why = "write a name on one line, without blanks around it"
            return _unread(self, node, path, out, why, "unusable name")
        if self.pattern and not _fits(self.pattern, text):
            return _unread(self, node, path, out, f"write {self.words}", "unusable name")
        return text


def _fits(pattern: str, text: str) -> bool:
    import re

    return re.fullmatch(pattern, text) is not None


@dataclass(frozen=True)
class NumberSpec:
    """A number between limits."""

    whole: bool = False
    at_least: float | None = None
    above: float | None = None
    at_most: float | None = None
    below: float | None = None

    @property
    def words(self) -> str:
        """What is expected, in words."""
        kind = "a whole number" if self.whole else "a number"
        limits = []
        for limit, name in (
            (self.at_least, "at least"),
            (self.above, "above"),
            (self.at_most, "at most"),
            (self.below, "below"),
        ):
            if limit is not None:
                limits.append(f"{name} {limit:g}")
        return " ".join([kind, " and ".join(limits)]).strip()

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Scalar) or node.empty:
            return mismatch(self, node, path, out, "write one number")
        value = whole(node.text) if self.whole else number(node.text)
        if isinstance(value, Unread):
            return _unread(self, node, path, out, str(value), "not a number")
        if not self._inside(value):
            fix = f"write {self.words}"
            if 1 in (self.at_most, self.below) and 2 <= value <= 100:
                fix = f"write it as a share: {value / 100:g}"
            elif path[-1] == "ratio" and self.above == 1 and 0 < value < 1:
                fix = (
                    f"turn it around: {node.text} times as much one way is 1/{node.text} = "
                    f"{1 / value:.4g} the other; the ratio counts for more and for less alike"
                )
            return _unread(self, node, path, out, fix, "impossible value")
        return value

    def _inside(self, value: float) -> bool:
        return (
            (self.at_least is None or value >= self.at_least)
            and (self.above is None or value > self.above)
            and (self.at_most is None or value <= self.at_most)
            and (self.below is None or value < self.below)
        )


@dataclass(frozen=True)
class TruthSpec:
    """True or false."""

    words: str = "true or false"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Scalar) or node.empty:
            return mismatch(self, node, path, out, "write true or false")
        value = truth(node.text)
        if isinstance(value, Unread):
            return _unread(self, node, path, out, str(value), "not true or false")
        return value


@dataclass(frozen=True)
class DateSpec:
    """An ISO 8601 date."""

    words: str = "a date as in 2025-03-17"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Scalar) or node.empty:
            return mismatch(self, node, path, out, "write a date as in 2025-03-17")
        value = day(node.text)
        if isinstance(value, Unread):
            return _unread(self, node, path, out, str(value), "not a date")
        return value


@dataclass(frozen=True)
class WordSpec:
    """One of a closed list of words (or numbers)."""

    allowed: tuple[Any, ...]

    @property
    def words(self) -> str:
        """What is expected, in words."""
        if len(self.allowed) == 1:
            return str(self.allowed[0])
        return "one of: " + listing(str(w) for w in self.allowed)

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Scalar) or node.empty:
            return mismatch(self, node, path, out, f"write {self.words}")
        by_text = {str(w): w for w in self.allowed}
        value = word(node.text, tuple(by_text))
        if isinstance(value, Unread):
            return _unread(self, node, path, out, str(value), "unknown word")
        return by_text[value]


@dataclass(frozen=True)
class ListSpec:
    """A list; ``single``: one item may stand without a list."""

    item: Spec
    at_least: int = 0
    single: bool = False

    @property
    def words(self) -> str:
        """What is expected, in words."""
        return f"a list ({self.item.words})"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if self.single and isinstance(node, Scalar):
            value = self.item.read(node, path, out)
            return MISSING if value is MISSING else (value,)
        if not isinstance(node, Listing):
            return mismatch(self, node, path, out, 'write a list: [a, b], or lines with "- "')
        values = []
        for i, item in enumerate(node.items):
            out.values[(*path, i)] = item.place
            value = self.item.read(item, (*path, i), out)
            # a failed item keeps its place, so that later items keep their numbers
            values.append(None if value is MISSING else value)
        if len(node.items) < self.at_least:
            out.add(
                path,
                "too few",
                found=f"{words_of(path)} with {len(node.items)}",
                expected=f"at least {self.at_least}",
                fix="add what is missing",
            )
            return MISSING
        return tuple(values)


@dataclass(frozen=True)
class PairSpec:
    """Exactly two numbers, the smaller first."""

    item: NumberSpec
    words: str = "two numbers, the smaller first, as in [0, 5]"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Listing) or len(node.items) != 2:
            return mismatch(self, node, path, out, "write two numbers: [0, 5]")
        values = []
        for i, item in enumerate(node.items):
            out.values[(*path, i)] = item.place
            values.append(self.item.read(item, (*path, i), out))
        if MISSING in values:
            return MISSING
        if values[0] >= values[1]:
            out.add(
                path,
                "impossible value",
                found=f"{words_of(path)} from {values[0]:g} to {values[1]:g}",
                expected=self.words,
                fix="swap or correct the two numbers",
            )
            return MISSING
        return tuple(values)


@dataclass(frozen=True)
class TableSpec:
    """Keys of the user's own (or of a closed list), all values of one kind."""

    value: Spec
    allowed: tuple[str, ...] | None = None
    at_least: int = 0

    @property
    def words(self) -> str:
        """What is expected, in words."""
        return f"keys, each with {self.value.words}"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Mapping):
            return mismatch(self, node, path, out, "write lines of key: value under it")
        values: dict[str, Any] = {}
        for key, item in node.pairs:
            here = (*path, key.text)
            out.keys[here], out.values[here] = key.place, item.place
            if self.allowed is not None and key.text not in self.allowed:
                unknown_key(key.text, path, self.allowed, out)
                continue
            sign = forbidden_in(key.text)
            if sign or not key.text.strip():
                why = f"take {sign} out" if sign else "write a name before the colon"
                _unread(TextSpec(), key, here, out, why, "unusable name")
                continue
            value = self.value.read(item, here, out)
            if value is not MISSING:
                values[key.text] = value
        if len(node.pairs) < self.at_least:
            return mismatch(self, node, path, out, f"name at least {self.at_least}")
        return values


@dataclass(frozen=True)
class Field:
    """A key of a section: the attribute it fills and its specification."""

    attribute: str
    spec: Spec
    required: bool = False


@dataclass(frozen=True)
class SectionSpec:
    """A section with known keys."""

    fields: MappingABC[str, Field]
    elsewhere: MappingABC[str, str] = field(default_factory=dict)  # key -> its section

    @property
    def words(self) -> str:
        """What is expected, in words."""
        return "keys and values: " + listing(self.fields)

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Mapping):
            return mismatch(self, node, path, out, "write lines of key: value under it")
        values: dict[str, Any] = {}
        seen: set[str] = set()
        for key, item in node.pairs:
            here = (*path, key.text)
            out.keys[here], out.values[here] = key.place, item.place
            known = self.fields.get(key.text)
            if known is None:
                section = self.elsewhere.get(key.text)
                comma = isinstance(item, Scalar) and item.empty
                near = unknown_key(key.text, path, self.fields, out, section, after_comma=comma)
                seen.add(near or "")
                continue
            seen.add(key.text)
            value = known.spec.read(item, here, out)
            if value is not MISSING:
                values[known.attribute] = value
        for name, known in self.fields.items():
            if known.required and name not in seen:
                out.add(
                    (*path, name),
                    "missing key",
                    found=f"no key {name}" + (f" under {words_of(path)}" if path else ""),
                    expected=f"{name}: {known.spec.words}",
                    fix=f"add {name}",
                )
        return values


def unknown_key(
    key: str,
    path: Path,
    known: "MappingABC[str, Any] | tuple[str, ...]",
    out: Findings,
    section: str | None = None,
    *,
    after_comma: bool = False,
) -> str | None:
    """Keep the problem of a key that nobody knows; return the nearest known one."""
    near = nearest(key, known)
    if near:
        out.fail((*path, near))  # what was meant is not missing as well
        fix = f"write {near}"
    elif after_comma:
        fix = "if it belongs to a text with a comma, put quotes around the whole text"
    elif section:
        fix = f"move it: {key} belongs under {section}"
    else:
        fix = "take it out, or correct its spelling"
    out.add(
        (*path, key),
        "unknown key",
        found=quote(key) + (f" under {words_of(path)}" if path else ""),
        expected=f"one of: {listing(known)}",
        fix=fix,
        on_key=True,
    )
    return near
