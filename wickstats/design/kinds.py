"""Words that a trial file chooses from: pieces of ground, designs, responses, tables, causes.

Leans on the standard library.
"""

from typing import Literal

AppliedTo = Literal[
    "whole plot", "plot", "subplot", "row strip", "column strip", "coil", "piece"
]
DesignType = Literal[
    "completely randomized",
    "randomized complete block",
    "Latin square",
    "split-plot",
    "strip-plot",
    "incomplete block",
    "row-column",
]
ResponseKind = Literal[
    "survival",
    "growth",
    "measurement",
    "score",
    "yield",
    "yield per liter",
    "count",
    "water used",
    "rise",
    "flow",
]
TableName = Literal[
    "plants",
    "visits",
    "measurements",
    "water",
    "picks",
    "events",
    "weather",
    "readings",
    "lifetimes",
]
CauseName = Literal["drought", "browsing", "disease", "mechanical", "unknown"]
