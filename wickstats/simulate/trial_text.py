"""A trial as the text of a trial file: the same trial, its mark and its records.

Written from the checked values, so that reading it again gives them back. Leans on pyyaml
and the trial's values.
"""

from typing import Any

import yaml

from wickstats.core.words import say
from wickstats.design.trial import Simulated, Trial
from wickstats.simulate.files import Sources

WIDTH = 96


class _Plain(yaml.SafeDumper):
    """No anchors: trial files have none."""

    def ignore_aliases(self, data: Any) -> bool:
        """Write everything out."""
        del data
        return True


def trial_text(trial: Trial, mark: Simulated, records: Sources, *, keep_seed: bool) -> bytes:
    """The trial file of a rehearsal.

    Parameters
    ----------
    records
        The files that hold the simulated tables.
    keep_seed
        Whether the design's seed is the one of the layout beside it.
    """
    head = trial.trial.model_copy(update={"simulated": mark})
    design = trial.design
    if not keep_seed:
        design = design.model_copy(update={"seed": None})
    new = trial.model_copy(update={"trial": head, "records": records, "design": design})
    plain = new.model_dump(
        mode="python",
        by_alias=True,
        exclude_unset=True,
        exclude_none=True,
        exclude={"file", "folder", "source"},
    )
    values = {"format": 1, **{key: _listed(value) for key, value in plain.items()}}
    values["factors"] = {
        f["name"]: {k: v for k, v in f.items() if k != "name"} for f in values["factors"]
    }
    values["records"] = {k: [*v] if len(v) > 1 else v[0] for k, v in values["records"].items()}
    text = yaml.dump(values, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=WIDTH)
    note = say("simulated done", seed=mark.seed)
    return f"# {note}\n{text}".encode()


def _listed(value: Any) -> Any:
    """Tuples as lists, all the way down."""
    if isinstance(value, dict):
        return {key: _listed(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_listed(item) for item in value]
    return value
