"""The first paper: what is in the folder, and how paper becomes records. Leans on pages."""

from collections.abc import Mapping, Sequence

import yaml

from wickstats.core.words import say
from wickstats.crew.common import Set
from wickstats.crew.tables import MOST_ROWS, FieldSheet
from wickstats.crew.workbooks import record_lines
from wickstats.pages.blocks import Column, Items, Note, Table, Text
from wickstats.pages.print_blocks import Code, Paper, Part, PrintBlock


def first_paper(
    papers: Set,
    sheets: Sequence[FieldSheet],
    files: Mapping[str, str],
    unsafe: Sequence[str],
) -> Paper:
    """The folder's contents (file -> what for) and the lines for the trial file."""
    listed = Table(
        say("paper what"),
        (Column(say("paper file")), Column(say("paper for"))),
        tuple(files.items()),
    )
    blocks: list[PrintBlock] = [Text(say("paper print")), listed]
    if papers.blind:
        blocks.append(Note(say("papers hidden", digest=papers.seal or ""), "caution"))
    typed: list[PrintBlock] = [Text(say("paper workbooks"))]
    typed.append(Items(tuple(_rounds(sheet) for sheet in sheets)))
    typed += [Text(line) for line in _capped(sheets)]
    typed += [Text(say("paper crosswise", table=s.name)) for s in sheets if s.crosswise]
    lines = yaml.safe_dump(
        {"records": record_lines(sheets)}, sort_keys=False, allow_unicode=True, width=10_000
    )
    typed.append(Text(say("paper lines")))
    typed.append(Code(lines))
    plain = [s.plain for s in sheets if s.plain and s.plain not in unsafe]
    if plain:
        typed.append(Text(say("paper plain", files=", ".join(plain))))
    if unsafe:
        typed.append(Text(say("paper no plain", files=", ".join(unsafe))))
    return Paper(
        papers.title("paper index"),
        (
            Part(say("paper what"), tuple(blocks)),
            Part(say("paper fill in"), tuple(typed)),
        ),
        footer=papers.footer,
        banners=papers.banners,
    )


def _rounds(sheet: FieldSheet) -> str:
    return say(
        "paper rounds",
        file=f"{sheet.file}, {sheet.sheet or sheet.name}",
        rounds=say("count rounds", n=sheet.rounds),
        rows=sheet.rounds * len(sheet.rows),
        spare=sheet.spare,
    )


def _capped(sheets: Sequence[FieldSheet]) -> list[str]:
    return [
        say(
            "paper rounds capped",
            file=s.file,
            most=f"{MOST_ROWS:,}",
            rounds=f"{s.rounds} rounds",
        )
        for s in sheets
        if s.rounds < s.wanted_rounds
    ]
