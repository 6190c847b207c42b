"""Labels of plots and plants with a machine-readable symbol. Leans on pages."""

from wickstats.core.words import say
from wickstats.crew.common import Set, ours, place_of
from wickstats.crew.tables import plants_of
from wickstats.layout.plant_codes import plant_code
from wickstats.pages.print_blocks import Label, Labels, Paper, Part

COPIES = 2  # of each plot's label: on the stake, and one that does not hang on it


def plot_labels(papers: Set) -> Paper:
    """Two labels a plot, in walking order."""
    made = []
    for plot in papers.ground.plots:
        lines = [papers.trial.trial.id, place_of(plot)]
        if not papers.blind:
            lines.append(plot.treatment)
        label = Label(plot.plot, plot.plot, tuple(line for line in lines if line))
        made += [label] * COPIES
    key = "paper labels pieces" if papers.bench else "paper labels plots"
    return _paper(papers, key, Labels(tuple(made), 2, 8, 92.0, 30.0))


def plant_labels(papers: Set) -> Paper:
    """One label a plant, in walking order; never with the treatment."""
    made = []
    for plot in papers.ground.plots:
        for number in plants_of(plot):
            code = plant_code(plot.plot, number)
            made.append(Label(code, code, (papers.trial.trial.id,)))
    return _paper(papers, "paper labels plants", Labels(tuple(made), 3, 11, 62.0, 22.0))


def _paper(papers: Set, key: str, labels: Labels) -> Paper:
    checks = "paper label checks" if ours(papers.layout) else "paper label checks foreign"
    return Paper(
        papers.title(key),
        (Part(say(key), (labels,), new_page=True),),
        lead=(say("paper label advice"), say(checks)),
        footer=papers.footer,
        banners=papers.banners,
    )
