"""What the benchmarks by hand share: rates in CPU time, the best of three, on one thread."""

import os
import time
from collections.abc import Callable

import numpy as np


def one_thread() -> bool:
    """Whether the numerical libraries were told to use one thread; says so where not."""
    if os.environ.get("OMP_NUM_THREADS") == "1":
        return True
    print("set OMP_NUM_THREADS=1: the rates are meant for one thread")
    return False


def rate(work: Callable[[], object], seasons: int) -> float:
    best = np.inf
    for _ in range(3):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return seasons / best
