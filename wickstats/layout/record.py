"""layout.record.json: seed, scheme, digest, and every earlier draw with its reason.

A date in it is claimed by whoever ran the program; nothing proves it. Leans on core.codec.
"""

from dataclasses import dataclass, replace
from pathlib import Path

from wickstats.core.codec import dump_json, from_plain, parse_json
from wickstats.core.errors import LayoutError, Problem
from wickstats.design.trial import Trial

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

    def superseded(
        self, *, seed: int, digest: str, table: str, reason: str, claimed_on: str | None
    ) -> "LayoutRecord":
        """The record of a new draw that keeps this one."""
        old = EarlierDraw(self.seed, self.scheme, self.hash, self.claimed_on, table, reason)
        return replace(
            self, seed=seed, hash=digest, claimed_on=claimed_on, earlier=(*self.earlier, old)
        )

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
