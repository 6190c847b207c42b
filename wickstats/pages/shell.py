"""One self-contained HTML page from its blocks.

No script, nothing from elsewhere; style and pictures stand in the page. Leans
on jinja2, pages.blocks and pages.style.
"""

from wickstats.pages.blocks import Page


def render(page: Page) -> bytes:
    """Return the page's UTF-8 bytes."""
    raise NotImplementedError
