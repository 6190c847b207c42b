"""Problems of a trial file while it is read: each with its place, all kept.

Leans on core.errors and the standard library.
"""

from collections.abc import Iterable
from difflib import get_close_matches
from typing import NamedTuple

from wickstats.core.errors import Problem

Path = tuple[str | int, ...]

LONGEST_QUOTE = 60
MOST_PROBLEMS = 500


class Stopped(Exception):  # noqa: N818 - a signal inside this package, not an error to users
    """Reading cannot go on; the problem is already in the findings."""


class Place(NamedTuple):
    """Line and column in the file, both from 1."""

    line: int
    column: int


def visible(text: str) -> str:
    """Text safe to show: control and bidirectional characters as their code points."""
    return "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in text)


def quote(text: str) -> str:
    """The user's text in quotes, cut where it is long."""
    shown = visible(text)
    if len(shown) > LONGEST_QUOTE:
        shown = shown[:LONGEST_QUOTE] + "..."
    return f'"{shown}"'


def words_of(path: Path) -> str:
    """A path as a person would write it: plan.comparisons[1].weights, counting from 1."""
    out = "" if path else "the file"
    for part in path:
        if isinstance(part, int):
            out += f"[{part + 1}]"
        else:
            out += f".{visible(part)}" if out else visible(part)
    return out


def listing(words: Iterable[str]) -> str:
    """Words as "a, b, c"."""
    return ", ".join(words)


def nearest(word: str, known: Iterable[str], *, cutoff: float = 0.6) -> str | None:
    """The known word that is nearest in spelling, if any is near."""
    names = list(known)
    plain = word.casefold().replace("_", " ").replace("-", " ").strip()
    folded = {n.casefold().replace("_", " ").replace("-", " "): n for n in reversed(names)}
    if plain in folded:
        return folded[plain]
    # words that begin with another letter are seldom meant unless they are very near
    for name in get_close_matches(plain, list(folded), n=3, cutoff=cutoff):
        if name[0] == plain[0] or get_close_matches(plain, [name], n=1, cutoff=0.65):
            return folded[name]
    return None


class Findings:
    """Collects problems, the places of keys and values, and which parts failed."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.values: dict[Path, Place] = {}
        self.keys: dict[Path, Place] = {}
        self._failed: set[Path] = set()

    def add(
        self,
        path: Path,
        code: str,
        *,
        found: str,
        expected: str,
        fix: str,
        at: Place | None = None,
        on_key: bool = False,
    ) -> None:
        """Keep a problem of the part at ``path``."""
        place = at or self.place(path, on_key=on_key)
        if len(self.problems) == MOST_PROBLEMS:
            code, found = "too many problems", f"more than {MOST_PROBLEMS} problems"
            expected, fix = "a trial file", "mend these first, then check again"
        self._failed.add(path)
        self.problems.append(
            Problem(self.file, code, found, expected, fix, line=place.line, column=place.column)
        )
        if len(self.problems) > MOST_PROBLEMS:
            raise Stopped

    def fail(self, path: Path) -> None:
        """Mark a part as failed without a problem of its own (another one tells)."""
        self._failed.add(path)

    def place(self, path: Path, *, on_key: bool = False) -> Place:
        """Where the value (or key) stands; of a part that is absent, its nearest parent."""
        if on_key and path in self.keys:
            return self.keys[path]
        for length in range(len(path), -1, -1):
            if path[:length] in self.values:
                return self.values[path[:length]]
        return Place(1, 1)

    def sound(self, *path: str | int) -> bool:
        """Whether nothing at or under ``path`` has failed."""
        return not any(failed[: len(path)] == path for failed in self._failed)

    def sorted(self) -> tuple[Problem, ...]:
        """All problems in the order of the file, each once."""
        unique = dict.fromkeys(self.problems)
        return tuple(sorted(unique, key=lambda p: (p.line or 0, int(p.column or 0))))
