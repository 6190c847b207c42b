"""Shares alive of single plots in which plants were missed, beside R's survfit.

Expected values: make/unit_shares.R by the survival package on ten invented plots, versions
inside expected/unit-shares.json. survfit on intervals stops early, to about 3e-4 of a share
(relative 2e-3 here); with the days of death known it is the product-limit estimate, 1e-9.
"""

from pathlib import Path

import numpy as np
import pandas as pd
from reader import check

from wickstats.models.lifetimes.shares import unit_shares

DATA = Path(__file__).parent / "data" / "plants-missed" / "data.csv"
DAY = 80.0


def test_plots_with_plants_missed_are_the_curves_of_survfit() -> None:
    lives = pd.read_csv(DATA)
    names, units = np.unique(lives["plot"], return_inverse=True)
    low = lives["last_alive"].to_numpy(dtype=float)
    high = lives["first_dead"].fillna(np.inf).to_numpy(dtype=float)
    found = unit_shares(low, high, units, names.size, DAY, grace=0.0)
    assert found.seen.all()
    assert (found.counts.open > 0).all()
    dead = np.isfinite(high)
    known = unit_shares(np.where(dead, high, low), high, units, names.size, DAY, grace=0.0)
    produced = {f"plot {name}": float(v) for name, v in zip(names, found.share, strict=True)}
    produced |= {
        f"plot {name} known days": float(v) for name, v in zip(names, known.share, strict=True)
    }
    check("unit-shares", produced)
