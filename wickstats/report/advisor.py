"""The advisor's part: at most 400 plain words and one picture.

Written in the language spoken. Leans on pages, report.answers, report.facts and core.
"""

from collections.abc import Sequence
from datetime import date
from math import prod

from wickstats.core.language import ENGLISH, day_in_words, spoken
from wickstats.core.numbers import MISSING, fixed
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.words import recorded, say
from wickstats.pages.blocks import Block, Items, Note, Picture, Section, Text
from wickstats.report.answers import answer_line, answered
from wickstats.report.facts import (
    Scene,
    headline,
    listed,
    ordered,
    title_of,
)
from wickstats.report.levels import shown_by
from wickstats.report.named import spoken_pair
from wickstats.report.pilot import pilot_lines

MOST_WORDS = 400
FRAME_WORDS = 8  # the link back to the list of parts, and a mark
MANY_ARMS = 8


def advisor_part(scene: Scene, picture: Picture | None) -> Section:
    """Return the first part of the page.

    The verdicts get the words that the other parts leave, and those of the first response
    go before details and costs; what does not fit stands under its response.
    """
    shown = () if picture is None else (picture,)
    main = _main_words(scene)
    cost = _cost(scene)
    tried, sure, limits, more = parts = _parts(scene, details=True)
    left = _left(parts, shown)
    if left < main + (0 if cost is None else words_of(cost)):
        tried, sure, limits, more = parts = _parts(scene, details=False)
        left = _left(parts, shown)
    costs: tuple[Section, ...] = ()
    if cost is not None and left >= main + words_of(cost):
        costs = (cost,)
        left -= words_of(cost)
    answer = Section(say("advisor answer"), tuple(_answer(scene, shown, left)))
    sections = (tried, answer, sure, *costs, limits, more)
    return Section(say("advisor title"), (), sections, language=spoken())


def _parts(scene: Scene, *, details: bool) -> tuple[Section, Section, Section, Section]:
    """The parts before and after the answer; treatments with or without their details."""
    last: tuple[Block, ...] = (Items(_more(scene)),)
    if spoken() != ENGLISH:
        last = (*last, Text(say("page elsewhere")))
    return (
        Section(say("advisor tried"), (Text(_tried(scene, details=details)),)),
        Section(say("advisor sure"), (Items(_sure(scene)),)),
        Section(say("advisor limits"), (Items(_limits(scene)),)),
        Section(say("advisor more"), last),
    )


def _left(parts: Sequence[Section], shown: tuple[Block, ...]) -> int:
    """The words that are left for answers and costs."""
    frame = Section(say("advisor title"), shown, tuple(parts))
    spare = len(say("answer more").split()) + FRAME_WORDS
    return MOST_WORDS - words_of(frame) - spare


def _main_words(scene: Scene) -> int:
    """The words that the answers of the first response take."""
    for response in ordered(scene):
        kept, _ = answered(response)
        if kept:
            head = say(f"answer {response.role}", name=title_of(response))
            texts = [head, *_lines(scene, response, kept)]
            return sum(len(text.split()) for text in texts)
    return len(say("answer none").split())


def words_of(section: Section) -> int:
    """Count the words of a section's headings, text, captions and links."""
    texts = [section.title]
    for block in section.blocks:
        if isinstance(block, Text | Note):
            texts.append(block.text)
        elif isinstance(block, Items):
            texts.extend(block.items)
        elif isinstance(block, Picture):
            texts += [block.title, block.alternative]
            texts += [say("picture data"), *block.data] if block.data else []
    return sum(len(text.split()) for text in texts) + sum(map(words_of, section.sections))


def _tried(scene: Scene, *, details: bool) -> str:
    trial = scene.results.trial
    parts = [_arms(scene, details=details)]
    if len(trial.factors) == 1 and scene.reference is not None:
        parts.append(say("tried against", reference=scene.reference))
    elif trial.references and len(trial.factors) > 1:
        told = trial.references.items()
        parts += [say("tried factor against", factor=f, reference=name) for f, name in told]
    elif {c.compare for c in trial.comparisons if c.weights is None} == {"all pairs"}:
        parts.append(say("tried all pairs"))
    parts.append(_counted(scene))
    if trial.season_start and trial.season_end:
        key = "tried bench season" if _bench(scene) else "tried season"
        start, end = _day(trial.season_start), _day(trial.season_end)
        parts.append(say(key, start=start, end=end))
    return " ".join(part for part in parts if part)


