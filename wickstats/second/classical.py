"""Textbook sums of squares of larger balanced designs, by loops over means and totals.

Latin squares (Cochran & Cox 1957, Experimental Designs, chapter 4), split-split-plots
(chapter 7), strip-plots (section 7.3), balanced incomplete blocks (Yates 1936, Ann. Eugen.
7:121; Cochran & Cox, chapter 11). A sum of squares of a table of means is the replication
times the squared deviations of its means from what the lower margins predict. Leans on
strata.
"""

from collections.abc import Hashable, Mapping, Sequence
from itertools import combinations

from wickstats.second.answers import ContrastAnswer, StrataLine
from wickstats.second.strata import Labels, error_line, ordered, plain_mean, tested_line

Table = Mapping[tuple[Hashable, ...], float]


def latin_squares(
    values: Sequence[float],
    treatments: Labels,
    rows: Labels,
    columns: Labels,
    squares: Labels | None = None,
) -> tuple[StrataLine, ...]:
    """One or several Latin squares: (square), row, column, treatment, error.

    Raises
    ------
    ValueError
        When a square is not p x p with every treatment once in each row and column.
    """
    places = list(squares) if squares is not None else ["one"] * len(values)
    arms = ordered(treatments)
    p, grand = len(arms), plain_mean(values)
    total = sum((float(y) - grand) ** 2 for y in values)
    square_ss = row_ss = column_ss = 0.0
    for place in ordered(places):
        mine = [i for i, other in enumerate(places) if other == place]
        if len(mine) != p * p:
            raise ValueError("a square does not hold every treatment in every row")
        own = plain_mean([values[i] for i in mine])
        square_ss += p * p * (own - grand) ** 2
        for labels in (rows, columns):
            sums = 0.0
            for label in ordered([labels[i] for i in mine]):
                there = [i for i in mine if labels[i] == label]
                if sorted(map(str, (treatments[i] for i in there))) != sorted(map(str, arms)):
                    raise ValueError("a row or column does not hold every treatment once")
                sums += p * (plain_mean([values[i] for i in there]) - own) ** 2
            if labels is rows:
                row_ss += sums
            else:
                column_ss += sums
    s = len(ordered(places))
    arm_ss = 0.0
    for arm in arms:
        mean = plain_mean([y for y, t in zip(values, treatments, strict=True) if t == arm])
        arm_ss += s * p * (mean - grand) ** 2
    error_df = s * p * p - s - 2 * s * (p - 1) - (p - 1)
    rest = total - square_ss - row_ss - column_ss - arm_ss
    error = error_line("plot", "residual", error_df, rest)
    lines = [error_line("square", "square", s - 1, square_ss)] if s > 1 else []
    return (
        *lines,
        error_line("row", "row", s * (p - 1), row_ss),
        error_line("column", "column", s * (p - 1), column_ss),
        tested_line("plot", "treatment", p - 1, arm_ss, error),
        error,
    )


