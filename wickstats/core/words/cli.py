"""What the program prints beside the results. Leans on words.plural."""

from wickstats.core.words.plural import Entry, Plural

ENGLISH: dict[str, Entry] = {
    # counts
    "count problems": Plural("{n} problem", "{n} problems"),
    "count queries": Plural("{n} query", "{n} queries"),
    "count rows left": Plural("{n} row not used", "{n} rows not used"),
    "count comparisons": Plural("{n} comparison", "{n} comparisons"),
    "count recomputed": Plural("{n} number recomputed", "{n} numbers recomputed"),
    "count serious": Plural("{n} serious finding", "{n} serious findings"),
    "count questions": Plural("{n} question", "{n} questions"),
    "count papers": Plural("{n} paper", "{n} papers"),
    "count workbooks": Plural("{n} workbook", "{n} workbooks"),
    "count processes": Plural("{n} process", "{n} processes"),
    # problems, queries, rows not used
    "cli found": "    found     {text}",
    "cli expected": "    expected  {text}",
    "cli fix": "    to mend   {text}",
    "cli others": "... and others",
    "cli others json": "... and others (--json lists all)",
    "cli rest json": "    {rest} (--json lists all)",
    "cli not used": "{file}, {rows}: not used: {reason}",
    "cli not used more": "    and {n} more like this, in {rows}",
    "cli refused": "cannot be read or written",
    "cli refused expected": "a file or folder that you may use, and room on the disk",
    "cli refused fix": "check the name, the permissions and the space that is left",
    "cli the disk": "the disk",
    "cli not there": "not there yet: {files}",
    "cli no problems": "{file}: no problems; {queries}, {left}",
    "cli simulated expected": "a rehearsal",
    "cli simulated fix": "nothing needs to be done: every report of it is marked SIMULATED",
    # outcomes
    "cli outcome": "{queries}, {left}; see the report",
    "cli demo outcome": "{name}: {queries}, {left}, audit: {serious}",
    "cli demo invented": "All data here are invented, for demonstration.",
    "cli audit outcome": "{recomputed}, {serious}, {questions}",
    "cli laid out": "{plots} laid out with seed {seed}: {file}",
    "cli new a file": "{folder} is a file: name a folder, which may be new.",
    "cli new there": "{folder} already holds {files}; nothing was written.",
    "cli new written": "Written to {folder}: {files}",
    "cli new next": (
        "Next: edit trial.yaml, then wickstats check and wickstats power, before planting."
    ),
    "cli seasons so far": (
        "{done} of {wanted} seasons; first comparison shown in {chance} % (+-{error})"
    ),
    "cli seconds": "{n} seconds",
    "cli minutes": "{n} minutes",
    "cli hours": "{n} hours",
    # steps, while they run
    "step reading": "reading the trial and its records",
    "step analyzing": "analyzing",
    "step writing": "drawing and writing",
    "step simulating": "simulating and analyzing",
    "step laying out": "laying out the plots",
    "step demo": "{name}: {step}",
    "step demo reading": "reading",
    "step auditing": "auditing",
    "step done": "done",
    # faults
    "cli interrupted": "Interrupted; nothing half-written was left.",
    "cli fault": (
        "wickstats stopped at a fault of its own, not yours. Nothing half-written was left.\n"
        "Please send the maintainers the trial file, the command and these lines:\n\n"
        "wickstats {version}, Python {python}, {platform}\n"
        "command: {command}\n{trace}"
    ),
}
