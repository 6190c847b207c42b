"""Why a mixed model or a power calculation cannot be given, and what to do."""

ENGLISH = {
    "mixed constant": (
        "every value equals what its treatment and block foretell, so there is no scatter to "
        "judge a difference by; look at the values themselves"
    ),
    "mixed no residual df": (
        "{n} rows leave no degrees of freedom for {components} variance components beside "
        "{rank} fixed effects; leave a random term out or set up more units"
    ),
    "mixed no information": (
        "the data say nothing about the variation between levels of {term}: it cannot be told "
        "apart from the treatments or from the mean; leave the term out"
    ),
    "mixed not separable": (
        "the variation of these terms cannot be told apart: {terms}; leave one of them out "
        "(a term with one row for each of its levels is the residual itself)"
    ),
    "mixed no convergence": (
        "the mixed model did not converge ({code}), so its numbers are not given; "
        "the analysis by strata does not depend on it"
    ),
    "mixed no residual": (
        "once the random terms are fitted the rows do not vary among themselves, so the "
        "residual component cannot be estimated; leave a random term out, or look at the "
        "values themselves"
    ),
    "mixed edge": (
        "with components allowed below zero the covariance matrix is on the edge of not being "
        "one, so the fit is not given; use the fit with components at or above zero"
    ),
    "mixed not estimable": (
        "this comparison cannot be estimated from the data at hand: a level or a combination "
        "of levels has no values; compare levels that were observed"
    ),
    "mixed singular": (
        "a variance component stands at zero, where Satterthwaite's approximation fails; "
        "the Kenward-Roger result stands"
    ),
    "mixed not minimum": (
        "the restricted likelihood is too flat at its maximum for Satterthwaite's degrees of "
        "freedom; the Kenward-Roger result stands"
    ),
    "mixed no df": (
        "too few units for this test's degrees of freedom to be approximated; "
        "look at single comparisons"
    ),
    "mixed runaway": (
        "{parameter} runs to the end of its range, so it cannot be told from the other terms; "
        "leave out serial correlation, or the term it takes the place of"
    ),
    "mixed flat profile": (
        "the likelihood does not bound this component within the range searched; "
        "more units are needed to say how large it may be"
    ),
    "mixed profile plain": (
        "intervals of components are given for models of random intercepts with one residual "
        "variance; this model has slopes, serial correlation or several residual variances"
    ),
    "mixed profile needs nonnegative": (
        "intervals of components are given for fits with components at or above zero"
    ),
    "growth few dates": (
        "growth over the visits needs sizes on at least {fewest} dates; the first line stands"
    ),
    "growth by visit many": (
        "plants were measured on {dates} dates in all, too many for a variance of each "
        "({most} at most); write variance: pooled or by arm"
    ),
    "growth empty visits": (
        "No size of {name} on {dates}, while others were measured there: its growth rate rests "
        "on the other dates, and nothing is estimated for it on these."
    ),
    "growth rates parts": "Parts of the variation: {parts}.",
    "growth rates serial": (
        "Sizes of one plant {days} days apart are correlated by {rho} beside what its unit has "
        "in common; the correlation fades with the time between."
    ),
    "method growth rates": (
        "Growth over the visits: rates of growth by treatment about a common course over the "
        "dates, with a line at random for each unit and each plant (Laird and Ware 1982, "
        "Biometrics 38:963)."
    ),
    "method growth serial": (
        "As planned, visits of one plant are serially correlated, in place of a line for each "
        "plant: a first-order autoregression at equal distances, else a decay with time "
        "(Jennrich and Schluchter 1986, Biometrics 42:805)."
    ),
    "method growth straight": (
        "As planned, growth over the visits is taken as a straight line, with no course of its "
        "own over the dates."
    ),
    "method growth by arm": (
        "As planned, the residual variance of sizes over the visits is one for each treatment."
    ),
    "method growth by visit": (
        "As planned, the residual variance of sizes over the visits is one for each visit."
    ),
    "dev visits": "growth over the visits of {name}",
    "dev visits planned": "correlation: {correlation}, variance: {variance}, course: {course}",
    "dev visits done": "not used: {reason}",
    "dev visits none": "the response has no sizes over dates",
}
