"""The parts of the study, and the code that decides the numbers of each.

Of every part the study's own modules, then the package's. Leans on nothing.
"""

# what decides a cell's numbers: the study's own modules, then the package's
UNITS = (
    "models/batch/between",
    "models/batch/draw",
    "models/batch/error_strata",
    "models/batch/layout",
    "models/batch/paired",
    "models/batch/results",
    "models/batch/strata",
    "models/linear/contrasts",
    "models/linear/error_strata",
    "models/linear/estimates",
    "models/linear/geometry",
)
FIRST = (
    *UNITS,
    "models/batch/counts",
    "models/batch/dispersion",
    "models/linear/dispersion",
    "models/linear/strata",
    "models/ratios/counts",
    "models/ratios/poisson",
    "simulate/counts",
    "simulate/effects",
    "simulate/quantities",
    "simulate/shares",
)
SECOND = (
    "models/batch/draw",
    "models/batch/kenward_roger",
    "models/batch/likelihood",
    "models/batch/mixed",
    "models/batch/newton",
    "models/linear/profile",
)
BOTH = (*UNITS, *SECOND)
STRATA = (
    "analysis/gaps_line",
    "models/linear/degrees",
    "models/linear/geometry",
    "models/linear/reml",
    "models/linear/strata",
)
OURS = ("study_cells", "study_seasons", "study_linear", "study_run")
USUAL = ("study_cells", "study_seasons", "study_linear", "study_usual")
TRIALS = ("study_cells", "trial_layouts", "trial_run")
MIXED = (*TRIALS, "trial_mixed")
GAPS = ("study_cells", "trial_gaps")
USUAL_TRIALS = (*TRIALS, "trial_usual", "usual_mixed")
HELD = (*USUAL_TRIALS, "usual_held")
LIVES = (*FIRST, "models/lifetimes/scores", "models/linear/scores")
SURVIVAL = ("study_cells", "survival_cells", "survival_seasons", "survival_run")
USUAL_SURVIVAL = ("study_cells", "survival_cells", "survival_seasons", "survival_usual")
BOUND = (*SURVIVAL, "survival_bound")
MORE = ("study_cells", "survival_more")
RANKS = (
    "models/lifetimes/rank",
    "models/lifetimes/intervals",
    "models/lifetimes/causes",
    "simulate/shares",
)
MISSED = ("study_cells", "survival_missed")
KNOWN = (
    "analysis/known",
    "analysis/rounds",
    "models/batch/dispersion",
    "models/lifetimes/mass",
    "models/lifetimes/restricted",
    "models/lifetimes/shares",
    "models/lifetimes/turnbull",
    "models/linear/dispersion",
    "simulate/shares",
)
WATER = ("study_cells", "water_cells", "water_seasons", "water_run")
COSTS = ("study_cells", "water_seasons", "water_run", "cost_cells", "cost_run")
CLAIMS = ("study_cells", "power_run")
CLAIMED = (
    *FIRST,
    "models/batch/bounds",
    "models/batch/families",
    "models/power",
    "simulate/seasons",
    "sizing/assumed",
    "sizing/critical",
    "sizing/reckon",
    "sizing/seasons",
)
LEDGERS = ("records/vessels", "records/unit_water", "models/ratios/sums")
LEAKS = ("study_cells", "water_seasons", "leak_run")
SEARCH = ("records/water_losses",)
POSITION = ("study_cells", "position_run")
BOUGHT = ("models/ratios/fieller", "models/ratios/sums")
PARTS = (
    "first",
    "trials",
    "survival",
    "bound",
    "missed",
    "water",
    "more",
    "leaks",
    "costs",
    "power",
    "position",
)
TRIAL_PARTS = ("mixed", "gaps", "usual", "held")  # of "trials", each by itself
SURVIVAL_PARTS = ("survival usual",)  # of "survival"
