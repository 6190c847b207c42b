"""What the trial could detect: before the season, this season, the next; sentence first.

One row a comparison; how it was reckoned is told once under the table. Leans on pages,
report.facts, sizing and core.
"""

from collections.abc import Callable, Sequence

from wickstats.core.numbers import MISSING, fixed, number, percent, places_for
from wickstats.core.results import PowerPoint, PowerRow, Results
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Folded, Picture, Section, Table, Text
from wickstats.pages.figures.power import power_curve
from wickstats.report.drawn import both
from wickstats.report.facts import capital, heads
from wickstats.sizing.plan import DETECTABLE, NEEDED, NEEDED_MATTERS, POWER

REPLICATES = ("completely randomized", "incomplete block", "Latin square", "row-column")
ROLES = (POWER, DETECTABLE, NEEDED, NEEDED_MATTERS)


def power_part(results: Results) -> Section:
    """Return power before, precision reached, and what the next season needs."""
    power = results.power
    counted = results.layout.type in REPLICATES
    following = "power next replicates" if counted else "power next"
    blocks = [
        *_planned(power.planned),
        *_after("power reached", "power reached told", power.reached, lambda r: r.difference),
        *_beside(power.planned, power.reached),
        *_curve(results, word="replicates" if counted else "blocks"),
        *_after(following, f"{following} told", power.next_season, lambda r: r.blocks),
    ]
    if not blocks:
        blocks.append(Text(say("power none")))
    blocks.append(Text(say("power after")))
    return Section(say("power title"), tuple(blocks))


def _planned(rows: Sequence[PowerRow]) -> list[Block]:
    """One row a comparison where every row says what it is, else one row each."""
    if not rows:
        return []
    groups: dict[tuple[str, str], dict[str, PowerRow]] = {}
    for row in rows:
        group = groups.setdefault((row.response, row.comparison), {})
        role = next((role for role in ROLES if row.note.startswith(role)), None)
        if role is None or role in group:
            return [_long_table(say("power planned"), rows)]
        group[role] = row
    chances = [r for g in groups.values() if (r := g.get(POWER)) and r.power is not None]
    told: list[Block] = []
    if chances:
        low = min(r.power or 0.0 for r in chances)
        high = max(r.power or 0.0 for r in chances)
        count = next((fixed(r.blocks, 0) for r in chances if r.blocks is not None), MISSING)
        between = percent(low) if percent(low) == percent(high) else _span(low, high)
        told.append(Text(say("power planned told", blocks=count, chance=between)))
    cells = tuple(
        (response, comparison, *_planned_cells(group))
        for (response, comparison), group in groups.items()
    )
    table = Table(
        say("power planned"),
        heads(
            "response",
            "comparison",
            "assumed difference",
            "chance",
            "detectable",
            "blocks assumed",
            "difference matters",
            "blocks matters",
            numeric=range(2, 8),
        ),
        cells,
        " ".join([*_reckoned(rows), *_reasons(rows)]) or None,
    )
    return [*told, table]


def _span(low: float, high: float) -> str:
    return f"{percent(low)} to {percent(high)}"


def _planned_cells(group: dict[str, PowerRow]) -> tuple[str, ...]:
    assumed, smallest, needed, matters = (group.get(role) for role in ROLES)
    return (
        _size(assumed),
        percent(assumed.power) if assumed else MISSING,
        _size(smallest),
        _blocks(needed),
        _size(matters),
        _blocks(matters),
    )


def _size(row: PowerRow | None) -> str:
    if row is None or row.difference is None:
        return MISSING
    return fixed(row.difference, places_for(None, None, row.difference))


def _blocks(row: PowerRow | None) -> str:
    return fixed(row.blocks, 0) if row is not None and row.blocks is not None else MISSING


def _reckoned(rows: Sequence[PowerRow]) -> list[str]:
    """How each response was reckoned: what the notes say after their roles."""
    told: dict[str, list[str]] = {}
    for row in rows:
        role = next(role for role in ROLES if row.note.startswith(role))
        words = row.note.removeprefix(role).removeprefix("; ")
        if words and words not in told.setdefault(row.response, []):
            told[row.response].append(words)
    return [f"{capital(name)}: {'; '.join(words)}." for name, words in told.items() if words]


def _after(
    caption: str,
    sentence: str,
    rows: Sequence[PowerRow],
    measure: Callable[[PowerRow], float | None],
) -> list[Block]:
    """Each response's first quantity in the open, its other dates and quantities folded."""
    if not rows:
        return []
    first: dict[str, str] = {}
    for row in rows:
        first.setdefault(row.response, _quantity(row))
    main = [row for row in rows if _quantity(row) == first[row.response]]
    other = [row for row in rows if _quantity(row) != first[row.response]]
    blocks: list[Block] = []
    for name, quantity in first.items():
        known = [
            (size, row)
            for row in main
            if row.response == name and (size := measure(row)) is not None
        ]
        if known:
            low, high = min(v for v, _ in known), max(v for v, _ in known)
            spread = _spread(low, high, known[0][1], quantity, count=caption != "power reached")
            what = f"{name}, {quantity}" if quantity else name
            kind = say(f"power {known[0][1].measure}")
            chance = percent(known[0][1].power)
            words = say(sentence, what=what, sizes=spread, kind=kind, power=chance)
            blocks.append(Text(capital(words)))
    word = "replicates next" if caption == "power next replicates" else "blocks"
    blocks.append(_long_table(say(caption), main, word))
    if other:
        table = _long_table(say("power other", caption=say(caption)), other, word)
        blocks.append(Folded(say("power other told", n=len(other)), (table,)))
    return blocks


