"""The audit as a page. Leans on pages, core and ``findings``."""

from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Column, Items, Note, Page, Section, Table, Text
from wickstats.pages.closing import closed, second_words
from wickstats.pages.shell import render
from wickstats.recheck.findings import Audit

MOST_ROWS = 500


def audit_page(audit: Audit) -> bytes:
    """Return the page's UTF-8 bytes."""
    if audit.serious == 0:
        verdict = say("audit clean", count=audit.recomputed)
    elif audit.serious == 1:
        verdict = say("audit serious one")
    else:
        verdict = say("audit serious", count=audit.serious)
    sections = [
        Section(
            "What was found",
            (Note(verdict, "verdict"), *_findings(audit), *_questions(audit)),
        ),
        Section(
            "What was checked",
            (
                Text(audit.layout),
                *((Items(audit.looked_at),) if audit.looked_at else ()),
                Text(say("audit not checkable")),
                *_second(audit),
            ),
        ),
    ]
    return render(
        Page(
            title=_title(audit),
            banners=(say("simulated audit"),) if audit.simulated else (),
            mark=say("simulated mark") if audit.simulated else None,
            sections=tuple(sections),
            lead=say("audit intro"),
            footer=(say("not advice"), f"wickstats {audit.wickstats}"),
        )
    )


def _title(audit: Audit) -> str:
    title = f"Audit of {audit.folder}"
    return say("simulated title", title=title) if audit.simulated else title


def _findings(audit: Audit) -> tuple[Block, ...]:
    if not audit.findings:
        return ()
    ordered = sorted(audit.findings, key=lambda f: not f.serious)
    rows = tuple((f.place, f.weight, f.kind, f.sentence, f.ask) for f in ordered[:MOST_ROWS])
    more = len(audit.findings) - len(rows)
    heads = ("Place", "Weight", "Kind", "Finding", "What to ask")
    columns = tuple(Column(head) for head in heads)
    note = f"{more} more findings are not listed here." if more else None
    return (Table("Findings", columns, rows, note),)


def _questions(audit: Audit) -> tuple[Block, ...]:
    return (Text(say("audit question note")),) if audit.questions else ()


def _second(audit: Audit) -> tuple[Block, ...]:
    if not audit.second_engine:
        return ()
    rows = tuple(
        (
            row.what,
            number(row.ours, 6),
            number(row.theirs, 6),
            row.not_checked or ("agrees" if row.agrees else "disagrees"),
        )
        for row in audit.second_engine
    )
    columns = (
        Column("Number"),
        Column("In the report", numeric=True),
        Column("Second engine", numeric=True),
        Column("Outcome"),
    )
    table = Table("Numbers computed twice, by code that shares nothing", columns, rows)
    words = second_words([row.agrees for row in audit.second_engine])
    return (closed(table, words),)
