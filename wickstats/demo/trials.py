"""The invented demo trials that ship with the package, and a copy of them on disk.

Each trial is a folder beside this module: trial file, layout, record tables and
``truth.yaml``, from which ``make_seasons`` made the tables. Leans on
importlib.resources and core.codec.
"""

from collections.abc import Mapping
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from wickstats.core.codec import write_whole

TRIALS = ("quarry-oaks", "garden-peppers", "bench-cords")


def demo_trials() -> dict[str, Mapping[str, Traversable]]:
    """Return trial name -> file name -> the file as it ships.

    The trial file comes first; the rest follow by name.
    """
    root = files("wickstats.demo")
    return {name: _files(root / name) for name in TRIALS}


def copy_demo(out: Path) -> list[Path]:
    """Copy every demo trial into a folder of its own under ``out``.

    Files of the same name are replaced, so that the demo always starts from
    what ships; nothing else in the folders is touched.

    Returns
    -------
    list of Path
        The trial folders, in the order of ``TRIALS``.
    """
    folders = []
    for name, parts in demo_trials().items():
        folder = out / name
        for part, source in parts.items():
            write_whole(folder / part, source.read_bytes())
        folders.append(folder)
    return folders


def _files(folder: Traversable) -> dict[str, Traversable]:
    found = {part.name: part for part in folder.iterdir() if part.is_file()}
    return {name: found[name] for name in sorted(found, key=lambda n: (n != "trial.yaml", n))}
