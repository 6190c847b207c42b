"""Whether a report is a rehearsal, and whether anybody took its mark away.

The mark stands in three places: the trial file, the notes of the rows, and a seal over
layout and tables. Leans on ``recompute``, simulate.files and core.
"""

from collections.abc import Mapping

from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.recheck.findings import Finding
from wickstats.recheck.recompute import INPUTS, Recomputed
from wickstats.simulate.files import seal_of


def is_simulated(results: Results | None, again: Recomputed) -> bool:
    """By the results, the trial file, or the rows."""
    told = results is not None and results.simulated
    return told or again.mark is not None or again.rows.marked > 0


def mark_findings(
    files: Mapping[str, bytes],
    results: Results,
    again: Recomputed,
    *,
    same_versions: bool,
) -> list[Finding]:
    """What does not agree between the three places of the mark, and with its seed.

    ``same_versions``: whether the seed must give the very tables again.
    """
    trial_file = INPUTS + (results.inputs[0].path if results.inputs else "trial.yaml")
    rows = again.rows
    if again.plain is None:
        return []
    out: list[Finding] = []
    if again.mark is None:
        if rows.marked:
            sentence = say("audit mark removed", marked=rows.marked)
            out.append(Finding("serious", "input", trial_file, sentence))
        return out
    if rows.marked < rows.rows:
        sentence = say("audit rows unmarked", plain=rows.rows - rows.marked, rows=rows.rows)
        out.append(Finding("serious", "input", trial_file, sentence))
    held = {
        name.removeprefix(INPUTS): data
        for name, data in files.items()
        if name.startswith(INPUTS) and name != trial_file
    }
    if again.mark.tables is not None and seal_of(held) != again.mark.tables:
        out.append(Finding("serious", "input", trial_file, say("audit seal")))
    other = [n for n, data in again.redrawn.items() if held.get(n) != data]
    if other and same_versions:
        sentence = say("audit not the seed's", seed=again.mark.seed)
        out.extend(Finding("serious", "input", INPUTS + name, sentence) for name in other)
    return out
