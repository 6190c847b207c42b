"""Sentences and heads of the report's page."""

ENGLISH = {
    # shell
    "page skip": "Skip to the findings",
    "page contents": "Parts of this page",
    # banners
    "banner invented": "INVENTED: this trial and all its data are made up, for demonstration.",
    "banner simulated": "SIMULATED: no plant was grown for these numbers.",
    "banner not at random": (
        "NOT AT RANDOM: position and method cannot be told apart, so no verdict is given."
    ),
    # advisor's part
    "advisor title": "What this trial found",
    "advisor tried": "What was tried",
    "advisor answer": "The answer",
    "advisor sure": "How sure is this?",
    "advisor limits": "Who should not rely on it",
    "advisor more": "What would tell more",
    "tried arms": "We compared {n} ways: {arms}.",
    "tried against": "Each was set against {reference}.",
    "tried units": "{plants} plants stood in {units} plots.",
    "tried subjects": "{plants} subjects were followed in {units} units.",
    "tried units plain": "{units} plots were compared.",
    "tried season": "The season ran from {start} to {end}.",
    "answer none": "This trial gives no verdict. The numbers below say what was seen.",
    "answer primary": "{name}, the main question:",
    "answer secondary": "{name}:",
    "answer exploratory": "{name}, not planned, so only a hint:",
    "answer line better": "{treatment} did better than {versus}: {effect}.",
    "answer line worse": "{treatment} did worse than {versus}: {effect}.",
    "answer line more": "{treatment} had more than {versus}: {effect}.",
    "answer line less": "{treatment} had less than {versus}: {effect}.",
    "answer line the same for practical purposes": (
        "{treatment} is as good as {versus}, for all that matters: {effect}."
    ),
    "answer line the same for practical purposes, though slightly better": (
        "{treatment} is as good as {versus} for all that matters, if slightly better: {effect}."
    ),
    "answer line the same for practical purposes, though slightly worse": (
        "{treatment} is as good as {versus} for all that matters, if slightly worse: {effect}."
    ),
    "answer line the same for practical purposes, though slightly more": (
        "{treatment} is like {versus} for all that matters, if slightly more: {effect}."
    ),
    "answer line the same for practical purposes, though slightly less": (
        "{treatment} is like {versus} for all that matters, if slightly less: {effect}."
    ),
    "answer line no worse by more than matters": (
        "{treatment} is not much worse than {versus}, and may be better: {effect}."
    ),
    "answer line no better by more than matters": (
        "{treatment} is not much better than {versus}, and may be worse: {effect}."
    ),
    "answer line no less by more than matters": (
        "{treatment} has not much less than {versus}, and may have more: {effect}."
    ),
    "answer line no more by more than matters": (
        "{treatment} has not much more than {versus}, and may have less: {effect}."
    ),
    "answer line none": "{treatment} and {versus}: no verdict, for reasons given below.",
    "answer line cannot tell": "{treatment} or {versus}: we cannot tell; {effect}.",
    "answer share": "{value} of 100 {many} alive ({low} to {high})",
    "answer ratio": "{value} times as much ({between})",
    "answer difference": "{value}{unit} more ({between})",
    "answer difference less": "{value}{unit} less ({between})",
    "answer at most": "at most {n} times as much",
    "answer at least": "at least {n} times as much",
    "answer more": "The other comparisons stand under each response below.",
    "sure level": (
        "The range behind each number holds the true value in {percent} of trials like this."
    ),
    "sure blocks": (
        "Plots were compared within {blocks} blocks, so the ground plays little part."
    ),
    "sure no plan": "No plan was written before planting. Take every finding as a hint.",
    "sure lost": "{n} of {planted} plants were not used. The reasons stand below.",
    "sure lost subjects": "{n} of {planted} subjects were not used. The reasons stand below.",
    "sure query": "One odd entry in the records waits for a check.",
    "sure queries": "{n} odd entries in the records wait for a check.",
    "limits one": (
        "This is one place and one season. Do not rely on it for other soil, other plants, or "
        "a wetter or drier year."
    ),
    "limits site": "The soil was {soil}.",
    "limits survivors": "Sizes are those of the plants that lived.",
    "limits not random": "The plots were not laid out by chance.",
    "more blocks": "For {response}, {comparison}: about {blocks} blocks would settle it.",
    "more blocks below": (
        "More blocks would narrow the ranges. How many stands with each comparison below."
    ),
    "more seasons": "A second season at another place would tell the most.",
    # accounting
    "plants title": "Where every plant went",
    "plants caption": "Plants and plots by treatment",
    "plants none lost": "Every plant that was planted is in the analysis.",
    "lost caption": "Plants and plots that were planted and are not in the analysis",
    "whole plot lost": "whole plot",
    "plots title": "Where every plot went",
    "plots caption": "Plots by treatment",
    "plots none lost": "Every plot that was laid out is in the analysis.",
    "plots lost caption": "Plots that were laid out and are not in the analysis",
    "subjects title": "Where every subject went",
    "subjects caption": "Subjects and units by treatment",
    "subjects none lost": "Every subject that was followed is in the analysis.",
    "subjects lost caption": "Subjects and units that are not in the analysis",
    # responses
    "response title": "{name}: {role} response",
    "picture survival title": "Plants alive over the season",
    "picture units title": "{name}: every unit and the means",
    "picture forest title": "{name}: differences with their intervals",
    "picture checks title": "{name}: checks by unit",
    "picture water title": "Water by treatment",
    "picture productivity title": "{name}: yield beside water",
    "picture survival words": (
        "Alive of 100 planted at the end: {list}. Shaded bands are {percent} intervals by "
        "plots; the rows below count the plants seen alive on that day or later."
    ),
    "picture followed title": "Share alive over the time followed",
    "picture followed words": (
        "Alive of 100 followed at the end: {list}. Shaded bands are {percent} intervals by "
        "units; the rows below count the subjects known to be alive on that day."
    ),
    "picture units words": (
        "Means: {list}. Open marks are single units; the full mark and bar above "
        "them are the mean and its {percent} interval."
    ),
    "picture units plain": "Open marks are single units; no mean can be given.",
    "picture forest words": (
        "{list}. Bars are {percent} intervals, adjusted for the number of comparisons."
    ),
    "picture forest zone": "Gray: too small to matter, as the plan says.",
    "picture zone": "gray: too small to matter",
    "picture at most": "at most {n} (one-sided)",
    "picture at least": "at least {n} (one-sided)",
    "picture no estimate": "no estimate",
    "picture checks words": (
        "Residuals against fitted values; each block's own difference from {base}, where the "
        "small numbers name the blocks; unit values by block, where parallel lines mean that "
        "blocks and treatments add up. {largest}"
    ),
    "picture checks plain": "Residuals against fitted values. {largest}",
    "largest residual": "The largest residual is {value}, of unit {unit}.",
    "picture water words": (
        "Delivered liters of every unit; the upright bar is what was planned. Means: {list}."
    ),
    "picture productivity words": (
        "Each mark is a unit. Along a gray line the yield for each liter is the same. Totals by "
        "treatment: {list}."
    ),
    "mean words": "{treatment} {value}",
    "mean words interval": "{treatment} {value} ({between})",
    "axis alive": "alive of 100 planted",
    "axis alive followed": "alive of 100 followed",
    "axis days followed": "days",
    "axis days": "days since planting",
    "axis delivered": "liters delivered to a unit over the season",
    "axis water": "{denominator}, liters a unit",
    "axis yield": "yield of a unit, {unit}",
    "axis difference more": "{unit} (right of the line: more than the other)",
    "axis ratio": "ratio, {what} (right of the line: more than the other)",
    "axis fitted": "fitted value",
    "axis residual": "residual",
    "axis block": "block",
    "axis unit value": "unit value",
    "axis difference": "difference from {base}",
    "title residuals": "Residuals by unit",
    "title blocks": "Blocks by treatments",
    "title differences": "Each block's own difference",
    "at risk": "seen alive",
    "no unit left": "no unit left",
    "effects caption": "Comparisons of {what}: absolute first, then relative",
    "means caption": "Means by treatment: {what}",
    "tests caption": "Tests of {name} by stratum",
    "lines title": "Three lines side by side",
    "lines caption": "{name}: the same comparisons by three routes",
    "lines note": (
        "The first line carries the verdict: one number per unit, tested in its stratum. The "
        "mixed model and the re-randomization stand beside it as checks."
    ),
    "components caption": "{name}: variance components of the mixed model",
    "mixed facts": (
        "Mixed model: terms {terms}; degrees of freedom by {df_method}; {converged}. Diary: "
        "{diary}."
    ),
    "page mixed converged": "the fit converged",
    "page mixed not converged": "the fit did not converge, and its numbers are not used",
    "component zero": "An estimate of zero is an answer: no sign of variation at that level.",
    "sensitivity title": "Sensitivity",
    "sensitivity caption": "{name}: the comparisons under other rules",
    "checks title": "Checks by unit",
    "cautions title": "Read with care",
    "unit values caption": "{name}: one number per unit ({summary}, {unit})",
    "adjusted note": (
        "Intervals and p values are adjusted for the family of comparisons ({adjustments}). "
        "Confidence {percent}."
    ),
    "denominator head": "{what} ({denominator})",
    "one sided": "one-sided bound",
    # power
    "power title": "What this trial could detect, what the next one needs",
    "power planned": "Before the season, under the trial file's assumptions",
    "power reached": "What this trial could detect",
    "power next": "Blocks for the next season",
    "power none": "No power was reckoned: the trial file holds no assumptions for it.",
    "power after": (
        "Power after the fact is not given for the observed difference: it says nothing that "
        "the interval does not."
    ),
    # water
    "water title": "Water",
    "water caption": "Liters of each unit over the season",
    "water means caption": "Liters by treatment: means of the units",
    "dry caption": "Reservoirs that ran dry",
    "still dry": "still dry at the end",
    # reviewer
    "reviewer title": "For the reviewer",
    "methods title": "Methods",
    "structure title": "Degrees of freedom, known before any data",
    "structure caption": "Strata and terms",
    "strata title": "Strata",
    "strata caption": "{name}: analysis of variance by strata",
    "strata note overlap": (
        "Blocks, rows and columns before treatments; treatments adjusted for them."
    ),
    "place square": "square {value}",
    "place replicate": "replicate {value}",
    "place row": "row {value}",
    "place column": "column {value}",
    "place row_strip": "row strip {value}",
    "place column_strip": "column strip {value}",
    "layout title": "Layout and plan",
    "deviations title": "Deviations from the plan",
    "deviations none": "No deviation from the plan is known.",
    "deviations caption": "Deviations; dates are claimed, never proven",
    "queries title": "Queries",
    "queries none": "The records raised no query.",
    "queries caption": "Entries that a person should look at; nothing was repaired",
    "exclusions title": "Rows not used",
    "exclusions none": "Every row of the records is used.",
    "exclusions caption": "Rows that are not used, with the reason",
    "more rows": "{n} more rows stand in tables/{file}.",
    "inputs title": "Inputs",
    "inputs caption": "Files read, with their SHA-256; exact copies stand under inputs/",
    "second title": "Second opinion",
    "second caption": "Numbers computed twice, by code that shares nothing",
    "second none": "No number was computed twice.",
    "software title": "Software",
    "software words": (
        "wickstats {version}. Versions of Python and of all libraries, and a digest of every "
        "file, stand in manifest.json; every number of this page at full precision in "
        "results.json. To recompute all of it: wickstats audit on this folder."
    ),
    "agrees": "agrees",
    "differs": "differs",
    "not checked": "not checked: {why}",
    "no number": "cannot be given",
    "not given": "cannot be given: {why}",
    "role primary": "primary",
    "role secondary": "secondary",
    "role exploratory": "exploratory",
    "page alive followed": "{name}, alive of 100 followed",
    "page alive": "{name}, alive of 100 planted",
    "page days": "{what}, days",
    "page on date": "{what} on {date}",
    "page inside level": "{what}, within {within}",
    # table heads
    "head treatment": "Treatment",
    "head planned plants": "Plants planned",
    "head planted": "Planted",
    "head followed": "Followed",
    "head subjects": "Subjects",
    "head planned units": "Units planned",
    "head analyzed units": "Units analyzed",
    "head analyzed": "Analyzed",
    "head planned plots": "Plots planned",
    "head analyzed plots": "Plots analyzed",
    "head plot": "Plot",
    "head plants": "Plants",
    "head plant": "Plant",
    "head reason": "Reason",
    "head comparison": "Comparison",
    "head absolute": "Absolute effect",
    "head per": "In",
    "head interval": "{percent} interval",
    "head relative": "Ratio",
    "head p adjusted": "p, adjusted",
    "head verdict": "Verdict",
    "head mean": "Estimate",
    "head per cubic meter": "In {mass}/m\N{SUPERSCRIPT THREE}",
    "head units": "Units",
    "head df": "Degrees of freedom",
    "head term": "Term",
    "head stratum": "Stratum",
    "head unit of replication": "Unit of replication",
    "head statistic": "Statistic",
    "head value": "Value",
    "head p": "p",
    "head redraws p": "p by re-randomization",
    "head smallest p": "Smallest possible p",
    "head rule": "Rule",
    "head first": "First line",
    "head mixed": "Mixed model",
    "head source": "Source",
    "head sum of squares": "Sum of squares",
    "head mean square": "Mean square",
    "head f": "F",
    "head estimate": "Estimate",
    "head response": "Response",
    "head difference": "Difference or ratio",
    "head blocks": "Blocks",
    "head power": "Power",
    "head range": "Range",
    "head note": "Note",
    "head unit": "Unit",
    "head planned l": "Planned, L",
    "head applied l": "Applied, L",
    "head delivered l": "Delivered, L",
    "head from": "Dry from",
    "head to": "Until",
    "head what": "What",
    "head plan": "Planned",
    "head done": "Done",
    "head claimed": "Claimed on",
    "head place": "Place",
    "head code": "Query",
    "head found": "Found",
    "head expected": "Expected",
    "head fix": "To mend it",
    "head file": "File",
    "head row": "Row",
    "head rows": "Rows",
    "head digest": "SHA-256",
    "head ours": "Ours",
    "head theirs": "Second engine",
    "head outcome": "Outcome",
    "head block": "Block",
    "head fitted": "Fitted",
    "head residual": "Residual",
    "head per what": "Per",
    # facts
    "fact type": "Type",
    "fact drawn": "Drawn",
    "fact seed": "Seed",
    "fact scheme": "Scheme",
    "fact hash": "SHA-256 of design, factors, responses and plan",
    "fact keeps": "Efficiency",
    "fact units": "Independently set up",
    "fact plan": "Plan",
    "fact primary": "Primary response",
    "fact secondary": "Secondary responses",
    "fact families": "Comparisons",
    "fact matters": "Smallest difference that matters",
    "fact browsing": "Browsed plants",
    "fact site": "Site",
    "fact people": "People",
    "plan written": "written before planting",
    "plan missing": "none was written before planting: every response is exploratory",
    "unit count": "{term}: {n}",
    "family words": "{name}: {compare}, adjusted by {adjustment}",
}
