"""The water ledger: order of rows, units of measure and names change nothing but themselves."""

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support_records import small_trial

from wickstats.layout.plots import Layout, Plot
from wickstats.records.read import read_records

LITERS = (
    *("applied_l", "delivered_l", "delivered_low_l", "delivered_high_l"),
    *("stored_change_l", "leaked_l", "left_l", "by_can_l"),
)


def layout(names: tuple[str, ...]) -> Layout:
    arms = ("hand watering", "capillary wick")
    plots = tuple(
        Plot(name, {"watering": arms[k % 2]}, block=str(k // 2), plants=3)
        for k, name in enumerate(names)
    )
    return Layout("randomized complete block", ("watering",), plots, "elsewhere")


def log(seed: int, names: tuple[str, ...], scale: float = 1.0) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    rows = []
    for name in names:
        held = 0.0
        for week in range(7):
            used = rng.uniform(3.0, 6.0) if week else 0.0
            leaked = 1.5 if rng.random() < 0.1 and week else None
            held = max(held - used - (leaked or 0.0), 0.0)
            before = round(4.0 * held) / 4.0
            given = 0.0 if week == 6 else round(18.0 - held, 1)
            held += given
            rows.append(
                {
                    "date": pd.Timestamp("2025-04-01") + pd.Timedelta(weeks=week),
                    "plot": name,
                    "applied_l": scale * given,
                    "level_before_l": scale * before,
                    "level_after_l": scale * (before if week == 6 else round(4.0 * held) / 4.0),
                    "leaked_l": None if leaked is None else scale * leaked,
                }
            )
    return pd.DataFrame(rows)


def ledger(frame: pd.DataFrame, names: tuple[str, ...]) -> dict[str, dict[str, Any]]:
    trial = small_trial(water={"can_within_percent": 4.0})
    found = read_records(trial, layout(names), {"water": frame}).ledger
    return {row["unit"]: row for row in found.to_dict("records")}


NAMES = ("A1", "A2", "B1", "B2", "C1", "C2")


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(seed: int, shuffle: Any) -> None:
    frame = log(seed, NAMES)
    order = list(range(len(frame)))
    shuffle.shuffle(order)
    one, other = ledger(frame, NAMES), ledger(frame.iloc[order].reset_index(drop=True), NAMES)
    for unit in NAMES:
        for name in LITERS:
            assert other[unit][name] == pytest.approx(one[unit][name], rel=1e-12, abs=1e-9)
        assert other[unit]["note"] == one[unit]["note"]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_twice_the_liters_is_twice_the_ledger(seed: int) -> None:
    one, other = ledger(log(seed, NAMES), NAMES), ledger(log(seed, NAMES, 2.0), NAMES)
    for unit in NAMES:
        if one[unit]["note"] or other[unit]["note"]:
            continue  # what is asked about rests on liters, not on ratios alone
        for name in LITERS:
            assert other[unit][name] == pytest.approx(2.0 * one[unit][name], rel=1e-9, abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_names_of_plots_change_nothing(seed: int) -> None:
    renamed = ("Z9", "Y8", "X7", "W6", "V5", "U4")
    one, other = ledger(log(seed, NAMES), NAMES), ledger(log(seed, renamed), renamed)
    for a, b in zip(NAMES, renamed, strict=True):
        for name in LITERS:
            assert other[b][name] == pytest.approx(one[a][name], rel=1e-12, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_delivered_adds_up_and_lies_between_its_limits(seed: int) -> None:
    for row in ledger(log(seed, NAMES), NAMES).values():
        total = row["applied_l"] + row["rain_l"] - row["stored_change_l"] - row["leaked_l"]
        assert row["delivered_l"] == pytest.approx(total, rel=1e-12, abs=1e-9)
        assert row["delivered_low_l"] <= row["delivered_l"] <= row["delivered_high_l"]
