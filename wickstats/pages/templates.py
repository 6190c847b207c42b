"""One way to turn a page's template into HTML: everything escaped, nothing undefined.

Leans on jinja2.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from wickstats.pages.text import anchor, clean

if TYPE_CHECKING:
    from jinja2 import Template


def template_of(text: str, filters: Mapping[str, Any]) -> "Template":
    """Return the template with these filters beside ``clean``, ``anchor`` and ``kind``."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined)
    shared: dict[str, Any] = {"clean": clean, "anchor": anchor, "kind": _kind}
    environment.filters.update({**shared, **filters})
    return environment.from_string(text)


def own_markup(text: str) -> Any:
    """Our own style sheet or drawn SVG, not to be escaped; never users' text."""
    from markupsafe import Markup

    return Markup(text)  # noqa: S704 - ours, see above


def _kind(block: object) -> str:
    return type(block).__name__
