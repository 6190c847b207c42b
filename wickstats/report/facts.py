"""Small things that all parts of the page share. Leans on pages and core."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from wickstats.core.numbers import MISSING, confidence_level
from wickstats.core.responses import Comparison, Mean, ResponseResult
from wickstats.core.results import Results, WaterUnit
from wickstats.core.words import recorded, say
from wickstats.pages.blocks import Column, Table
from wickstats.pages.figures.palette import Look, looks

MOST_ROWS = 200
_OWN_UNITS = {
    "mean day of picking": "page day",
    "marketable percent": "page percent",
    "early slope": "page early",
}


@dataclass(frozen=True, slots=True)
class Scene:
    """One season with what every part needs: arms in order, their looks, file-name stems."""

    results: Results
    arms: tuple[str, ...]
    looks: Mapping[str, Look]
    stems: tuple[str, ...]

    @property
    def confidence(self) -> str:
        """The confidence as percent."""
        return confidence_level(self.results.trial.confidence)

    @property
    def counted(self) -> str:
        """What the records count one by one: plants, subjects, or plots only."""
        account = self.results.accounting
        if not (account.planned or account.planted or account.analyzed):
            return "plots"
        return "plants" if all(map(of_plants, self.results.responses)) else "subjects"

    @property
    def pilot(self) -> bool:
        """Whether one treatment was tried, so that nothing is compared."""
        factors = self.results.trial.factors.values()
        return all(len(levels) == 1 for levels in factors)

    @property
    def reference(self) -> str | None:
        """The treatment that the others are set against, if one is named."""
        trial = self.results.trial
        if len(trial.factors) == 1 and trial.references:
            return next(iter(trial.references.values()))
        if trial.references.keys() == trial.factors.keys():
            return " x ".join(trial.references[f] for f in trial.factors)
        return None


def scene(results: Results, stems: Sequence[str]) -> Scene:
    """Bring the treatments into order: as the trial names them, then as they appear."""
    seen = [arm.treatment for arm in results.accounting.by_treatment]
    for response in results.responses:
        seen.extend(unit.treatment for unit in response.unit_summary.values)
    seen.extend(unit.treatment for unit in results.water)
    arms = tuple(dict.fromkeys(seen))
    names = [*arms]
    for response in results.responses:
        names.extend(c.treatment for c in response.comparisons)
    return Scene(results, arms, looks(tuple(dict.fromkeys(names))), tuple(stems))


def heads(*keys: str, numeric: Sequence[int] = (), **fields: str) -> tuple[Column, ...]:
    """Return columns from head keys (without "head "); ``numeric`` lists positions."""
    return tuple(
        Column(say(f"head {key}", **fields), numeric=i in numeric) for i, key in enumerate(keys)
    )


def capped(table: Table, file: str) -> Table:
    """Cut a long table and say where the rest stands."""
    if len(table.rows) <= MOST_ROWS:
        return table
    rest = say("more rows", n=len(table.rows) - MOST_ROWS, file=file)
    note = rest if table.note is None else f"{table.note} {rest}"
    return Table(table.caption, table.columns, table.rows[:MOST_ROWS], note)


def listed(parts: Sequence[str]) -> str:
    """Join as "a, b and c"."""
    if len(parts) < 2:
        return "".join(parts)
    return say("listed", most=", ".join(parts[:-1]), last=parts[-1])


def what_of(row: Mean | Comparison, response: ResponseResult) -> str:
    """Name an estimand: response, estimand, date, unit, inside which level."""
    lasting = row.estimand == "restricted mean survival time"
    if row.estimand == "share alive":
        key = "page alive" if of_plants(response) else "page alive followed"
        what = say(key, name=response.name)
    elif row.estimand.startswith("share "):
        what = say("page share", name=response.name, estimand=row.estimand)
    elif row.estimand == recorded("flow change per day"):
        what = say("page a day", what=f"{response.name}, {row.estimand}")
    elif row.estimand == recorded("flow change per hour"):
        what = say("page an hour", what=f"{response.name}, {row.estimand}")
    elif row.estimand in _OWN_UNITS:
        what = say(_OWN_UNITS[row.estimand], what=f"{response.name}, {row.estimand}")
    elif lasting or not response.measured_in:
        what = f"{response.name}, {row.estimand}"
    else:
        what = f"{response.name}, {row.estimand}, {plain_unit(response.measured_in)}"
    if row.at is not None:
        dated = row.at[:1].isdigit()
        what = say("page on date", what=what, date=row.at) if dated else f"{what} {row.at}"
    if lasting:
        what = say("page days", what=what)
    if row.within is not None:
        what = say("page inside level", what=what, within=row.within)
    denominator = getattr(row, "denominator", None)
    if denominator:
        what = say("denominator head", what=what, denominator=denominator)
    return what


def per_plot(unit: WaterUnit) -> WaterUnit:
    """A reservoir's liters for each of the plots that it feeds; others as they are."""
    n = 1 if unit.ledger is None else max(len(unit.ledger.plots), 1)
    if n == 1 or unit.ledger is None:
        return unit
    return replace(
        unit,
        planned_l=times(unit.planned_l, 1.0 / n),
        applied_l=times(unit.applied_l, 1.0 / n),
        delivered_l=times(unit.delivered_l, 1.0 / n),
        low=times(unit.low, 1.0 / n),
        high=times(unit.high, 1.0 / n),
        ledger=replace(unit.ledger, per_day_l=times(unit.ledger.per_day_l, 1.0 / n)),
    )


