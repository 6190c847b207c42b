"""Whether a layout's table has the sizes that the trial file gives.

Leans on rows and the trial's values.
"""

from wickstats.design.defaults import JOIN, value_for
from wickstats.design.trial import Trial
from wickstats.layout.rows import Report, Row

_MEND = "correct the table or the trial file; or leave the size out of the trial file"


def check_sizes(trial: Trial, rows: list[Row], out: Report) -> None:
    """Keep a problem for each size that does not agree."""
    _blocks(trial, rows, out)
    _pieces(trial, rows, out)
    _block_size(trial, rows, out)
    _replicates(trial, rows, out)
    _plants(trial, rows, out)
    _reservoirs(trial, rows, out)


def _blocks(trial: Trial, rows: list[Row], out: Report) -> None:
    planned = trial.design.blocks
    names = {(row.get("replicate"), row.get("block")) for row in rows if row.get("block")}
    found = len(names if trial.design.type == "incomplete block" else {b for _, b in names})
    if planned is not None and found and found != planned:
        out.add(
            "sizes differ",
            found=f"{found} blocks in the table",
            expected=f"{planned}, as blocks in the trial file says",
            fix=_MEND,
            column="block",
        )


def _pieces(trial: Trial, rows: list[Row], out: Report) -> None:
    """Squares, and rows and columns of each array."""
    design = trial.design
    for size, column in (("squares", "square"), ("rows", "row"), ("columns", "column")):
        planned = getattr(design, size)
        found = len({row.get(column) for row in rows} - {""})
        if planned is not None and found and found != planned:
            out.add(
                "sizes differ",
                found=f"{found} {size} in the table",
                expected=f"{planned}, as {size} in the trial file says",
                fix=_MEND,
                column=column,
            )


def _block_size(trial: Trial, rows: list[Row], out: Report) -> None:
    planned = trial.design.block_size
    if planned is None:
        return
    units: dict[tuple[str, str], dict[str, Row]] = {}
    for row in rows:
        block = units.setdefault((row.get("replicate"), row.get("block")), {})
        block.setdefault(row.get("reservoir") or row.get("plot"), row)
    for (_, name), held in units.items():
        if len(held) != planned:
            out.add(
                "sizes differ",
                found=f"{len(held)} units in block {name}",
                expected=f"{planned}, as block_size in the trial file says",
                fix=_MEND,
                row=next(iter(held.values())).number,
                column="block",
            )


def _units(trial: Trial, rows: list[Row]) -> dict[str, set[str]]:
    """Treatment -> its units' names."""
    units: dict[str, set[str]] = {}
    for row in rows:
        treatment = JOIN.join(row.get(f.name) for f in trial.factors)
        name = row.get("reservoir") or row.get("plot")
        units.setdefault(treatment, set()).add(name)
    return units


def _levels(trial: Trial, treatment: str) -> dict[str, str]:
    names = (factor.name for factor in trial.factors)
    return dict(zip(names, treatment.split(JOIN), strict=True))


def _replicates(trial: Trial, rows: list[Row], out: Report) -> None:
    given = trial.design.replicates
    kind = trial.design.type
    if given is None:
        return
    if kind == "row-column":
        found = len({row.get("replicate") for row in rows})
        if isinstance(given, int) and found != given:
            _differ(out, f"{found} replicates in the table", given, "replicates", "replicate")
        return
    if kind == "randomized complete block":
        blocks: dict[str, list[Row]] = {}
        for row in rows:
            blocks.setdefault(row.get("block"), []).append(row)
        for name, held in blocks.items():
            _counts(trial, held, f" in block {name}", out)
    elif kind in ("completely randomized", "incomplete block"):
        _counts(trial, rows, " in the table", out)


def _counts(trial: Trial, rows: list[Row], where: str, out: Report) -> None:
    """Units of each treatment among some rows; in blocks one of those not named."""
    given = trial.design.replicates
    for treatment, units in _units(trial, rows).items():
        planned = given
        if isinstance(given, dict):
            planned = value_for(given, _levels(trial, treatment))
            if planned is None and trial.design.type == "randomized complete block":
                planned = 1
        if isinstance(planned, int) and len(units) != planned:
            _differ(out, f"{len(units)} units of {treatment}{where}", planned, "replicates")


def _differ(
    out: Report, found: str, planned: int, size: str, column: str | None = None
) -> None:
    out.add(
        "sizes differ",
        found=found,
        expected=f"{planned}, as {size} in the trial file says",
        fix=_MEND,
        column=column,
    )


def _plants(trial: Trial, rows: list[Row], out: Report) -> None:
    planned = trial.design.plants_per_plot
    if planned is None:
        return
    for row in rows:
        text = row.get("plants")
        if text and int(float(text)) != planned:
            out.add(
                "sizes differ",
                found=f"{text} plants",
                expected=f"{planned}, as plants_per_plot in the trial file says",
                fix=_MEND,
                row=row.number,
                column="plants",
            )


def _reservoirs(trial: Trial, rows: list[Row], out: Report) -> None:
    """Every unit has as many plots as plots_per_reservoir says."""
    members: dict[str, list[Row]] = {}
    for row in rows:
        members.setdefault(row.get("reservoir") or row.get("plot"), []).append(row)
    for name, plots in members.items():
        levels = {f.name: plots[0].get(f.name) for f in trial.factors}
        planned = value_for(trial.design.plots_per_reservoir, levels)
        if planned is not None and planned != len(plots):
            fed = "1 plot" if len(plots) == 1 else f"{len(plots)} plots"
            out.add(
                "sizes differ",
                found=f"{fed} on one reservoir ({name})",
                expected=f"{planned}, as plots_per_reservoir in the trial file says",
                fix=_MEND,
                row=plots[0].number,
                column="reservoir",
            )
