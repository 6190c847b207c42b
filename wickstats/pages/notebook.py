"""Parts of a page as a fragment of HTML, for a cell of a notebook.

The same blocks, cleaned and escaped by the same templates as on a page; a style of its own
that touches nothing else in the notebook. Leans on pages.shell and pages.blocks.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from wickstats.pages.blocks import Page, Picture, Section, with_pictures
from wickstats.pages.shell import MACROS, block_filters
from wickstats.pages.templates import own_markup, template_of

if TYPE_CHECKING:
    from jinja2 import Template

_STYLE = (
    ".wickstats .n{text-align:right}.wickstats th{text-align:left}"
    ".wickstats td,.wickstats th{padding:.15em .6em}"
    ".wickstats .pad{visibility:hidden}.wickstats .note{border-left:4px solid #0b5a8a;"
    "margin:.3em 0;padding:.3em .8em}.wickstats .banner{font-weight:700}"
    ".wickstats caption{text-align:left;font-weight:600}"
    ".wickstats svg{max-width:50rem;height:auto;background:#fff}"
    ".wickstats .scroll{overflow-x:auto}"
)
_FRAGMENT = """\
<div class="wickstats"><style>{{ style }}</style>
{% for banner in page.banners %}<p class="banner">{{ banner|clean }}</p>
{% endfor %}{% for s in page.sections %}{{ part(s, 3, "wickstats-", s.language) }}\
{% endfor %}</div>
"""


def fragment(sections: Sequence[Section], banners: Sequence[str] = ()) -> str:
    """Return the sections as HTML without a page around them; pictures as on a wide screen."""
    shown = with_pictures(sections, _alone)
    page = Page(title="", sections=shown, banners=tuple(banners))
    html: str = _template().render(page=page, style=own_markup(_STYLE), data={}, contents="")
    return html


def _alone(picture: Picture) -> Picture:
    """A picture without its narrow drawing and without files beside it."""
    return replace(picture, narrow=None, data=())


@cache
def _template() -> "Template":
    return template_of(MACROS + _FRAGMENT, block_filters())
