"""Pages, papers, the audit and the program hold no words of their own: the catalog has all.

What is raised, or handed on as a problem, is written where it is found; help at its option.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import wickstats
from wickstats.core.words import CATALOG

HERE = Path(wickstats.__file__).parent
AREAS = ("pages", "report", "recheck", "crew", "cli")
# templates and styles; columns and codes of the interface; a name that a file has
NO_WORDS = {"pages/style.py", "pages/print_style.py", "pages/notebook.py", "crew/tables.py"}
CODES = {
    "not at random",
    "randomized complete block",
    "yield per liter",
    "trend over amount",
    "each with the reference",
    "restricted mean survival time",
    "mean day of picking",
    "correlation at days",
    "plan and layout",
    "exclusions and queries",
    "verdicts and sentences",
    "fold left out",  # the beginning of keys
    "how to fill in",  # a sheet's name
    "system-ui,-apple-system,'Segoe UI',Roboto,'DejaVu Sans',sans-serif",
}
PLACED = {"Problem", "UsageError", "BadParameter", "option", "argument"}


def words_of(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Strings of three words or more outside docstrings, raised errors, problems and help."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Raise):
            continue
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            continue  # a docstring
        if isinstance(node, ast.Call):
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if name in PLACED:
                continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
            plain = re.fullmatch(r"[A-Za-z][\w',.;:() -]*", text) is not None
            if plain and len(text.split()) >= 3:
                yield node.lineno, text
        yield from words_of(node)


def modules() -> list[str]:
    found = (
        p.relative_to(HERE).as_posix() for area in AREAS for p in (HERE / area).rglob("*.py")
    )
    return sorted(name for name in found if name not in NO_WORDS)


@pytest.mark.parametrize("module", modules())
def test_no_sentence_stands_outside_the_catalog(module: str) -> None:
    tree = ast.parse((HERE / module).read_text("utf-8"))
    heads = {key.removeprefix("head ") for key in CATALOG if key.startswith("head ")}
    allowed = CATALOG.keys() | heads | CODES
    if module == "cli/app.py":  # told before the catalog is loaded, so that help stays quick
        from wickstats.cli.app import COMMANDS

        allowed = allowed | set(COMMANDS.values())
    own = [(line, text) for line, text in words_of(tree) if text not in allowed]
    assert own == []


def test_the_reading_finds_a_sentence() -> None:
    tree = ast.parse(
        '"""A docstring of words."""\nx = "some own words"\nraise E("of no matter")'
    )
    assert list(words_of(tree)) == [(2, "some own words")]
