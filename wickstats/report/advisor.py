"""The advisor's part: at most 400 plain words and one picture.

Leans on pages, report.facts and core.
"""

import re

from wickstats.core.numbers import fixed
from wickstats.core.responses import ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Items, Note, Picture, Section, Text
from wickstats.report.facts import Scene, capital, headline, listed

MOST_WORDS = 400
LONG_SENTENCE = 32


def advisor_part(scene: Scene, picture: Picture | None) -> Section:
    """Return the first part of the page.

    The verdicts get the words that the other parts leave; what does not fit stands
    under its response.
    """
    parts = (
        (say("advisor tried"), _tried(scene)),
        (say("advisor sure"), (Items(_sure(scene)),)),
        (say("advisor limits"), (Items(_limits(scene)),)),
        (say("advisor more"), (Items(_more(scene)),)),
    )
    sections = [Section(title, blocks) for title, blocks in parts]
    shown = () if picture is None else (picture,)
    frame = Section(say("advisor title"), shown, tuple(sections))
    left = MOST_WORDS - words_of(frame) - len(say("answer more").split()) - 10
    sections.insert(1, Section(say("advisor answer"), tuple(_answer(scene, shown, left))))
    return Section(say("advisor title"), (), tuple(sections))


def words_of(section: Section) -> int:
    """Count the words of a section's headings, text and captions."""
    texts = [section.title]
    for block in section.blocks:
        if isinstance(block, Text | Note):
            texts.append(block.text)
        elif isinstance(block, Items):
            texts.extend(block.items)
        elif isinstance(block, Picture):
            texts += [block.title, block.alternative]
    return sum(len(text.split()) for text in texts) + sum(map(words_of, section.sections))


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
        key = "tried subjects" if scene.counted == "subjects" else "tried units"
        parts.append(say(key, plants=plants, units=plots))
    elif plots:
        parts.append(say("tried units plain", units=plots))
    if trial.season_start and trial.season_end:
        parts.append(say("tried season", start=trial.season_start, end=trial.season_end))
    return (Text(" ".join(parts)),)


def ordered(scene: Scene) -> list[ResponseResult]:
    """Responses: primary, secondary, exploratory."""
    rank = {"primary": 0, "secondary": 1}
    return sorted(scene.results.responses, key=lambda r: rank.get(r.role, 2))


def shortened(sentence: str) -> str:
    """Keep the first sentence of a long text: the verdict with its numbers."""
    if len(sentence.split()) <= LONG_SENTENCE:
        return sentence
    return re.split(r"(?<=[.!?])\s+(?=[A-Z])", sentence, maxsplit=1)[0]


def _answer(scene: Scene, picture: tuple[Block, ...], most: int) -> list[Block]:
    """Verdicts of the first response, its picture, then the other verdicts."""
    if scene.results.layout.drawn == "not at random":
        return [Note(say("answer none"), "verdict"), *picture]
    sentences = [
        (shortened(capital(c.sentence)), i)
        for i, r in enumerate(ordered(scene))
        for c in headline(r)
        if c.sentence is not None
    ]
    if not sentences:
        return [Note(say("answer none"), "verdict"), *picture]
    blocks: list[Block] = []
    after: list[Block] = []
    for sentence, place in sentences:
        most -= len(sentence.split())
        if most < 0:
            after.append(Text(say("answer more")))
            break
        (after if place > 0 else blocks).append(Note(sentence, "verdict"))
    return [*blocks, *picture, *after]


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
        key = "sure lost subjects" if scene.counted == "subjects" else "sure lost"
        out.append(say(key, n=lost, planted=results.accounting.planted))
    if results.queries:
        many = len(results.queries)
        out.append(say("sure query") if many == 1 else say("sure queries", n=many))
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
    """Blocks for what could not be told, where its own sentence does not say them."""
    open_ones = {
        (r.name, c.name): c.sentence or ""
        for r in scene.results.responses
        for c in headline(r)
        if c.verdict == "cannot tell"
    }
    out: list[str] = []
    for row in scene.results.power.next_season:
        sentence = open_ones.get((row.response, row.comparison))
        if row.blocks is not None and sentence is not None and "blocks" not in sentence:
            blocks = fixed(row.blocks, 0)
            out.append(
                say(
                    "more blocks",
                    comparison=row.comparison,
                    response=row.response,
                    blocks=blocks,
                )
            )
    if open_ones and not out:
        out.append(say("more blocks below"))
    return (*out[:2], say("more seasons"))
