"""Draws kept to restrictions: rejected until one is allowed; how large the allowed share is.

Every arrangement is drawn by the design's own scheme and thrown away whole unless it is
allowed, so that all allowed layouts are equally likely (rejection sampling: von Neumann
1951; from memory). Complete blocks of which 100,000 draws met none that is allowed are drawn
block after block, again equally likely. The smallest possible p of each stratum is counted
with all other labels where they are, as re-randomization will. Leans on allowed, arrange,
by_blocks, few and schemes.
"""

from dataclasses import dataclass
from math import factorial

from wickstats.core.errors import LayoutError, Problem
from wickstats.core.words import say
from wickstats.design.defaults import cells_of
from wickstats.design.trial import Trial
from wickstats.layout.allowed import Rule
from wickstats.layout.arrange import arrange
from wickstats.layout.bench import pieces_of_coils
from wickstats.layout.by_blocks import (
    MOST_TREATMENTS,
    Blocks,
    count_by_blocks,
    draw_by_blocks,
    lay_blocks,
)
from wickstats.layout.draw_plain import Plan
from wickstats.layout.few import P_LIMIT, few_sentences
from wickstats.layout.pieces import Piece, replicates_of
from wickstats.layout.plots import PLANNED, Layout
from wickstats.layout.schemes import all_together, schemes_of
from wickstats.layout.stream import Stream
from wickstats.models.redraw.scheme import EXACT_LIMIT

TRIES = 100_000
LOOKED_AT = 10_000


@dataclass(frozen=True, slots=True)
class AllowedShare:
    """How many layouts the restrictions allow.

    Attributes
    ----------
    words
        The restrictions, as in the trial file.
    allowed, total
        Allowed layouts of all layouts, or of those drawn to see.
    exact
        Whether all layouts were looked at.
    smallest_possible_p
        Of the test by re-randomization of all treatments, where it can be counted; of the
        stratum in which it is largest.
    unrestricted_p
        The same without the restrictions.
    in_stratum
        That stratum, where there are several.
    """

    words: tuple[str, ...]
    allowed: int
    total: int
    exact: bool
    smallest_possible_p: float | None
    unrestricted_p: float | None
    in_stratum: str | None = None


