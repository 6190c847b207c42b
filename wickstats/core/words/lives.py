"""Sentences about single plants: histories, visits, causes of death, browsing, replacements.

Leans on nothing.
"""

ENGLISH = {
    # kinds of histories and how they were handled
    "history alive": "alive at the last visit",
    "handled alive": "alive until last seen; what came later is not known",
    "history no longer seen": "alive, then no record for more than 14 days to the end",
    "handled no longer seen": (
        "alive until last seen; open at later dates, where best and worst case count it alive "
        "and dead"
    ),
    "lost open": "alive when last seen on {seen}, more than 14 days before {at}",
    "history doubtful at the end": "doubtful to the end",
    "handled doubtful at the end": (
        "alive until last seen clearly alive; open at later dates, where best and worst case "
        "count it alive and dead"
    ),
    "history dead between visits": "dead, seen alive at an earlier visit",
    "handled dead between visits": "died after last seen alive and by the visit that saw it dead",
    "history dead at first sight": "dead at the first visit that saw it",
    "handled dead at first sight": "died after planting and by that visit",
    "handled at first sight followed": "died by that visit",
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
    # smooth curves beside the curves
    "smooth few deaths": (
        "fewer than {deaths} deaths, or deaths in fewer than {intervals} different intervals"
    ),
    "smooth first day": "a death on the first day, before which no smooth curve can tell",
    "smooth not reached": "no smooth curve of either shape was reached",
    "smooth outside": "the {shape} curve, the likelier, leaves the band at a visit",
    "smooth key": "thin lines: smooth curves ({shapes})",
    "smooth of": "{name}: {shape}",
    "smooth not of": "{name} ({why})",
    "picture smooth words": (
        "Thin lines are smooth curves, drawn where they stay inside the band at every visit: "
        "{list}."
    ),
    "picture smooth none": "No smooth curve: {list}.",
    "method smooth": (
        "Thin lines beside the curves: the likelier of the Weibull and the log-logistic curve, "
        "by maximum likelihood from the same intervals (concave in its two parameters, so that "
        "it has one maximum: Burridge 1981, Journal of the Royal Statistical Society B 43:41). "
        "Drawn from 5 deaths in 3 different intervals on, and only inside the band at every "
        "visit; no estimate rests on them."
    ),
    # early deaths
    "early deaths by arm": (
        "Deaths in the first {days} days after planting, which may be the planting's fault and "
        "not the watering's: {told}. They are included."
    ),
    "early of": "{name} {n} of {total}",
    # causes
    "no cause noted": "no cause noted",
    "share dead by": "share dead, cause {cause}",
    "cause bound only": (
        "none or all died of this cause: a one-sided bound instead of an interval"
    ),
    "cause spared": (
        "no plant of {name} is known to have died of this cause, so the difference has no "
        "interval: its share has a one-sided bound, above"
    ),
    "cause took all": (
        "every plant of {name} died of this cause, so the difference has no interval: its share "
        "has a one-sided bound, above"
    ),
    "per 100 dead": "more dead of 100 planted, cause {cause}",
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
    "effect share side spared": (
        "{value} {many} of 100 {done} not dead of other causes than browsing; with {confidence} "
        "confidence {end} {limit}"
    ),
    "effect share side same spared": (
        "as many {many} of 100 {done} not dead of other causes than browsing; with "
        "{confidence} confidence {end} {limit}"
    ),
    "effect share side one spared": (
        "{value} {one} of 100 {done} not dead of other causes than browsing; with {confidence} "
        "confidence {end} {limit}"
    ),
    "effect share bound spared": (
        "{value} {many} of 100 {done} not dead of other causes than browsing; {fates}, and "
        "allowing for luck in that, the true difference lies {limit}"
    ),
    "fate lived spared": "was spared by other causes",
    "fate died spared": "died of another cause",
    "bound only spared": (
        "no plant, or every one, died of another cause than browsing: a one-sided bound instead "
        "of an interval"
    ),
    "bound only known spared": (
        "of the plants whose fate is known none, or every one, died of another cause than "
        "browsing: a one-sided bound instead of an interval"
    ),
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
    "strategy as seen": (
        "every death counts, whatever its cause; a browsed plant that lives counts as alive"
    ),
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
    # methods
    "method causes": (
        "Causes of death: cumulative incidence of each beside the others (Aalen and Johansen "
        "1978, Scandinavian Journal of Statistics 5:141), on the masses of all deaths between "
        "visits (Turnbull 1976), so that causes and the living add up to all; intervals by "
        "leaving out one unit, as for shares alive. One minus a curve in which other causes are "
        "censored would overstate every cause, and is not used."
    ),
    "method late entry": (
        "Replacements and plants planted late enter the season's curves when they are planted "
        "(left truncation; Alioum and Commenges 1996, Biometrics 52:512)."
    ),
    # the page
    "lives title": "What became of the plants",
    "lives title followed": "What became of the subjects",
    "histories caption followed": "Every subject's history, and how it counts",
    "histories note followed": (
        "Every subject has exactly one ending. A death is known to lie after the last time the "
        "subject was seen alive and by the first time it was seen dead."
    ),
    "history all followed": "all",
    "axis dead followed": "dead of 100 followed",
    "picture causes words followed": (
        "Dead of 100 followed by the end, by cause: {list}. Areas lie one upon the other, so "
        "that the height of all is everything that died; edges slope where a death lies "
        "between two sightings."
    ),
    "cause means caption followed": "Dead of 100 followed by {date}, by cause",
    "cause means note followed": (
        "In brackets {percent} intervals by units, each cause for itself. The other causes are "
        "never taken as if the subjects had been saved from them."
    ),
    "head more dead followed": "More dead of 100 followed",
    "cause comparisons note followed": (
        "One cause at a time, by units, not adjusted for many comparisons: exploratory, without "
        "a verdict. A subject that one cause took cannot die of another."
    ),
    "per 100 dead followed": "more dead of 100 followed, cause {cause}",
    "causes title": "Causes of death",
    "strategies title": "Browsed plants, taken four ways",
    "stand title": "Replacements and late planting",
    "head history": "History",
    "head all": "All",
    "head observed": "How the death is known",
    "head handled": "How it counts",
    "head visits a plot": "Visits to a plot",
    "head median days": "Median days between visits",
    "head mean days": "Mean days between visits",
    "head last visit": "All plots last seen",
    "head dead by then": "Dead by then",
    "head perhaps by then": "Perhaps by then",
    "head of the rest": "Not dead by then",
    "head died later": "Of these, died later",
    "head condition": "Noted as",
    "head noted": "Plants",
    "head alive at the end": "Alive when last seen",
    "head died": "Died later",
    "head not known": "Lost or not found",
    "head cause": "Cause",
    "head more dead": "More dead of 100 planted",
    "head places": "Places planted",
    "head originals alive": "First plants alive",
    "head replacements": "Replacements",
    "head replacements alive": "Replacements alive",
    "head of 100 originals": "First plants alive of 100",
    "head of 100 places": "Places alive of 100",
    "head alive of 100": "Alive of 100 planted",
    "head survivors": "Survivors measured",
    "head mean of survivors": "Size of survivors",
    "part remark": "of these: {kind}",
    "part beside": "beside these: {kind}",
    "history all": "planted first, all",
    "histories caption": "Every plant's history, and how it counts",
    "histories note": (
        "The first rows are endings: every plant planted first has exactly one. The rows below "
        "them name some of the same plants again. A death is known to lie after the last visit "
        "that saw the plant alive and by the first that saw it dead."
    ),
    "histories by treatment": "Counts by treatment stand in results.json and the tables.",
    "spacing caption": "Visits by treatment",
    "spacing note": (
        "Where one treatment is visited more often, its deaths are dated earlier; dates are "
        "compared with care then."
    ),
    "early caption": "Deaths in the first {days} days after planting",
    "early note": (
        "Told apart, not dropped: all of them are in every number of this page. Perhaps: seen "
        "alive before and dead after day {days}. Plots that were lost are not in."
    ),
    "conditions caption": "Plants noted leafless, resprouting, browsed or doubtful",
    "conditions note": "These are not deaths; what became of the plants stands beside.",
    "picture causes title": "Deaths by cause",
    "picture causes words": (
        "Dead of 100 planted by the end, by cause: {list}. Areas lie one upon the other, so "
        "that the height of all is everything that died; edges slope where a death lies "
        "between two visits."
    ),
    "axis dead": "dead of 100 planted",
    "cause means caption": "Dead of 100 planted by {date}, by cause",
    "cause means note": (
        "In brackets {percent} intervals by units, each cause for itself. Every unit weighs the "
        "same here, every plant in the picture. The other causes are never taken as if the "
        "plants had been saved from them."
    ),
    "cause comparisons caption": "Comparisons of each cause",
    "cause comparisons note": (
        "One cause at a time, by units, not adjusted for many comparisons: exploratory, without "
        "a verdict. A plant that one cause took cannot die of another."
    ),
    "at most": "at most {n}",
    "at least": "at least {n}",
    "strategy primary head": "{name} (primary)",
    "strategies caption": "More alive of 100 planted, browsed plants taken four ways",
    "strategies note": (
        "Intervals adjusted for the comparisons, {percent}; behind them what the verdict would "
        "be. Under the competing cause: more of 100 not dead of anything but browsing."
    ),
    "strategies means caption": "Alive of 100 planted, browsed plants taken four ways",
    "strategies changed": "Plants that each way counts apart: {list}.",
    "stand caption": "First plants and replacements on {date}",
    "stand note": (
        "The first plants are what the treatments are compared on; a place counts as alive "
        "when its first plant or the replacement lives. Shares are of places whose state is "
        "known."
    ),
    "axis season days": "days since the first planting",
    "axis alive standing": "alive of 100, all plants",
    "picture standing title": "Curves with late entry",
    "picture standing words": (
        "Days of the season; every plant enters when it is planted, replacements too, and the "
        "rows below count the plants under watch."
    ),
    "page share": "{name}, {estimand}, of 100 planted",
    "growth beside caption": "{name} of survivors beside survival",
    "growth beside note": (
        "The sizes are of the plants that lived. Where one treatment keeps weak plants alive, "
        "its survivors are smaller on average though none grew worse: read the two columns "
        "together."
    ),
    # sensitivity runs
    "sensitivity by curve": "plants not seen counted by the curve of their treatment",
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
