"""Parts of simulations done here, by several processes, or on a cluster; the same bytes.

Parts are counted in whole numbers and named, so that neither their order nor who does them
matters. Finished parts may be kept in a folder and are not done again; a process that dies
loses only the part that it was at, which another one does. Interrupted, what there is
counts. Leans on ``seasons``, ``tally``, ``cluster``; joblib.
"""

import json
import pickle
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from wickstats.sizing.seasons import PART, Work, do_part
from wickstats.sizing.tally import Tally, summed

Item = tuple[int, int]  # which work, which part
RETRIES = 3  # times that processes may die one after another without a part done
Watch = Callable[["Progress"], None]


@dataclass(frozen=True, slots=True)
class Means:
    """Who does the work, and where finished parts are kept.

    Attributes
    ----------
    workers
        Processes of this machine.
    scheduler
        Address of a Dask scheduler, in place of them.
    keep
        Folder for finished parts; none are kept where None.
    watch
        Called after every part.
    announce
        Called once the first part has told how long one takes.
    warn
        Called with what speaks against the plan as a whole, before anything is simulated.
    """

    workers: int = 1
    scheduler: str | None = None
    keep: Path | None = None
    watch: Watch | None = None
    announce: Callable[["Cost"], None] | None = None
    warn: Callable[[str], None] | None = None


@dataclass(frozen=True, slots=True)
class Cost:
    """What is ahead: seasons, parts, and the seconds that they will take (estimated)."""

    seasons: int
    parts: int
    seconds: float
    kept: int  # parts that are there already
    workers: int  # 0: those of a cluster, in the seconds of a single one


@dataclass(frozen=True, slots=True)
class Progress:
    """How far it is: seasons done and wanted, the first work's tally so far."""

    done: int
    wanted: int
    first: Tally | None


@dataclass(frozen=True, slots=True)
class Simulated:
    """One tally a work (None where nothing was done), and whether it was interrupted."""

    tallies: tuple[Tally | None, ...]
    wanted: tuple[int, ...]
    interrupted: bool


@dataclass(slots=True)
class _State:
    works: Sequence[Work]
    data: list[bytes]
    parts: Sequence[int]
    means: Means
    folders: list[Path] = field(default_factory=list)  # of finished parts, one a work
    done: dict[Item, Tally] = field(default_factory=dict)
    first: Tally | None = None  # the first work's parts so far, summed as they come

    def left(self) -> list[Item]:
        """What is to be done: all works refine together."""
        most = max(self.parts, default=0)
        return [
            (w, k)
            for k in range(most)
            for w in range(len(self.works))
            if k < self.parts[w] and (w, k) not in self.done
        ]

    def take(self, item: Item, tally: Tally) -> None:
        """Count a part, keep it, and tell."""
        self.count(item, tally)
        if self.means.keep is not None:
            _keep(self.path(item), tally)
        if self.means.watch is not None:
            wanted = PART * sum(self.parts)
            self.means.watch(Progress(PART * len(self.done), wanted, self.first))

    def count(self, item: Item, tally: Tally) -> None:
        """A part is done, here or in an earlier run."""
        self.done[item] = tally
        if item[0] == 0:
            self.first = tally if self.first is None else summed([self.first, tally])

    def path(self, item: Item) -> Path:
        """Where a part is kept: a folder a work, by its digest."""
        return self.folders[item[0]] / f"part-{item[1]:06d}.json"

    def kept(self) -> list[Item]:
        """Parts asked for that a folder seems to hold; one look a folder, however many."""
        there = [
            {path.name for path in folder.iterdir()} if folder.is_dir() else set()
            for folder in self.folders
        ]
        return [item for item in self.left() if self.path(item).name in there[item[0]]]


def parts_for(seasons: int) -> int:
    """Parts that hold at least so many seasons."""
    return max(1, -(-seasons // PART))


def simulate(works: Sequence[Work], parts: Sequence[int], means: Means) -> Simulated:
    """Do ``parts[i]`` parts of ``works[i]``.

    Raises
    ------
    KeyboardInterrupt
        Where it is interrupted before the first part is done.
    OSError
        Where the folder cannot be written, or the scheduler not be reached.
    """
    state = _State(works, [pickle.dumps(w) for w in works], parts, means)
    if means.keep is not None:
        state.folders = [means.keep / f".power-{work.digest[:16]}" for work in works]
        for item in state.kept():
            if (kept := _kept(state.path(item))) is not None:
                state.count(item, kept)
    interrupted = False
    try:
        _first(state)
        _rest(state)
    except KeyboardInterrupt:
        if not state.done:
            raise
        interrupted = True
    tallies = tuple(
        summed(state.done[w, k] for k in range(n) if (w, k) in state.done)
        for w, n in enumerate(parts)
    )
    return Simulated(tallies, tuple(PART * n for n in parts), interrupted)


def _rest(state: _State) -> None:
    """All parts that are left; those that died with a process are done again."""
    from concurrent.futures.process import BrokenProcessPool

    died = 0
    while rest := state.left():
        before = len(state.done)
        try:
            with closing(_results(state, rest)) as results:
                for item, tally in results:
                    state.take(item, tally)
        except BrokenProcessPool:
            died = died + 1 if len(state.done) == before else 0
            if died > RETRIES:
                raise


def _first(state: _State) -> None:
    """The first part is done here and timed; larger trials take longer in proportion."""
    left = state.left()
    if not left or (state.means.announce is None and state.means.workers == 1):
        return
    w, k = left[0]
    do_part(state.data[w], k)  # once for what is worked out only once
    start = time.perf_counter()
    tally = do_part(state.data[w], k)
    each = (time.perf_counter() - start) / len(state.works[w].layout.plots)
    state.take((w, k), tally)
    if state.means.announce is not None:
        workers = 0 if state.means.scheduler is not None else max(state.means.workers, 1)
        seconds = sum(each * len(state.works[v].layout.plots) for v, _ in left[1:])
        seconds /= max(workers, 1)
        kept = len(state.done) - 1
        seasons = PART * len(left)
        state.means.announce(Cost(seasons, len(left), seconds, kept, workers))


def _results(state: _State, items: list[Item]) -> Generator[tuple[Item, Tally], None, None]:
    if state.means.scheduler is not None:
        from wickstats.sizing.cluster import on_cluster

        yield from on_cluster(state.means.scheduler, state.data, items)
    elif state.means.workers > 1:
        from joblib import Parallel, delayed

        pool = Parallel(n_jobs=state.means.workers, return_as="generator_unordered")
        yield from pool(delayed(_named)(state.data[w], w, k) for w, k in items)
    else:
        for w, k in items:
            yield (w, k), do_part(state.data[w], k)


def _named(data: bytes, work: int, part: int) -> tuple[Item, Tally]:
    return (work, part), do_part(data, part)


def _keep(path: Path, tally: Tally) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_suffix(".partial")
    partial.write_text(json.dumps(tally.to_plain()), encoding="utf-8")
    partial.replace(path)


def _kept(path: Path) -> Tally | None:
    """A part kept earlier; one that cannot be read is done again."""
    try:
        return Tally.from_plain(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError):
        return None
