"""Sentences about totals that are bounded, extra liters, and blocks left out.

Leans on nothing.
"""

ENGLISH = {
    # yield in fewer than two blocks
    "few no yield anywhere": (
        "fewer than three units of the whole trial bore anything, so nothing says how much a unit "
        "can bear: no bound"
    ),
    "few in both": (
        "both sides bore in fewer than two blocks, so their ratio is not bounded; look at the "
        "blocks themselves, or repeat the trial with more of them"
    ),
    "few no bound": "the ratio cannot be bounded with these numbers; look at the blocks themselves",
    "few bound only": (
        "yield in fewer than two blocks: a one-sided bound instead of an interval, for a "
        "treatment whose units bear no more than the best unit of this trial"
    ),
    "effect few": (
        "{name} bore in {bearing} of {blocks} {what}; {treatment} has {side} {limit} times as "
        "much as {versus} (one-sided {confidence} bound, if no {unit} of {name} bears more than "
        "the best one of this trial){redraws}"
    ),
    "effect few unbounded": (
        "{name} bore in {bearing} of {blocks} {what}, and no bound can be given: {reason}{redraws}"
    ),
    "few at most": "at most",
    "few at least": "at least",
    "few redraws": "; exchanging the treatments at random gives p {p}",
    "few blocks": "blocks",
    "few units": "units",
    "few arm bound": (
        "{name} bore in {bearing} of {blocks} {what}. With {confidence} confidence its {response} "
        "is at most {limit}{measure}, if none of its units bears more than the best one of this "
        "trial."
    ),
    # would tell, where a side is bounded
    "would tell bounded shares": (
        "How many blocks would tell cannot be reckoned from this season: where every plant lives "
        "or dies, nothing shows how much plots differ. A harder or milder season, or a second "
        "site, would tell more than the same again."
    ),
    "would tell bounded totals": (
        "How many blocks would tell cannot be reckoned from this season: a treatment that bears "
        "in fewer than two blocks does not show how much its plots differ. More blocks would "
        "tell whether it bears at all."
    ),
    "next bounded": (
        "withheld: every plant of a treatment lived or died, so this season does not show how "
        "much its plots differ; plan with the scatter of a season in which some die"
    ),
    # yield for each extra liter
    "extra measure": "incremental yield per extra liter",
    "extra not defined": (
        "not defined: whether {treatment} got more or less water than {versus} is not clear "
        "(the interval of the extra water covers zero), so no yield can be put down to extra "
        "liters"
    ),
    "extra same water": (
        "not defined: {treatment} and {versus} got the same water, so there are no extra liters"
    ),
    "extra few": (
        "fewer than two {what} hold both treatments with yield and water known: no interval, so "
        "whether one got more water is not clear"
    ),
    "extra none": "no block holds both treatments with yield and water known",
    "extra sentence more": (
        "From {less} to {more}, each extra liter of {denominator} went with {value} more "
        "({confidence} interval: {low} to {high} for each liter)."
    ),
    "extra sentence less": (
        "From {less} to {more}, each extra liter of {denominator} went with {value} less "
        "({confidence} interval: {low} to {high} for each liter)."
    ),
    "extra sentence open": (
        "From {less} to {more}, extra liters of {denominator} brought no clear gain or loss: "
        "{value} for each liter ({confidence} interval: {low} to {high})."
    ),
    "extra open": "{name}: {reason}.",
    "extra caption": "{name}: yield for each extra liter of {denominator}, by comparison",
    "extra note": (
        "Difference in yield over difference in {denominator}, both per plot and season, from "
        "the blocks that hold both treatments. Limits by Fieller (1954) with blocks less one "
        "degrees of freedom, not adjusted for the number of comparisons; approximate. "
        "Confidence {percent}."
    ),
    "head extra water": "More {denominator}, L a plot",
    "head extra yield": "More yield, {mass} a plot",
    "head extra ratio": "Yield for each extra liter, {unit}",
    # each block left out
    "verdict none left": "no verdict",
    "left out caption": "{name}: every verdict with each block left out",
    "left out note": (
        "Estimates and adjusted intervals on the scale of the comparisons above, refitted "
        "without one block."
    ),
    "head left out": "Block left out",
    # a reservoir that lost a plot
    "reservoir lost a plot": (
        "the reservoir went on after it lost plot {plots}, so the water of the plots that are "
        "left is not known"
    ),
    "reservoirs lost plots": (
        "reservoirs that lost some of their plots: {n}; how much of their water went to the "
        "plots that are left is not known, so they are left out, and the comparison is repeated "
        "with the water shared by all plots to the end and with all of it given to the plots "
        "that are left"
    ),
    "water shared to the end": "lost plots counted as drinking to the end",
    "water to those left": "all water of a reservoir given to the plots that are left",
    "replacements bore": "Of these totals replacement plants bore: {told}.",
    "bore of": "{name} {late} of {total} {unit}",
}