def balanced_incomplete(
    values: Sequence[float], treatments: Labels, blocks: Labels
) -> tuple[StrataLine, ...]:
    """Balanced incomplete blocks: blocks ignoring treatments, treatments adjusted, error.

    Q_i = total of treatment i less the block totals it stands in over k; the adjusted sum
    of squares is k sum Q_i^2 / (lambda t).

    Raises
    ------
    ValueError
        When sizes differ or two treatments do not meet equally often.
    """
    arms, places = ordered(treatments), ordered(blocks)
    held = {
        b: [t for t, other in zip(treatments, blocks, strict=True) if other == b]
        for b in places
    }
    sizes = {len(inside) for inside in held.values()}
    meetings = {
        sum(1 for inside in held.values() if one in inside and two in inside)
        for one, two in combinations(arms, 2)
    }
    once = all(len(set(inside)) == len(inside) for inside in held.values())
    if len(sizes) != 1 or len(meetings) != 1 or not once:
        raise ValueError("the blocks are not balanced")
    k, meet, n = sizes.pop(), meetings.pop(), len(values)
    if meet == 0:
        raise ValueError("the blocks are not balanced")
    grand = plain_mean(values)
    total = sum((float(y) - grand) ** 2 for y in values)
    block_total = {
        b: sum(float(y) for y, other in zip(values, blocks, strict=True) if other == b)
        for b in places
    }
    block_ss = sum(k * (sums / k - grand) ** 2 for sums in block_total.values())
    squares = 0.0
    for arm in arms:
        own = sum(float(y) for y, t in zip(values, treatments, strict=True) if t == arm)
        squares += (own - sum(block_total[b] for b in places if arm in held[b]) / k) ** 2
    arm_ss = k * squares / (meet * len(arms))
    error_df = n - 1 - (len(places) - 1) - (len(arms) - 1)
    error = error_line("plot", "residual", error_df, total - block_ss - arm_ss)
    return (
        error_line("block", "block", len(places) - 1, block_ss),
        tested_line("plot", "treatment", len(arms) - 1, arm_ss, error),
        error,
    )


def strip_plot(
    values: Sequence[float],
    blocks: Labels,
    row_factor: Labels,
    column_factor: Labels,
    names: tuple[str, str],
    *,
    main_effects: bool = False,
) -> tuple[StrataLine, ...]:
    """Strips crossing in complete blocks: three errors.

    With ``main_effects`` the interaction is part of the third.

    Raises
    ------
    ValueError
        When not every combination stands exactly once in every block.
    """
    a, b = names
    labels = {"block": blocks, a: row_factor, b: column_factor}
    ss, df = _effects(values, labels)
    last: list[tuple[str, ...]] = [("block", a, b)]
    if main_effects:
        last.append((a, b))
    errors = [
        error_line("row strip", "residual", df["block", a], ss["block", a]),
        error_line("column strip", "residual", df["block", b], ss["block", b]),
        error_line("plot", "residual", sum(df[t] for t in last), sum(ss[t] for t in last)),
    ]
    crossed = tested_line("plot", f"{a} x {b}", df[a, b], ss[a, b], errors[2])
    return (
        error_line("block", "block", df[("block",)], ss[("block",)]),
        tested_line("row strip", a, df[(a,)], ss[(a,)], errors[0]),
        errors[0],
        tested_line("column strip", b, df[(b,)], ss[(b,)], errors[1]),
        errors[1],
        *(() if main_effects else (crossed,)),
        errors[2],
    )


def split_plots(
    values: Sequence[float],
    blocks: Labels,
    factors: Mapping[str, Labels],
    tiers: Sequence[tuple[str, tuple[str, ...]]],
    *,
    main_effects: bool = False,
) -> tuple[StrataLine, ...]:
    """Split-plots of any depth in complete blocks.

    Parameters
    ----------
    factors
        Name -> label of every unit.
    tiers
        (stratum, factors set up on its pieces), from the largest piece down.
    main_effects
        Interactions are part of the errors.

    Raises
    ------
    ValueError
        When not every combination stands exactly once in every block.
    """
    ss, df = _effects(values, {"block": blocks, **factors})
    out = [error_line("block", "block", df[("block",)], ss[("block",)])]
    seen: set[str] = set()
    order = list(factors)
    for stratum, own in tiers:
        before = set(seen)
        seen.update(own)
        terms = [
            term
            for size in range(1, len(order) + 1)
            for term in combinations(order, size)
            if set(term) <= seen and not set(term) <= before
        ]
        error_ss = sum(ss[("block", *term)] for term in terms)
        error_df = sum(df[("block", *term)] for term in terms)
        if main_effects:
            error_ss += sum(ss[term] for term in terms if len(term) > 1)
            error_df += sum(df[term] for term in terms if len(term) > 1)
            terms = [term for term in terms if len(term) == 1]
        error = error_line(stratum, "residual", error_df, error_ss)
        out.extend(
            tested_line(stratum, " x ".join(term), df[term], ss[term], error) for term in terms
        )
        out.append(error)
    return tuple(out)


