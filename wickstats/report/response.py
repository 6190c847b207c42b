"""The section of one response: picture, effects, means, tests, three lines, checks.

Leans on pages, report and core.
"""

from wickstats.core.numbers import number
from wickstats.core.responses import MixedModel, ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Items, Note, Picture, Section, Table, Text
from wickstats.report.beside import extra_table, left_out_table
from wickstats.report.drawn import checks_picture, forest_picture, main_picture, units_picture
from wickstats.report.effects import (
    components_table,
    effect_tables,
    lines_table,
    mean_tables,
    sensitivity_table,
    test_table,
    units_table,
)
from wickstats.report.facts import Scene, capital, headline, title_of


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
    blocks += _present(forest_picture(scene, response, stem))
    blocks += effect_tables(scene, response)
    if response.curves:
        blocks += _present(units_picture(scene, response, stem))
    blocks += mean_tables(scene, response)
    blocks += _present(extra_table(scene, response))
    blocks += _present(test_table(response, response.tests))
    sections = [
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
    return blocks


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
