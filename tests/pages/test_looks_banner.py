"""A page that is not the last look at its season says so at its top, in both languages."""

from dataclasses import replace

import pytest
from support_page import parse_page
from support_results import rich_results

from wickstats.core.looks import Look, Looks
from wickstats.report.page import report_page

FIRST = Look("2025-06-01", 40, "a" * 64, "b" * 64)
LAST = Look("2025-10-13", 90, "c" * 64, "b" * 64)


@pytest.mark.parametrize(
    ("looks", "language", "told"),
    [
        (
            Looks(1, (FIRST,), "2025-10-13", early=True),
            "en",
            (
                "EARLY LOOK: the records end on June 1, 2025, before the season does. This "
                "page describes; only a look at the end confirms."
            ),
        ),
        (
            Looks(1, (FIRST,), "2025-10-13", early=True),
            "es",
            (
                "ANTES DEL FINAL: los registros acaban el 1 de junio de 2025, antes que la "
                "temporada. Esta página describe; solo una mirada al final confirma."
            ),
        ),
        (
            Looks(1, (FIRST, LAST), "2025-06-10", early=False),
            "en",
            (
                "NOT THE LAST LOOK: a later look at this season is known. This page confirms "
                "nothing."
            ),
        ),
        (Looks(2, (FIRST, LAST), "2025-10-13", early=False), "en", None),
    ],
)
def test_the_banner_of_a_look(looks: Looks, language: str, told: str | None) -> None:
    results = replace(rich_results(), looks=looks)
    page, _ = report_page(results, language=language)
    (header,) = parse_page(page).all("header")
    banners = [p.text for p in header.all("p") if "LOOK" in p.text or "FINAL" in p.text]
    assert banners == ([] if told is None else [told])
