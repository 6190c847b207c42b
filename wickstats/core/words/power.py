"""Sentences about simulated power, questions before planting and the second year."""

ENGLISH = {
    "simulated not": "{response}: seasons are not simulated: {why}; the closed form stands",
    "simulated strata mixed": "what is compared mixes several strata",
    "simulated strata losses": (
        "{response}: lost plots are not simulated where several strata hold treatments"
    ),
    "simulated interrupted": (
        "Interrupted after {done} of {wanted} simulated seasons: what follows is what there is, "
        "with its Monte Carlo error."
    ),
    "verdicts told": (
        "If the true values are as assumed, the chance that this trial cannot tell "
        "{comparison} in {response} is {cannot} with {blocks} {word}."
    ),
    "verdicts simulated": (
        "{responses}: simulated, with its Monte Carlo error (+-, in points): {seasons} seasons "
        "through the same analysis"
    ),
    "verdicts exact": "{responses}: reckoned with the noncentral t (normal errors)",
    "verdicts neutral": "where neither direction is better, better reads more and worse less",
    "assured told": (
        "{response}: its spread is taken as known by {df} degrees of freedom. Averaged over what "
        "that leaves open, the chance to show {comparison} where the true difference is "
        "{difference} ({kind}) is {assurance} (assurance)."
    ),
    "assured matters": "what matters",
    "assured assumed": "as assumed",
    "assured legend": (
        "chance: at the spread as stated. upper: at its one-sided 80 % upper limit. assurance: "
        "averaged over scaled inverse chi-square"
    ),
    "assurance not told": (
        "No assurance is told for {response}: the file does not say how well its spread is "
        "known. Write spread_df under its assumptions, the degrees of freedom behind the spread "
        "(for example 15, the residual ones of an earlier trial), or give that trial's report "
        "with --from."
    ),
    "beside told": (
        "Lives compared in other ways, by {seasons} simulated seasons under the same "
        "assumptions (+-: Monte Carlo error, in points)."
    ),
    "beside all": "all treatments together",
    "beside restricted": "restricted mean survival time to day {day}",
    "beside log-rank": "log-rank score, {term}",
    "aim show": "show {comparison} in {response}",
    "aim no worse": "tell {comparison} in {response} to be no worse by more than matters",
    "aim same": "tell {comparison} in {response} to be the same for practical purposes",
    "curve told": "Chance to {aim}, by {word}; {how}.",
    "curve simulated": "simulated, with two Monte Carlo errors to each side",
    "curve reckoned": "by the closed form",
    "curve needed": "About {blocks} {word} give {target}.",
    "split told": (
        "At the same cost the best split to {aim} is {plants} a "
        "plot in {blocks} {word}: a chance of {power} ({how})."
    ),
    "split told plants": (
        "With the same number of plants the best split to {aim} is "
        "{plants} a plot in {blocks} {word}: a chance of {power} ({how}; add costs "
        "to weigh plots against plants)."
    ),
    "split reckoned": "closed form",
    "split simulated": "simulated, +-: Monte Carlo error, in points",
    "what if told": "What a change does to the chance to {aim}.",
    "what if simulated": (
        "What a change does to the chance to {aim}, by simulated seasons (+-: Monte Carlo error, "
        "in points; without it: closed form)."
    ),
    "what if planned": "as planned",
    "what if lost blocks": "one block is lost",
    "what if lost replicates": "one replicate of each treatment is lost",
    "what if whole": "the whole budget",
    "what if half": "half the budget",
    "what if half cost": "half the cost",
    "what if half blocks": "half the {word}",
    "what if shared": "two blocks share each reservoir",
    "what if shared closed": "two blocks share each reservoir (approximate)",
    "what if losses": "plots and plants are lost as assumed",
    "budget found": "a budget of {budget} {currency}",
    "budget expected": "enough for two blocks: {least} {currency}",
    "budget fix": (
        "raise the budget, plan fewer visits or plants, or correct the prices; with one block "
        "nothing can be compared"
    ),
    "budget no prices": (
        "The budget is not used: the file has no costs. Add prices under costs (items by plot, "
        "plant or reservoir, hours, travel)."
    ),
    "second told": (
        "After the first year of {trial} ({first} {word}), {second} more {word} in the second "
        "year, {whole} in all, give a chance of {target} to show {comparison} in {response} "
        "where the true difference is what matters ({matters})."
    ),
    "second enough": (
        "The {first} {word} of the first year of {trial} are enough for a chance of {target} to "
        "show {comparison} in {response} where the true difference is what matters "
        "({matters}): {whole} would do."
    ),
    "second beyond": (
        "More {word} than can be reckoned would be needed to show {comparison} in {response} "
        "where the true difference is what matters ({matters})."
    ),
    "second legend": (
        "SD, blind: from the scatter within blocks, treatments not looked at; it errs upward "
        "where treatments differ. Analyze both years together, blocks within years."
    ),
    "second design": (
        "a second year is sized for complete blocks and completely randomized trials only"
    ),
    "second nothing": "the first year's report holds no planned response of this trial",
    "second counts": "{response}: counts are not sized blind; their scatter goes with their mean",
    "second needs past": "--second-year needs the first year's report: --from REPORT_DIR",
    "power ahead": (
        "{seasons} simulated seasons in {parts} parts{kept}: about {time} with "
        "{processes}. Ctrl-C gives what there is{resume}."
    ),
    "power ahead shared": "{processes}, shared by the workers of the cluster",
    "power ahead kept": " ({kept} are there already)",
    "power ahead resume": ", and the parts in {folder} are not done again",
    "scheduler address": (
        "{address} is no scheduler's address; write it as tcp://127.0.0.1:8786 or "
        "tls://host:8786"
    ),
    "scheduler elsewhere": (
        "{address} is on another machine without encryption; use a scheduler on this machine or "
        "a tls:// address"
    ),
    "scheduler missing": (
        "a scheduler needs the extra cluster: pip install 'wickstats[cluster]'"
    ),
    "scheduler silent": (
        "the scheduler at {address} does not answer; start it, or leave --scheduler out"
    ),
    "curve title": "Chance to show what matters, by {word}",
    "curve told reached": (
        "{comparison} in {response}, for a true {difference}: with {n} {word} whose "
        "units scatter as in this season the chance is {chance} ({low} to {high}, at the "
        "one-sided 80 % limits of the scatter: the gray band)."
    ),
    "curve told planned": "As planned it was {chance}.",
    "curve here": "now",
    "curve reached": "as units scattered",
    "curve planned": "as planned",
    "axis chance": "chance, %",
    "power next replicates": "Replicates for the next season",
    "power next replicates told": (
        "{what}: {sizes} replicates of each treatment would show the {kind} that matters with a "
        "chance of {power}, by comparison."
    ),
    "power beside": "Planned and reached: the smallest difference that would show",
    "power beside told": (
        "Planned and reached: in {finer} of {all} comparisons this season would show a smaller "
        "difference than was planned, in the others it takes at least as large a one."
    ),
    "power beside all": (
        "Planned and reached: in every comparison this season would show a smaller difference "
        "than was planned."
    ),
    "power beside none": (
        "Planned and reached: in no comparison would this season show a smaller difference than "
        "was planned."
    ),
    "head planned detectable": "Planned",
    "head reached detectable": "Reached",
    "head replicates next": "Replicates",
}
