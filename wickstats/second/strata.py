"""Classical sums of squares of complete trials, by loops over means.

Sum of squares of a table of means: replication times the sum of squared deviations of the
means from what the lower margins predict (Cochran & Cox 1957, Experimental Designs, chapters
4 and 7). Complete and balanced trials only. Leans on scipy.stats for tails of F.
"""

from collections.abc import Hashable, Sequence

from wickstats.second.answers import ContrastAnswer, StrataLine

Labels = Sequence[Hashable]
ENGINE = "sums of squares by loops over means"


def one_way(values: Sequence[float], treatments: Labels) -> tuple[StrataLine, ...]:
    """Completely randomized trial: lines treatment and error; unequal numbers allowed."""
    arms = ordered(treatments)
    grand = plain_mean(values)
    between = within = 0.0
    for arm in arms:
        mine = [y for y, t in zip(values, treatments, strict=True) if t == arm]
        between += len(mine) * (plain_mean(mine) - grand) ** 2
        for y in mine:
            within += (y - plain_mean(mine)) ** 2
    error_df = len(values) - len(arms)
    error = error_line("plot", "error", error_df, within)
    return (tested_line("plot", "treatment", len(arms) - 1, between, error), error)


def complete_blocks(
    values: Sequence[float], treatments: Labels, blocks: Labels
) -> tuple[StrataLine, ...]:
    """Randomized complete blocks: lines block, treatment, error.

    Raises
    ------
    ValueError
        When not every treatment stands exactly once in every block.
    """
    cell = _table(values, blocks, treatments)
    rows, columns = ordered(blocks), ordered(treatments)
    grand = plain_mean(values)
    row_mean = {r: plain_mean([cell[r, c] for c in columns]) for r in rows}
    column_mean = {c: plain_mean([cell[r, c] for r in rows]) for c in columns}
    block_ss = len(columns) * sum((row_mean[r] - grand) ** 2 for r in rows)
    treatment_ss = len(rows) * sum((column_mean[c] - grand) ** 2 for c in columns)
    error_ss = 0.0
    for r in rows:
        for c in columns:
            error_ss += (cell[r, c] - row_mean[r] - column_mean[c] + grand) ** 2
    error = error_line("plot", "error", (len(rows) - 1) * (len(columns) - 1), error_ss)
    return (
        error_line("block", "block", len(rows) - 1, block_ss),
        tested_line("plot", "treatment", len(columns) - 1, treatment_ss, error),
        error,
    )


def means_contrast(
    values: Sequence[float],
    treatments: Labels,
    weights: dict[Hashable, float],
    error: StrataLine,
) -> ContrastAnswer:
    """Contrast of plain treatment means with the error line's mean square."""
    estimate = 0.0
    spread = 0.0
    for arm, weight in weights.items():
        mine = [y for y, t in zip(values, treatments, strict=True) if t == arm]
        estimate += weight * plain_mean(mine)
        spread += weight**2 / len(mine)
    if error.mean_square is None:
        return ContrastAnswer(estimate, None, None, ENGINE)
    return ContrastAnswer(
        estimate, float((error.mean_square * spread) ** 0.5), float(error.df), ENGINE
    )


def _table(
    values: Sequence[float], rows: Labels, columns: Labels
) -> dict[tuple[Hashable, Hashable], float]:
    cell: dict[tuple[Hashable, Hashable], float] = {}
    for y, r, c in zip(values, rows, columns, strict=True):
        if (r, c) in cell:
            raise ValueError("a treatment stands twice in a block")
        cell[r, c] = float(y)
    if len(cell) != len(ordered(rows)) * len(ordered(columns)):
        raise ValueError("not every treatment stands in every block")
    return cell


def ordered(labels: Labels) -> list[Hashable]:
    """Each label once, as met."""
    return list(dict.fromkeys(labels))


def plain_mean(values: Sequence[float]) -> float:
    """Sum over number."""
    return sum(float(v) for v in values) / len(values)


def error_line(stratum: str, source: str, df: int, ss: float) -> StrataLine:
    """A line without a test."""
    return StrataLine(stratum, source, df, ss, ss / df if df > 0 else None, None, None)


def tested_line(stratum: str, source: str, df: int, ss: float, error: StrataLine) -> StrataLine:
    """A line tested against an error line."""
    mean_square = ss / df if df > 0 else None
    if mean_square is None or not error.mean_square:
        return StrataLine(stratum, source, df, ss, mean_square, None, None)
    from scipy import stats

    f = mean_square / error.mean_square
    return StrataLine(
        stratum, source, df, ss, mean_square, f, float(stats.f.sf(f, df, error.df))
    )
