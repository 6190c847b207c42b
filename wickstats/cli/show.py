"""Problems, queries and exclusions as text, and as JSON for programs.

Control characters of users' text never reach the terminal. Leans on click and core.
"""

import json
from collections.abc import Iterable, Sequence
from typing import Any
from unicodedata import category

import click

from wickstats.core.errors import Exclusion, Problem

LONGEST_LIST = 200


def clean(text: str) -> str:
    """Take out control and bidirectional characters."""
    return "".join(c for c in text if c in "\n\t" or category(c) not in ("Cc", "Cf", "Cs"))


def show_problems(problems: Iterable[Problem], *, heading: str = "problem") -> None:
    """Write each problem with place, found, expected and fix to standard error."""
    items = list(problems)
    for item in items[:LONGEST_LIST]:
        click.secho(clean(f"{item.place}: {item.code}"), bold=True, err=True)
        click.echo(clean(f"    found     {item.found}"), err=True)
        click.echo(clean(f"    expected  {item.expected}"), err=True)
        click.echo(clean(f"    to mend   {item.fix}"), err=True)
    if len(items) > LONGEST_LIST:
        click.echo(f"... and {len(items) - LONGEST_LIST} more", err=True)
    plural = "" if len(items) == 1 else "s"
    click.echo(f"{len(items)} {heading}{plural}", err=True)


def show_queries(queries: Sequence[Problem]) -> None:
    """Write queries to standard output: doubts for a person, not errors."""
    for item in queries[:LONGEST_LIST]:
        click.echo(clean(f"{item.place}: {item.code}: {item.found}; {item.fix}"))
    if len(queries) > LONGEST_LIST:
        click.echo(f"... and {len(queries) - LONGEST_LIST} more (--json lists all)")


def show_exclusions(exclusions: Sequence[Exclusion]) -> None:
    """Write the rows that are not used, each with its reason."""
    for item in exclusions[:LONGEST_LIST]:
        click.echo(clean(f"{item.file}, row {item.row}: not used: {item.reason}"))
    if len(exclusions) > LONGEST_LIST:
        click.echo(f"... and {len(exclusions) - LONGEST_LIST} more (--json lists all)")


def count(number: int, noun: str, plural: str | None = None) -> str:
    """Return "1 query", "3 queries"."""
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def echo_json(value: Any) -> None:
    """Write a value as JSON to standard output."""
    click.echo(json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False))
