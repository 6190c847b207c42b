"""The mixed-model engine against R.

Random intercepts and slopes: lme4, pbkrtest and lmerTest (make/mixed.R, make/mixed_open.R).
Serial correlation and variances by group: nlme, taken to full digits (make/mixed_open.R).
"""

import numpy as np
import pytest
from mixed_data import PROBLEMS, cake_factorial
from mixed_open_data import INTERCEPTS, STRUCTURED
from reader import check, load

from wickstats.models.linear.degrees import mixed_contrasts, mixed_test
from wickstats.models.linear.growth import fit_terms
from wickstats.models.linear.profile import profile_components
from wickstats.models.linear.reml import fit_mixed


def produced(fit, header):
    """Everything that an expected file may ask for."""
    out = {"objective": fit.objective}
    out |= {f"component {n}": v for n, v in zip(fit.names, fit.components, strict=True)}
    one_by_one = mixed_contrasts(fit, np.eye(len(fit.fixed)))
    for j, row in enumerate(one_by_one):
        out |= {f"fixed {j}": fit.fixed[j], f"se model {j}": row.se_model}
        out |= {f"se kr {j}": row.se}
    L = np.array(header["rows"], dtype=float).reshape(-1, len(fit.fixed))
    for i, row in enumerate(mixed_contrasts(fit, L)):
        out |= {f"row {i} estimate": row.estimate, f"row {i} se kr": row.se}
        out |= {f"row {i} df kr": row.df}
    for i, row in enumerate(mixed_contrasts(fit, L, method="satterthwaite")):
        out |= {f"row {i} df satterthwaite": row.df}
    for name, rows in dict(header["tests"]).items():
        kr = mixed_test(fit, np.array(rows, dtype=float))
        out |= {f"test {name} f kr": kr.f, f"test {name} df kr": kr.df_den}
        out |= {f"test {name} scaling kr": kr.scaling, f"test {name} p kr": kr.p}
        other = mixed_test(fit, np.array(rows, dtype=float), method="satterthwaite")
        out |= {f"test {name} f satterthwaite": other.f}
        out |= {f"test {name} df satterthwaite": other.df_den}
    return out


ALL = PROBLEMS | INTERCEPTS


@pytest.mark.parametrize("name", sorted(ALL))
def test_engine_agrees_with_lme4_pbkrtest_and_lmertest(name):
    header, _ = load(f"{name}--mixed")
    fit = fit_mixed(*ALL[name]())
    assert fit.converged
    check(f"{name}--mixed", produced(fit, header))


@pytest.mark.parametrize("name", sorted(STRUCTURED))
def test_slopes_serial_correlation_and_variances_by_group(name):
    header, _ = load(f"{name}--mixed")
    fit = fit_terms(*STRUCTURED[name]())
    assert fit.converged
    check(f"{name}--mixed", produced(fit, header))


def test_components_below_zero_in_strata_mode():
    fit = fit_mixed(*PROBLEMS["dyestuff2"](), mode="strata")
    assert fit.converged
    produced = {"objective": fit.objective}
    produced |= {f"component {n}": v for n, v in zip(fit.names, fit.components, strict=True)}
    check("dyestuff2-strata--mixed", produced)


@pytest.mark.parametrize("name", ["dyestuff", "dyestuff2", "oats-gaps"])
def test_profile_intervals(name):
    fit = fit_mixed(*PROBLEMS[name]())
    out = {}
    for interval in profile_components(fit, method="profile"):
        assert interval.not_estimable is None
        out |= {f"low {interval.term}": interval.low, f"high {interval.term}": interval.high}
    check(f"{name}-profile--mixed", out)


def test_balanced_blocks_with_what_blocks_tell():
    # catalysts: Montgomery, Design and Analysis of Experiments, data from memory; REML by lme4
    # and pbkrtest, computed
    minutes = np.array([73, 74, 71, 75, 67, 72, 73, 75, 68, 75, 72, 75], dtype=float)
    blocks = np.array([0, 1, 3, 1, 2, 3, 0, 1, 2, 0, 2, 3])
    X = np.eye(4)[np.repeat(np.arange(4), 3)]
    fit = fit_mixed(minutes, X, {"block": blocks})
    assert np.sqrt(fit.components) == pytest.approx([2.831, 0.8062], abs=5e-4)
    against_first = np.eye(4)[1:] - np.eye(4)[:1]
    rows = mixed_contrasts(fit, against_first)
    assert [row.estimate for row in rows] == pytest.approx([0.2033, 0.5869, 3.5574], abs=5e-5)
    assert [row.se_model for row in rows] == pytest.approx([0.6971] * 3, abs=5e-5)
    found = mixed_test(fit, against_first)
    assert found.f == pytest.approx(11.3294, abs=5e-5)
    assert found.df_den == pytest.approx(5.0330, abs=5e-5)


def test_balanced_split_plot_has_the_classical_degrees_of_freedom():
    # lme4 cake (Cochran & Cox 1957, p. 300): 42, 210, 210 by pbkrtest, computed
    values, X, groups, tests = cake_factorial()
    fit = fit_mixed(values, X, groups)
    for name, f, df in (("recipe", 0.2488, 42), ("temp", 20.520, 210), ("both", 1.0062, 210)):
        found = mixed_test(fit, tests[name])
        assert found.f == pytest.approx(f, abs=5e-4)
        assert found.df_den == pytest.approx(df, rel=1e-6)
