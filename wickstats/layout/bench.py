"""Layouts of the bench: runs in place of blocks, coils in place of whole plots.

Every run holds a piece of every coil for each treatment of pieces, in random order; what is
a property of the cord belongs to the coil. Leans on pieces, rows, tiers and design.
"""

from itertools import product

from wickstats.design.findings import listing, quote
from wickstats.design.tiers import applied_to, tiers_of
from wickstats.design.trial import Trial
from wickstats.layout.pieces import Piece, replicates_of
from wickstats.layout.plots import TREATMENT_JOIN
from wickstats.layout.rows import Report, Row
from wickstats.layout.stream import Stream

COIL = "coil"


def is_bench(trial: Trial) -> bool:
    """Whether the trial stands at the bench."""
    return trial.trial.place == "bench"


def coil_factors(trial: Trial) -> tuple[str, ...]:
    """Factors that are properties of the cord, and so of the coil."""
    return tuple(f.name for f in trial.factors if f.applied_to == COIL)


def draw_runs(trial: Trial, stream: Stream) -> list[Piece]:
    """Run by run, all pieces shuffled: one of each coil and treatment of pieces.

    Coils are numbered through the treatments of coils in the order of the file, so many of
    each as ``replicates`` says (one without).
    """
    outer = _levels(trial, coil_factors(trial))
    inner = _levels(trial, tuple(f.name for f in trial.factors if f.applied_to != COIL))
    coils: list[tuple[str, dict[str, str]]] = []
    for levels in outer:
        for _ in range(replicates_of(trial, TREATMENT_JOIN.join(levels.values())) or 1):
            coils.append((str(len(coils) + 1), levels))
    runs = trial.design.blocks
    out: list[Piece] = []
    for run in range(1, (runs or 1) + 1):
        pieces = [(coil, {**levels, **own}) for coil, levels in coils for own in inner]
        out.extend(
            Piece(
                TREATMENT_JOIN.join(levels[f.name] for f in trial.factors),
                line=run,
                block=str(run) if runs else None,
                whole_plot=coil if trial.design.type == "split-plot" else None,
                coil=coil,
                run=str(run),
            )
            for coil, levels in stream.shuffled(pieces)
        )
    return out


def _levels(trial: Trial, factors: tuple[str, ...]) -> list[dict[str, str]]:
    names = [trial.factor(name).level_names for name in factors]
    return [dict(zip(factors, held, strict=True)) for held in product(*names)]


def fill_columns(trial: Trial, rows: list[Row]) -> None:
    """Runs stand for blocks where the table has only those, and coils for whole plots.

    Numbers of whole plots beside the coils of a layout drawn elsewhere are another name of
    the same: a coil that was cut for several runs stays one coil.
    """
    if not is_bench(trial):
        return
    split = trial.design.type == "split-plot"
    named = split and trial.design.drawn != "here" and bool(coil_factors(trial))
    renamed = named and not _crossed(rows)
    for row in rows:
        blocks = trial.design.type != "completely randomized"
        if blocks and row.get("run") and not row.get("block"):
            row.cells["block"] = row.get("run")
        if split and row.get("coil") and (renamed or not row.get("whole_plot")):
            row.cells["whole_plot"] = row.get("coil")


def _crossed(rows: list[Row]) -> Row | None:
    """The first row whose whole plot holds another coil in the same run; None without."""
    held: dict[tuple[str, str], str] = {}
    for row in rows:
        if row.get("whole_plot") and row.get("coil"):
            key = (row.get("run") or row.get("block"), row.get("whole_plot"))
            if held.setdefault(key, row.get("coil")) != row.get("coil"):
                return row
    return None


def check_coils(trial: Trial, rows: list[Row], out: Report) -> None:
    """A coil is of one cord, and a piece was cut from one coil."""
    if not is_bench(trial):
        return
    for factor in coil_factors(trial):
        first: dict[str, Row] = {}
        for row in rows:
            coil = row.get("coil")
            before = first.setdefault(coil, row)
            if coil and row.get(factor) != before.get(factor):
                out.add(
                    "coil spans levels",
                    found=f"coil {quote(coil)} holds "
                    f"{listing([before.get(factor), row.get(factor)])}",
                    expected=f"one level of {factor} in a coil",
                    fix="correct the coil or the level; give every coil a name of its own",
                    row=row.number,
                    column=factor,
                )
    crossed = _crossed(rows) if coil_factors(trial) else None
    if crossed is not None:
        out.add(
            "whole plot of two coils",
            found=f"whole plot {quote(crossed.get('whole_plot'))} with pieces of more than one "
            f"coil in a run",
            expected="at the bench the coil is the whole plot",
            fix="correct the coil, or leave the column whole_plot out",
            row=crossed.number,
            column="whole_plot",
        )
    _ask_whole_coils(trial, rows, out)
    cut: dict[str, Row] = {}
    for row in rows:
        before = cut.setdefault(row.get("plot"), row)
        if row.get("plot") and row.get("coil") != before.get("coil"):
            out.add(
                "piece on two coils",
                found=f"piece {quote(row.get('plot'))} of coil {quote(row.get('coil'))}, "
                f"in row {before.number} of coil {quote(before.get('coil'))}",
                expected="a piece cut from one coil",
                fix="correct the coil, or give the second piece a name of its own",
                row=row.number,
                column="coil",
            )


def _ask_whole_coils(trial: Trial, rows: list[Row], out: Report) -> None:
    """Coils cut into pieces that all got the same of a factor: it belongs to the coil."""
    coils: dict[str, list[Row]] = {}
    for row in rows:
        if row.get("coil"):
            coils.setdefault(row.get("coil"), []).append(row)
    if not any(len(held) > 1 for held in coils.values()):
        return
    for factor in trial.factors:
        if factor.applied_to == COIL:
            continue
        if all(len({row.get(factor.name) for row in held}) == 1 for held in coils.values()):
            out.add(
                "whole coils",
                found=f"every coil with one level of {factor.name}, though it is applied to "
                f"{factor.applied_to}",
                expected="pieces of one coil with different levels",
                fix="write applied_to: coil for it: pieces of one coil are then no "
                "replicates, and coils are compared",
                row=rows[0].number,
                column=factor.name,
            )


def needs_coil(trial: Trial) -> bool:
    """Whether the table must name coils."""
    return is_bench(trial) and bool(coil_factors(trial))


def pieces_of_coils(trial: Trial) -> bool:
    """Whether runs are drawn here coil by coil."""
    return needs_coil(trial) and trial.design.type in (
        "split-plot",
        "randomized complete block",
    )


def coils_are_units(trial: Trial) -> bool:
    """Whether every factor belongs to the coil, which then is the unit."""
    tiers = tiers_of(trial)
    return is_bench(trial) and len(applied_to(tiers, COIL)) == len(trial.factors)
