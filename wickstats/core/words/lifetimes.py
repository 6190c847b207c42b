"""Sentences of survival summaries and of re-randomization. Leans on nothing."""

ENGLISH = {
    "redraw one layout": (
        "the scheme allows no other layout of these units, so re-randomization says nothing; "
        "more blocks or replicates would tell"
    ),
    "redraw not estimable": (
        "the comparison cannot be estimated from the units that are left, so there is no "
        "statistic to re-randomize"
    ),
    "redraw no error": (
        "no degrees of freedom are left for the error, so there is no F to re-randomize; "
        "more blocks or replicates would tell"
    ),
    "redraw too strict": (
        "so few layouts keep the restrictions that too few could be drawn; "
        "re-randomization is left out"
    ),
    "redraw holes": (
        "{share} of the redrawn layouts would have left the term without an estimate (lost "
        "units, or treatments in blocks apart); each was counted as at least as extreme as "
        "the observed layout, so this p is rather too large"
    ),
    "sensitivity hazards": "ratio of death rates",
    "sensitivity hazards few": "ratio of death rates, descriptive: fewer than 6 blocks",
    "sensitivity hazards penalized": (
        "ratio of death rates, penalized: a treatment without deaths or without survivors"
    ),
    "hazards no deaths": "no plant died, so there is no hazard to compare",
    "hazards one arm": (
        "only one treatment has plants at risk where deaths were seen, so there is no ratio"
    ),
    "hazards do not settle": (
        "the hazards have no finite estimate with these few deaths; see the shares alive"
    ),
    "share no plants": "no plant of this arm was followed to the date, so there is no share",
    "share one unit": (
        "one unit only: the spread between units is not known, so there is no interval; "
        "a second independently set up unit would tell"
    ),
    "rank no pair": (
        "no block holds plants of both arms, so they cannot be ranked against each other"
    ),
    "rank one block": (
        "one block only: the spread between blocks is not known, so there is no interval; "
        "a second block would tell"
    ),
    "rank one unit": (
        "an arm with one unit: the spread between units is not known, so there is no "
        "interval; a second independently set up unit would tell"
    ),
}
