"""One self-contained HTML page from its blocks.

No script, nothing from elsewhere; style and pictures stand in the page. Every
piece of text is cleaned and escaped here. Leans on jinja2, pages.blocks and
pages.style.
"""

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from wickstats.core.language import speaking
from wickstats.core.words import say
from wickstats.pages.blocks import Page, Picture, Section, Table
from wickstats.pages.style import style_sheet
from wickstats.pages.templates import own_markup, template_of
from wickstats.pages.text import anchor

if TYPE_CHECKING:
    from jinja2 import Template

_WIDE = 14  # longer text gets a wider column

# the mark is for paper: a fixed element is printed on every sheet, in room kept free on each
MARK_STYLE = (
    ".mark{display:none}@media print{body{padding-top:6mm;"
    "-webkit-box-decoration-break:clone;box-decoration-break:clone}"
    ".mark{display:block;position:fixed;top:0;right:0;margin:0;"
    "font-size:9pt;font-weight:700;color:#7a1f1f;background:#fff;padding:0 .3rem}}"
)

MACROS = """\
{%- macro lang(language) -%}{% if language != page.language %} lang="{{ language }}"{% endif %}\
{%- endmacro -%}
{%- macro table(t) -%}
{%- set links = dict(t.links) -%}
<div class="scroll" role="region" tabindex="0" aria-label="{{ t.caption|clean }}">
<table>
<caption><span>{{ t.caption|clean }}</span></caption>
<thead><tr>{% for c in t.columns %}<th scope="col"{% if c.numeric %} class="n"{% endif %}>\
{{ c.head|clean }}</th>{% endfor %}</tr></thead>
<tbody>
{% for row in t|cells %}<tr>{% for cell in row %}{% if loop.first %}<th scope="row">\
{{ cell.text|clean }}</th>{% else %}\
<td{% if cell.kind %} class="{{ cell.kind }}"{% endif %}>\
{% if cell.text in links %}<a href="#{{ links[cell.text] }}">{{ cell.text|clean }}</a>\
{% else %}{{ cell.text|clean }}{% endif %}{% if cell.pad %}<span class="pad" aria-hidden="true">{{ cell.pad }}</span>\
{% endif %}</td>{% endif %}{% endfor %}</tr>
{% endfor %}</tbody>
</table>
</div>
{% if t.note %}<p class="under">{{ t.note|clean }}</p>
{% endif %}
{%- endmacro -%}
{%- macro block(b, language) -%}
{% set kind = b|kind %}
{%- if kind == "Text" %}<p>{% if b.strong %}<strong>{{ b.text|clean }}</strong>{% else %}\
{{ b.text|clean }}{% endif %}</p>
{% elif kind == "Items" %}<ul>{% for item in b.items %}<li>{{ item|clean }}</li>\
{% endfor %}</ul>
{% elif kind == "Pairs" %}<dl>{% for term, text in b.pairs %}<dt>{{ term|clean }}</dt>\
<dd>{{ text|clean }}</dd>{% endfor %}</dl>
{% elif kind == "Note" %}<p class="{{ 'banner' if b.kind == 'banner' else 'note ' ~ b.kind }}">\
{{ b.text|clean }}</p>
{% elif kind == "Table" %}{{ table(b) }}
{%- elif kind == "Picture" %}<figure><div class="picture{% if b.narrow %} two{% endif %}" \
role="img" aria-label="{{ b.title|clean }}. {{ b.alternative|clean }}">{{ b|inline }}</div>
<figcaption><b>{{ b.title|clean }}.</b> {{ b.alternative|clean }}\
{% if b.data %} <span class="data">{{ data[language] }} {% for file in b.data %}<a href="tables/{{ file }}">\
{{ file }}</a>{% if not loop.last %}, {% endif %}{% endfor %}</span>{% endif %}</figcaption></figure>
{% elif kind == "Folded" %}<details><summary>{{ b.summary|clean }}</summary>
{% for inner in b.blocks %}{{ block(inner, language) }}{% endfor %}</details>
{% endif %}
{%- endmacro -%}
{%- macro part(s, level, path, language) -%}
{% set name = path ~ (s.title|anchor) %}
{%- if level == 2 %}<section aria-labelledby="{{ name }}"{{ lang(language) }}>
{% endif %}<h{{ level }} id="{{ name }}">{{ s.title|clean }}</h{{ level }}>
{% for b in s.blocks %}{{ block(b, language) }}{% endfor %}
{%- for inner in s.sections %}{{ part(inner, level + 1, name ~ "-", language) }}{% endfor %}
{%- if level == 2 %}{% if page.sections|length > 2 %}<p class="back"{% if lang(language) %} \
lang="{{ page.language }}"{% endif %}><a href="#contents">\
{{ contents }}</a></p>
{% endif %}</section>
{% endif %}
{%- endmacro -%}
"""

