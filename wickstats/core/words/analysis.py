"""Names of unit summaries, reasons for missing numbers, checks and cautions.

Leans on nothing.
"""

ENGLISH = {
    # designs
    "split-plot without a whole-plot factor": (
        "a split-plot or strip-plot needs at least one factor applied to each of its pieces "
        "(whole plot and subplot; row strip and column strip): say so in applied_to"
    ),
    "reservoir ties pieces": (
        "reservoir {name} feeds plots in several pieces of a {type} trial, which are then not "
        "set up apart: give each piece its reservoir, or describe the design as it was set up"
    ),
    "no data for response": (
        "the season holds no usable rows for {name}: fill them in, or correct the table and "
        "column that it is read from"
    ),
    "nobody went": (
        "nobody reached a plot in any round that was written down, so nothing can be said: "
        "visit every plot once more, write down what stands, and analyze again"
    ),
    "nothing to analyze": "the trial file names no response: there is nothing to analyze",
    # names of unit summaries
    "share alive at": "share alive at {at}",
    "restricted mean name": "restricted mean survival time to day {day}",
    "to day": "to day {day}",
    "log-rank score": "log-rank score",
    "mean of": "mean of {name}",
    "mean log of": "mean logarithm of {name}",
    "slope of": "slope of {name} over days",
    "slope of log": "slope of the logarithm of {name} over days",
    "summary on date": "{what} at {at}",
    "total of": "season total of {name} per plot",
    "log total of": "logarithm of the season total of {name} per plot",
    "ratio of totals": "{name} per liter of water {which}",
    "log ratio of totals": "logarithm of {name} per liter of water {which}",
    "water used": "liters {which} per plot",
    "log water": "logarithm of liters {which} per plot",
    "water which": "water {which}",
    # why a unit has no value
    "no plant": "no plant of the unit is in the records",
    "no plant known": "the status of no plant of the unit is known at {at}",
    "unit not visited": "not visited within 14 days of {at}",
    "unit not seen": "visited, but no plant that lived before was found around {at}",
    "no measurement": "no measurement of the unit",
    "no slope of a unit": "no plant of the unit was measured on two dates",
    "total undefined": "a pick is missing or nothing was recorded, so the total is not defined",
    "water told": "water {which}: {note}",
    "no water given": "no water was {which}: there is no yield per liter",
    "water unknown": "water {which} is not known, or there was none",
    # notes
    "plants open": (
        "plants not seen within 14 days of {at}, in plots that were visited: {n}; each counts by "
        "those of its own plot that were seen, and best and worst case stand beside it"
    ),
    "lives open": (
        "followed for less than {at} and not seen to die: {n}; each counts by the others of "
        "its own unit, and best and worst case stand beside it"
    ),
    "n of treatment": "{name} {n} of {total}",
    "units unknown": (
        "Not known at {at}: {n} of {total} units ({told}). Nobody went there within 14 days, or "
        "none of the plants that lived before was found. Each is left out whole, with the "
        "plants that were dead before: keeping only these would make its treatment look worse."
    ),
    "units unknown date": (
        "At {at} {n} of {total} were known: name that date in the trial file, or visit every "
        "plot in the same round."
    ),
    "units unknown visit": "Visit every plot in the same round.",
    "units dead before": (
        "Units whose plants had all been seen dead before count as dead at {at} though nobody "
        "went there again ({told}). Beside units of their treatment that are left out they "
        "weigh somewhat too much: read the comparison by the curve of the treatment beside it."
    ),
    "units seen after": (
        "Not visited in the 14 days before {at}: {n} of {total} units. They count as they were "
        "found at their first visit after it, at most 14 days later."
    ),
    "date moved": (
        "Nobody visited within 14 days of {asked}: shares alive are those of {at}, the last "
        "visit before it. Name the date of a visit in the trial file."
    ),
    "date moved lifetimes": (
        "Shares alive are those at {at} and not at {asked}: beyond it not every treatment had "
        "living ones of two units in sight. Name a day until which they were followed."
    ),
    "date before visits": (
        "Nothing is known of shares alive on {asked}: nobody visited before it or in the 14 "
        "days after it, the first visit was on {first}. Name the date of a visit in the trial "
        "file."
    ),
    "date without visits": (
        "Nothing is known of shares alive on {asked}: the season holds no visit after planting. "
        "Fill in the visits."
    ),
    "followed for less": (
        "{n} of {total} were followed for less than {at} and not seen to die; each counts by "
        "the curve of its own treatment, which takes for granted that leaving early was no "
        "sign of dying early"
    ),
    "horizon visits": (
        "The mean lifetime is reckoned to day {day} after planting and not to {asked}: day "
        "{day} is the last on which every unit with living plants was still watched, and what "
        "came later is not known of all alike"
    ),
    "horizon late": (
        "The mean lifetime is reckoned to day {day} after planting: days count from each "
        "plant's own planting, and those planted late ({n}) were watched no longer"
    ),
    "horizon lifetimes": (
        "The mean lifetime is reckoned to day {day} and not to {asked}: day {day} is the last "
        "on which every treatment still had living ones in sight, and what came later is not "
        "known of all alike"
    ),
    "not above zero": ("values not above zero, which have no logarithm and are left out: {n}"),
    "no slope": "plants measured on one date only, which have no slope: {n}",
    "position all alike": "all units have the same position, so it is not used as covariate",
    "position not with the rule": (
        "position as covariate goes with the analysis by strata only, so it is not used here"
    ),
    "position in the design": (
        "rows and columns are in the analysis already, each with an effect of its own, and any "
        "gradient along them is part of these, so position is not used as covariate"
    ),
    "average of": "the average of {names}",
    "trend line": "{factor} from {low} to {high}, straight line",
    "trend line end": "{high} on the straight line",
    "trend line start": "{low} on the straight line",
    "trend bend": "{factor}, bend in the middle",
    "trend bend middle": "the middle of the range",
    "trend bend ends": "the line between its ends",
    "differs name": "{name}: {high} against {low}",
    "differs at": "{name} in {level}",
    "start size not known": (
        "starting sizes are not known in every unit, so the planned covariate is not used"
    ),
    "picks missing": (
        "units that miss a pick: {n}; their totals are not defined, and the comparison is repeated "
        "with the missing picks taken as nothing and as the largest of that pick"
    ),
    "missing as nothing": "missing picks taken as nothing",
    "missing as largest": "missing picks taken as the largest of that pick",
    "zero rule": (
        "a zero has no logarithm and nothing is added to it: treatments are compared by the "
        "ratio of their sums, leaving out one block at a time (approximate)"
    ),
    "no water no ratio": "units without water, where yield per liter is not defined: {n}",
    "water zero": "units without water, which have no logarithm and are left out: {n}",
    "counts approximate": (
        "few were counted in {names} (fewer than 30): these ratios are approximate"
    ),
    # why a comparison has no inference
    "one unit only": (
        "{name} stood on a single independently set up unit: its difference from others cannot "
        "be told from the difference between units; estimates only"
    ),
    "one unit borrowed": (
        "{names} stood on a single unit: its comparisons are judged by the scatter of the other "
        "combinations, which it is taken to share."
    ),
    "no common variance": (
        "the treatments are not taken to share one variance, so there is no joint test; "
        "see the single comparisons"
    ),
    "zero rule pairs only": (
        "with zero yields only two treatments, or two groups of equal size, can be compared"
    ),
    "no variation": "no variation between units: all have the same value, so nothing is tested",
    "bound only": "all plants lived or all died: a one-sided bound instead of an interval",
    "bound only known": (
        "all plants whose fate is known lived or all of them died: a one-sided bound instead of "
        "an interval"
    ),
    "no interval": "no interval can be given",
    "ratio unbounded": (
        "the ratio has no finite interval: the mean it is divided by is not clearly above zero"
    ),
    "no variance of pieces": (
        "the {names} show no variance of their own beyond that of the units in them, so they "
        "do not enter the weights; degrees of freedom stay those of the design"
    ),
    "holm with bonferroni": "holm",
    "approximate adjustment": "{method} (approximate)",
    # units of replication
    "plot or reservoir": "plot or reservoir",
    "two strata": "{first} and {last}",
    # effect sizes
    "per 100 planted": "more alive of 100 planted",
    "per 100 followed": "more alive of 100 followed",
    "per unit": "more{unit}",
    "per unit at mean": "more{unit}, at the mean of {name}",
    # re-randomization
    "redraw not at random": (
        "the treatments were not given at random, so there is nothing to re-randomize"
    ),
    "redraw spans blocks": ("units span blocks, so the labels cannot be moved inside blocks"),
    "redraw uneven reservoirs": (
        "units hold different numbers of plots, so their labels cannot be exchanged"
    ),
    "redraw no array": (
        "the units do not stand in full rows and columns, each with its treatments once, so "
        "no other layout of the kind can be drawn"
    ),
    "redraw keep broken": (
        "the layout does not keep the restrictions that the trial file names, so the layouts "
        "that were possible are not known"
    ),
    "redraw term only": (
        "in this design the labels of two treatments cannot be moved alone; see their term"
    ),
    "redraw several arms": (
        "a comparison of several treatments has the re-randomization p of its term only"
    ),
    "redraw not planned": (
        "comparisons that the plan does not name are not re-randomized one by one; see their term"
    ),
    "redraw not laid out": "a treatment of this comparison was not laid out",
    "redraw two strata": (
        "the comparison lies in two strata, so no single re-randomization belongs to it"
    ),
    "redraws disagree": (
        "re-randomization and the analysis by strata disagree on {names} at the 5 % level: "
        "take neither alone as proof, and look at the units"
    ),
    # second line
    "mixed does not apply": (
        "a mixed model with normal errors of one variance does not fit shares, counts and "
        "ratios of sums: no second line"
    ),
    "mixed spans blocks": "units span blocks, so block cannot be a random term: no second line",
    "mixed blocks fixed": (
        "blocks, rows and columns stay fixed here (what incomplete blocks tell about treatments "
        "is used only where the plan says recovery: true) and every unit has one row, so the "
        "mixed model is the analysis by strata itself"
    ),
    "mixed no random term": (
        "every unit has one row and there are no blocks, so the mixed model is the analysis by "
        "strata itself"
    ),
    # bounds
    "bound not all known": (
        "Not of every {one} of {name} is it known what became of it; what follows is said of "
        "those {many} that were seen, and best and worst case stand beside it."
    ),
    "bound name known": "{name} whose fate is known",
    "all lived bound": (
        "Every {one} of {name} lived. That is no proof that none would die: with {confidence} "
        "confidence at least {limit} of such {many} live (counting {plants} independent {many} "
        "at a plot correlation of {rho}); in the worst case, each unit counting once, {plots}."
    ),
    "all died bound": (
        "Every {one} of {name} died. With {confidence} confidence at most {limit} of such "
        "{many} would live (counting {plants} independent {many} at a plot correlation of "
        "{rho}); in the worst case, each unit counting once, {plots}."
    ),
    # sensitivity runs
    "sensitivity paired": "variance by arm",
    "sensitivity as treated": "as treated",
    "as treated done": (
        "{where} was given {given} in place of {laid}: the analysis is as randomized; the "
        "comparison as treated stands beside it."
    ),
    "as treated unclear": (
        "{where} was given a wrong treatment, but the note of the event does not name just one "
        "other treatment: write its name there, and the comparison as treated stands beside."
    ),
    "as treated part": (
        "{where}: a wrong treatment of a part of a unit does not move the unit; the analysis is "
        "as randomized."
    ),
    "sensitivity best": "plants not seen counted alive",
    "sensitivity worst": "plants not seen counted dead",
    "sensitivity gone dead": "plants not found counted dead",
    "sensitivity doubtful": "doubtful plants dated back to the first doubt",
    "sensitivity rank": "dead plants ranked below all living",
    # checks
    "check residuals": "residuals by unit",
    "residuals far": "far from what block and treatment foretell: {units}; look at their records",
    "residuals fine": ("no unit stands out (largest residual {largest} standard deviations)"),
    "check additivity": "block x treatment additivity",
    "additivity fine": "no sign that treatments act differently by block (F {f} on 1 and {df} "
    "degrees of freedom, p {p})",
    "additivity doubtful": (
        "treatments may act differently where the block is better (F {f} on 1 and {df} degrees "
        "of freedom, p {p}); another scale may suit better"
    ),
    "check spread": "variance by treatment",
    "spread alike": (
        "units vary {ratio} times as much (standard deviation) in {most} as in {least}: alike "
        "enough"
    ),
    "spread twofold": (
        "units vary {ratio} times as much (standard deviation) in {most} as in {least}; one "
        "pooled variance is then too sure of some comparisons; with {n} units of a treatment such "
        "a ratio also arises by chance."
    ),
    "spread allowed for": (
        "units vary {ratio} times as much (standard deviation) in {most} as in {least}; the "
        "comparisons allow for it"
    ),
    "spread none in one": (
        "units of {least} do not vary at all and those of {most} do; one pooled variance is "
        "then too sure of some comparisons."
    ),
    "paired agrees": "Judged by each treatment's own variance the conclusions are the same.",
    "paired differs": (
        "Judged by each treatment's own variance the conclusion differs for: {names}."
    ),
    "paired in rows": (
        "Judged by each treatment's own variance, pairs are the units of a row; columns stay in "
        "the scatter, so these intervals are rather too wide than too narrow."
    ),
    "check standardized": "standardized effects",
    "one standardized": "{name}: {value} standard deviations between units",
    "check redrawn": "re-randomization of pairs, p adjusted by Holm",
    "one redrawn": "{name}: p {p}",
    "check equal water": "equal water within {ratio} times",
    "equal water yes": (
        "{name}: equal, {value} times (90 % interval {low} to {high}; {attainable} times was "
        "attainable)."
    ),
    "equal water no": (
        "{name}: not shown to be equal, {value} times (90 % interval {low} to {high}; "
        "{attainable} times was attainable)."
    ),
    "equal water open": "{name}: cannot be judged ({reason}).",
    "check left out": "verdicts with each block left out",
    "verdicts hold": "every verdict stays the same whichever block is left out",
    "verdict changes": "without block {block}, {name}: {verdict}",
    # cautions
    "not at random": (
        "Treatments were not given to plots at random: position and method cannot be told "
        "apart. Estimates and model intervals only; no verdict, no re-randomization."
    ),
    "units not in": "Not in the analysis, {n} of {total} units: {units}; {reason}.",
    "few df": (
        "The error has {df} degrees of freedom: the intervals are honest and therefore very "
        "wide; more blocks would narrow them fast."
    ),
    "plants threefold": (
        "Units rest on {low} to {high} plants, more than threefold apart: the wider of two "
        "standard errors is used."
    ),
    "survivors only": ("Growth is known of living plants only: read it beside survival."),
    "shares in split-plots": (
        "Where several strata hold treatments (split-plots, strip-plots), shares are judged with "
        "pooled variances in each stratum, although shares near 0 or 1 vary less."
    ),
    "effect at least": "{value}; with {confidence} confidence at least {limit}",
    "effect at most": "{value}; with {confidence} confidence no more than {limit}",
    "verdict not shown better": (
        "{treatment} was not shown to do better than {versus} in {response}, which is all that "
        "the plan asked: {effect}."
    ),
    "times as much": "{ratio} times as much",
    "browsing": "Deaths with browsing as their cause: {n}; they count as deaths.",
    "browsing counts as death": (
        "Browsed plants counted as dead from the day of browsing, as planned, even where they "
        "sprouted again: {n}. Sizes are not touched by this."
    ),
    "browsing set aside": (
        "Browsed plants set aside from the day of browsing, as planned: {n}. They are left out "
        "of later shares alive, and best and worst case stand beside; the comparison is then "
        "one of plants that nothing browsed. Sizes are not touched by this."
    ),
    "replaced plants": (
        "Replacement plants, not counted: {n}; survival is that of the plants first planted."
    ),
    "plants gone": (
        "Plants not found, lost or never seen again: {n}; they count as alive until they "
        "were last seen alive."
    ),
    # deviations
    "dev analysis": "analysis of {name}",
    "dev log": "ratio of unit values on a log scale",
    "dev zero": "ratio of sums, since a yield is zero",
    "dev covariate": "covariate {name} in {response}",
    "dev covariate planned": "used",
    "dev covariate done": "not used: {reason}",
    "dev no data": "not analyzed: {reason}",
    "dev planned response": "analyzed",
    "dev wrong treatment": "treatment of {where}",
    "dev as laid out": "as laid out",
    "dev wrong done": "wrong treatment given, analyzed as laid out",
    "dev plants": "plants in plots",
    "dev plants planned": "{n} plants",
    "dev plants done": "{n} plants",
    "dev at random": "allocation of treatments",
    "dev at random planned": "at random",
    "dev at random done": "not at random",
}
