"""Power where blocks, rows and columns take up information: closed forms, and plain blocks."""

import pytest
from support_layouts import BLOCKS, letters, trial_of

from wickstats.core.numbers import percent
from wickstats.layout.randomize import draw
from wickstats.models.power import t_power
from wickstats.sizing.grounds import ground_of
from wickstats.sizing.pairs import pair_lines
from wickstats.sizing.plan import PowerPlanned, plan_power

MORE = """\
responses: [{name: mass, kind: measurement, column: dry_kg, measured_in: kg, better: more}]
plan:
  primary: mass
  comparisons: [{factor: watering, compare: all pairs, adjustment: none}]
  matters: {mass: {difference: 2}}
power: {assume: {mass: {mean: MEANS, plot_sd: 1.5}}}
"""


def planned(design: str, count: int) -> PowerPlanned:
    means = ", ".join(f"{name}: {10 + 2 * k}" for k, name in enumerate(names(count)))
    more = MORE.replace("MEANS", f"{{{means}}}")
    return plan_power(trial_of(design, factors=letters(count), more=more))


def names(count: int) -> list[str]:
    return [chr(65 + k) for k in range(count)]


def first(found: PowerPlanned, kind: str) -> tuple[float | None, float | None]:
    row = next(
        r for r in found.rows if r.note.startswith(kind) and r.comparison.startswith("B")
    )
    return row.power, row.blocks


@pytest.mark.parametrize(
    ("design", "count", "variance", "df"),
    [
        # 2 sigma^2/t and (t - 1)(t - 2); two squares: 2 sigma^2/(2t)
        ("type: Latin square", 5, 2 / 5, 12),
        ("type: Latin square, squares: 2", 4, 2 / 8, 15),
        # 2 sigma^2/(r E), df = bk - b - t + 1
        ("type: incomplete block, block_size: 3, replicates: 3", 7, 2 / (3 * 7 / 9), 8),
        ("type: row-column, rows: 3, columns: 7", 7, 2 / (3 * 7 / 9), 6),
    ],
)
def test_closed_forms(design: str, count: int, variance: float, df: int) -> None:
    """Noncentral t with the pair's variance of the textbook; efficiency as in its tests."""
    found = planned(design, count)
    power, replicates = first(found, "power for the assumed")
    assert power == pytest.approx(t_power(2.0, 1.5 * variance**0.5, df, alpha=0.05), rel=1e-9)
    assert replicates == {5: 5, 4: 8, 7: 3}[count]
    assert found.word == "replicates"


def test_one_of_each_in_a_block_is_plain_blocks() -> None:
    plain = planned(f"{BLOCKS}, blocks: 6", 3)
    same = planned(f"{BLOCKS}, blocks: 6, replicates: 1", 3)
    assert [(r.comparison, r.blocks) for r in plain.rows] == [
        (r.comparison, r.blocks) for r in same.rows
    ]
    for one, other in zip(plain.rows, same.rows, strict=True):
        assert one.difference == pytest.approx(other.difference, rel=1e-9)
        assert one.power == pytest.approx(other.power, rel=1e-9)


def test_a_reference_twice_in_each_block() -> None:
    """Var(B - A) = sigma^2 (1 + 1/2)/b, df = b(n - 1) - (t - 1)."""
    found = planned(f"{BLOCKS}, blocks: 4, replicates: {{A: 2}}", 3)
    power, blocks = first(found, "power for the assumed")
    assert power == pytest.approx(
        t_power(2.0, 1.5 * (1.5 / 4) ** 0.5, 10, alpha=0.05), rel=1e-9
    )
    assert blocks == 4
    assert found.word == "blocks"


def test_squares_grow_by_whole_squares() -> None:
    found = planned("type: Latin square", 4)
    _, needed = first(found, "blocks needed for the assumed")
    assert needed is not None
    assert needed % 4 == 0
    trial = trial_of(f"type: Latin square, squares: {int(needed) // 4}", factors=letters(4))
    ground = ground_of(draw(trial, 0), ("A", "B", "C", "D"))
    small = ground_of(
        draw(trial_of("type: Latin square", factors=letters(4)), 0), tuple("ABCD")
    )
    assert ground is not None
    assert small is not None
    # more squares also spend a degree of freedom each on rows, columns and squares
    assert small.error_at(int(needed)) == ground.error
    pair = ground.inverse[0, 0] + ground.inverse[1, 1] - 2 * ground.inverse[0, 1]
    grown = small.inverse_at(int(needed))
    assert pair == pytest.approx(grown[0, 0] + grown[1, 1] - 2 * grown[0, 1], rel=1e-10)


def test_standard_errors_of_pairs_in_words() -> None:
    means = "{A: 10, B: 12, C: 14, D: 16, E: 18}"
    trial = trial_of(
        "type: Latin square", factors=letters(5), more=MORE.replace("MEANS", means)
    )
    (line,) = pair_lines(trial, draw(trial, 1))
    # plot_sd times the root of two fifths
    assert line == (
        "If plots vary as assumed under power, the difference of two treatments in mass has a "
        "standard error of 0.949 kg."
    )
    log = MORE.replace("MEANS", means).replace("plot_sd: 1.5", "plot_cv: 0.1")
    log = log.replace("{difference: 2}", "{ratio: 1.2}")
    log = log.replace("kind: measurement", "kind: measurement, scale: log")
    trial = trial_of("type: Latin square", factors=letters(5), more=log)
    (line,) = pair_lines(trial, draw(trial, 1))
    assert line.endswith(
        f"standard error of {percent(0.0651)}."
    )  # exp(((log 1.01) 2/5)^1/2) - 1


def test_split_plots_tell_of_pairs_inside_whole_plots() -> None:
    factors = (
        "w: {applied_to: whole plot, levels: [a, b]}, watering: {applied_to: subplot, "
        "levels: [A, B]}"
    )
    more = MORE.replace("MEANS", "{A: 10, B: 12}")
    trial = trial_of("type: split-plot, blocks: 8", factors=factors, more=more)
    (line,) = pair_lines(trial, draw(trial, 1))
    assert line.endswith("standard error of 0.750 kg inside one whole plot.")  # 1.5 (2/8)^1/2
    planned = plan_power(trial)
    assert planned.rows  # inside whole plots; between them nothing is assumed
    assert any("how much whole plots (or strips) differ" in note for note in planned.notes)
