"""Parts: the same bytes for one, two and many workers, resumed, interrupted, on a cluster."""

import importlib.util
import json
import os
import pickle
import signal
from pathlib import Path

import numpy as np
import pytest
from support_simulate import trial_of

from wickstats.layout.randomize import draw
from wickstats.sizing.assumed import expected
from wickstats.sizing.cluster import checked_address
from wickstats.sizing.plots import sizes_of
from wickstats.sizing.run import Cost, Means, Progress, parts_for, simulate
from wickstats.sizing.seasons import PART, Work, do_part, work_of
from wickstats.sizing.tally import Tally

LIVES = "  - {name: survival, kind: survival, at: 2027-10-11}"
ASSUME = "    survival: {alive_at_end: {hand: 0.6, wick: 0.9, drip: 0.8}}"


def work(seed: int = 1, *, losses: bool = False) -> Work:
    trial = trial_of(LIVES, ASSUME)
    layout = draw(trial, 3)
    sizes = sizes_of(trial, layout)
    assert not isinstance(sizes, str)
    what = expected(trial, trial.responses[0], sizes.cells, sizes.plants)
    assert not isinstance(what, str)
    found = work_of(trial, layout, "survival", what, seed=seed, losses=losses)
    assert isinstance(found, Work)
    return found


def plain(tallies: tuple[Tally | None, ...]) -> str:
    return json.dumps([None if t is None else t.to_plain() for t in tallies])


def test_one_two_and_three_workers_give_the_same_bytes() -> None:
    works, parts = [work(1), work(2)], [3, 2]
    found = [plain(simulate(works, parts, Means(workers=n)).tallies) for n in (1, 2, 3)]
    assert found[0] == found[1] == found[2]
    assert found[0] != plain(simulate([work(3), work(2)], parts, Means()).tallies)


def test_a_part_is_the_same_whenever_it_is_done() -> None:
    data = pickle.dumps(work())
    first = do_part(data, 4).to_plain()
    do_part(data, 2)
    assert do_part(pickle.dumps(work()), 4).to_plain() == first
    assert Tally.from_plain(json.loads(json.dumps(first))).to_plain() == first


def test_finished_parts_are_taken_from_the_folder(tmp_path: Path, monkeypatch) -> None:
    whole = simulate([work()], [3], Means())
    simulate([work()], [2], Means(keep=tmp_path))
    done: list[int] = []

    def counted(data: bytes, part: int) -> Tally:
        done.append(part)
        return do_part(data, part)

    monkeypatch.setattr("wickstats.sizing.run.do_part", counted)
    again = simulate([work()], [3], Means(keep=tmp_path))
    assert done == [2]  # the others were there
    assert plain(again.tallies) == plain(whole.tallies)
    # a part that cannot be read, or whose counts do not add up, is done again
    parts = sorted(tmp_path.glob(".power-*/part-*.json"))
    parts[0].write_text("{", encoding="utf-8")
    broken = json.loads(parts[1].read_text(encoding="utf-8"))
    broken["classes"][0][0] += 1
    parts[1].write_text(json.dumps(broken), encoding="utf-8")
    done.clear()
    assert plain(simulate([work()], [3], Means(keep=tmp_path)).tallies) == plain(whole.tallies)
    assert done == [0, 1]
    # another question never takes them
    done.clear()
    simulate([work(2)], [1], Means(keep=tmp_path))
    assert done == [0]


def test_interrupted_it_gives_what_there_is() -> None:
    def stop(progress: Progress) -> None:
        if progress.done >= 2 * PART:
            raise KeyboardInterrupt

    found = simulate([work()], [50], Means(watch=stop))
    assert found.interrupted
    tally = found.tallies[0]
    assert tally is not None
    assert tally.seasons == 2 * PART
    assert plain(found.tallies) == plain(simulate([work()], [2], Means()).tallies)
    p = tally.chance(0)
    assert tally.error(0) == pytest.approx(np.sqrt(p * (1 - p) / tally.seasons), rel=0.01)


