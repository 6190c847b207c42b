"""Costs: what was counted, what it bought, and why a cost is not defined."""

ENGLISH = {
    "cost no survivor": "no survivors: the cost of a survivor is not defined",
    "cost no kg": "no yield: the cost of a kilogram is not defined",
    "cost no extra survivor": (
        "no more survivors than with {versus}: the cost of one more is not defined"
    ),
    "cost no extra kg": "no more yield than with {versus}: the cost of one more is not defined",
    "cost no m3": "no water saved against {versus}: the cost of saving is not defined",
    "cost unknown survivor": "nothing is known of survivors",
    "cost unknown kg": "nothing is known of the yield",
    "cost few survivor": "survivors in fewer than two blocks: no interval",
    "cost few kg": "yield in fewer than two blocks: no interval",
    "cost nothing": "nothing in the trial file costs anything here",
    "cost needs blocks": "treatments are not in the same blocks: costs are told by treatment only",
    "cost effect open": (
        "the effect against {versus} may be none: no finite interval holds the cost of one more"
    ),
    "cost method units": "leaving out one unit at a time",
    "cost few blocks": "{n} blocks: shares are told from {fewest} blocks on",
    "cost visits seen": (
        "A unit's visits are the days on which its water was given or its reservoir read."
    ),
    "cost visits without amount": (
        "Counted with them are visits of which the table of water tells the day and no amount "
        "that could be used: {n}."
    ),
    "cost visits planned": "No table of water: {n} visits are taken, by visits_every_d.",
    "cost visits unknown": (
        "Neither a table of water nor visits_every_d with a season: hours and travel are not "
        "counted."
    ),
    "cost note units": (
        "Costs are those of this trial, per plot and season: prices over the seasons that "
        "things last, and what was paid for lost plots too. No interest, no removal."
    ),
    "cost note hours": "Hours in the trial file are per plot and visit.",
    "cost note travel": (
        "A day's travel is shared equally by the plots attended on that day; the table of "
        "assumptions shows it borne by each treatment alone."
    ),
    "cost note replacements": "What is bought per plant is charged for replacements too.",
    "cost cheaper and sparing": (
        "it costs less than {versus} and saves water: nothing is paid for a cubic meter saved"
    ),
    "cost cheaper and better": (
        "it costs less than {versus} and gives more: nothing is paid for one more"
    ),
    "cost plants unknown": (
        "The number of plants of some plots is not known: what is bought per plant is not "
        "counted there."
    ),
    "cost dearer": "more",
    "cost cheaper": "less",
    "cost more survivors": "with {n} more survivors",
    "cost fewer survivors": "with {n} fewer survivors",
    "cost more survivors of 100 plots": "with {n} more survivors in 100 plots",
    "cost fewer survivors of 100 plots": "with {n} fewer survivors in 100 plots",
    "cost more kg": "with {n} kg more",
    "cost fewer kg": "with {n} kg less",
    "cost more g": "with {n} g more",
    "cost fewer g": "with {n} g less",
    "cost more L saved": "and saved {n} L of water",
    "cost fewer L saved": "and used {n} L more water",
    "cost more m3 saved": "and saved {n} m3 of water",
    "cost fewer m3 saved": "and used {n} m3 more water",
    "cost pair sentence": (
        "A plot of {treatment} cost {money} {dearer} than one of {versus}, {effect}."
    ),
    "costs title": "What it costs",
    "costs parts caption": "Costs per plot and season, {currency}",
    "costs per caption": "What one more or one kept costs, {currency}",
    "costs quadrant caption": (
        "Cost ({currency}) and {effect} per plot against the reference, and the share of the "
        "uncertainty in each quadrant"
    ),
    "costs quadrant note": (
        "Means of blocks with t intervals; none where all blocks cost the same. Shares from draws of both means together "
        "(bivariate t with blocks less one degrees of freedom), from 6 blocks on."
    ),
    "costs not defined": "not defined",
    "costs no method": "sums alone",
    "costs effect survivors": "survivors",
    "costs effect kg": "kg",
    "costs effect m3 saved": "m3 of water saved",
    "costs scenario caption": "Cost per {per} under other assumptions, {currency}",
    "costs per note": (
        "Per survivor and per kg: by {method}, t with blocks less one degrees of freedom "
        "(Quenouille 1956, Tukey 1958). Against {versus}: by Fieller (1954) on differences "
        "within blocks. In simulated seasons of 3 to 8 blocks 95 % intervals per survivor and "
        "per kg held the true value in 93 of 100 or more, per m3 saved in 92. The cost of one "
        "more survivor or kg has an interval with an end only where the gain is clear; seasons "
        "with a clear gain flatter it, so take that cost as a lower one."
    ),
    "costs per note alone": (
        "By {method}, t with blocks less one degrees of freedom (Quenouille 1956, Tukey 1958)."
    ),
    "costs picture title": "Cost and {effect}: each treatment less {versus}",
    "costs picture words": (
        "Each small mark is a block, each large one the mean: how much more a plot cost, and "
        "how many more {effect} it gave. {list}"
    ),
    "costs axis effect": "More {effect} per plot than {versus}",
    "costs axis cost": "More cost per plot, {currency}",
    "costs quadrant dearer better": "dearer, better",
    "costs quadrant dearer worse": "dearer, worse",
    "costs quadrant cheaper better": "cheaper, better",
    "costs quadrant cheaper worse": "cheaper, worse",
    "costs per survivor": "survivor",
    "costs per kg": "kg",
    "costs per m3": "m3 of water saved against {versus}",
    "costs per extra survivor": "extra survivor against {versus}",
    "costs per extra kg": "extra kg against {versus}",
    "costs per plot": "plot",
    "head scenario as written": "As written",
    "head scenario half the wage": "Half the wage",
    "head scenario twice the wage": "Twice the wage",
    "head scenario half the years of use": "Half the years of use",
    "head scenario twice the years of use": "Twice the years of use",
    "head scenario travel borne alone": "Travel borne by each treatment alone",
    "head items": "Items",
    "head work": "Work",
    "head travel": "Travel",
    "head cost total": "Total",
    "head hours": "Hours",
    "head visits": "Visits",
    "head kg": "Yield, kg",
    "head liters": "Water, L",
    "head cost more": "Extra cost",
    "head effect more": "Extra effect",
    "head survivors plot": "Survivors",
    "head dearer better": "Dearer, better",
    "head dearer worse": "Dearer, worse",
    "head cheaper better": "Cheaper, better",
    "head cheaper worse": "Cheaper, worse",
}