def _beside(planned: Sequence[PowerRow], reached: Sequence[PowerRow]) -> list[Block]:
    """The smallest difference that was planned to show beside the one that would show now."""
    rows = []
    finer = known = 0
    for plan in planned:
        if not plan.note.startswith(DETECTABLE) or plan.difference is None:
            continue
        now = _now(plan, reached)
        if now is None:
            continue
        known += now.difference is not None
        finer += now.difference is not None and now.difference < plan.difference
        rows.append((plan.response, plan.comparison, _size(plan), _size(now)))
    if not known:
        return []
    columns = heads(
        "response",
        "comparison",
        "planned detectable",
        "reached detectable",
        numeric=range(2, 4),
    )
    told = {0: "power beside none", known: "power beside all"}.get(finer, "power beside told")
    words = Text(say(told, finer=finer, all=known))
    return [words, Table(say("power beside"), columns, tuple(rows), None)]


def _curve(results: Results, *, word: str) -> list[Block]:
    """Chance to show what matters by size: as planned, and as this season's units scatter."""
    points = results.power.curve
    reached = [p for p in points if p.kind == "reached"]
    if not reached:
        return []
    target = next((r.power for r in results.power.next_season if r.power), 0.8)
    now = next(p for p in reached if p.now)
    plan = next((p for p in points if p.kind == "planned" and p.now), None)
    told = say(
        "curve told reached",
        comparison=now.comparison,
        response=now.response,
        difference=_true_size(now, results),
        n=now.blocks,
        word=word,
        chance=percent(now.power),
        low=percent(now.low),
        high=percent(now.high),
    )
    if plan is not None:
        told += " " + say("curve told planned", chance=percent(plan.power))
    title = say("curve title", word=word)
    wide, narrow = both(power_curve, points, word=word, target=target, here=now.blocks)
    data = ("power-curve.csv",)
    return [Picture("power-curve.svg", wide, title, capital(told), narrow, data)]


def _true_size(point: PowerPoint, results: Results) -> str:
    """What matters, in words: plants of 100, a ratio, or a plain number."""
    kind = say(f"power {point.measure}")
    if results.response(point.response).kind == "survival" and point.difference is not None:
        return f"{kind} of " + say("power of 100", sizes=fixed(100.0 * point.difference, 0))
    return f"{kind} of {number(point.difference)}"


def _now(plan: PowerRow, reached: Sequence[PowerRow]) -> PowerRow | None:
    """The reached row of the same comparison; of several that of the verdict."""
    name = plan.comparison
    if name.endswith(")") and " (" in name:  # within a level: told with a comma there
        name = ", ".join(name[:-1].rsplit(" (", 1))
    same = [
        row
        for row in reached
        if row.response == plan.response
        and row.comparison in (plan.comparison, name)
        and row.measure == plan.measure
    ]
    return next(iter(same), None)  # the quantity and date of the verdict come first


def _spread(low: float, high: float, row: PowerRow, quantity: str, *, count: bool) -> str:
    """From the smallest to the largest; shares of 100, blocks as whole numbers."""
    share = not count and quantity.startswith("share ") and row.measure == "difference"
    if share:
        low, high = 100.0 * low, 100.0 * high
    ends = [fixed(v, 0) if count or share else number(v) for v in (low, high)]
    words = ends[0] if ends[0] == ends[1] else " to ".join(ends)
    return say("power of 100", sizes=words) if share else words


def _quantity(row: PowerRow) -> str:
    """What the note names before its last part: the quantity and its date."""
    return ", ".join(part for part in row.note.split("; ")[:2]) if "; " in row.note else ""


def _reasons(rows: Sequence[PowerRow]) -> list[str]:
    told: dict[str, list[str]] = {}
    for row in rows:
        if row.not_estimable:
            told.setdefault(row.not_estimable, []).append(f"{row.response}, {row.comparison}")
    return [f"{capital('; '.join(dict.fromkeys(who)))}: {why}." for why, who in told.items()]


def _long_table(caption: str, rows: Sequence[PowerRow], word: str = "blocks") -> Table:
    """Every row with its note; a note that all rows share stands once under the table."""
    columns = ["response", "comparison", "difference", word, "power", "range", "note"]
    cells = [
        [
            row.response,
            row.comparison,
            _size(row),
            _blocks(row),
            percent(row.power),
            _range(row),
            row.note or MISSING,
        ]
        for row in rows
    ]
    notes = list(dict.fromkeys(row.note for row in rows))
    under = _reasons(rows)
    if len(notes) <= len({row.response for row in rows}) * 2:
        columns.pop()
        cells = [row[:-1] for row in cells]
        under = [*_shared(rows), *under]
    if all(row[3] == MISSING for row in cells):
        columns.pop(3)
        cells = [[*row[:3], *row[4:]] for row in cells]
    numeric = [
        i for i, key in enumerate(columns) if key not in ("response", "comparison", "note")
    ]
    return Table(
        caption,
        heads(*columns, numeric=numeric),
        tuple(map(tuple, cells)),
        " ".join(under) or None,
    )


def _range(row: PowerRow) -> str:
    if row.low is None or row.high is None:
        return MISSING
    if row.blocks is not None and row.low == row.blocks:
        return f"{fixed(row.low, 0)} to {fixed(row.high, 0)}"
    return f"{number(row.low)} to {number(row.high)}"


def _shared(rows: Sequence[PowerRow]) -> list[str]:
    told = dict.fromkeys((row.response, row.note) for row in rows if row.note)
    return [f"{capital(name)}: {note}." for name, note in told]
