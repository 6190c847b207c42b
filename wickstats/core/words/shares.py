"""The logit mixed model of shares: why it is not given, and what the page says of it."""

ENGLISH = {
    "shares runaway": (
        "treatments, blocks or plots kept nearly all or nearly none, so that the likelihood "
        "has no maximum at finite logits; the counts themselves tell more"
    ),
    "shares not reached": (
        "the maximum of the likelihood was not reached to the digits that are asked for; the "
        "first line does not depend on it"
    ),
    "shares all lived": "all {n} alive: the logit of a share of 1 is not finite",
    "shares none lived": "none of {n} alive: the logit of a share of 0 is not finite",
    "shares no units": "no unit of this treatment has a share",
    "shares no odds": (
        "all or none lived with a treatment of this comparison, or it has no units: there is "
        "no finite odds ratio"
    ),
    "shares nothing left": "all or none lived with every treatment: there are no finite logits",
    "shares one plant": "every {unit} has one plant, so that what differs between {unit}s is "
    "not told apart from luck",
    "shares few units": "no {unit} is left over beside the treatments and what else is random "
    "to tell how much {unit}s differ",
    "shares in parts": (
        "lives that were followed for less than the date count in parts, by the curve of their "
        "treatment: there are no counts of alive and dead"
    ),
    "shares spans blocks": "units span blocks, so that block cannot be a random term",
    "shares blocks fixed": (
        "rows, columns and incomplete blocks stay fixed here; this model is given where blocks "
        "are drawn at random"
    ),
    "shares not apart": "treatments and covariate cannot be told apart",
    "shares too many": "more than {most} pieces of ground are random: too many for this model",
    "logit caption": "{name}: odds ratios of a logit mixed model, for description only",
    "logit head first": "First line: more alive of 100",
    "logit head odds": "Odds ratio, {terms} at random",
    "logit note": (
        "Above 1: better odds to be alive than with the second named. Odds ratios are those of "
        "a plot and block in the middle of all, and lie further from 1 than ratios over all "
        "plots. No interval, p or verdict is taken from this model."
    ),
    "logit lead": (
        "{name}, a logit mixed model beside the first line, for description only: what lies at "
        "random between pieces of ground, as standard deviations on the logit scale."
    ),
    "logit fit": "{terms} at random: {told}.",
    "logit fit textbook": (
        "{terms} alone at random, as in textbooks (plants of a block and treatment live and die "
        "each for itself): {told}."
    ),
    "logit sd": "{term} {sd}",
    "logit quadrature": (
        "{told}; log likelihood {laplace} by Laplace's approximation, {quadrature} integrated"
    ),
    "logit fit missing": "not given: {why}",
    "logit missing": "{name}: no logit mixed model: {why}.",
    "method logit": (
        "Beside the first line shares are described by a logit mixed model: plants alive of "
        "all in a unit are binomial, treatments fixed, what is named random is normal on the "
        "logit scale; maximum likelihood by Laplace's approximation (Breslow and Clayton 1993, "
        "Journal of the American Statistical Association 88:9). It is fitted twice. With "
        "blocks alone at random, the model of textbooks, plants of one block and treatment "
        "live and die each for itself; with units at random as well, units may differ by more "
        "than that, which the first cannot see. With the few blocks of a trial the model's own "
        "standard errors are too small, so that it gives no interval, p or verdict."
    ),
}
