"""Texts for ``wickstats new``: a commented trial file and empty record tables.

Leans on the registry of tables; the three texts are in templates_text.
"""

import re

from wickstats.design.tables import RECORD_TABLES
from wickstats.design.templates_text import BENCH, FIELD, GARDEN

# trial text, and the tables it names with the user's own quantities
_KINDS: dict[str, tuple[str, dict[str, tuple[str, ...]]]] = {
    "field": (
        FIELD,
        {"plants": (), "visits": (), "measurements": ("height_cm",), "water": (), "events": ()},
    ),
    "garden": (GARDEN, {"picks": (), "water": (), "events": ()}),
    "bench": (BENCH, {"readings": ()}),
}
_LEFT_OUT = ("alive_n", "dead_n", "not_found_n")  # for sheets that count whole plots


def template(like: str, trial_id: str) -> dict[str, str]:
    """File name -> text, for a new trial's folder.

    ``trial_id`` may be any folder name; what an identifier may not hold becomes a hyphen.

    Raises
    ------
    KeyError
        Where ``like`` is none of field, garden, bench.
    """
    text, tables = _KINDS[like]
    files = {"trial.yaml": text.replace("TRIAL-ID", _id(trial_id))}
    for name, own in tables.items():
        files[f"{name}.csv"] = ",".join(_heads(name, own)) + "\n"
    return files


def _id(text: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-")
    return plain[:64].rstrip("-") or "my-trial"


def _heads(name: str, own: tuple[str, ...]) -> list[str]:
    columns = [c for c in RECORD_TABLES[name].column_names if c not in _LEFT_OUT]
    at = columns.index("observer") if own and "observer" in columns else len(columns)
    return [*columns[:at], *own, *columns[at:]]
