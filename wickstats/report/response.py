"""The section of one response: picture, effects, means, tests, three lines, checks.

Leans on pages, report and core.
"""

from wickstats.core.numbers import degrees, number
from wickstats.core.responses import Comparison, MixedModel, ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Items, Note, Picture, Section, Table, Text
from wickstats.report.bench import bench_section
from wickstats.report.beside import extra_table, left_out_table
from wickstats.report.drawn import (
    checks_picture,
    forest_picture,
    main_picture,
    smooth_words,
    units_picture,
)
from wickstats.report.effects import (
    components_table,
    effect_tables,
    lines_table,
    mean_tables,
    test_table,
    units_table,
)
from wickstats.report.facts import Scene, capital, headline, title_of
from wickstats.report.harvest import along_section, harvest_section, productivity_table
from wickstats.report.lives import growth_beside, lives_sections
from wickstats.report.sensitivity import sensitivity_table
from wickstats.report.shares import logit_blocks


def response_part(
    scene: Scene, response: ResponseResult, stem: str, *, lead: Picture | None
) -> Section:
    """Return the section; ``lead`` is a picture already shown above and not shown again."""
    blocks: list[Block] = [
        Note(capital(c.sentence), "verdict")
        for c in headline(response)
        if c.sentence is not None
    ]
    if lead is None:
        blocks += _present(main_picture(scene, response, stem))
    blocks += [Text(words) for words in smooth_words(response)]
    blocks += _present(forest_picture(scene, response, stem))
    blocks += effect_tables(scene, response)
    if response.curves:
        blocks += _present(units_picture(scene, response, stem))
    blocks += mean_tables(scene, response)
    blocks += _present(productivity_table(response))
    blocks += _present(extra_table(scene, response))
    blocks += _present(growth_beside(scene, response))
    blocks += _present(test_table(response, response.tests))
    sections = [
        *lives_sections(scene, response, stem),
        *_beside(scene, response, stem),
        Section(say("lines title"), tuple(_lines(scene, response))),
        Section(say("sensitivity title"), tuple(_present(sensitivity_table(scene, response)))),
        Section(say("checks title"), tuple(_checks(scene, response, stem))),
        Section(
            say("cautions title"), tuple(Note(text, "caution") for text in response.cautions)
        ),
    ]
    return Section(
        say("response title", name=title_of(response), role=say(f"role {response.role}")),
        tuple(blocks),
        tuple(section for section in sections if section.blocks),
    )


def _beside(scene: Scene, response: ResponseResult, stem: str) -> list[Section]:
    """Picks over time and plants along a line, where there are any."""
    found = (
        bench_section(scene, response, stem),
        harvest_section(scene, response, stem),
        along_section(scene, response, stem),
    )
    return [section for section in found if section is not None]


def _present(block: Picture | Table | None) -> list[Block]:
    return [] if block is None else [block]


def _lines(scene: Scene, response: ResponseResult) -> list[Block]:
    blocks = _present(lines_table(scene, response))
    mixed = response.mixed_model
    if mixed is not None:
        blocks.append(Text(mixed_words(mixed)))
        blocks += _present(components_table(scene, response))
        tests = test_table(response, mixed.tests)
        if tests is not None:
            head = f"{tests.caption} ({say('head mixed').lower()})"
            blocks.append(Table(head, tests.columns, tests.rows, tests.note))
    return [*blocks, *logit_blocks(response), *_growth_rates(response)]


def _growth_rates(response: ResponseResult) -> list[Block]:
    """Rates of growth over all dates, where growth was measured more than twice."""
    model = response.growth_rates
    if model is None:
        return []
    head = say("growth rates head")
    if model.not_estimable is not None:
        return [Text(f"{head}: {say('not given', why=model.not_estimable)}.")]
    unit = next((t.unit_of_replication for t in model.tests), "plot")
    facts = say("growth rates facts", unit=unit, terms=", ".join(model.terms))
    rates = Items(tuple(growth_rate_words(response, row) for row in model.comparisons))
    tests = test_table(response, model.tests)
    caption = say("growth rates caption", name=response.name)
    table = [] if tests is None else [Table(caption, tests.columns, tests.rows, tests.note)]
    return [Text(facts), rates, *table, *_growth_parts(model)]


def _growth_parts(model: MixedModel) -> list[Block]:
    """Variances and correlation of a model that the plan asked for."""
    days = model.diary.get("correlation at days")
    if "planned variance" not in model.diary:
        return []
    parts = [c for c in model.variance_components if c.term != "residual correlation"]
    told = "; ".join(f"{c.term} {number(c.estimate, 3)}" for c in parts)
    out: list[Block] = [Text(say("growth rates parts", parts=told))]
    for c in model.variance_components:
        if c.term == "residual correlation" and isinstance(days, float):
            rho = number(c.estimate, 3)
            out.append(Text(say("growth rates serial", days=number(days, 3), rho=rho)))
    return out


def growth_rate_words(response: ResponseResult, row: Comparison) -> str:
    """One difference of growth rates in words."""
    if row.estimate is None or row.low is None or row.high is None:
        return say("growth rate missing", name=row.name, why=row.not_estimable or "-")
    unit = "1/d" if response.model_scale == "log" else f"{response.measured_in}/d"
    return say(
        "growth rate row",
        name=row.name,
        estimate=number(row.estimate, 3),
        measured_in=unit,
        low=number(row.low, 3),
        high=number(row.high, 3),
        df=degrees(row.df),
    )


def mixed_words(mixed: MixedModel) -> str:
    """The mixed model's terms, method and diary in one sentence."""
    if mixed.not_estimable is not None:
        return f"{say('head mixed')}: {say('not given', why=mixed.not_estimable)}."
    diary = ", ".join(
        f"{key.replace('_', ' ')} {number(value, 6) if isinstance(value, float) else value}"
        for key, value in mixed.diary.items()
    )
    return say(
        "mixed facts",
        terms=", ".join(mixed.terms),
        df_method=mixed.df_method.title(),
        converged=say(
            "page mixed converged" if mixed.converged else "page mixed not converged"
        ),
        diary=diary or "-",
    )


def _checks(scene: Scene, response: ResponseResult, stem: str) -> list[Block]:
    blocks: list[Block] = []
    if response.checks:
        blocks.append(Items(tuple(f"{c.name}: {c.finding}" for c in response.checks)))
    blocks += _present(checks_picture(scene, response, stem))
    blocks += _present(left_out_table(scene, response, stem))
    if response.unit_summary.values:
        blocks.append(units_table(response))
    return blocks
