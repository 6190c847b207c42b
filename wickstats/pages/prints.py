"""Papers to print from their blocks: one self-contained HTML page, black on white.

No script, nothing from elsewhere. Every piece of text is cleaned and escaped here. Leans on
jinja2, pages.print_blocks and pages.symbols.
"""

from functools import cache
from typing import TYPE_CHECKING, Any

from wickstats.core.words import say
from wickstats.pages.print_blocks import Drawing, Labels, Paper
from wickstats.pages.print_style import print_style
from wickstats.pages.symbols import symbol_svg
from wickstats.pages.templates import own_markup, template_of

if TYPE_CHECKING:
    from jinja2 import Template

_TEMPLATE = """\
{%- macro form(f) -%}
<div class="scroll" role="region" tabindex="0" aria-label="{{ f.caption|clean }}">
<table class="form"><caption>{{ f.caption|clean }}</caption>
<thead>{% if f.running %}<tr class="running"><td colspan="{{ f.columns|length }}">\
{% for r in f.running %}<span>{{ r|clean }}{% if not loop.first %}\
<span class="line"></span>{% endif %}</span>{% endfor %}</td></tr>{% endif %}
<tr>{% for c in f.columns %}<th scope="col"{% if c.width_mm %} \
style="width:{{ c.width_mm }}mm"{% endif %}>\
{{ c.head|clean|replace("_", "_\N{ZERO WIDTH SPACE}") }}{% if c.under %}<small>\
{{ c.under|clean }}</small>{% endif %}</th>{% endfor %}</tr></thead>
{% for g in f.groups %}<tbody>
{% if g.title %}<tr class="group"><th scope="rowgroup" colspan="{{ f.columns|length }}">\
{{ g.title|clean }}</th></tr>
{% endif %}{% for row in g.rows %}<tr>{% for cell in row %}{% set c = f.columns[loop.index0] %}\
<td{% if cell %} class="told"{% endif %}>{% if cell %}{{ cell|clean }}{% else %}\
{% for t in c.ticks %}<span class="tick"><span class="box" aria-hidden="true"></span>\
{{ t|clean }}</span>{% endfor %}{% endif %}</td>{% endfor %}</tr>
{% endfor %}</tbody>
{% endfor %}</table></div>
{%- endmacro -%}
{%- macro table(t) -%}
<div class="scroll" role="region" tabindex="0" aria-label="{{ t.caption|clean }}">
<table><caption>{{ t.caption|clean }}</caption>
<thead><tr>{% for c in t.columns %}<th scope="col">{{ c.head|clean }}</th>{% endfor %}</tr>\
</thead>
<tbody>{% for row in t.rows %}<tr>{% for cell in row %}{% if loop.first %}<th scope="row">\
{{ cell|clean }}</th>{% else %}<td>{{ cell|clean }}</td>{% endif %}{% endfor %}</tr>
{% endfor %}</tbody></table></div>
{% if t.note %}<p>{{ t.note|clean }}</p>
{% endif %}
{%- endmacro -%}
{%- macro block(b) -%}
{% set kind = b|kind %}
{%- if kind == "Text" %}<p>{% if b.strong %}<strong>{{ b.text|clean }}</strong>{% else %}\
{{ b.text|clean }}{% endif %}</p>
{% elif kind == "Items" %}<ul>{% for item in b.items %}<li>{{ item|clean }}</li>\
{% endfor %}</ul>
{% elif kind == "Pairs" %}<dl>{% for term, text in b.pairs %}<dt>{{ term|clean }}</dt>\
<dd>{{ text|clean }}</dd>{% endfor %}</dl>
{% elif kind == "Note" %}<p class="note">{{ b.text|clean }}</p>
{% elif kind == "Table" %}{{ table(b) }}
{% elif kind == "Code" %}<pre tabindex="0" role="region" \
aria-label="{{ lines_name }}">{{ b.text|clean }}</pre>
{% elif kind == "Blank" %}<p class="blank">{% for n in b.names %}<span>{{ n|clean }}\
<span class="line"></span></span>{% endfor %}</p>
{% elif kind == "Checks" %}<ul class="checks">{% for s in b.steps %}<li>\
<span class="box" aria-hidden="true"></span>{{ s|clean }}</li>{% endfor %}</ul>
{% for c in b.cautions %}<p class="note">{{ c|clean }}</p>
{% endfor %}
{% elif kind == "Form" %}{{ form(b) }}
{% elif kind == "Drawing" %}<div class="drawing" role="img" \
aria-label="{{ b.alternative|clean }}">{{ b|inline }}</div>
{% elif kind == "Labels" %}{% for sheet in b|sheets %}<div class="labels" \
style="grid-template-columns:repeat({{ b.across }},{{ b.width_mm }}mm)">
{% for l in sheet %}<div class="label" style="height:{{ b.height_mm }}mm">{{ l.holds|symbol }}\
<div class="words"><p class="code">{{ l.code|clean }}</p>{% for t in l.lines %}<p>\
{{ t|clean }}</p>{% endfor %}</div></div>
{% endfor %}</div>
{% endfor %}
{% endif %}
{%- endmacro -%}
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; \
style-src 'unsafe-inline'; img-src data:">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="wickstats">
<title>{{ paper.title|clean }}</title>
<style>{{ style }}</style>
</head>
<body>
<header>
{% for b in paper.banners %}<p class="banner">{{ b|clean }}</p>
{% endfor %}<h1>{{ paper.title|clean }}</h1>
{% for line in paper.lead %}<p>{{ line|clean }}</p>
{% endfor %}</header>
<main>
{% for part in paper.parts %}<section{% if part.new_page %} class="page"{% endif %}>
<h2 id="{{ part.title|anchor }}">{{ part.title|clean }}</h2>
{% for b in part.blocks %}{{ block(b) }}{% endfor %}
</section>
{% endfor %}</main>
<footer>
{% for line in paper.footer %}<p>{{ line|clean }}</p>
{% endfor %}<p>{{ closing }}</p>
</footer>
</body>
</html>
"""


def render_paper(paper: Paper) -> bytes:
    """Return the paper's UTF-8 bytes."""
    html = _template().render(
        paper=paper,
        style=own_markup(print_style(landscape=paper.landscape)),
        closing=say("caution defer"),
        lines_name=say("paper lines"),
    )
    lines = (line.rstrip() for line in html.split("\n"))
    return ("\n".join(line for line in lines if line) + "\n").encode("utf-8")


@cache
def _template() -> "Template":
    return template_of(
        _TEMPLATE,
        {
            "inline": _inline,
            "symbol": lambda text: own_markup(symbol_svg(text)),
            "sheets": _sheets,
        },
    )


def _inline(drawing: Drawing) -> Any:
    text = drawing.svg.decode("utf-8")
    return own_markup(text.replace("<svg ", '<svg aria-hidden="true" ', 1))


def _sheets(labels: Labels) -> list[tuple[Any, ...]]:
    size = labels.across * labels.down
    return [labels.labels[i : i + size] for i in range(0, len(labels.labels), size)]
