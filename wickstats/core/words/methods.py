"""Methods in words with their sources; a sentence prints only where the method was used."""

ENGLISH = {
    "method unit": (
        "What was randomized is the unit of replication (Fisher 1935, The Design of "
        "Experiments; Hurlbert 1984, Ecological Monographs 54:187). Each response is reduced "
        "to one number per randomized unit; plants and visits inside a unit are never counted"
        " as replicates."
    ),
    "method strata": (
        "First line: least squares on the unit summaries with blocks fixed. Each treatment "
        "term is tested in the stratum in which it was randomized, with that stratum's "
        "degrees of freedom. No stratum is pooled, dropped or bounded at zero. Where units "
        "hold different numbers of plants the standard error is taken with equal and with "
        "proportional variances, and the wider interval counts (Satterthwaite 1946, "
        "Biometrics Bulletin 2:110)."
    ),
    "method rows and columns": (
        "Rows and columns (Latin squares, arrays) and replicates are fixed beside one another. "
        "Standard errors of treatment means hold the variance of each, from its own sum of "
        "squares (Henderson 1953, Biometrics 9:226)."
    ),
    "method incomplete blocks": (
        "Incomplete blocks are fixed: treatments are compared inside blocks (Yates 1936, Annals"
        " of Eugenics 7:121). What blocks tell about treatments is added in the second line "
        "only where the plan names it."
    ),
    "method several strata": (
        "Whole plots, strips and what lies in them each have an error of their own (Yates 1935,"
        " Supplement to the Journal of the Royal Statistical Society 2:181; Nelder 1965, "
        "Proceedings of the Royal Society A 283:147). Comparisons that lie in several strata "
        "add the variances, with Satterthwaite degrees of freedom. With gaps: restricted "
        "maximum likelihood on the unit summaries, pieces random, degrees of freedom by "
        "Kenward and Roger (1997, Biometrics 53:983) and never above those of the design."
    ),
    "method one side": (
        "Where the plan asks only whether a treatment is better, p and limits are one-sided "
        "(comparisons with a reference: Dunnett 1955); that it is worse cannot be shown then."
    ),
    "method main effects": (
        "The plan leaves out the interactions of the factors (the additive model, main effects "
        "only): what one factor does is taken to be the same at all levels of the others, and "
        "what interactions there are counts as error of the stratum in which they lie."
    ),
    "method trend": (
        "Trends over amounts are orthogonal polynomial contrasts for unequal spacing (Robson "
        "1959, Biometrics 15:187), in the unit of the response: the change of the straight "
        "line over the whole range, and how far the middle lies above the line between the "
        "ends."
    ),
    "method position": (
        "As planned, the position of a unit along its block is a covariate: one linear "
        "gradient for all blocks, or one for each size of piece where treatments were set up on "
        "pieces of several sizes (Cochran 1957, Biometrics 13:261). Used for: {names}."
    ),
    "method start size": (
        "As planned, the starting size is a covariate of the unit, with one slope, or one for "
        "each size of piece where treatments were set up on pieces of several sizes (Cochran "
        "1957, Biometrics 13:261). Used for: {names}."
    ),
    "method dispersion": (
        "Where the arms vary differently (shares, restricted means) the wider of two intervals "
        "counts: one dispersion of the units over each arm's own variance, with Satterthwaite "
        "degrees of freedom, and the plants' own variance with one more plant alive and one "
        "more dead (Agresti and Caffo 2000, American Statistician 54:280); p is the larger of "
        "the two. Where the second is the wider, the plots differed no more than single plants "
        "would by luck; its degrees of freedom are those of the plants' variance and may be "
        "more than there are plots. Shares leave out units that nobody visited around the date; "
        "plants not found in the others count by their own unit's curve (Kaplan and Meier 1958, "
        "Journal of the American Statistical Association 53:457). Lives followed for less than "
        "the date count by pseudo-values of their "
        "treatment's curve (Andersen, Klein and Rosthoj 2003, Biometrika 90:15)."
    ),
    "method paired": (
        "By the paired rule: differences within blocks of the two arms, degrees of freedom "
        "blocks minus one; where blocks do not pair them, Welch (1947, Biometrika 34:28)."
    ),
    "method mixed": (
        "Second line: a linear mixed model by restricted maximum likelihood (Patterson and "
        "Thompson 1971, Biometrika 58:545), blocks and units random, treatment terms fixed."
    ),
    "method Kenward-Roger": (
        "Its tests and intervals use the small-sample adjustment of Kenward and Roger (1997, "
        "Biometrics 53:983)."
    ),
    "method Satterthwaite": (
        "Its degrees of freedom follow Satterthwaite (1946, Biometrics Bulletin 2:110)."
    ),
    "method redraws": (
        "Third line: re-randomization (Fisher 1935). The layout is redrawn under the scheme "
        "that was used and the statistic recomputed; the smallest p that the layout allows is"
        " given beside it. Blocks are respected (Freedman and Lane 1983, Journal of Business "
        "and Economic Statistics 1:292, for the place of nuisance terms)."
    ),
    "method dunnett": (
        "Comparisons with the reference are adjusted by Dunnett (1955, Journal of the American "
        "Statistical Association 50:1096)."
    ),
    "method tukey": (
        "All pairs are adjusted by Tukey's studentized range, for unequal numbers by Kramer "
        "(1956, Biometrics 12:307)."
    ),
    "method single-step": (
        "Named contrasts are adjusted together by the multivariate t distribution (Hothorn, "
        "Bretz and Westfall 2008, Biometrical Journal 50:346)."
    ),
    "method holm": (
        "p values are adjusted by Holm (1979, Scandinavian Journal of Statistics 6:65); "
        "intervals by Bonferroni."
    ),
    "method verdict": (
        "Verdicts follow from the adjusted interval and the smallest difference that matters, "
        "never from p. The same for practical purposes means that the whole interval lies "
        "inside that difference, the logic of two one-sided tests (Schuirmann 1987, Journal of "
        "Pharmacokinetics and Biopharmaceutics 15:657)."
    ),
    "method survival": (
        "A death lies between the last visit that saw the plant alive and the first that saw "
        "it dead. Curves are the nonparametric maximum likelihood estimate for such intervals"
        " (Turnbull 1976, Journal of the Royal Statistical Society B 38:290), which is the "
        "product limit of Kaplan and Meier (1958, Journal of the American Statistical "
        "Association 53:457) when visits are common. Bands take the wider of the scatter "
        "between units and the binomial one. All treatments at once are tested on log-rank "
        "scores of plants within blocks, summed by unit: by the scatter between units and by "
        "that of single plants (Peto and Peto 1972, Journal of the Royal Statistical Society A "
        "135:185), and once more on scores from one curve of all blocks, less each block's "
        "mean (Hodges and Lehmann 1962, Annals of Mathematical Statistics 33:482); the largest "
        "p counts."
    ),
    "method hazards": (
        "Ratios of death rates, beside: proportional hazards for deaths between visits "
        "(Prentice and Gloeckler 1978, Biometrics 34:57) with blocks fixed; covariance for "
        "units as clusters and its degrees of freedom by Bell and McCaffrey (2002, Survey "
        "Methodology 28:169); where they are called descriptive, an interval at least as wide as "
        "if plants died each for itself. A treatment without deaths is penalized (Firth 1993, "
        "Biometrika 80:27). They carry no verdict."
    ),
    "method growth": (
        "One size a plant, given its starting size, then one number a unit. Dead plants have "
        "no size: survival stands beside."
    ),
    "method yield per liter": (
        "Yield per liter is the ratio of unit totals, compared on the log scale; the "
        "denominator is named. For a ratio of means, Fieller (1954, Journal of the Royal "
        "Statistical Society B 16:175)."
    ),
    "method count": (
        "Counts: log ratio of arm totals, the widest of the quasi-Poisson interval (McCullagh "
        "and Nelder 1989, Generalized Linear Models) and the one from the scatter of log "
        "totals, both with the design's degrees of freedom, and the Poisson interval; p is "
        "the largest of the three."
    ),
    "method second": (
        "The second engine is textbook code, statsmodels and lifelines on the same arrays; it "
        "shares no line with the first."
    ),
    "method log": ("Responses on the log scale are reported as ratios: {names}."),
    "method browsing as seen": (
        "Browsed plants count as they were seen: every death counts, whatever its cause."
    ),
    "method browsing counts as death": "A browsed plant counts as dead from that day on.",
    "method browsing competing cause": (
        "Browsing is a competing cause of death: shares are of plants not dead of anything "
        "else, and deaths by browsing are told beside them, never censored."
    ),
    "method browsing set aside": "Browsed plants are set aside from the day of browsing.",
}
