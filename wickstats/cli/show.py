"""Problems, queries and exclusions as text, and as JSON for programs.

Control characters of users' text never reach the terminal. Leans on click and core.
"""

import json
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any
from unicodedata import category

import click

from wickstats.core.errors import MOST_ROWS, Exclusion, Problem, gathered, rows_in_words
from wickstats.core.words import say

if TYPE_CHECKING:
    from wickstats.core.results import Results

LONGEST_LIST = 200
MOST_UNPLANNED = 5


def beside(trial_file: Path, name: str) -> Path:
    """Where a folder of results goes: beside the trial file.

    A trial file among a report's own inputs keeps them clean: then beside that report.
    """
    folder = trial_file.resolve().parent
    if folder.name == "inputs" and (folder.parent / "manifest.json").is_file():
        return folder.parent.parent / name
    return trial_file.parent / name


def echo_primary(results: "Results") -> None:
    """Write the primary response's sentences, or why there are none."""
    for response in results.responses:
        if response.role != "primary":
            continue
        if not response.comparisons:
            for caution in response.cautions:
                click.echo(clean(f"{response.name}: {caution}"))
        told = [row for row in response.comparisons if row.sentence]
        said = [row.sentence or "" for row in told]
        planned = [row.sentence or "" for row in told if not row.unplanned]
        for text in planned or said[:MOST_UNPLANNED]:
            click.echo(clean(text))
        left = len(said) - len(planned or said[:MOST_UNPLANNED])
        if left:
            more = say("count comparisons", n=left)
            click.echo(say("unplanned in the report", n=more))


def clean(text: str) -> str:
    """Take out control and bidirectional characters."""
    return "".join(c for c in text if c in "\n\t" or category(c) not in ("Cc", "Cf", "Cs"))


def show_problems(problems: Iterable[Problem]) -> None:
    """Write each problem with place, found, expected and fix to standard error.

    Of many alike the first ones are shown, and how many more there are.
    """
    items = list(problems)
    shown = list(gathered(items))
    for item, rest in shown[:LONGEST_LIST]:
        click.secho(clean(f"{item.place}: {item.code}"), bold=True, err=True)
        for key, text in (
            ("found", item.found),
            ("expected", item.expected),
            ("fix", item.fix),
        ):
            click.echo(clean(say(f"cli {key}", text=text)), err=True)
        if rest:
            click.echo(f"    {rest}", err=True)
    if len(shown) > LONGEST_LIST:
        click.echo(say("cli others"), err=True)
    click.echo(say("count problems", n=len(items)), err=True)


def refused(error: OSError) -> Problem:
    """What the system refused, with the name that the user knows."""
    # files are written under a passing name first: the user knows the other one
    name = re.sub(r"\.([^/]+)\.\w+\.partial$", r"\1", str(error.filename or ""))
    return Problem(
        file=name or say("cli the disk"),
        code=say("cli refused"),
        found=(error.strerror or str(error)).lower(),
        expected=say("cli refused expected"),
        fix=say("cli refused fix"),
    )


def show_queries(queries: Sequence[Problem], *, err: bool = False) -> None:
    """Write queries to standard output: doubts for a person, not errors."""
    shown = list(gathered(queries))
    for item, rest in shown[:LONGEST_LIST]:
        click.echo(clean(f"{item.place}: {item.code}: {item.found}; {item.fix}"), err=err)
        if rest:
            click.echo(say("cli rest json", rest=rest), err=err)
    if len(shown) > LONGEST_LIST:
        click.echo(say("cli others json"), err=err)


def show_exclusions(exclusions: Sequence[Exclusion]) -> None:
    """Write the rows that are not used, with the reason."""
    rows: dict[tuple[str, str], list[int]] = {}
    for item in exclusions:
        rows.setdefault((item.file, item.reason), []).append(item.row)
    kinds: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for file, reason in rows:  # "the same as row 4" and "the same as row 5" are alike
        kinds.setdefault((file, re.sub(r"\d+", "0", reason)), []).append((file, reason))
    for (file, _), alike in kinds.items():
        most = len(alike) if len(alike) <= MOST_ROWS else MOST_ROWS - 1
        for key in alike[:most]:
            told = rows_in_words(rows[key])
            click.echo(clean(say("cli not used", file=file, rows=told, reason=key[1])))
        if left := [row for key in alike[most:] for row in rows[key]]:
            click.echo(say("cli not used more", n=len(left), rows=rows_in_words(left)))


def outcome_counts(
    queries: Sequence[Problem], exclusions: Sequence[Exclusion]
) -> dict[str, str]:
    """How many queries and rows that are not used, for the sentences that tell both."""
    return {
        "queries": say("count queries", n=len(queries)),
        "left": say("count rows left", n=len(exclusions)),
    }


def echo_json(value: Any) -> None:
    """Write a value as JSON to standard output."""
    click.echo(json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False))
