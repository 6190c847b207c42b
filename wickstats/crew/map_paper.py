"""The map and its list of plots. Leans on pages."""

from dataclasses import replace

from wickstats.core.words import say
from wickstats.crew.common import Set, text_of
from wickstats.layout.plots import Plot
from wickstats.pages.blocks import Column, Table, Text
from wickstats.pages.figures.field_map import FieldMap, MapPlot, is_tall, map_svg, names_fit
from wickstats.pages.print_blocks import Drawing, Paper, Part, PrintBlock


def field_map(papers: Set) -> FieldMap:
    """What the map shows: treatments, or their letters, unless they are hidden."""
    bare = _bare_map(papers)
    if papers.blind:
        return bare
    letters = _letters(papers)
    gets = [spot.plot.treatment for spot in papers.ground.walk]
    return replace(
        bare,
        plots=tuple(
            replace(plot, gets=letters.get(name, name))
            for plot, name in zip(bare.plots, gets, strict=True)
        ),
    )


def _bare_map(papers: Set) -> FieldMap:
    """The map without treatments; whole plots, treated alike, are hidden with them."""
    size = papers.trial.design.field
    plots = tuple(
        MapPlot(
            spot.part,
            spot.row,
            spot.column,
            spot.plot.plot,
            "",
            spot.plot.block or spot.plot.run,
            spot.step,
            None if papers.blind else spot.plot.whole_plot,
        )
        for spot in papers.ground.walk
    )
    return FieldMap(
        plots=plots,
        parts=papers.ground.parts,
        width_m=size.plot_width_m if papers.ground.known else None,
        length_m=size.plot_length_m if papers.ground.known else None,
        top_bearing=size.top_bearing_deg,
        downhill_bearing=size.downhill_bearing_deg,
        guards=bool(papers.trial.design.guard_plants),
        block_word="paper in run" if papers.bench else "paper in block",
        numbered=papers.ground.known,
        outdoors=not papers.bench,
    )


def map_picture(papers: Set) -> bytes:
    """The map as SVG."""
    return map_svg(field_map(papers))


def map_paper(papers: Set) -> Paper:
    """The map, what it says in words, and every plot in walking order."""
    walk = papers.ground.walk
    rows, columns = {s.row for s in walk}, {s.column for s in walk}
    many = len(papers.ground.parts)
    alternative = say(
        "paper map alternative",
        plots=say("count bench pieces" if papers.bench else "count plots", n=len(walk)),
        rows=say("count map rows", n=len(rows)),
        columns=say("count map columns", n=len(columns)),
        panels=say("paper map panels", n=many) if many > 1 else "",
        first=walk[0].plot.plot,
        last=walk[-1].plot.plot,
    )
    name = "paper bench map" if papers.bench else "paper map"
    parts = [Part(say(name), (Drawing(map_picture(papers), alternative),))]
    letters = _letters(papers)
    more: tuple[PrintBlock, ...] = tuple(Text(line) for line in _notes(papers))
    if letters and not papers.blind:
        heads = (Column(say("paper letter")), Column(say("paper treatment")))
        key = Table(say("paper map letters"), heads, tuple((v, k) for k, v in letters.items()))
        more = (*more, key)
    listed = Part(say("paper plot list"), (*more, _list(papers)), new_page=True)
    lead = (say("paper walk"), *((say("paper blind"),) if papers.blind else ()))
    return Paper(
        papers.title(name),
        (*parts, listed),
        lead=lead,
        footer=papers.footer,
        landscape=not is_tall(field_map(papers)),
        banners=papers.banners,
    )


def _letters(papers: Set) -> dict[str, str]:
    """Treatment -> letter, where names do not fit into the plots or print too small."""
    names = list(dict.fromkeys(p.treatment for p in papers.layout.plots))
    if names_fit(names, _bare_map(papers)):
        return {}
    return {name: _letter(k) for k, name in enumerate(sorted(names))}


def _letter(k: int) -> str:
    return chr(65 + k) if k < 26 else f"{chr(64 + k // 26)}{chr(65 + k % 26)}"


def _notes(papers: Set) -> list[str]:
    design = papers.trial.design
    out = []
    if not papers.ground.known:
        order = "paper map by names" if papers.blind else "paper map by table"
        out.append(say("paper map no places", order=say(order)))
    if len(papers.ground.parts) > 1:
        out.append(say("paper map apart"))
    if design.guard_plants:
        out.append(say("paper guards", n=design.guard_plants))
    if design.field.blocks_run:
        out.append(say("paper blocks run", how=design.field.blocks_run))
    if design.blocked_by:
        out.append(say("paper blocked by", what=design.blocked_by))
    if design.field.plot_width_m and design.field.plot_length_m and papers.ground.known:
        out.append(say("paper scale note"))
    return out


def _list(papers: Set) -> Table:
    plots = papers.layout.plots
    wanted = [("paper step", "")]
    wanted.append(("paper piece" if papers.bench else "paper plot", "plot"))
    for key, name in (
        ("paper block", "block"),
        ("paper run", "run"),
        ("paper whole plot", "whole_plot"),
        ("paper row", "row"),
        ("paper column", "column"),
        ("paper plants n", "plants"),
        ("paper reservoir", "reservoir"),
    ):
        # a shared reservoir, or a whole plot, would tell which plots are treated alike
        hidden = papers.blind and name in ("reservoir", "whole_plot")
        hidden |= papers.bench and name == "whole_plot"
        hidden |= name == "block" and all(p.block == p.run for p in plots)
        placed = papers.ground.known or name not in ("row", "column")
        if any(getattr(p, name) is not None for p in plots) and not hidden and placed:
            wanted.append((key, name))
    if not papers.blind:
        wanted.append(("paper treatment", "treatment"))

    def cells(step: int, plot: Plot) -> tuple[str, ...]:
        return (str(step), *(text_of(getattr(plot, name)) for _, name in wanted[1:]))

    return Table(
        say("paper plot list"),
        tuple(Column(say(key)) for key, _ in wanted),
        tuple(cells(s.step, s.plot) for s in papers.ground.walk),
    )
