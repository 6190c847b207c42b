"""Section of the study's page on the routes usually taken.

Leans on the package's pages and core.numbers, trial_cells, usual_mixed, usual_picture.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Any

from trial_cells import GROUPS
from usual_held import ALIKE, EVERY, NEAR
from usual_mixed import KENWARD_ROGER, ROWS, SATTERTHWAITE, Z
from usual_picture import usual_picture

from wickstats.core.numbers import fixed, percent
from wickstats.pages.blocks import Column, Items, Picture, Section, Table

ROUTES = (ROWS, Z, SATTERTHWAITE, KENWARD_ROGER)
HEADS = tuple(f"{name} rejects" for name in ROUTES)


def usual_section(
    trials: Sequence[dict[str, Any]], cells: Sequence[dict[str, Any]], summary: dict[str, Any]
) -> Section:
    """What the usual routes do in the cells of this study.

    ``trials``: the usual routes' cells of totals and sizes; ``cells`` the first line's, in
    the same order.
    """
    usual = summary["usual"]
    return Section(
        "The usual routes beside it",
        (
            Items(tuple(_sentences(usual))),
            _groups(usual, summary["trials"]),
            Picture(
                name="usual.svg",
                svg=usual_picture(trials, cells, usual["seasons_a_cell"]),
                title="Null pairs that the usual routes call different",
                alternative=(
                    "One point a setting with several plants a plot, arms alike, by number of "
                    "blocks; dark: the first line in the same settings. Plants taken for "
                    "replicates reject the more, the more plots vary; the mixed model's z test "
                    "rejects too often throughout, least with many blocks; Satterthwaite's "
                    "degrees of freedom help but for three blocks; Kenward and Roger's are "
                    "blind there. The line is 5 %, the gray band four Monte Carlo standard "
                    "errors."
                ),
            ),
            _kinds(usual),
        ),
    )


def _sentences(usual: dict[str, Any]) -> list[str]:
    held, alike = usual["held"], usual["groups"]["alike"]
    return [
        (
            f"The same kinds of seasons, {_whole(usual['seasons_a_cell'])} in each of "
            f"{_whole(usual['cells'])} settings that have a null pair, tested in ways that are "
            "often seen."
        ),
        (
            "Rows as replicates: least squares of all rows (plants; subplots; plants at "
            "visits) on arms and blocks, rows and columns. With one row a plot that is the "
            "first line itself, and left out."
        ),
        (
            "Mixed model by restricted likelihood, blocks, rows and columns fixed, plots (and "
            "whole plots) random; with one row a plot blocks, or rows of a square, random. "
            "Growth: plants random, the usual way. Its fixed part tested against the normal "
            "distribution (z), with Satterthwaite's degrees of freedom, where a component "
            "estimated at zero leaves the model, and with Kenward and Roger's."
        ),
        (
            f"The fits are this package's own. In every {EVERY}th setting statsmodels' MixedLM "
            f"fitted {_whole(held['fits'])} of the same seasons in all: "
            f"{_whole(held['converged'])} of its fits say that they converged, of which "
            f"{_whole(held['short'])} stopped with a deviance more than {fixed(NEAR, 3)} above "
            f"the least; in {_whole(held['alike'])} of the others p of the z test is within "
            f"{fixed(ALIKE, 2)} of ours (its standard errors take in the components, which "
            "tells in unbalanced data only). Of all that converged it rejects "
            f"{_whole(held['rejected_library'])}, we {_whole(held['rejected'])}."
        ),
        (
            "Where arms are alike, rows as replicates reject in up to "
            f"{_highest(alike, ROWS)} % of seasons, the z test in up to "
            f"{_highest(alike, Z)} %, Satterthwaite's in up to "
            f"{_highest(alike, SATTERTHWAITE)} %: with few blocks, where a variance is "
            "estimated at zero and the degrees of freedom jump. Kenward and Roger's stay near "
            "5 % or below it; with three blocks and several plants a plot they reject "
            f"{_rate(usual['three_blocks'][KENWARD_ROGER])} % in the median cell and the first "
            "line 5: honest, but blind in small trials."
        ),
    ]


def _groups(usual: dict[str, Any], trials: dict[str, Any]) -> Table:
    rows = []
    for group, words in GROUPS.items():
        routes = usual["groups"][group]
        rows.append(
            (
                words,
                _whole(trials["groups"][group]["cells"]),
                _range(trials["groups"][group]["rejection"]),
                *(_range(routes.get(name)) for name in ROUTES),
            )
        )
    error = sqrt(0.05 * 0.95 / usual["seasons_a_cell"])
    return Table(
        "Null pairs called different: lowest, median and highest cell, in percent of seasons",
        (
            Column("cells with"),
            Column("cells", numeric=True),
            Column("first line", numeric=True),
            *(Column(name, numeric=True) for name in ROUTES),
        ),
        tuple(rows),
        note=(
            f"{_whole(usual['seasons_a_cell'])} seasons a cell for the usual routes, whose "
            f"Monte Carlo standard error at 5 % is {percent(error, 1)}: of a thousand honest "
            f"cells the highest would stand near {percent(0.05 + 3.2 * error, 0)}."
        ),
    )


def _kinds(usual: dict[str, Any]) -> Table:
    rows = [
        (kind, route, _whole(of["cells"]), _range(of))
        for kind, routes in usual["kinds"].items()
        for route, of in routes.items()
    ]
    low, high = usual["mixed_model_converged"]
    return Table(
        "The same for what is lost anew every season, in percent of seasons",
        (
            Column("kind"),
            Column("route"),
            Column("cells", numeric=True),
            Column("null pair rejected", numeric=True),
        ),
        tuple(rows),
        note=(
            "Plants pooled: two shares, z. One pooled variance: plot shares in blocks. "
            "Poisson: log ratio of totals without a dispersion. The mixed model is fitted by "
            f"statsmodels there; {_rate(low)} to {_rate(high)} % of a cell's fits converged."
        ),
    )


def _highest(routes: dict[str, Any], name: str) -> str:
    return _rate(routes[name]["highest"])


def _range(of: dict[str, Any] | None) -> str:
    if of is None:
        return ""
    return " / ".join(_rate(of[name]) for name in ("lowest", "median", "highest"))


def _rate(rate: float) -> str:
    return fixed(100.0 * rate, 1)


def _whole(number: int) -> str:
    return fixed(float(number), 0)