_PAGE = """\
<!DOCTYPE html>
<html lang="{{ page.language }}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; \
style-src 'unsafe-inline'; img-src data:">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="wickstats">
<title>{{ page.title|clean }}</title>
<style>{{ style }}</style>
{% if page.mark %}<style>{{ mark_style }}</style>
{% endif %}</head>
<body>
<a class="skip" href="#main">{{ skip }}</a>
{% if page.mark %}<p class="mark" aria-hidden="true">{{ page.mark|clean }}</p>
{% endif %}<header>
{% for banner in page.banners %}<p class="banner">{{ banner|clean }}</p>
{% endfor %}<h1>{{ page.title|clean }}</h1>
{% if page.lead %}<p class="lead">{{ page.lead|clean }}</p>
{% endif %}{% if page.sections|length > 1 %}<nav id="contents" aria-label="{{ contents }}"><ul>\
{% for other in page.sections %}<li><a href="#{{ other.title|anchor }}"{{ lang(other.language) }}>\
{{ other.title|clean }}</a></li>{% endfor %}</ul></nav>
{% endif %}</header>
<main id="main" tabindex="-1">
{% for s in page.sections %}{{ part(s, 2, "", s.language) }}{% endfor %}
</main>
<footer>
{% for line in page.footer %}<p>{{ line|clean }}</p>
{% endfor %}</footer>
</body>
</html>
"""


def render(page: Page) -> bytes:
    """Return the page's UTF-8 bytes.

    Raises
    ------
    ValueError
        Where two sections of one parent would share an anchor.
    """
    _check_titles(page.sections)
    with speaking(page.language):
        frame = {"skip": say("page skip"), "contents": say("page contents")}
    html = _template().render(
        page=page,
        style=own_markup(style_sheet()),
        mark_style=own_markup(MARK_STYLE),
        data={s.language: _data_words(s.language) for s in page.sections},
        **frame,
    )
    return (html.rstrip("\n") + "\n").encode("utf-8")


def _data_words(language: str) -> str:
    with speaking(language):
        return say("picture data")


def _check_titles(sections: tuple[Section, ...]) -> None:
    seen: set[str] = set()
    for section in sections:
        name = anchor(section.title)
        if name in seen:
            raise ValueError(f"two sections share the anchor {name!r}")
        seen.add(name)
        _check_titles(section.sections)


@cache
def _template() -> "Template":
    return template_of(MACROS + _PAGE, block_filters())


def block_filters() -> dict[str, Any]:
    """What the macros of blocks need beside the shared filters."""
    return {"cells": aligned_cells, "inline": _inline}


def aligned_cells(table: Table) -> list[list[dict[str, Any]]]:
    """Return the cells with the invisible padding that aligns their decimal points.

    Raises
    ------
    ValueError
        For a row with another number of cells than the table has columns.
    """
    for row in table.rows:
        if len(row) != len(table.columns):
            raise ValueError(f"table {table.caption!r}: {len(row)} cells in a row")
    tails = [[_tail(row[j]) for row in table.rows] for j in range(len(table.columns))]
    longest = [max(column, key=len, default="") for column in tails]
    out: list[list[dict[str, Any]]] = []
    for i, row in enumerate(table.rows):
        cells: list[dict[str, Any]] = []
        for j, text in enumerate(row):
            numeric = table.columns[j].numeric
            pad = longest[j][len(tails[j][i]) :] if numeric and text[-1:].isdigit() else ""
            kind = "n" if numeric else "w" if len(text) > _WIDE else ""
            cells.append({"text": text, "kind": kind, "pad": pad})
        out.append(cells)
    return out


def _tail(text: str) -> str:
    """The decimal point and digits that end the text."""
    found = re.search(r"\.\d+$", text)
    return found.group(0) if found else ""


def _inline(picture: Picture) -> Any:
    """The drawings, wide and narrow, with identifiers of their own; unnamed."""
    from wickstats.pages.figures.svg import inline_svg

    key = picture.name.removesuffix(".svg")
    drawn = [inline_svg(picture.svg, key, "wide")]
    if picture.narrow is not None:
        drawn.append(inline_svg(picture.narrow, f"{key}-narrow", "narrow"))
    return own_markup("\n".join(drawn))
