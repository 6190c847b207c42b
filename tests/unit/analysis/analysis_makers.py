"""Hand-made trials, layouts and seasons for the tests of the analysis."""

from collections.abc import Sequence
from typing import Any

import pandas as pd

from wickstats.design.trial import (
    ComparisonPlan,
    Design,
    Factor,
    Level,
    Plan,
    Response,
    Trial,
    TrialHead,
)
from wickstats.layout.plots import Layout, Plot
from wickstats.records.season import Season


def factor(
    name: str, levels: Sequence[str], reference: str | None = None, applied_to: str = "plot"
) -> Factor:
    return Factor(
        name=name,
        applied_to=applied_to,
        levels=tuple(Level(name=level, reference=level == reference) for level in levels),
    )


def make_trial(
    factors: Sequence[Factor],
    responses: Sequence[Response],
    *,
    design: str = "randomized complete block",
    plan: Plan | None = None,
    **parts: Any,
) -> Trial:
    return Trial(
        format=1,
        trial=TrialHead(id="made-up"),
        factors=tuple(factors),
        design=Design(type=design, layout="layout.csv", drawn="elsewhere"),
        responses=tuple(responses),
        plan=plan,
        **parts,
    )


def make_layout(
    rows: Sequence[dict[str, Any]],
    factors: Sequence[str],
    *,
    design: str = "randomized complete block",
    drawn: str = "elsewhere",
) -> Layout:
    """``rows``: plot, block, whole_plot, reservoir, plants and one key a factor."""
    plots = tuple(
        Plot(
            plot=row["plot"],
            levels={name: row[name] for name in factors},
            **{k: v for k, v in row.items() if k not in factors and k != "plot"},
        )
        for row in rows
    )
    return Layout(type=design, factors=tuple(factors), plots=plots, drawn=drawn)


def make_season(layout: Layout, **parts: Any) -> Season:
    tables = parts.pop("tables", {})
    return Season(layout=layout, tables=tables, queries=(), exclusions=(), inputs=(), **parts)


def one_value_a_plot(
    values: dict[str, Sequence[float]],
    *,
    design: str = "randomized complete block",
    response: Response | None = None,
    reference: str | None = None,
    plan: Plan | None = None,
    lost: dict[str, str] | None = None,
    **layout_parts: Any,
) -> tuple[Trial, Layout, Season]:
    """``values``: treatment -> one value a block (or replicate); NaN where missing."""
    rows, cells = [], []
    for treatment, given in values.items():
        for k, value in enumerate(given):
            plot = f"{treatment}-{k + 1}"
            row: dict[str, Any] = {"plot": plot, "treatment": treatment}
            if design != "completely randomized":
                row["block"] = str(k + 1)
            rows.append(row)
            cells.append({"plot": plot, "value": value, "file": "m.csv", "row": len(rows) + 1})
    asked = response or Response(name="value", kind="measurement", column="value")
    trial = make_trial(
        [factor("treatment", list(values), reference)], [asked], design=design, plan=plan
    )
    layout = make_layout(rows, ["treatment"], design=design, **layout_parts)
    season = make_season(
        layout, tables={"measurements": pd.DataFrame(cells)}, lost_plots=lost or {}
    )
    return trial, layout, season


def survival_season(
    alive: dict[str, Sequence[int]],
    plants: int,
    *,
    plan: Plan | None = None,
    reference: str | None = None,
    design: str = "randomized complete block",
    day: int = 100,
) -> tuple[Trial, Layout, Season]:
    """``alive``: treatment -> plants alive at the end in each block, of ``plants``.

    Deaths lie between day 40 and day 50; visits on day 0, 40, 50 and ``day``.
    """
    start = pd.Timestamp("2025-03-01")
    rows, lives = [], []
    for treatment, counts in alive.items():
        for k, living in enumerate(counts):
            plot = f"{treatment}-{k + 1}"
            row: dict[str, Any] = {"plot": plot, "treatment": treatment, "plants": plants}
            if design != "completely randomized":
                row["block"] = str(k + 1)
            rows.append(row)
            for plant in range(plants):
                lived = plant < living
                lives.append(
                    {
                        "plot": plot,
                        "plant": str(plant + 1),
                        "planted_on": start,
                        "original": True,
                        "replaces": None,
                        "last_alive": start + pd.Timedelta(days=day if lived else 40),
                        "first_dead": pd.NaT if lived else start + pd.Timedelta(days=50),
                        "cause": None if lived else "drought",
                        "last_seen": start + pd.Timedelta(days=day if lived else 50),
                        "fate": "alive" if lived else "dead",
                        "doubtful_from": pd.NaT,
                    }
                )
    trial = make_trial(
        [factor("treatment", list(alive), reference)],
        [Response(name="survival", kind="survival", better="more")],
        design=design,
        plan=plan,
    )
    layout = make_layout(rows, ["treatment"], design=design)
    return trial, layout, make_season(layout, lives=pd.DataFrame(lives))


PAIRS = ComparisonPlan(factor="treatment", compare="all pairs")
