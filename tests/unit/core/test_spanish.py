"""Every key that the advisor's part can say has its Spanish entry, with the same fields.

The keys are read from the code of the modules that write the part: a string that is a key, and
an f-string that may become one.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

import wickstats
from wickstats.core.words import CATALOG, CATALOGS
from wickstats.core.words.cautions import STEPS
from wickstats.core.words.plural import Entry, Plural
from wickstats.core.words.spanish import SPANISH

HERE = Path(wickstats.__file__).parent
ALL: tuple[str, ...] = ()
# module -> functions that the part uses; none named: the whole module
WRITERS = {
    "report/advisor.py": ALL,
    "report/answers.py": ALL,
    "report/named.py": ALL,
    "report/pilot.py": ALL,
    "report/marked.py": ALL,
    "report/page.py": ALL,
    "report/facts.py": ("listed",),
    "report/drawn.py": (
        "main_picture",
        "_ends",
        "units_picture",
        "_axis_of",
        "_units_words",
        "_mean_words",
    ),
    "core/fates.py": ALL,
    "core/numbers.py": ("interval", "with_interval"),
    "pages/shell.py": ALL,
    "pages/figures/survival.py": ALL,
    "pages/figures/units.py": ALL,
}
# the same word in both, or a pattern without words
CAUTIONS = {f"caution {name}" for step in ("report", "bench") for name in STEPS[step]}
NOT_SAID = {"secondary"}  # a role, which is a key too
ALIKE = {
    "answer secondary",
    "answer bound",
    "tried factor",
    "mean words",
    "mean words interval",
}


def said(tree: ast.AST) -> Iterator[str]:
    """Keys that the code below may say; what is compared with results is English."""
    if isinstance(tree, ast.Compare):  # what is compared is not said
        return
    if isinstance(tree, ast.Call) and getattr(tree.func, "id", "") == "recorded":
        return
    if isinstance(tree, ast.Constant) and tree.value in CATALOG.keys() - NOT_SAID:
        yield tree.value
    if isinstance(tree, ast.Call) and getattr(tree.func, "id", "") == "say":
        for part in ast.walk(tree.args[0]):
            if isinstance(part, ast.JoinedStr):
                pattern = pattern_of(part)
                yield from (key for key in CATALOG if pattern.fullmatch(key))
    for child in ast.iter_child_nodes(tree):
        yield from said(child)


def pattern_of(joined: ast.JoinedStr) -> re.Pattern[str]:
    return re.compile(
        "".join(
            re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".*"
            for part in joined.values
        )
    )


def keys_of(module: str, functions: tuple[str, ...]) -> set[str]:
    tree = ast.parse((HERE / module).read_text("utf-8"))
    if not functions:
        return set(said(tree))
    found = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    return {key for name in functions for key in said(found[name])}


def forms(entry: Entry) -> tuple[str, ...]:
    return (entry.one, entry.other) if isinstance(entry, Plural) else (entry,)


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("module", WRITERS)
def test_every_key_of_the_advisors_part_is_spanish_too(module: str) -> None:
    used = keys_of(module, WRITERS[module])
    assert used
    assert sorted(used - SPANISH.keys()) == []


def test_the_advisors_words_and_all_cautions_are_spanish_too() -> None:
    from wickstats.core.words import advisor

    needed = advisor.ENGLISH.keys() | {k for k in CATALOG if k in CAUTIONS}
    assert sorted(needed - SPANISH.keys()) == []


def test_a_key_that_only_english_has_is_found() -> None:
    """The reading of the code can fail: a key that is said and not translated is told."""
    tree = ast.parse('say("head treatment"); say(f"role {x}"); recorded("blocks")')
    assert set(said(tree)) >= {"head treatment", "role primary", "role secondary"}
    assert "blocks" not in set(said(tree))
    assert set(said(tree)) - SPANISH.keys()


def test_no_spanish_key_is_left_over() -> None:
    assert SPANISH.keys() <= CATALOG.keys()
    used = set().union(*(keys_of(m, f) for m, f in WRITERS.items()))
    others = {k for k in SPANISH if k not in CAUTIONS} - used
    assert sorted(others) == sorted({"picture at most", "picture at least"} & others)


@pytest.mark.parametrize("key", sorted(SPANISH))
def test_fields_and_forms_are_those_of_the_english_entry(key: str) -> None:
    english, spanish = CATALOG[key], SPANISH[key]
    assert isinstance(english, Plural) == isinstance(spanish, Plural)
    wanted = set().union(*map(fields, forms(english)))
    for text in forms(spanish):
        assert fields(text) <= wanted
    assert set().union(*map(fields, forms(spanish))) == wanted
    assert (spanish != english) or key in ALIKE


def test_each_language_of_the_page_has_a_catalog() -> None:
    from wickstats.core.language import LANGUAGES

    assert tuple(CATALOGS) == LANGUAGES
