"""The advisor's part: at most 400 plain words and one picture.

Leans on pages, report.facts and core.
"""

import re

from wickstats.core.numbers import MISSING, fixed, number, with_interval
from wickstats.core.responses import Comparison, Number, ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Items, Note, Picture, Section, Text
from wickstats.report.effects import adjusted
from wickstats.report.facts import Scene, capital, headline, listed, of_plants, title_of

MOST_WORDS = 400
LONG_SENTENCE = 32
ROOM_FOR_ANSWERS = 120  # words; the answers come first


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
    cost = _cost(scene)
    room = left - len(cost.split())
    if cost and room > ROOM_FOR_ANSWERS:
        tried = sections[0]
        sections[0] = Section(tried.title, (*tried.blocks, Text(cost)))
        left = room
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


def _cost(scene: Scene) -> str:
    """What a survivor, else a kilogram, cost with each treatment; "" where not known."""
    parts = scene.results.cost_parts
    rows = [c for c in scene.results.costs if c.versus is None]
    if parts is None or not rows:
        return ""
    per = "survivor" if any(c.per == "survivor" for c in rows) else "kg"
    told = [
        f"{c.treatment} {MISSING if c.estimate is None else number(c.estimate)}"
        for c in rows
        if c.per == per
    ]
    return say(
        "costs advisor", per=say(f"costs per {per}"), currency=parts.currency, list=listed(told)
    )


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
    """Answers of the first response, its picture, then the other answers."""
    if scene.results.layout.drawn == "not at random":
        return [Note(say("answer none"), "verdict"), *picture]
    blocks: list[Block] = []
    after: list[Block] = []
    left_out = False
    for place, response in enumerate(ordered(scene)):
        lines = [(c, answer_line(c, response)) for c in headline(response)]
        told = [(c, line) for c, line in lines if line]
        kept = [(c, line) for c, line in told if not c.unplanned] or told
        if not kept:
            continue
        left_out = left_out or len(kept) < len(told)
        head = say(f"answer {response.role}", name=title_of(response))
        room = most - len(head.split()) - len(kept[0][1].split())
        if room < 0:
            left_out = True
            break
        here = after if place > 0 else blocks
        here.append(Text(head))
        most -= len(head.split())
        for _, line in kept:
            most -= len(line.split())
            if most < 0:
                after.append(Text(say("answer more")))
                return [*blocks, *picture, *after]
            here.append(Note(line, "verdict"))
    if not blocks and not after:
        return [Note(say("answer none"), "verdict"), *picture]
    if left_out:
        after.append(Text(say("answer more")))
    return [*blocks, *picture, *after]


def answer_line(row: Comparison, response: ResponseResult) -> str:
    """One short line: the verdict with its number and range; "" where nothing was said."""
    if row.sentence is None:
        return ""
    names = {
        "treatment": capital(row.treatment),
        "versus": row.versus if row.within is None else f"{row.versus} ({row.within})",
    }
    if row.verdict is None:
        return say("answer line none", **names)
    if _all_or_none(row, response):
        return shortened(capital(row.sentence))  # the range is that of the bound
    low, high = adjusted(row)
    effect = _effect(row, response, low, high)
    return say(f"answer line {row.verdict}", effect=effect, **names)


def _all_or_none(row: Comparison, response: ResponseResult) -> bool:
    """Whether every plant of a side lived or died."""
    return any(
        m.bound is not None
        and m.treatment in (row.treatment, row.versus)
        and (m.term, m.within, m.estimand, m.at) == (row.term, row.within, row.estimand, row.at)
        for m in response.means
    )


def _effect(row: Comparison, response: ResponseResult, low: Number, high: Number) -> str:
    """The effect with its range, in the units people use."""
    if row.bound is not None and (low is None or high is None):
        limit = high if high is not None else low
        return say("answer at most" if high is not None else "answer at least", n=number(limit))
    if row.measure == "ratio":
        value, between = with_interval(row.estimate, low, high)
        return say("answer ratio", value=value, between=between)
    if row.estimand.startswith("share "):
        many = "plants" if of_plants(response) else "subjects"
        told = [_of_hundred(value) for value in (row.estimate, low, high)]
        key = "answer share" if row.estimand == "share alive" else "answer share spared"
        return say(key, value=told[0], low=told[1], high=told[2], many=many)
    unit = "" if response.measured_in == "1" else f" {response.measured_in.strip('{}')}"
    key, ends = "answer difference", (row.estimate, low, high)
    if row.estimate is not None and row.estimate < 0.0:
        key = "answer difference less"
        ends = (-row.estimate, _turned(high), _turned(low))
    value, between = with_interval(*ends)
    return say(key, value=value, between=between, unit=unit)


def _turned(value: Number) -> Number:
    return None if value is None else -value


def _of_hundred(share: Number) -> str:
    if share is None:
        return "?"
    count = round(100.0 * abs(share))
    if count == 0:
        return "0"
    return say("n more" if share > 0 else "n fewer", n=count)


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