def test_interrupted_before_the_first_part_there_is_nothing(monkeypatch) -> None:
    def stop(data: bytes, part: int) -> Tally:
        raise KeyboardInterrupt

    monkeypatch.setattr("wickstats.sizing.run.do_part", stop)
    with pytest.raises(KeyboardInterrupt):
        simulate([work()], [5], Means())


def children() -> list[int]:
    """Worker processes of this one: those that joblib keeps for parts."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((folder / "stat").read_text().rsplit(")", 1)[1].split()[1])
            words = (folder / "cmdline").read_bytes()
        except (OSError, IndexError, ValueError):
            continue
        if parent == os.getpid() and b"LokyProcess" in words:
            found.append(int(folder.name))
    return found


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
@pytest.mark.filterwarnings("ignore")  # what joblib says of a worker that was killed
def test_one_of_two_workers_is_killed_and_nothing_is_lost(tmp_path: Path) -> None:
    alone = plain(simulate([work(1)], [8], Means()).tallies)
    killed: list[int] = []

    def kill(progress: Progress) -> None:
        if progress.done >= 3 * PART and not killed:
            victims = children()
            assert len(victims) >= 2
            os.kill(victims[0], signal.SIGKILL)
            killed.append(victims[0])

    found = simulate([work(1)], [8], Means(workers=2, watch=kill, keep=tmp_path))
    assert killed
    assert not found.interrupted
    assert plain(found.tallies) == alone
    assert len(list(tmp_path.glob(".power-*/part-*.json"))) == 8


def test_what_is_ahead_is_told_before_the_rest_starts() -> None:
    told = []
    seen = []
    means = Means(announce=told.append, watch=lambda p: seen.append((p.done, len(told))))
    simulate([work(1), work(2)], [2, 2], means)
    assert (told[0].seasons, told[0].parts, told[0].kept) == (4 * PART, 4, 0)
    assert told[0].seconds > 0
    assert seen == [(PART, 0), (2 * PART, 1), (3 * PART, 1), (4 * PART, 1)]
    assert parts_for(1) == 1
    assert parts_for(100_000_000) == 100_000_000 // PART


@pytest.mark.parametrize(
    ("address", "full"),
    [
        ("127.0.0.1:8786", "tcp://127.0.0.1:8786"),
        ("tcp://localhost:8786", "tcp://localhost:8786"),
        ("tcp://[::1]:8786", "tcp://[::1]:8786"),
        ("tls://big.example:8786", "tls://big.example:8786"),
    ],
)
def test_addresses_of_this_machine_or_encrypted(address: str, full: str) -> None:
    assert checked_address(address) == full


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("tcp://10.0.0.7:8786", "on another machine without encryption"),
        ("tcp://localhost.evil.example:8786", "on another machine without encryption"),
        ("http://127.0.0.1:8786", "is no scheduler's address"),
        ("127.0.0.1", "is no scheduler's address"),
        ("tcp://127.0.0.1:x", "is no scheduler's address"),
        ("inproc://a", "is no scheduler's address"),
    ],
)
def test_other_addresses_are_refused(address: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        checked_address(address)


@pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None,
    reason="needs the extra cluster: pip install 'wickstats[cluster]'",
)
@pytest.mark.filterwarnings("ignore")  # what Dask says of a worker that was killed
def test_a_cluster_gives_the_same_and_loses_nothing_with_a_worker() -> None:
    from distributed import Client, LocalCluster

    works, parts = [work(1)], [12]
    alone = plain(simulate(works, parts, Means()).tallies)
    with (
        LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address=None,
            silence_logs=60,
        ) as cluster,
        Client(cluster, set_as_default=False) as client,
    ):
        victims = list(client.run(os.getpid).values())
        killed: list[int] = []

        def kill(progress: Progress) -> None:
            if progress.done >= 4 * PART and not killed:
                os.kill(victims[0], signal.SIGKILL)
                killed.append(victims[0])

        costs: list[Cost] = []
        means = Means(scheduler=cluster.scheduler_address, watch=kill, announce=costs.append)
        found = simulate(works, parts, means)
    assert killed
    assert costs[0].workers == 0  # how many work on it only the cluster knows
    assert not found.interrupted
    assert plain(found.tallies) == alone
