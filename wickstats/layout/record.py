"""layout.record.json: seed, scheme, digest, and every earlier draw with its reason.

A date in it is claimed by whoever ran the program; nothing proves it. Leans on core.codec and
restricted.
"""

from dataclasses import dataclass, replace
from pathlib import Path

from wickstats.core.codec import dump_json, from_plain, parse_json
from wickstats.core.errors import LayoutError, Problem
from wickstats.design.trial import Trial
from wickstats.layout.restricted import AllowedShare

RECORD_FORMAT = 1


@dataclass(frozen=True, slots=True)
class EarlierDraw:
    """A layout that was drawn and given up; ``layout`` is its table as text."""

    seed: int
    scheme: str
    hash: str
    claimed_on: str | None
    layout: str
    given_up_because: str


@dataclass(frozen=True, slots=True)
class LayoutRecord:
    """How a layout was drawn."""

    record_format: int
    trial: str
    layout: str  # the table's file name
    seed: int
    scheme: str
    wickstats: str
    hash: str  # SHA-256 of the canonical design, factors, responses and plan
    claimed_on: str | None
    earlier: tuple[EarlierDraw, ...] = ()
    drawn_how: str | None = None  # in words, where it needs words
    restricted: AllowedShare | None = None  # what it was kept to
    base_plan: tuple[str, ...] | None = None  # a block's labels a line, before the draw
    sealed_key: str | None = None  # SHA-256 of the key to papers that hide the treatments

    def superseded(self, new: "LayoutRecord", *, table: str, reason: str) -> "LayoutRecord":
        """The record of a new draw that keeps this one."""
        old = EarlierDraw(self.seed, self.scheme, self.hash, self.claimed_on, table, reason)
        return replace(new, earlier=(*self.earlier, old))

    @property
    def plan(self) -> tuple[tuple[int, ...], ...] | None:
        """The labels of ``base_plan`` (ValueError where they are no whole numbers)."""
        if self.base_plan is None:
            return None
        return tuple(tuple(int(label) for label in line.split()) for line in self.base_plan)

    def to_bytes(self) -> bytes:
        """The file's bytes."""
        return dump_json(self)


def record_name(layout_file: str) -> str:
    """layout.csv -> layout.record.json, in the same folder."""
    return Path(layout_file).with_suffix(".record.json").as_posix()


def record_bytes(trial: Trial) -> bytes | None:
    """The record's bytes in the trial's folder, or None where there is no record."""
    try:
        return (Path(trial.folder) / record_name(trial.design.layout)).read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return None


def read_record(trial: Trial) -> LayoutRecord | None:
    """The record in the trial's folder, or None where there is none.

    Raises
    ------
    LayoutError
        Where the file cannot be read as a record.
    """
    data = record_bytes(trial)
    if data is None:
        return None
    try:
        record: LayoutRecord = from_plain(LayoutRecord, parse_json(data))
        why = "" if record.record_format == RECORD_FORMAT else "another record_format"
        _ = record.plan  # a plan that is no plan is told here
    except (ValueError, RecursionError) as error:
        record, why = LayoutRecord(0, "", "", 0, "", "", "", None), str(error) or "no JSON"
    if why:
        raise LayoutError(
            [
                Problem(
                    file=record_name(trial.design.layout),
                    code="unreadable record",
                    found=why.lstrip(".: "),
                    expected="the record that the command randomize wrote, unchanged",
                    fix="bring the file back from a copy; without it nobody can show how "
                    "the layout was drawn",
                )
            ]
        )
    return record
