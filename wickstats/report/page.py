"""The page of one season, composed of its parts.

Leans on pages and core.
"""

from wickstats.core.results import Results


def report_page(results: Results) -> tuple[bytes, dict[str, bytes]]:
    """Return the page's bytes and the pictures, file name -> SVG bytes."""
    raise NotImplementedError
