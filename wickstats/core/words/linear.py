"""Why a number of the linear models cannot be given, and what to do."""

ENGLISH = {
    "linear no unit": (
        "a treatment of this comparison has no unit left in the analysis: nothing can be "
        "estimated; the cautions say which units are out and why; next time at least two of "
        "each treatment are needed"
    ),
    "linear not connected": (
        "the units with a value do not connect these treatments: they stand in blocks that share no "
        "other treatment, so treatment and block cannot be told apart; "
        "look at the treatments within each group of blocks alone"
    ),
    "linear no df": (
        "no degrees of freedom are left to judge the scatter between units: "
        "estimates only; more units are needed for an interval"
    ),
    "runs apart": (
        "The runs fall into {n} groups that share no coil: differences between the groups cannot "
        "be told from those between coils, and stay in the coils' numbers and their scatter."
    ),
    "linear no scatter": (
        "the units do not vary beyond treatments and blocks, so there is nothing to judge "
        "a difference by: estimates only; look at the values themselves"
    ),
    "linear no whole plots": "there are no units to analyze",
    "linear split-plot gaps": (
        "a whole plot or strip does not hold every treatment inside it the same number of "
        "times, so the strata cannot be separated exactly: comparisons that lie in the larger "
        "pieces go through the mixed model on unit summaries"
    ),
    "linear split-plot nesting": (
        "a whole plot or strip holds more than one level of its own factor or lies in more "
        "than one block: correct the layout"
    ),
    "linear one unit an arm": (
        "a treatment of this comparison has a single unit: its own scatter is unknown; "
        "estimates only"
    ),
    "linear no pair": (
        "no block holds all treatments of this comparison and a treatment has fewer than "
        "two units: estimates only"
    ),
    "linear one pair": (
        "only one block holds all treatments of this comparison and a treatment has fewer "
        "than two units: estimates only"
    ),
    # interactions that the plan leaves out
    "check interactions": "interactions left out as planned",
    "interactions not visible": (
        "no sign of them: each tested once with all in the model, adjusted by Holm ({told})"
    ),
    "interactions visible": (
        "there are signs of them: each tested once with all in the model, adjusted by Holm "
        "({told}); main effects are then averages over unlike levels"
    ),
    "interactions caution": (
        "The plan leaves out the interactions, yet the units show some ({names}): what is told "
        "of one factor is then an average over levels of the other at which it differs. The "
        "analysis stays as planned; look at the units by treatment."
    ),
    # what a rule does not follow
    "interactions stay": (
        "The plan leaves out the interactions, but this response is judged by each treatment's "
        "own total or variance: they stay in."
    ),
    "counts in several strata": (
        "Where several strata hold treatments, counts are judged by the logarithm of "
        "count + 0.5 in each stratum."
    ),
    "by arm in split-plots": (
        "Variance by arm is not available where several strata hold treatments; pooled is used."
    ),
}
