"""Names under which tables given in memory are archived. Leans on the trial's values."""

from wickstats.design.trial import Trial

LAYOUT_TABLE = "layout"


def memory_name(trial: Trial, table: str) -> str:
    """Name of the archived file of a table given in memory: none that the trial names."""
    taken = {trial.file, trial.design.layout}
    taken.update(source.file for files in trial.records.values() for source in files)
    name, n = f"{table}-in-memory.csv", 2
    while name in taken:
        name, n = f"{table}-in-memory-{n}.csv", n + 1
    return name
