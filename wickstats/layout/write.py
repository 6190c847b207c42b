"""layout.csv and layout.record.json: written once, redrawn only with a reason.

Leans on record, table, randomize and core.codec.
"""

from dataclasses import replace
from datetime import UTC, date, datetime
from importlib.metadata import version
from pathlib import Path

from wickstats.core.codec import write_whole
from wickstats.core.errors import LayoutError, Problem
from wickstats.design.canonical import canonical_hash
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.record import RECORD_FORMAT, LayoutRecord, read_record, record_name
from wickstats.layout.stream import SCHEME
from wickstats.layout.table import layout_csv


def draw_and_write(trial: Trial, *, reason: str | None = None) -> Layout:
    """Draw and write; with a reason, draw again under a new seed and keep what was.

    Raises
    ------
    LayoutError
        Where a layout exists and no reason is given, or there is none to redraw.
    """
    from wickstats.layout.randomize import draw_seed, randomize

    if reason is None:
        _refuse_existing(trial)
        layout = randomize(trial)
        write_layout(layout, trial)
        return layout
    record = read_record(trial)
    if record is None or not reason.strip():
        raise LayoutError([_nothing_to_redraw(trial, record)])
    layout = randomize(trial, seed=draw_seed())
    old = (Path(trial.folder) / trial.design.layout).read_text(encoding="utf-8-sig")
    fresh = _record(layout, trial, _today().isoformat())
    new = record.superseded(fresh, table=old, reason=reason.strip())
    _write(trial, layout, new)
    return _with_bytes(layout, trial, new)


def write_layout(layout: Layout, trial: Trial, *, claimed_on: date | None = None) -> None:
    """Write layout.csv and layout.record.json in the trial's folder.

    Raises
    ------
    LayoutError
        Where a layout exists, or the layout was not drawn by ``randomize``.
    """
    if layout.seed is None or not trial.folder:
        raise LayoutError(
            [
                Problem(
                    file=layout.file,
                    code="not drawn here",
                    found="a layout without seed, or a trial without a folder",
                    expected="a layout that randomize drew for a trial read from a file",
                    fix="write the table of a layout drawn elsewhere yourself",
                )
            ]
        )
    _refuse_existing(trial)
    day = claimed_on or _today()
    _write(trial, layout, _record(layout, trial, day.isoformat()))


def finished(layout: Layout, trial: Trial) -> Layout:
    """The layout with the bytes that its files would hold, and able to write itself."""
    done = _with_bytes(layout, trial, _record(layout, trial, None))
    return replace(done, writer=lambda: write_layout(done, trial))


def _record(layout: Layout, trial: Trial, claimed_on: str | None) -> LayoutRecord:
    return LayoutRecord(
        record_format=RECORD_FORMAT,
        trial=trial.trial.id,
        layout=trial.design.layout,
        seed=layout.seed or 0,
        scheme=layout.scheme or SCHEME,
        wickstats=version("wickstats"),
        hash=layout.hash or canonical_hash(trial),
        claimed_on=claimed_on,
        drawn_how=layout.drawn_how,
        restricted=layout.restricted,
        base_plan=None
        if layout.plan is None
        else tuple(" ".join(map(str, line)) for line in layout.plan),
    )


def _with_bytes(layout: Layout, trial: Trial, record: LayoutRecord) -> Layout:
    name = trial.design.layout
    return replace(
        layout,
        source_bytes={
            name: layout_csv(layout).encode("utf-8"),
            record_name(name): record.to_bytes(),
        },
    )


def _write(trial: Trial, layout: Layout, record: LayoutRecord) -> None:
    path = Path(trial.folder) / trial.design.layout
    # the record first: a table without its record could not be told from one typed in
    write_whole(path.with_name(Path(record_name(path.name)).name), record.to_bytes())
    write_whole(path, layout_csv(layout).encode("utf-8"))


def _today() -> date:
    return datetime.now(tz=UTC).date()


def _refuse_existing(trial: Trial) -> None:
    name = trial.design.layout
    folder = Path(trial.folder)
    there = [n for n in (name, record_name(name)) if (folder / n).exists()]
    if there:
        raise LayoutError(
            [
                Problem(
                    file=there[0],
                    code="layout exists",
                    found=f"{' and '.join(there)} in the trial's folder",
                    expected="no layout yet: one that is drawn again until it looks right "
                    "is no longer random",
                    fix="keep it; or draw again with --redraw --reason TEXT, which keeps the "
                    "old layout and the reason in the record",
                )
            ]
        )


def _nothing_to_redraw(trial: Trial, record: LayoutRecord | None) -> Problem:
    if record is not None:
        return Problem(
            file=record_name(trial.design.layout),
            code="no reason",
            found="a blank reason",
            expected="the reason for drawing again, in words",
            fix="say what is wrong with the layout that exists",
        )
    return Problem(
        file=record_name(trial.design.layout),
        code="nothing to redraw",
        found=f"no {record_name(trial.design.layout)} in the trial's folder",
        expected="a layout that was drawn here, with its record",
        fix="draw the first layout without --redraw",
    )
