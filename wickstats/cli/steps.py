"""A progress bar over named steps, on a terminal only, to standard error. Leans on rich."""

import sys
from types import TracebackType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID


class Steps:
    """Shows which of ``total`` steps runs; silent where nobody watches."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._progress: Progress | None = None
        self._task: TaskID | None = None
        self._done = 0

    def __enter__(self) -> "Steps":
        """Start the bar where standard error is a terminal."""
        if sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import Progress

            self._progress = Progress(console=Console(stderr=True), transient=True)
            self._progress.start()
            self._task = self._progress.add_task("", total=self._total)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Take the bar away, also after a fault."""
        del kind, error, trace
        if self._progress is not None:
            self._progress.stop()

    def start(self, what: str) -> None:
        """Say what runs now; everything before it is done."""
        if self._progress is not None and self._task is not None:
            from rich.markup import escape

            self._progress.update(self._task, completed=self._done, description=escape(what))
        self._done += 1
