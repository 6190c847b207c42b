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
        "{share} of the layouts of this scheme leave the term without an estimate (confounded "
        "with blocks, or on lost units); p counts only the layouts in which it can be "
        "estimated, as it can in this one"
    ),
    "redraw one estimable": (
        "in no other layout of this scheme could the term be estimated, so re-randomization "
        "says nothing"
    ),
    "redraw rarely estimable": (
        "in so few layouts of this scheme can the term be estimated that too few could be "
        "drawn; re-randomization is left out"
    ),
    "sensitivity hazards": "ratio of death rates",
    "sensitivity hazards few": "ratio of death rates, descriptive: fewer than 6 blocks",
    "sensitivity hazards sparse": (
        "ratio of death rates, descriptive: fewer than 8 deaths a block"
    ),
    "hazards sparse": (
        "Ratios of death rates rest on {deaths} deaths a block. Below about {enough} they come "
        "out too far from 1, since the rate of every block is estimated too: they are "
        "descriptive here. Read the shares alive."
    ),
    "sensitivity hazards penalized": (
        "ratio of death rates, penalized: a treatment without deaths or without survivors"
    ),
    "death rate of": "death rate, cause {cause}",
    "cause rates caption": "Ratios of death rates, one cause at a time",
    "cause rates note": (
        "A plant that another cause took counts as at risk until it was last seen alive. A ratio "
        "of rates is not a ratio of the dead: where another cause takes many, few are left to "
        "die of this one. Read it beside the shares above; it carries no verdict."
    ),
    "cause rates note followed": (
        "A subject that another cause took counts as at risk until it was last seen alive. A "
        "ratio of rates is not a ratio of the dead: where another cause takes many, few are left "
        "to die of this one. Read it beside the shares above; it carries no verdict."
    ),
    "hazards no deaths": "no plant died, so there is no hazard to compare",
    "hazards one arm": (
        "only one treatment has plants at risk where deaths were seen, so there is no ratio"
    ),
    "hazards all alike": (
        "between two visits either no plant at risk died or every one did, so there is no ratio"
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
