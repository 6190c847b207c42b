"""A demo season's report as files, recomputed once for all tests of the audit."""

import functools
import tempfile
from pathlib import Path
from typing import Any

from wickstats.api import analyze, read_records, read_trial
from wickstats.archive.manifest import make_manifest, write_manifest
from wickstats.core.codec import parse_json
from wickstats.demo.trials import copy_demo
from wickstats.recheck.audit import judge
from wickstats.recheck.recompute import Recomputed, recompute
from wickstats.report.write import report_files


class Season:
    """A report's files, its results, and one recomputation; never to be changed."""

    def __init__(self, folder: Path) -> None:
        trial = read_trial(folder / "trial.yaml")
        self.results = analyze(trial, read_records(trial))
        self.files = report_files(self.results)
        self.trial = self.results.trial.id
        made = make_manifest(self.files, trial=self.trial)
        self.files["manifest.json"] = write_manifest(made)
        self.again: Recomputed = recompute(self.files, "trial.yaml", report_files)
        self.plain: dict[str, Any] = parse_json(self.files["results.json"])

    def serious(self, path: str, data: bytes, *, new_manifest: bool) -> list[str]:
        """Places of the serious findings when one file is another."""
        files = {**self.files, path: data}
        if new_manifest:
            files["manifest.json"] = write_manifest(make_manifest(files, trial=self.trial))
        audit = judge(files, self.again, name="report", results=self.results)
        return [f.place for f in audit.findings if f.serious]


@functools.cache
def audited(name: str) -> Season:
    """The season of one demo trial."""
    with tempfile.TemporaryDirectory() as out:
        folders = {folder.name: folder for folder in copy_demo(Path(out))}
        return Season(folders[name])
