"""Sentences about single plants: histories, visits, causes of death, browsing, replacements.

Leans on nothing.
"""

ENGLISH = {
    # kinds of histories and how they were handled
    "history alive": "alive at the last visit",
    "handled alive": "alive until last seen; what came later is not known",
    "history doubtful at the end": "doubtful to the end",
    "handled doubtful at the end": (
        "alive until last seen clearly alive; open at later dates, where best and worst case "
        "count it alive and dead"
    ),
    "history dead between visits": "dead, seen alive at an earlier visit",
    "handled dead between visits": "died after last seen alive and by the visit that saw it dead",
    "history dead at first sight": "dead at the first visit that saw it",
    "handled dead at first sight": "died after planting and by that visit",
    "history dead on a known day": "dead on a known day",
    "handled dead on a known day": "died on that day",
    "history not found": "not found",
    "handled not found": (
        "alive until last seen, then not known; counted dead, and on either side of each "
        "comparison, as sensitivity"
    ),
    "history lost singly": "lost by itself (taken, washed away, or replaced unseen)",
    "handled lost singly": "alive until last seen, then not known; sensitivity as for not found",
    "history never seen": "never seen after planting",
    "handled never seen": "known on the day of planting only; sensitivity as for not found",
    "history lost with its plot": "lost with its plot",
    "handled lost with its plot": "the plot is left out as a whole and named",
    "history doubtful then dead": "doubtful, later dead",
    "handled doubtful then dead": (
        "the death opens at the last sure life; dated back to the first doubt as sensitivity"
    ),
    "history doubtful then alive": "doubtful, later alive",
    "handled doubtful then alive": "alive; the doubt is forgotten",
    "history not found then found": "not found, later seen again",
    "handled not found then found": "as it was seen later; nothing is taken from the gap",
    "history not visited": "not visited at least once",
    "handled not visited": "nothing is taken from that day",
    "history dead then alive": "seen dead, later alive",
    "handled dead then alive": "the death is set aside, and the visit asked about",
    "history replaced": "replaced by a new plant",
    "handled replaced": "keeps its own fate; the new plant does not stand for it",
    "history planted late": "planted more than 14 days after the first",
    "handled planted late": (
        "days count from its own planting; it is not at risk before, also in the curves over "
        "the season"
    ),
    "history counted": "counted in its plot, without a name",
    "handled counted": "as many deaths between two visits as the number alive fell by",
    "history replacement": "replacement plants",
    "handled replacement": (
        "not among the plants first planted; they enter when planted, beside the main analysis"
    ),
    "observed exactly": "exactly",
    "observed between visits": "between two visits",
    "observed from the left": "from the left",
    "observed from the right": "from the right",
    "observed none": "-",
    # visits
    "visits differ": (
        "Visits were not spaced alike: {told}. Deaths are dated between visits, so those of "
        "{seldom} look later, and those of {often} earlier, than they were; shares alive on "
        "one date, by a visit close to it, are not touched."
    ),
    "spacing of": "{name} median {median} days between visits, mean {mean}",
    "last visits differ": (
        "The last day on which all plots were seen differs by treatment: {told}. Shares at "
        "later dates rest on different days."
    ),
    "spacing one visit": "no plot was visited twice",
    # early deaths
    "early deaths by arm": (
        "Deaths in the first {days} days after planting, which may be the planting's fault and "
        "not the watering's: {told}. They are included."
    ),
    "early of": "{name} {n} of {total}",
    # causes
    "no cause noted": "no cause noted",
    "share dead by": "share dead by {cause}",
    "cause bound only": (
        "none or all died of this cause: a one-sided bound instead of an interval"
    ),
    "per 100": "more of 100 planted, {what}",
    "causes not noted": (
        "{n} of {total} deaths have no cause noted; they stand apart, and shares of the other "
        "causes may be higher by as much."
    ),
    "competing note": (
        "Browsing is a competing cause in this plan: the primary comparison is of plants that "
        "nothing else had killed by the date, whether browsing took them or not."
    ),
    # shares of plants that other causes spared
    "share spared at": "share not dead of causes other than browsing at {at}",
    "per 100 spared": "more of 100 planted not dead of other causes than browsing",
    "effect share spared": (
        "{value} {many} of 100 {done} not dead of other causes than browsing ({confidence} "
        "interval: {low} to {high})"
    ),
    "effect share same spared": (
        "as many {many} of 100 {done} not dead of other causes than browsing ({confidence} "
        "interval: {low} to {high})"
    ),
    "effect share one spared": (
        "{value} {one} of 100 {done} not dead of other causes than browsing ({confidence} "
        "interval: {low} to {high})"
    ),
    "effect share bound spared": (
        "{value} {many} of 100 {done} not dead of other causes than browsing; every {one} of "
        "{name} {fate}, so the difference is only bounded: {limit}"
    ),
    "fate lived spared": "was spared by other causes",
    "fate died spared": "died of another cause",
    "all lived bound spared": (
        "No {one} of {name} died of another cause than browsing. That is no proof that none "
        "would: with {confidence} confidence at least {limit} of such {many} are spared "
        "(counting {plants} independent {many} at a plot correlation of {rho}); in the worst "
        "case, each unit counting once, {plots}."
    ),
    "all died bound spared": (
        "Every {one} of {name} died of another cause than browsing. With {confidence} "
        "confidence at most {limit} of such {many} would be spared (counting {plants} "
        "independent {many} at a plot correlation of {rho}); in the worst case, each unit "
        "counting once, {plots}."
    ),
    # browsing, four ways
    "browsing competing cause": (
        "Browsing is a competing cause, as planned: {n} deaths by browsing are told as such, "
        "and the comparison is of deaths by anything else."
    ),
    "strategy as seen": "every death counts, whatever its cause; a browsed plant that lives lives",
    "strategy counts as death": "a browsed plant counts as dead from that day on",
    "strategy competing cause": (
        "deaths by anything but browsing count; browsed to death is told apart, never censored"
    ),
    "strategy set aside": "a browsed plant is left out from that day on",
    "strategies primary": (
        "Primary, as planned: browsed plants {name} ({says}). The other three ways stand beside "
        "it and carry no verdict of the trial."
    ),
    "strategies primary unplanned": (
        "Without a plan, browsed plants are taken as seen ({says}). The other three ways stand "
        "beside it."
    ),
    # replacements
    "planted late note": "Planted more than 14 days after the first: {told}.",
    "replacements note": (
        "Replacement plants: {told}. They enter when they are planted and are not among the "
        "plants first planted, which are primary."
    ),
    # sensitivity runs
    "sensitivity against": "plants not seen counted against the first treatment",
    "sensitivity favor": "plants not seen counted in favor of the first treatment",
    "sensitivity places": "replacements counted in the place of the plants they replaced",
    "plots without replacements": "without the units that hold replacement plants",
    "totals of first plants": "without what replacement plants bore",
    "totals hold replacements": (
        "Totals hold what replacement plants bore, in {n} units ({units}); the same without "
        "stands beside."
    ),
}
