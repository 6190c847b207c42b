"""A season simulated from the trial's assumptions, and its report, marked SIMULATED.

The tables are written as the crew would write them and read back from disk by the same
road as a real season. Leans on simulate, layout, records and ``season``.
"""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from wickstats.core.errors import LayoutError, Problem, TrialError
from wickstats.core.notebook import Shown
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.design.canonical import canonical_hash
from wickstats.design.read import read_trial
from wickstats.design.trial import Simulated, Trial
from wickstats.layout.plots import Layout
from wickstats.layout.randomize import SEED_LIMIT, randomize
from wickstats.layout.read import read_layout
from wickstats.records.read import read_records
from wickstats.records.season import Season
from wickstats.road.season import compose
from wickstats.simulate.files import seal_of, season_files
from wickstats.simulate.resolve import SeasonModel, season_model
from wickstats.simulate.streams import stream
from wickstats.simulate.tables import crew_tables
from wickstats.simulate.tell import lines_of
from wickstats.simulate.trial_text import trial_text
from wickstats.sizing.past import PastSeason
from wickstats.sizing.past_assumed import with_past

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Rehearsal(Shown):
    """A simulated season and what became of it.

    Attributes
    ----------
    trial
        The trial file of the rehearsal, with its mark.
    season, results
        As of a real season; ``results.simulated`` is true.
    files
        Trial file, layout and record tables: name -> bytes.
    own_layout
        Whether a layout was drawn for the rehearsal alone.
    assumed
        What the season rests on, in words.
    """

    trial: Trial
    season: Season
    results: Results
    files: Mapping[str, bytes]
    own_layout: bool
    assumed: tuple[str, ...]

    def to_frame(self, table: str = "comparisons") -> "pd.DataFrame":
        """Return a table of all responses of the simulated season, as ``Results`` does."""
        return self.results.to_frame(table)


def rehearse_season(trial: Trial, seed: int = 1, past: PastSeason | None = None) -> Rehearsal:
    """Simulate a season and analyze it.

    Parameters
    ----------
    seed
        The same seed gives the same season.
    past
        A past season: how much units differ is taken from there, as uncertain as it is.

    Raises
    ------
    TrialError
        Holding every assumption that is missing, each with an example to paste.
    LayoutError
        Where there is no layout and none can be drawn.
    ReportError
        Where the past season does not fit this trial.
    """
    if not 0 <= seed <= SEED_LIMIT:
        raise TrialError([_bad_seed(trial, seed)])
    told: tuple[str, ...] = ()
    if past is not None:
        trial, told = with_past(trial, past, seed)
    files, model, own, kept = _simulated(trial, seed)
    assumed = (*lines_of(model), *told)
    if kept:
        assumed = (*assumed, say("simulated weather kept", files=", ".join(sorted(kept))))
    return _read_back(files, trial, own=own, assumed=assumed)


def rehearse_tables(trial: Trial, seed: int = 1) -> dict[str, bytes]:
    """Trial file, layout and tables of a rehearsal, without their analysis.

    Raises
    ------
    TrialError, LayoutError
        As ``rehearse_season``.
    """
    return _simulated(trial, seed)[0]


def _simulated(
    trial: Trial, seed: int
) -> tuple[dict[str, bytes], SeasonModel, bool, dict[str, bytes]]:
    """Files of the season, what it rests on, whether its layout was drawn for it, weather."""
    if not 0 <= seed <= SEED_LIMIT:
        raise TrialError([_bad_seed(trial, seed)])
    layout, own = _layout(trial, seed)
    model = season_model(trial, layout)
    kept = own_weather(trial)
    files, records = season_files(trial, crew_tables(model, seed), kept)
    files = {**layout.source_bytes, **files}
    mark = Simulated(seed=seed, tables=seal_of(files))
    text = trial_text(trial, mark, records, keep_seed=not own)
    return {trial.file or "trial.yaml": text, **files}, model, own, kept


def own_weather(trial: Trial) -> dict[str, bytes]:
    """Files of the trial's own table of weather, where it has rows and files of its own.

    Weather that shares a workbook with other tables is simulated with them.
    """
    sources = trial.records.get("weather", ())
    others = {s.file for name, held in trial.records.items() if name != "weather" for s in held}
    folder = Path(trial.folder) if trial.folder else None
    if folder is None or not sources or any(s.file in others for s in sources):
        return {}
    if not all((folder / s.file).is_file() for s in sources):
        return {}
    alone = trial.model_copy(update={"records": {"weather": sources}})
    layout, _ = _layout(trial, 0)
    table = read_records(alone, layout=layout).table("weather")
    if table is None or not len(table):
        return {}
    return {s.file: (folder / s.file).read_bytes() for s in sources}


def _read_back(
    files: Mapping[str, bytes], trial: Trial, *, own: bool, assumed: tuple[str, ...]
) -> Rehearsal:
    name = trial.file or "trial.yaml"
    with tempfile.TemporaryDirectory(prefix="rehearsal-") as temporary:
        folder = Path(temporary).resolve()
        for path, data in files.items():
            target = folder / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
        again = read_trial(folder / name)
        if canonical_hash(again) != canonical_hash(trial):
            raise AssertionError("the rehearsal's trial file is not the trial's")
        season = read_records(again, read_layout(again))
        results = compose(again, season)
    return Rehearsal(again, season, results, files, own, assumed)


def _layout(trial: Trial, seed: int) -> tuple[Layout, bool]:
    """The trial's layout, else one drawn for the rehearsal from a seed of its own."""
    if trial.folder and (Path(trial.folder) / trial.design.layout).exists():
        return read_layout(trial), False
    if trial.design.drawn != "here":
        raise LayoutError(
            [
                Problem(
                    trial.design.layout,
                    "missing file",
                    say("simulate no layout found", file=trial.design.layout),
                    say("simulate no layout expected"),
                    say("simulate no layout fix"),
                )
            ]
        )
    own = int(stream(seed, "layout").integers(SEED_LIMIT))
    return randomize(trial, seed=own), True


def _bad_seed(trial: Trial, seed: int) -> Problem:
    return Problem(
        trial.file or "trial.yaml",
        "impossible value",
        f"the seed {seed}",
        f"a whole number from 0 to {SEED_LIMIT}",
        "choose another",
    )