def _bench(scene: Scene) -> bool:
    return scene.results.trial.place == "bench"


def _arms(scene: Scene, *, details: bool) -> str:
    """What was compared; several factors by their levels, not mix by mix."""
    trial = scene.results.trial
    many = len(scene.arms)
    if len(trial.factors) > 1 and many == prod(map(len, trial.factors.values())):
        mixed = [
            say("tried factor", factor=name, levels=", ".join(levels))
            for name, levels in trial.factors.items()
        ]
        return say("tried mixes", n=many, factors=listed(mixed))
    told = details and many <= MANY_ARMS
    arms = [
        f"{arm} ({trial.details[arm]})" if told and arm in trial.details else arm
        for arm in scene.arms
    ]
    return say("tried one" if many == 1 else "tried arms", n=many, arms=listed(arms))


def _counted(scene: Scene) -> str:
    """How many plants or subjects in how many plots, or plots alone."""
    account = scene.results.accounting
    plots = sum(arm.plots_planned for arm in account.by_treatment)
    if not account.planted:
        key = "count pieces" if _bench(scene) else "count plots"
        return say("tried units", units=say(key, n=plots)) if plots else ""
    subjects = scene.counted == "subjects"
    return say(
        "tried subjects",
        subjects=say("count subjects" if subjects else "count plants", n=account.planted),
        units=say("count units" if subjects else "count plots", n=plots),
    )


def _day(text: str) -> str:
    try:
        return day_in_words(date.fromisoformat(text))
    except ValueError:
        return text


def _cost(scene: Scene) -> Section | None:
    """What a survivor, else a kilogram, cost with each treatment; None where not known."""
    parts = scene.results.cost_parts
    rows = [c for c in scene.results.costs if c.versus is None]
    if parts is None or not rows:
        return None
    per = "survivor" if any(c.per == "survivor" for c in rows) else "kg"
    told = [
        f"{c.treatment} {MISSING if c.estimate is None else _money(c.estimate)}"
        for c in rows
        if c.per == per
    ]
    texts = [say(f"advisor cost {per}", currency=parts.currency, list=listed(told))]
    if not any(arm.work or arm.travel for arm in parts.arms):
        texts.append(say("advisor cost items only"))
    elif not any(arm.items for arm in parts.arms):
        texts.append(say("advisor cost no things"))
    return Section(say("advisor cost"), (Text(" ".join(texts)),))


def _money(amount: float) -> str:
    return fixed(amount, 2 if abs(amount) < 100.0 else 0)


def _answer(scene: Scene, picture: tuple[Block, ...], most: int) -> list[Block]:
    """Answers of the first response, its picture, then the other answers."""
    if scene.pilot and _measured(scene):
        told = [Note(line, "verdict") for line in pilot_lines(scene)]
        return [Text(say("answer pilot only")), *told, *picture]
    if scene.results.layout.drawn == "not at random":
        return [Note(say("answer none"), "verdict"), *picture]
    blocks: list[Block] = []
    after: list[Block] = []
    left_out = False
    for place, response in enumerate(ordered(scene)):
        kept, others = answered(response)
        if not kept:
            continue
        left_out = left_out or others
        lines = _lines(scene, response, kept)
        head = say(f"answer {response.role}", name=title_of(response))
        most -= len(head.split())
        if most < len(lines[0].split()):
            left_out = True
            break
        here = after if place > 0 else blocks
        here.append(Text(head))
        for line in lines:
            most -= len(line.split())
            if most < 0:
                after.append(Text(say("answer more")))
                return [*blocks, *picture, *after]
            here.append(Note(line, "verdict"))
    if not blocks and not after:
        key = "answer none" if _measured(scene) else "answer nothing"
        return [Note(say(key), "verdict"), *picture]
    if left_out:
        after.append(Text(say("answer more")))
    return [*blocks, *picture, *after]


