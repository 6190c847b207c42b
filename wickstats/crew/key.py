"""The sealed key: which plot has which treatment, apart from all blind papers.

Cells that spreadsheets would take for formulas get an apostrophe before them. Leans on pages.
"""

import hashlib

from wickstats.archive.tables import FORMULA_STARTS
from wickstats.core.words import say
from wickstats.crew.common import Set, text_of
from wickstats.pages.blocks import Column, Note, Table, Text
from wickstats.pages.print_blocks import Paper, Part, PrintBlock
from wickstats.simulate.sheets import csv_bytes


def key_csv(papers: Set) -> bytes:
    """The key as text: plot, block, reservoir and every factor's level, in walking order."""
    factors = papers.layout.factors
    rows = [
        [
            _safe(text_of(cell))
            for cell in (
                plot.plot,
                plot.block,
                plot.reservoir,
                *(plot.levels[f] for f in factors),
            )
        ]
        for plot in papers.ground.plots
    ]
    return csv_bytes([_safe(h) for h in ("plot", "block", "reservoir", *factors)], rows)


def seal_of(data: bytes) -> str:
    """SHA-256 of the key's text."""
    return hashlib.sha256(data).hexdigest()


def key_paper(papers: Set) -> Paper:
    """The key to print."""
    factors = papers.layout.factors
    details = [
        say("paper rule words", head=level.name, words=level.detail)
        for factor in papers.trial.factors
        for level in factor.levels
        if level.detail
    ]
    table = Table(
        say("paper plot list"),
        tuple(Column(h) for h in (say("paper plot"), say("paper block"), *factors)),
        tuple(
            (p.plot, text_of(p.block), *(p.levels[f] for f in factors))
            for p in papers.ground.plots
        ),
    )
    texts = tuple(Text(line) for line in details)
    blocks: tuple[PrintBlock, ...] = (
        Note(say("paper key closed"), "caution"),
        *texts,
        table,
    )
    return Paper(
        papers.title("paper key"),
        (Part(say("paper plot list"), blocks),),
        lead=(say("paper key digest", digest=papers.seal or ""),),
        footer=papers.footer,
        banners=papers.banners,
    )


def _safe(text: str) -> str:
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