def plain_unit(unit: str) -> str:
    """A unit without the braces around words that are no unit of measure ({fruit})."""
    return unit.replace("{", "").replace("}", "")


def of_plants(response: ResponseResult) -> bool:
    """Whether shares alive are those of plants, not of subjects of another kind."""
    told = recorded("per 100 followed")
    return all(c.absolute is None or c.absolute.per != told for c in response.comparisons)


def scale_of(row: Mean | Comparison) -> float:
    """Shares are told of 100."""
    measure = getattr(row, "measure", "difference")
    return 100.0 if row.estimand.startswith("share ") and measure == "difference" else 1.0


def times(value: float | None, scale: float) -> float | None:
    """A number times a scale; None stays None."""
    return None if value is None else value * scale


def headline(response: ResponseResult) -> tuple[Comparison, ...]:
    """The comparisons that carry the verdict: of the estimand and date that has one."""
    rows = response.comparisons
    first = next((c for c in rows if c.verdict is not None), None)
    first = first or next((c for c in rows if c.estimate is not None), None)
    if first is None:
        return ()
    return tuple(
        c
        for c in rows
        if (c.estimand, c.at) == (first.estimand, first.at)
        or (c.not_estimable is not None and c.estimand == first.estimand and c.at is None)
    )


def headline_means(response: ResponseResult, arms: Sequence[str]) -> tuple[Mean, ...]:
    """One mean per treatment cell: of the headline's estimand, else of the first."""
    lead = headline(response)
    wanted = {(c.estimand, c.at) for c in lead if c.estimate is not None}
    rows = [m for m in response.means if m.treatment in arms and m.within is None]
    chosen = [m for m in rows if (m.estimand, m.at) in wanted]
    if not chosen:
        alike = {e for e, _ in wanted} or {m.estimand for m in rows[:1]}
        chosen = [m for m in rows if m.estimand in alike] or rows
        if chosen:
            last = (chosen[-1].estimand, chosen[-1].at)
            chosen = [m for m in chosen if (m.estimand, m.at) == last]
    by_arm = {m.treatment: m for m in chosen}
    return tuple(by_arm[arm] for arm in arms if arm in by_arm)


def ordered(scene: Scene) -> list[ResponseResult]:
    """Responses: primary, secondary, exploratory."""
    rank = {"primary": 0, "secondary": 1}
    return sorted(scene.results.responses, key=lambda r: rank.get(r.role, 2))


def title_of(response: ResponseResult) -> str:
    """The response's name as a title begins."""
    return capital(response.name)


def capital(sentence: str) -> str:
    """The sentence with a capital at its start: treatments' names may begin it."""
    return sentence[:1].upper() + sentence[1:]


def or_dash(text: str | None) -> str:
    """Text, or a dash where there is none."""
    return text or MISSING
