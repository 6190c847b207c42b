"""Why a ratio or a count comparison cannot be given, and what to do."""

ENGLISH = {
    "ratio empty arm": (
        "a treatment's total is zero, so a ratio has no finite value: "
        "compare the totals by re-randomization and look at the counts themselves"
    ),
    "ratio counts do not settle": (
        "zeros stand so that the ratio has no finite estimate once blocks are allowed for: "
        "compare the totals by re-randomization"
    ),
    "ratio few blocks with yield": (
        "a treatment has yield in fewer than two blocks: the logarithm of its total cannot "
        "be judged by leaving out blocks; compare by re-randomization"
    ),
    "ratio few blocks": "fewer than two blocks hold this comparison: estimates only",
    "ratio no water": "the water of a treatment sums to zero: a ratio to water is not defined",
    "ratio identical blocks": (
        "every block gives the same ratio, so there is no scatter to judge by: estimates only"
    ),
    "fieller unbounded": (
        "the denominator is not clearly different from zero (g = {g}): "
        "no finite interval for the ratio exists at this confidence"
    ),
    "fieller zero": "the denominator is zero: the ratio is not defined",
    "equal water no scatter": (
        "every unit shows the same ratio: there is no scatter to judge the claim by, "
        "only the reading error of can or meter"
    ),
    "equal water few units": (
        "fewer than two units: whether the water was equal cannot be judged"
    ),
    "equal water no liters": (
        "a unit's water is zero or not known: its ratio is not defined; complete the water log"
    ),
}