def draw_allowed(
    trial: Trial, plan: Plan | None, stream: Stream, rule: Rule, laid: Layout
) -> list[Piece]:
    """Arrangements of the stream until one is allowed; ``laid`` is one that is not.

    Raises
    ------
    LayoutError
        Where none of 100,000 was, or none of all layouts is.
    """
    if rule.impossible() or _none_counted(trial, rule, laid):
        raise _none_left(trial)
    for _ in range(TRIES):
        pieces = arrange(trial, plan, stream)
        if rule.fit([piece.cell for piece in pieces]):
            return pieces
    blocks = _blocks(trial, rule)
    labels = None if blocks is None else draw_by_blocks(blocks, stream, TRIES // 10)
    if labels is not None:
        cells = cells_of(trial.factors)
        lines = [k // len(cells) + 1 for k in range(len(labels))]
        return [
            Piece(cells[label], line=line, block=str(line))
            for label, line in zip(labels, lines, strict=True)
        ]
    raise LayoutError(
        [
            _refusal(
                trial,
                "restriction too strict",
                f"no allowed layout among {TRIES:,} drawn with keep: "
                + ", ".join(trial.design.keep),
                "restrictions that a fair share of layouts fulfills",
                _fix_for(trial),
            )
        ]
    )


def allowed_share(
    trial: Trial, plan: Plan | None, seed: int, rule: Rule, layout: Layout
) -> AllowedShare:
    """Count all layouts where they are at most 65,536, else look at 10,000 seeded ones.

    Raises
    ------
    LayoutError
        Where the restrictions leave so few layouts that no difference could be shown although
        without them it could.
    """
    every = all_together(layout, _levels(trial))
    exact = every is not None and every.total is not None and every.total <= EXACT_LIMIT
    if every is not None and exact:
        layouts = every.every()
        count, total = int(rule.fit_all(layouts).sum()), len(layouts)
    else:
        stream = Stream(seed, "share")
        count, total = 0, LOOKED_AT
        for _ in range(LOOKED_AT):
            count += rule.fit([piece.cell for piece in arrange(trial, plan, stream)])
    worst: tuple[str, float, float] | None = None
    lifted: list[Problem] = []
    found = schemes_of(layout, _levels(trial))
    for held in found:
        free, p = held.smallest_p(), held.smallest_p(rule.fit_all)
        if p is None:
            p = _p_by_blocks(trial, rule, seed)
        if free is None or p is None:
            continue
        if worst is None or p > worst[1]:
            worst = held.name, p, free
        if free <= P_LIMIT < p:
            lifted.append(_lifted(trial, held.name if len(found) > 1 else None, free, p))
    if lifted:
        raise LayoutError(lifted)
    name, p_kept, p_free = worst or (None, None, None)
    return AllowedShare(
        tuple(trial.design.keep),
        count,
        total,
        exact,
        p_kept,
        p_free,
        name if len(found) > 1 else None,
    )


def _blocks(trial: Trial, rule: Rule) -> Blocks | None:
    """Complete blocks that can be drawn one after another; None for other designs."""
    design, cells = trial.design, cells_of(trial.factors)
    plain = design.type == "randomized complete block" and not pieces_of_coils(trial)
    once = all(replicates_of(trial, cell) == 1 for cell in cells)
    if not plain or not once or len(cells) > MOST_TREATMENTS or not design.blocks:
        return None
    return lay_blocks(rule.tiers[0].conditions, design.blocks, len(cells))


def _p_by_blocks(trial: Trial, rule: Rule, seed: int) -> float | None:
    """Smallest p where the allowed layouts are too few to be met by drawing any."""
    blocks = _blocks(trial, rule)
    many = 0.0 if blocks is None else count_by_blocks(blocks, seed)
    return min(1.0, factorial(len(cells_of(trial.factors))) / many) if many else None


def _lifted(trial: Trial, stratum: str | None, free: float, p: float) -> Problem:
    where = f" in the stratum {stratum}" if stratum else ""
    return _refusal(
        trial,
        "restriction too strict",
        f"so few allowed layouts that no p below {p:.3g} is possible{where} with keep: "
        + ", ".join(trial.design.keep),
        f"at most {P_LIMIT}: without the restriction it is {free:.3g}",
        _TAKE_OUT,
    )


def _levels(trial: Trial) -> list[tuple[str, ...]]:
    return [factor.level_names for factor in trial.factors]


def _none_counted(trial: Trial, rule: Rule, layout: Layout) -> bool:
    """Whether no layout is left: of all, or of the pieces of one size; False: not counted."""
    together = all_together(layout, _levels(trial))
    parts = [(rule, together)] if together is not None else []
    # what the labels of a tier's own pieces do not fulfill, no layout does
    parts += [
        (rule.of(held.name), held.scheme)
        for held in schemes_of(layout, _levels(trial))
        if held.largest
    ]
    return any(
        scheme.total is not None
        and scheme.total <= EXACT_LIMIT
        and not own.fit_all(scheme.every()).any()
        for own, scheme in parts
    )


def _none_left(trial: Trial) -> LayoutError:
    """No layout of the design; of designs with a plan, none that its plan can be turned to."""
    found = f"no layout is left by keep: {', '.join(trial.design.keep)}"
    expected = "restrictions that some layout of these sizes fulfills"
    return LayoutError(
        [_refusal(trial, "restriction impossible", found, expected, _fix_for(trial))]
    )


_TAKE_OUT = "take the restriction out, or ask for less"


def _fix_for(trial: Trial) -> str:
    if trial.design.type == "randomized complete block":
        return f"{_TAKE_OUT}; a Latin square or rows and columns hold every column alike"
    if trial.design.type in PLANNED:
        return f"{_TAKE_OUT}; only layouts of the one plan for these sizes are drawn"
    return _TAKE_OUT


def _refusal(trial: Trial, code: str, found: str, expected: str, fix: str) -> Problem:
    return Problem(trial.file or "trial", code, found, expected, fix)


def share_lines(share: AllowedShare) -> list[str]:
    """The restrictions and the share of allowed layouts, in words."""
    from wickstats.core.numbers import number, percent

    out = [say("kept to", words="; ".join(share.words))]
    words = {
        "allowed": f"{share.allowed:,}",
        "total": f"{share.total:,}",
        "share": percent(share.allowed / share.total, 1),
    }
    if share.exact:
        out.append(say("kept share exact", **words))
    elif share.allowed:
        out.append(say("kept share about", **words))
    else:
        out.append(say("kept share none", **words))
    p = share.smallest_possible_p
    if p is not None and p > P_LIMIT and share.in_stratum is not None:
        out.append(say("few layouts stratum", p=number(p, 2), stratum=share.in_stratum))
    elif p is not None:
        out.extend(few_sentences({"": p}))
    return out