def _effects(
    values: Sequence[float], labels: Mapping[str, Labels]
) -> tuple[dict[tuple[str, ...], float], dict[tuple[str, ...], int]]:
    """Sum of squares and df of every effect of a complete crossed table."""
    names = list(labels)
    levels = {name: ordered(labels[name]) for name in names}
    keys = list(zip(*(labels[name] for name in names), strict=True))
    size = 1
    for name in names:
        size *= len(levels[name])
    if len(set(keys)) != len(keys) or len(keys) != size:
        raise ValueError("not every combination stands exactly once in every block")
    means: dict[tuple[str, ...], dict[tuple[Hashable, ...], float]] = {}
    subsets = [s for order in range(len(names) + 1) for s in combinations(names, order)]
    for subset in subsets:
        place = [names.index(name) for name in subset]
        groups: dict[tuple[Hashable, ...], list[float]] = {}
        for key, y in zip(keys, values, strict=True):
            groups.setdefault(tuple(key[i] for i in place), []).append(float(y))
        means[subset] = {key: plain_mean(group) for key, group in groups.items()}
    ss: dict[tuple[str, ...], float] = {}
    df: dict[tuple[str, ...], int] = {}
    for subset in subsets[1:]:
        squares = 0.0
        for key in means[subset]:
            effect = 0.0
            # inclusion and exclusion over the lower margins
            for lower in subsets:
                if set(lower) <= set(subset):
                    part = tuple(key[subset.index(name)] for name in lower)
                    effect += (-1) ** (len(subset) - len(lower)) * means[lower][part]
            squares += effect**2
        ss[subset] = squares * len(values) / len(means[subset])
        df[subset] = 1
        for name in subset:
            df[subset] *= len(levels[name]) - 1
    return ss, df


def balanced_contrast(
    cells: Mapping[tuple[Hashable, ...], float],
    weights: Mapping[tuple[Hashable, ...], float],
    names: Sequence[str],
    lines: Sequence[StrataLine],
    replication: int,
) -> ContrastAnswer:
    """Contrast of cell means of a balanced trial with several errors.

    The weights split into effects by inclusion and exclusion of margins; each effect has
    the error mean square of its stratum: variance sum_T MS_T sum c_T^2 / replication, df by
    Satterthwaite (1946).

    Parameters
    ----------
    cells
        Levels of all factors -> mean; every combination.
    weights
        The contrast.
    names
        Of the factors, in the order of the levels.
    lines
        The table: in which stratum each term stands, and the strata's errors.
    """
    estimate = sum(weight * cells[key] for key, weight in weights.items())
    home = {line.source: line.stratum for line in lines if line.source != "residual"}
    error = {line.stratum: line for line in lines if line.source == "residual"}
    subsets = [
        s for order in range(len(names) + 1) for s in combinations(range(len(names)), order)
    ]
    spread: dict[str, float] = {}
    for term in subsets[1:]:
        source = " x ".join(names[k] for k in term)
        if source not in home:  # an interaction that is left out
            continue
        stratum = home[source]
        for key in cells:
            part = 0.0
            for lower in subsets:
                if set(lower) <= set(term):
                    alike = [
                        weights.get(other, 0.0)
                        for other in cells
                        if all(other[k] == key[k] for k in lower)
                    ]
                    part += (-1) ** (len(term) - len(lower)) * sum(alike) / len(alike)
            spread[stratum] = spread.get(stratum, 0.0) + part**2
    parts = [
        (float(error[s].mean_square or 0.0) * total / replication, error[s].df)
        for s, total in spread.items()
        if total > 1e-24
    ]
    variance = sum(v for v, _ in parts)
    df = variance**2 / sum(v**2 / d for v, d in parts)
    return ContrastAnswer(estimate, variance**0.5, df, "totals and means")
