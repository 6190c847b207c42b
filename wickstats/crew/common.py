"""What all papers share: names that may be shown, closing lines, words for places.

On blind papers no text of the trial that names a treatment is shown. Leans on core.words.
"""

import re
from dataclasses import dataclass

from wickstats.core.words import say
from wickstats.crew.ground import Ground
from wickstats.design.defaults import plan_of
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot


@dataclass(frozen=True, slots=True)
class Set:
    """A trial's layout on the ground, and whether treatments are hidden (with what seal)."""

    trial: Trial
    layout: Layout
    ground: Ground
    seal: str | None = None

    @property
    def blind(self) -> bool:
        """Whether papers hide the treatments."""
        return plan_of(self.trial).blind

    @property
    def bench(self) -> bool:
        """Whether this is a bench trial."""
        return self.trial.trial.place == "bench"

    @property
    def name(self) -> str:
        """The trial's title; its identifier where there is none or it names a treatment."""
        title = self.trial.trial.title
        if title is None or (self.blind and tells(self.trial, title)):
            return self.trial.trial.id
        return title

    @property
    def banners(self) -> tuple[str, ...]:
        """What stands over every paper."""
        out = []
        if self.trial.trial.simulated is not None:
            out.append(say("paper footer simulated"))
        if self.trial.trial.invented:
            out.append(say("paper footer invented"))
        return tuple(out)

    @property
    def footer(self) -> tuple[str, ...]:
        """What stands under every paper."""
        digest = (self.layout.hash or "")[:12]
        lines = [
            say("paper footer", trial=self.trial.trial.id, layout=digest or self.layout.file)
        ]
        if self.seal is not None:
            lines.append(say("paper seal", digest=self.seal))
        return tuple(lines)

    def title(self, paper: str) -> str:
        """The title of a paper (its key in the catalog)."""
        return say("paper page of", paper=say(paper), trial=self.name)


def tells(trial: Trial, text: str) -> str | None:
    """The level that a text names as a word of its own, or None."""
    for factor in trial.factors:
        for level in factor.level_names:
            if re.search(rf"(?<!\w){re.escape(level)}(?!\w)", text, re.IGNORECASE):
                return level
    return None


def place_of(plot: Plot) -> str:
    """Block or run of a plot, in words; blank where it has none."""
    if plot.block is None:
        return say("paper label run", run=plot.run) if plot.run else ""
    return say("paper label block", block=plot.block)


def ours(layout: Layout) -> bool:
    """Whether every plot carries a check sign of ours."""
    from wickstats.layout.codes import is_code

    return all(is_code(p.plot) for p in layout.plots)


def text_of(value: object) -> str:
    """A number or name as text; blank for None."""
    return "" if value is None else str(value)
