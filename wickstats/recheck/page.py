"""The audit as a page. Leans on pages, core and ``findings``."""

from collections import Counter

from wickstats.core.notebook import register
from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Column, Items, Note, Page, Section, Table, Text
from wickstats.pages.closing import closed, second_words
from wickstats.pages.notebook import fragment
from wickstats.pages.shell import render
from wickstats.recheck.findings import Audit

MOST_ROWS = 500


def audit_page(audit: Audit) -> bytes:
    """Return the page's UTF-8 bytes."""
    return render(
        Page(
            title=_title(audit),
            banners=(say("simulated audit"),) if audit.simulated else (),
            mark=say("simulated mark") if audit.simulated else None,
            sections=audit_sections(audit),
            lead=say("audit intro"),
            footer=(say("not advice"), f"wickstats {audit.wickstats}"),
        )
    )


def audit_sections(audit: Audit) -> tuple[Section, ...]:
    """What was found, and what was checked."""
    if audit.serious == 0:
        verdict = say("audit clean", n=audit.recomputed)
    else:
        verdict = say("audit serious", n=audit.serious)
    return (
        Section(
            say("audit found title"),
            (Note(verdict, "verdict"), *_asked(audit), *_findings(audit), *_questions(audit)),
        ),
        Section(
            say("audit checked title"),
            (
                Text(audit.layout),
                *((Items(audit.looked_at),) if audit.looked_at else ()),
                Text(say("audit not checkable")),
                *_second(audit),
            ),
        ),
    )


def audit_form(audit: Audit) -> str:
    """The audit as a fragment, for a notebook."""
    banners = (say("simulated audit"),) if audit.simulated else ()
    return fragment(audit_sections(audit), banners)


def _title(audit: Audit) -> str:
    title = say("audit title", folder=audit.folder)
    return say("simulated title", title=title) if audit.simulated else title


def _findings(audit: Audit) -> tuple[Block, ...]:
    if not audit.findings:
        return ()
    ordered = sorted(audit.findings, key=lambda f: not f.serious)
    rows = tuple((f.place, f.weight, f.kind, f.sentence) for f in ordered[:MOST_ROWS])
    more = len(audit.findings) - len(rows)
    keys = ("place", "weight", "kind", "finding")
    columns = tuple(Column(say(f"audit head {key}")) for key in keys)
    note = say("audit more", n=more) if more else None
    return (Table(say("audit findings caption"), columns, rows, note),)


def _asked(audit: Audit) -> tuple[Block, ...]:
    """What to ask, once for each kind of finding, with how many there are."""
    counts = Counter((f.kind, f.ask) for f in audit.findings if f.ask)
    if not counts:
        return ()
    told = tuple(
        say("audit asked", kind=f"{kind[0].upper()}{kind[1:]}", n=n, ask=ask)
        for (kind, ask), n in counts.items()
    )
    return (Text(say("audit ask lead")), Items(told))


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
            row.not_checked or say("agrees" if row.agrees else "differs"),
        )
        for row in audit.second_engine
    )
    columns = (
        Column(say("audit head number")),
        Column(say("audit head report"), numeric=True),
        Column(say("head theirs"), numeric=True),
        Column(say("head outcome")),
    )
    table = Table(say("second caption"), columns, rows)
    words = second_words([row.agrees for row in audit.second_engine])
    return (closed(table, words),)


register(Audit, audit_form)
