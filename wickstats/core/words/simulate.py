"""Simulated seasons: what they rest on, marks, what is missing."""

ENGLISH = {
    "simulated mark": "SIMULATED",
    "simulated title": "SIMULATED: {title}",
    "simulated note": "SIMULATED, seed {seed}",
    "simulated audit": "SIMULATED: the report that was audited is a rehearsal; no plant was "
    "grown for its numbers.",
    "simulated done": "SIMULATED: the tables beside this file were made up from its "
    "assumptions with the seed {seed}.",
    "simulated rests": "What the simulated season rests on:",
    "simulated own layout": "No layout exists yet: one was drawn for the rehearsal alone, with "
    "another seed than the trial's own will have.",
    "simulated rows without mark": "{marked} rows marked SIMULATED, and a trial file that does "
    "not say simulated",
    "simulated mark without rows": "a trial file that says simulated, and {plain} of {rows} "
    "rows without that mark",
    "audit mark removed": "the trial file no longer says that this season is simulated, while "
    "{marked} of its rows are marked SIMULATED: the mark was taken out",
    "audit rows unmarked": "the trial file says that this season is simulated, and {plain} of "
    "{rows} rows are not marked SIMULATED: rows were added or changed after the rehearsal",
    "audit seal": "layout or tables of this simulated season are not those that the rehearsal "
    "wrote: they were changed afterward",
    "audit not the seed's": "not what the simulation gives from this trial file and its seed "
    "{seed}: the table, the layout or the assumptions were changed",
    "simulated check": "SIMULATED: a season that rehearse made up with the seed {seed}",
    # what was assumed
    "simulated survival": "{name}: alive at the end {levels}; plants of one plot correlate by "
    "{plot}, of one block by {block} more{pieces}; hazard {hazard}; causes {causes}",
    "simulated quantity": "{name}: mean {levels}; between {unit}s {plot}{plants}; between "
    "blocks, rows and columns {block}{pieces}; {shape}",
    "simulated count": "{name}: mean {levels} a plot, Poisson; plots' means vary by {plot}, "
    "blocks by {block}{pieces}",
    "simulated ratio": "{name}: {above} over {below} liters, drawn apart; liters vary by {cv}",
    "simulated liters beside": "{line}; its liters are those assumed for {ratio}",
    "simulated crew": "The crew: visits every {every} days, a round spread over {spread} days; "
    "chance that a plot is lost {plots}, a plant {plants}, that a living plant is not found at "
    "a visit {not_found}, that a dead one is first called doubtful {doubtful}, that a living one is "
    "found browsed at a visit {browsed}, that a plant dead in the first quarter is replaced "
    "{replaced}, that a reservoir leaks once {leaks}; "
    "readings vary by {reading}",
    "simulated default": "{value} (our default)",
    "simulated weather kept": "Weather: the trial's own table ({files}), as it stands.",
    "simulated hazard even": "even over the season",
    "simulated hazard shape": "of Weibull shape {shape}",
    # what is missing
    "simulate missing found": "nothing assumed about {name}",
    "simulate missing expected": "what is assumed about every response, under power.assume",
    "simulate missing spread found": "no spread assumed for {name}",
    "simulate missing spread expected": "plot_cv (or plot_sd), and plant_cv for sizes of plants",
    "simulate missing treatment found": "nothing assumed about {name} for {treatments}",
    "simulate missing treatment expected": "a value for every treatment of the layout",
    "simulate paste": "paste under power: assume: and put in what you expect:\n{example}",
    "simulate paste whole": "paste at the end of the file (power and assume once) and put in "
    "what you expect:\npower:\n  assume:\n{example}",
    "simulate add": "complete what stands under {name}, for example:\n{example}",
    "simulate no plants found": "no number of plants for plot {plot}",
    "simulate no plants expected": "plants_per_plot under design, or a column plants in the "
    "layout",
    "simulate no plants fix": "add one of them",
    "simulate no layout found": "no {file}, and plots that were drawn elsewhere",
    "simulate no layout expected": "the layout's table, or drawn: here",
    "simulate no layout fix": "put the layout beside the trial file",
    "simulate no season found": "no season in the trial file",
    "simulate no season expected": "first and last day of the season",
    "simulate no season fix": "add under trial: season: {{start: 2027-03-15, end: 2027-10-11}}",
}
