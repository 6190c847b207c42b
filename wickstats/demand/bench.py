"""Reservoirs for cords that were tried at the bench: their flow is what a reservoir loses.

One wick is taken; between wicks flow differs as it did between pieces of one treatment.
Leans on visits, losses, design's values and core.
"""

from collections.abc import Sequence

import numpy as np

from wickstats.core.responses import ResponseResult
from wickstats.core.supply import Supply
from wickstats.core.words import say
from wickstats.demand.losses import ASSUMED_CV, EVERY_D, ML_H_TO_L_D, planned_reservoirs
from wickstats.demand.visits import BENCH_FLOW, Losses
from wickstats.design.trial import Trial


def bench_supply(trial: Trial, responses: Sequence[ResponseResult]) -> Supply:
    """Volumes and visits by the first flow in mL/h; nothing where there is none."""
    losses = flow_losses(responses)
    if not losses:
        return Supply()
    plan = planned_reservoirs(trial, losses)
    notes = [say("supply bench note"), say("supply chance note")]
    if trial.water is None or trial.water.visits_every_d is None:
        notes.append(say("supply visits assumed", days=EVERY_D))
    return Supply(reservoirs=plan, supply_notes=tuple(notes))


def flow_losses(responses: Sequence[ResponseResult]) -> list[Losses]:
    """Liters a day that one wick of every treatment gives, and how pieces differ."""
    out = []
    for response in responses:
        bench = response.bench
        if response.kind != "flow" or bench is None or bench.measured_in != "mL/h":
            continue
        cv, whence = bench.piece_cv, say("supply cv bench", n=bench.df)
        if cv is None:
            cv, whence = ASSUMED_CV, say("supply cv assumed")
        for row in bench.spread:
            if row.mean is not None and row.mean > 0.0:
                rate = np.array([row.mean * ML_H_TO_L_D])
                out.append(Losses(row.treatment, BENCH_FLOW, 0, rate, cv, whence))
        break
    return out
