"""All papers of a trial as one folder, built apart and then swapped in.

A folder without our manifest, a report's folder, and one whose files somebody filled in are
never replaced. Leans on the other modules of this package and on archive.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from wickstats.archive.folder import read_folder, write_folder
from wickstats.archive.manifest import MANIFEST_NAME, compare, read_manifest
from wickstats.core.codec import write_whole
from wickstats.core.errors import LayoutError, Problem, ReportError
from wickstats.core.words import say
from wickstats.crew.common import Set, tells
from wickstats.crew.day_paper import day_paper
from wickstats.crew.first_paper import first_paper
from wickstats.crew.ground import ground_of
from wickstats.crew.key import key_csv, key_paper, seal_of
from wickstats.crew.label_paper import plant_labels, plot_labels
from wickstats.crew.map_paper import map_paper, map_picture
from wickstats.crew.sheet_paper import sheet_paper
from wickstats.crew.tables import FieldSheet, has_plants, sheets_of, with_controls
from wickstats.crew.workbooks import plain_files, workbooks
from wickstats.design.defaults import plan_of
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.record import read_record, record_name
from wickstats.pages.print_blocks import Paper
from wickstats.pages.prints import render_paper

FIRST, KEY_CSV = "index.html", "key/key.csv"


@dataclass(frozen=True, slots=True)
class Written:
    """The folder that was written, what stands in it, and the digest of a sealed key."""

    folder: Path
    files: tuple[str, ...]
    seal: str | None
    record: str | None  # the layout's record, where the digest was added to it


def paper_files(
    trial: Trial, layout: Layout, *, visits: int | None = None
) -> tuple[dict[str, bytes], str | None]:
    """All files of the folder but its manifest, and the digest of a sealed key.

    Raises
    ------
    LayoutError
        Where treatments are to be hidden and a plot's name tells its own.
    """
    hidden = plan_of(trial).blind
    papers = Set(trial, layout, ground_of(layout, by_name=hidden))
    files: dict[str, bytes] = {}
    if papers.blind:
        _refuse_telling(papers)
        data = key_csv(papers)
        papers = replace(papers, seal=seal_of(data))
        files |= {KEY_CSV: data, "key/key.html": render_paper(key_paper(papers))}
    sheets = tuple(
        with_controls(s, trial, papers.ground)
        for s in sheets_of(trial, layout, papers.ground, visits)
    )
    made: dict[str, Paper] = {
        "map.html": map_paper(papers),
        **{f"sheet-{s.name}.html": sheet_paper(papers, s) for s in sheets},
        "labels-plots.html": plot_labels(papers),
    }
    if has_plants(layout):
        made["labels-plants.html"] = plant_labels(papers)
    made["checklist.html"] = day_paper(papers)
    files |= {name: render_paper(paper) for name, paper in made.items()}
    files["map.svg"] = map_picture(papers)
    books = workbooks(trial, papers.ground.plots, sheets)
    plain, unsafe = plain_files(sheets)
    files |= {f"fill-in/{name}": data for name, data in {**books, **plain}.items()}
    said = _contents(sheets, files)
    files[FIRST] = render_paper(first_paper(papers, sheets, said, unsafe))
    return files, papers.seal


def write_papers(
    trial: Trial, layout: Layout, folder: Path, *, visits: int | None = None
) -> Written:
    """Write all papers as one folder.

    Raises
    ------
    LayoutError
        Where a plot's name tells a treatment that is to be hidden.
    ReportError
        Where something else stands there, or a workbook in it was filled in.
    """
    files, seal = paper_files(trial, layout, visits=visits)
    _refuse_used(folder)
    place = write_folder(folder, files, trial=trial.trial.id)
    record = _note_seal(trial, seal) if seal is not None else None
    return Written(place, tuple(sorted(files)), seal, record)


def _contents(sheets: tuple[FieldSheet, ...], files: Mapping[str, bytes]) -> dict[str, str]:
    """File -> what it is for, in the order of use."""
    out = {"map.html": say("paper file for map"), "map.svg": say("paper file for svg")}
    out["checklist.html"] = say("paper file for planting")
    out["labels-plots.html"] = say("paper file for labels plots")
    out["labels-plants.html"] = say("paper file for labels plants")
    for s in sheets:
        heads = ", ".join(a.head for a in s.asked)
        out[f"sheet-{s.name}.html"] = say("paper file for sheet", columns=heads)
    for s in sheets:
        named = ", ".join(o.name for o in sheets if o.file == s.file)
        out[f"fill-in/{s.file}"] = say("paper file for workbook", tables=named)
    for s in sheets:
        if s.plain:
            out[f"fill-in/{s.plain}"] = say("paper file for plain", tables=s.name)
    out["key/key.html"] = out[KEY_CSV] = say("paper file for key")
    return {name: text for name, text in out.items() if name in files}


def _refuse_telling(papers: Set) -> None:
    problems = []
    for i, plot in enumerate(papers.layout.plots):
        names = (plot.plot, plot.reservoir or "")
        told = next((t for n in names if (t := tells(papers.trial, n))), None)
        if told is not None:
            problems.append(
                Problem(
                    papers.layout.file,
                    "a name tells the treatment",
                    found=f"{' and '.join(n for n in names if n)}, which holds {told}",
                    expected="names that say nothing of the treatment, as the plan is blind",
                    fix="rename it in the layout and everywhere, or write blind: false",
                    row=i + 2,
                    column="plot",
                )
            )
    if problems:
        raise LayoutError(problems)


def _refuse_used(folder: Path) -> None:
    """Nothing that somebody typed is ever lost, and no report becomes papers."""
    manifest = folder / MANIFEST_NAME
    if not manifest.is_file():
        return
    known = read_manifest(manifest.read_bytes())
    if "results.json" in {entry.path for entry in known.files}:
        raise ReportError([_problem(folder.name, "not overwritten", "a report of a season")])
    changed = [c for c in compare(known, read_folder(folder)) if c.what != "missing"]
    if changed:
        raise ReportError(
            [_problem(f"{folder.name}/{c.path}", "filled in", _seen(c.what)) for c in changed]
        )


def _seen(what: str) -> str:
    return say("papers changed since" if what == "changed" else "papers not ours")


def _problem(file: str, code: str, found: str) -> Problem:
    return Problem(
        file,
        code,
        found=found,
        expected="no folder there, or papers as they were written",
        fix="copy what was filled in elsewhere and delete the folder, or choose another --out",
    )


def _note_seal(trial: Trial, seal: str) -> str | None:
    """Write the key's digest into the layout's record, where there is one."""
    record = read_record(trial)
    if record is None or record.sealed_key == seal:
        return None
    name = record_name(trial.design.layout)
    write_whole(Path(trial.folder) / name, replace(record, sealed_key=seal).to_bytes())
    return name
