"""Sentences about power, before planting and after the season."""

ENGLISH = {
    "no error found": "no replication of what is compared in the stratum {strata}",
    "no error expected": "at least one degree of freedom for error in each stratum",
    "no error fix": (
        "plan more blocks or replicates: as it stands differences are estimates only, "
        "without test, interval or verdict"
    ),
    "no error power": (
        "No power can be told for this size: in the stratum {strata} no degrees of freedom are "
        "left for error. Differences would be estimates only, without test, interval or "
        "verdict; plan more {word}."
    ),
    "power headline": (
        "With {blocks} {replicates}, this trial has a chance of {power} to show "
        "{comparison} in {response}, if the true values are as assumed."
    ),
    "power headline low": (
        "With {blocks} {replicates}, this trial has only a chance of {power} to show "
        "{comparison} in {response}; {needed}"
    ),
    "power smallest": (
        "The smallest true difference that would be shown with a chance of {target} is "
        "{difference} for {comparison} in {response}."
    ),
    "power none smallest": (
        "No difference of {comparison} in {response} that can be would be shown with a chance "
        "of {target} by a trial of this size."
    ),
    "power plants of 100": "{n} of 100",
    "power by seasons": "{response}, chances: {seasons} simulated seasons",
    "power solved": (
        "{response}, smallest difference and blocks for the assumed one: read between simulated "
        "seasons ({seasons} at each of several differences and sizes)"
    ),
    "power no smallest": "no difference that can be would be shown with a chance of {target}",
    "power no matters": (
        "{comparison}: no difference as large as what matters can be in {response}, with what is "
        "compared against as assumed; make it smaller, or correct what is assumed"
    ),
    "power one side": (
        "The plan asks only whether each is better: chances and blocks are those to show that, "
        "one-sided."
    ),
    "power other side": (
        "{comparison}: the difference assumed in {response} lies on the side that the plan does "
        "not ask about; no number of blocks shows it to be better"
    ),
    "power no df": "no degrees of freedom are left for error at this size",
    "power one unit": (
        "{name} would stand on a single unit, so that its difference from others cannot be told "
        "from the difference between units: estimates only, whatever is assumed; plan more "
        "{word} of it."
    ),
    "power no scatter": (
        "the assumptions for {response} say that plots and plants do not differ at all, so its "
        "power cannot be reckoned; say under power how much they do (plot_cv, plot_sd, "
        "plant_cv, plant_sd)"
    ),
    "power over": "more than {most}",
    "power same": (
        "No difference in {response} is assumed for {comparison}, so there is nothing to show; "
        "see the smallest detectable difference."
    ),
    "power same told": (
        "No difference in {response} is assumed for {comparison}: with {blocks} {word}, the "
        "chance to tell it to be no worse by more than matters is {chance} (the same for practical "
        "purposes: {same})."
    ),
    "power same neutral": (
        "No difference in {response} is assumed for {comparison}: with {blocks} {word}, the "
        "chance to tell it to be the same for practical purposes is {chance}."
    ),
    "power needs": "about {blocks} {replicates} would give {target}.",
    "power hopeless": "more {replicates} than {most} would be needed for {target}.",
    "power approximate": (
        "approximate: closed form for {kind}; dead and alive are reckoned with a plot "
        "correlation of {correlation}, which is {origin}; in simulated seasons of 3 to 8 blocks "
        "the chance was within 0.1 of it; {from_where}"
    ),
    "power from where": (
        "other differences than the assumed one are reckoned with what is compared against as "
        "assumed, since the scatter goes with the mean"
    ),
    "power correlation assumed": "assumed (none is stated; common practice, no source)",
    "power correlation stated": "stated under power",
    "power exact": "exact under normal errors (noncentral t)",
    "power exact strata": (
        "exact under normal errors (noncentral t) within one stratum; across strata with "
        "Satterthwaite's degrees of freedom"
    ),
    "power no larger": (
        "the assumptions for {response} do not say how much whole plots (or strips) differ, so "
        "nothing can be reckoned for what is compared between them; add whole_plot_cv (or "
        "whole_plot_sd; for survival whole_plot_correlation) under power"
    ),
    "power pieces uneven": (
        "power is not reckoned: in this layout not all whole plots or strips hold the same "
        "treatments equally often"
    ),
    "power from to": "{low} to {high}",
    "past pieces": (
        "the chances under a past season's variances are not reckoned where several strata "
        "hold treatments"
    ),
    "power approximate log": "approximate: log scale, coefficient of variation taken as log SD",
    "power liters beside": "its liters are those assumed for {response}",
    "power liters vary": (
        "liters are taken to vary by {cv} between plots (none is stated; common practice, no "
        "source)"
    ),
    "power approximate counts": (
        "approximate: log ratio of totals, counts with plot variation; in simulated seasons of "
        "3 to 8 blocks the chance was within 0.1 of it; {from_where}"
    ),
    "power no assumption": (
        "nothing is assumed about {response} under power, so its power cannot be reckoned; "
        "add what you expect for each treatment and how much plots differ"
    ),
    "power no arms": (
        "the assumptions for {response} do not name every treatment that is compared "
        "({missing}); add them under power"
    ),
    "power no spread": (
        "the assumptions for {response} do not say how much plots differ; add plot_cv (or "
        "plot_sd) under power"
    ),
    "power no design": (
        "power for the design type {type} is not reckoned yet; degrees of freedom are listed"
    ),
    "power not connected": (
        "power is not reckoned: in this layout some treatments cannot be compared with others"
    ),
    "power no sizes": (
        "the number of blocks (or replicates) is not given and no layout exists yet; add "
        "blocks under design"
    ),
    "power no plants": (
        "plants_per_plot is not given, so shares of plants cannot be reckoned; add it under "
        "design"
    ),
    "power pilot": (
        "A pilot of one treatment compares nothing, so there is no power to reckon. Analyze it, "
        "then size the trial that compares: wickstats power THAT_TRIAL.yaml --from its report."
    ),
    "power no plan": "the trial file has no power part; add one to have power reckoned",
    "power not judged": "at this size no interval can come of this comparison",
    "reached none": "this season gave no standard error for this comparison",
    "reached width": "smallest difference this season could show with a chance of {target}",
    "next weak": (
        "only {df} degrees of freedom: this season says little about how much plots differ"
    ),
    "next upper": "upper: at the one-sided 80 % upper limit of the variance",
    "next beyond": "more than {most} blocks would be needed",
    "past heading": "From the season of {trial} (results.json {digest})",
    "past headline": (
        "With {blocks} {replicates} and plots that differ as they did in {trial}, this trial has "
        "a chance of {power} to show {comparison} in {response} where the true difference is "
        "what matters ({matters}); {assurance} averaged over what that season leaves open."
    ),
    "past spread": (
        "{response}: a unit's value had an SD of {sd} on the model's scale ({df} degrees of "
        "freedom); its one-sided 80 % upper limit is {upper}."
    ),
    "past legend": (
        "chance: for a true difference of what matters, never the one observed. upper: at the "
        "one-sided 80 % upper limit of the variance. assurance: the chance averaged over what "
        "the past season says about the variance (scaled inverse chi-square)."
    ),
    "past note": "exact under normal errors (noncentral t) at each variance",
    "past note shares": (
        "approximate: binomial variance at the past shares times the past dispersion, not taken "
        "below one"
    ),
    "past note counts": (
        "approximate: log ratio of totals, the scatter of single events at the past means and "
        "what plots added to it"
    ),
    "past no matters": (
        "the plan does not say what difference in {response} matters; add it under plan.matters"
    ),
    "past no units": "{response}: the past report holds too few units to size from",
    "past no error": "{response}: the past report leaves no scatter between units to size from",
    "past zeros": (
        "{response}: the past season had zeros, so that its variance on the log scale is not "
        "known"
    ),
    "past strata": (
        "{response}: the past season has several error strata and no complete table of them"
    ),
    "past ratio": (
        "{response}: the past season's ratio is not taken; it follows from its yield and its water"
    ),
    "past taken": (
        "{response}: how much units differ is taken from the season of {trial}: its variance, known "
        "by {df} degrees of freedom, times {times}, drawn from what that leaves open"
    ),
    "past by seasons": (
        "chance, upper and assurance: simulated seasons through the same analysis ({seasons} at the "
        "past variance); smallest and needed: closed form; what is compared against lies in all of "
        "them as in the past season"
    ),
    "past changed": (
        "files of the past report are not the ones that its manifest lists ({files}); audit it"
    ),
    "past simulated": "the past report is a simulation, not a season",
}