def _lines(scene: Scene, response: ResponseResult, rows: Sequence[Comparison]) -> list[str]:
    """A line a comparison; one for all where none of several has a verdict."""
    if len(rows) > 1 and all(row.verdict is None for row in rows):
        return [say("answer line none at all")]
    return [answer_line(row, response, scene.results.trial.factors) for row in rows]


def _sure(scene: Scene) -> tuple[str, ...]:
    results = scene.results
    by_chance = results.layout.drawn != "not at random"
    level = say("sure level", percent=scene.confidence)
    out = [level if by_chance else say("sure not random")]
    if not _measured(scene):
        out = [say("sure nothing")]
    blocks = {
        u.block for r in results.responses for u in r.unit_summary.values if u.block is not None
    }
    if by_chance and len(blocks) > 1 and not scene.pilot:
        out.append(say("sure runs" if _bench(scene) else "sure blocks", blocks=len(blocks)))
    if any(c.one_sided for c in results.trial.comparisons):
        out.append(say("sure one side"))
    out += _one_fate(scene)
    if not results.trial.planned:
        out.append(say("sure no plan"))
    lost = results.accounting.planted - results.accounting.analyzed
    if lost > 0:
        key = "sure lost subjects" if scene.counted == "subjects" else "sure lost"
        out.append(say(key, n=lost, planted=results.accounting.planted))
    if results.queries:
        out.append(say("sure queries", n=len(results.queries)))
    return tuple(out)


def _measured(scene: Scene) -> bool:
    """Whether any response has a number."""
    return any(
        unit.value is not None
        for response in scene.results.responses
        for unit in response.unit_summary.values
    )


def _one_fate(scene: Scene) -> list[str]:
    """Where all lived, or all died, what may be so in more plots like these.

    Of a treatment with plants that nobody found it is said of those that were seen.
    """
    first = next((r for r in ordered(scene) if r.kind == "survival"), None)
    arms: dict[tuple[str, str], list[str]] = {}
    shown = None if first is None else shown_by(first, scene.arms, scene.looks)
    for row in () if shown is None else shown.means:
        end = row.low if row.bound == "lower" else row.high
        if row.bound is not None and row.estimand == "share alive" and end is not None:
            seen = "seen " if row.n_unseen else ""
            fate = f"{seen}lived" if row.bound == "lower" else f"{seen}died"
            arms.setdefault((fate, fixed(100.0 * end, 0)), []).append(row.treatment)
    return [
        say(f"sure all {fate} {scene.counted}", arms=listed(names), n=n)
        for (fate, n), names in arms.items()
    ]


def _limits(scene: Scene) -> tuple[str, ...]:
    results = scene.results
    out = [say("limits bench" if _bench(scene) else "limits one")]
    if "soil" in results.trial.site:
        out.append(say("limits site", soil=results.trial.site["soil"]))
    if any(r.kind == "growth" for r in results.responses):
        out.append(say("limits survivors"))
    if results.layout.drawn == "not at random":
        out.append(say("limits not random"))
    return tuple(out)


def _more(scene: Scene) -> tuple[str, ...]:
    """Blocks for what could not be told, where its own sentence does not say them."""
    if scene.pilot:
        return (say("more pilot"),)
    open_ones = {
        (r.name, c.name): c
        for r in scene.results.responses
        for c in headline(r)
        if c.verdict == "cannot tell"
    }
    out: list[str] = []
    for row in scene.results.power.next_season:
        found = open_ones.get((row.response, row.comparison))
        if row.blocks is None or found is None:
            continue
        if recorded("blocks") not in (found.sentence or ""):
            name = spoken_pair(row.comparison, found.treatment, found.versus)
            blocks = fixed(row.blocks, 0)
            out.append(
                say("more blocks", comparison=name, response=row.response, blocks=blocks)
            )
    if open_ones and not out:
        bounded = all(row.rule == "bound" for row in open_ones.values())
        below = "more runs below" if _bench(scene) else "more blocks below"
        out.append(say("more of one fate" if bounded else below))
    return (*out[:2], say("more bench" if _bench(scene) else "more seasons"))
