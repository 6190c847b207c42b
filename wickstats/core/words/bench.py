"""Sentences about bench trials: rise and flow of water in pieces of cord. Leans on nothing."""

ENGLISH = {
    # unit summaries
    "flow name": "flow",
    "flow at head": "flow at {head} mm of head",
    "flow change per day": "change of flow per day",
    "flow change per hour": "change of flow per hour",
    "flow by head": "flow for 100 mm of head",
    # why a piece has no value
    "rise nothing read": "no height was read",
    "rise not read": "not read up to {minute} min (last reading at {last} min)",
    "rise too few early": "fewer than {n} heights before the top",
    "flow nothing read": "no volume over time",
    "flow mixed heads": "several heads in one run",
    "flow other head": "read at a head of {head} mm, not {asked} mm",
    "flow no temperature": "no water temperature, so no flow at 20 degC",
    "flow not above zero": "no flow above what evaporated, so no logarithm",
    "bench no reading": "no usable reading",
    # notes
    "bench capped": (
        "{n} of {all} pieces stood at the top before the time asked ({told}). They count as "
        "the top, so means and differences are of heights counted up to the top: true "
        "differences are no smaller. That treatments are the same cannot be told from them, "
        "so the planned smallest difference is not used."
    ),
    "bench still rising": (
        "{n} of {all} pieces were still rising at their last reading ({told}). Their last "
        "height counts, and the true plateau is no lower. That treatments are the same "
        "cannot be told from them, so the planned smallest difference is not used."
    ),
    "bench evaporation": (
        "What cups without a cord lost was taken off every flow: {least} to {most} mL/h by run."
    ),
    "bench no evaporation": (
        "No cup without a cord was read, so what evaporated counts as flow."
    ),
    "bench other runs": (
        "Run {runs} had no cup without a cord: the mean of the other runs' cups was taken off."
    ),
    "bench to 20": (
        "Flows were turned to 20 degC by the viscosity of water (factors {least} to {most}); a "
        "piece without a temperature of its own has its run's mean."
    ),
    "bench as measured": (
        "Flows are as measured, at water of {least} to {most} degC: water is about 2 % thinner "
        "for each degree warmer, so runs or treatments of another temperature differ by it."
    ),
    "bench one coil": (
        "There is one coil each of {cords}. Pieces of one coil are no replicates of a cord: "
        "what is told between these cords is the difference of these very coils, without "
        "inference."
    ),
    "bench coils": (
        "The cord is a property of the coil: cords are compared between coils, and more pieces "
        "of a coil do not add replicates."
    ),
    "redraw coils": "which cord a coil is of was not drawn",
    # spread
    "spread capped": "pieces that stood at the top hide how much pieces differ",
    "spread few": "too few pieces of one treatment",
    "spread not above zero": "values at or below zero have no coefficient of variation",
    # checks
    "check radius": "order of magnitude of the rise",
    "check radius words": (
        "The heights reached would be held by pores of {holds} to {held} um radius at "
        "most (Jurin), and early slopes are those of tubes of {least} to {most} um (Washburn "
        "1921), water at 20 degC. A cord is no tube: this checks units only."
    ),
    "check radius odd": (
        "Heights and early slopes are those of tubes of {holds} to {held} and {least} to {most} "
        "um radius (Jurin; Washburn 1921), which no cord has: look at the units of height_mm "
        "and minutes."
    ),
    # page
    "bench title": "Pieces of cord",
    "bench picture rise": "{name}: height against the root of time",
    "bench picture flow": "{name}: volume against time",
    "bench picture words": (
        "One line a piece. {list}. Filled ends: the water stood at the top of the piece."
    ),
    "bench picture flow words": "One line a piece. {list}.",
    "bench told": "{treatment} {value} {unit}",
    "axis height": "height, mm",
    "axis root": "root of time, min^0.5",
    "axis minutes": "time, min",
    "axis hours": "time, h",
    "axis days bench": "time, d",
    "axis volume": "volume, mL",
    "bench spread caption": "{name}: pieces and coils by treatment",
    "bench spread note": (
        "Nine in ten: what nine of ten further pieces of these coils are expected to stay below "
        "(log-normal, with t). A reserve of water is sized by it, not by the mean."
    ),
    "bench spread note plain": "At the top: pieces whose true height is no lower.",
    "bench cv": (
        "Between pieces of one treatment: coefficient of variation {cv} % (95 % interval: "
        "{between} %; {df} degrees of freedom)."
    ),
    "bench cv open": "Between pieces of one treatment: not told, since {why}.",
    "bench pieces caption": "{name}: every piece",
    "head pieces": "Pieces",
    "head coils": "Coils",
    "head at top": "At the top",
    "head bench mean": "Mean, {unit}",
    "head nine in ten": "Nine in ten below, {unit}",
    "head piece": "Piece",
    "head coil": "Coil",
    "head run": "Run",
    "head value in": "Value, {unit}",
    "head head": "Head, mm",
    "head temperature": "Water, degC",
    "head evaporated": "Evaporated, mL/h",
    "head factor": "Factor to 20 degC",
    "at least value": "at least {value}",
}
