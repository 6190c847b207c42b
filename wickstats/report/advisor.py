"""The advisor's part: at most 400 plain words and one picture.

Leans on pages, report.facts and core.
"""

from wickstats.core.numbers import fixed
from wickstats.core.responses import ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Items, Note, Picture, Section, Text
from wickstats.report.facts import Scene, headline, listed

MOST_WORDS = 400
ANSWER_WORDS = 180  # for verdict sentences; what does not fit stands under its response


def advisor_part(scene: Scene, picture: Picture | None) -> Section:
    """Return the first part of the page."""
    answer = _answer(scene, picture)
    return Section(
        say("advisor title"),
        (),
        (
            Section(say("advisor tried"), _tried(scene)),
            Section(say("advisor answer"), tuple(answer)),
            Section(say("advisor sure"), (Items(_sure(scene)),)),
            Section(say("advisor limits"), (Items(_limits(scene)),)),
            Section(say("advisor more"), (Items(_more(scene)),)),
        ),
    )


def _tried(scene: Scene) -> tuple[Block, ...]:
    trial = scene.results.trial
    arms = [
        f"{arm} ({trial.details[arm]})" if arm in trial.details else arm
        for arm in scene.arms[:8]
    ]
    parts = [say("tried arms", n=len(scene.arms), arms=listed(arms))]
    if scene.reference is not None:
        parts.append(say("tried against", reference=scene.reference))
    plots = sum(arm.plots_planned for arm in scene.results.accounting.by_treatment)
    if scene.results.accounting.planted:
        plants = scene.results.accounting.planted
        parts.append(say("tried units", plants=plants, units=plots))
    elif plots:
        parts.append(say("tried units plain", units=plots))
    if trial.season_start and trial.season_end:
        parts.append(say("tried season", start=trial.season_start, end=trial.season_end))
    return (Text(" ".join(parts)),)


def ordered(scene: Scene) -> list[ResponseResult]:
    """Responses: primary, secondary, exploratory."""
    rank = {"primary": 0, "secondary": 1}
    return sorted(scene.results.responses, key=lambda r: rank.get(r.role, 2))


def _answer(scene: Scene, picture: Picture | None) -> list[Block]:
    """Verdicts of the first response, its picture, then the other verdicts."""
    shown: list[Block] = [] if picture is None else [picture]
    if scene.results.layout.drawn == "not at random":
        return [Note(say("answer none"), "verdict"), *shown]
    sentences = [
        (c.sentence, i)
        for i, r in enumerate(ordered(scene))
        for c in headline(r)
        if c.sentence is not None
    ]
    blocks: list[Block] = []
    words = 0
    for sentence, place in sentences:
        if place > 0 and blocks:
            blocks += shown
            shown = []
        words += len(sentence.split())
        if words > ANSWER_WORDS and blocks:
            blocks.append(Text(say("answer more")))
            break
        blocks.append(Note(sentence, "verdict"))
    return [*(blocks or [Note(say("answer none"), "verdict")]), *shown]


def _sure(scene: Scene) -> tuple[str, ...]:
    results = scene.results
    out = [say("sure level", percent=scene.confidence)]
    blocks = {
        u.block for r in results.responses for u in r.unit_summary.values if u.block is not None
    }
    if len(blocks) > 1:
        out.append(say("sure blocks", blocks=len(blocks)))
    if not results.trial.planned:
        out.append(say("sure no plan"))
    lost = results.accounting.planted - results.accounting.analyzed
    if lost > 0:
        out.append(say("sure lost", n=lost, planted=results.accounting.planted))
    if results.queries:
        out.append(say("sure queries", n=len(results.queries)))
    return tuple(out)


def _limits(scene: Scene) -> tuple[str, ...]:
    results = scene.results
    out = [say("limits one")]
    if "soil" in results.trial.site:
        out.append(say("limits site", soil=results.trial.site["soil"]))
    if any(r.kind == "growth" for r in results.responses):
        out.append(say("limits survivors"))
    if results.layout.drawn == "not at random":
        out.append(say("limits not random"))
    return tuple(out)


def _more(scene: Scene) -> tuple[str, ...]:
    out: list[str] = []
    for row in scene.results.power.next_season:
        if row.blocks is not None and len(out) < 2:
            out.append(
                say(
                    "more blocks",
                    comparison=row.comparison,
                    response=row.response,
                    blocks=fixed(row.blocks, 0),
                )
            )
    out.append(say("more seasons"))
    return tuple(out)
