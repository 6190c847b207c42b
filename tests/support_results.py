"""A realistic, invented season's results for tests of pages, report and archive.

Four ways of watering in six blocks of eight plants, with what seasons have: a
lost plot, an arm that cannot be told, rows that cannot be estimated, queries,
a gap in the water log. All numbers are made up from a fixed stream; they obey
the shape of real results, not any model.
"""

import hashlib
import math
import random
from dataclasses import replace

from wickstats.core.costs import Cost
from wickstats.core.errors import Exclusion, Problem
from wickstats.core.responses import (
    Absolute,
    Check,
    Comparison,
    CurvePoint,
    Mean,
    MixedModel,
    Redraws,
    Relative,
    ResponseResult,
    StrataRow,
    TestRow,
    UnitSummary,
    UnitValue,
    VarianceComponent,
)
from wickstats.core.results import (
    Accounting,
    ArmCount,
    Deviation,
    DryPeriod,
    InputFile,
    LayoutFacts,
    LostUnit,
    PlannedComparison,
    PowerResults,
    PowerRow,
    Results,
    SecondEngineRow,
    StratumDf,
    TrialFacts,
    WaterUnit,
)
from wickstats.core.supply import Supply

ARMS = ("hand watering", "capillary wick", "gravity wick", "buried clay pot")
BLOCKS = tuple(str(b) for b in range(1, 7))
LOST_UNIT = "KC-4"  # gravity wick in block 3

UNITS = {
    (block, arm): f"K{'ABCDEF'[b]}-{a + 2}"
    for b, block in enumerate(BLOCKS)
    for a, arm in enumerate(ARMS)
}

SOURCES = {
    "trial.yaml": b"format: 1\ntrial: {id: hill-hazels, title: Invented}\n",
    "layout.csv": b"plot,block,watering\nKA-2,1,hand watering\nKA-3,1,capillary wick\n",
    "visits.csv": b'date,plot,plant,status,note\n2025-04-01,KA-2,1,alive,"wet\nsoil"\n'
    b"2025-04-08,KA-2,1,dead,\n",
}


def rich_results(*, simulated: bool = False, drawn: str = "here") -> Results:
    """Build the whole tree; the same every time."""
    stream = random.Random(20250317)
    survival = _survival(stream)
    height = _sized(
        stream, "height", "growth", "cm", "mean", (41.0, 52.0, 49.5, 43.0), 0.10, "secondary"
    )
    ratio = _sized(
        stream,
        "nuts per liter",
        "yield per liter",
        "kg/m3",
        "ratio of totals",
        (1.1, 2.3, 1.9, 1.35),
        0.16,
        "exploratory",
        denominator="delivered",
    )
    return Results(
        wickstats="0.1.0",
        results_format=1,
        simulated=simulated,
        trial=_trial(),
        inputs=tuple(
            InputFile(path, hashlib.sha256(data).hexdigest(), data.count(b"\n") - 1)
            for path, data in SOURCES.items()
        ),
        layout=LayoutFacts(
            type="randomized complete block",
            seed=20250317 if drawn == "here" else None,
            scheme="sha256-words-1",
            hash="a" * 64,
            drawn=drawn,
            units={"watering": 24},
        ),
        degrees_of_freedom=(
            StratumDf("block", "block", 5),
            StratumDf("plot", "treatment", 3),
            StratumDf("plot", "residual", 15),
        ),
        accounting=_accounting(),
        responses=(survival, height, ratio, _counts(stream)),
        water=_water(stream),
        supply=Supply(),
        costs=(Cost("capillary wick", "survivor", 4.1, 3.0, 5.6),),
        power=_power(),
        queries=_queries(),
        exclusions=(
            Exclusion("visits.csv", 118, "identical to row 117: the first is used"),
            Exclusion("visits.csv", 240, "alive after dead: the death is set aside"),
        ),
        deviations=(
            Deviation("height, scale", "log", "log", "2025-03-01"),
            Deviation("visits", "every 7 days", "every 7 to 21 days", None),
        ),
        second_engine=(
            SecondEngineRow("survival: F of treatment", 6.412, 6.412, True, None),
            SecondEngineRow(
                "survival: log-rank score", 11.2, None, None, "no independent engine has it"
            ),
        ),
        source_bytes=dict(SOURCES),
    )


def hostile_results() -> Results:
    """The same season with user text that attacks page, table and spreadsheet."""
    bad = '<script>alert("x")</script> & $\\alpha$ \u202egnp.exe\x07'
    results = rich_results()
    trial = replace(
        results.trial,
        title=bad,
        question=bad,
        people={"designed_by": bad},
        site={"name": bad, "soil": "'><img src=x onerror=alert(1)>"},
    )
    query = Problem("visits.csv", "odd value", "=cmd|' /C calc'!A0", "+1", "@SUM(1)", row=3)
    responses = tuple(
        replace(r, name=f"{r.name} $x_1$ <b>{i}</b>") for i, r in enumerate(results.responses)
    )
    return replace(results, trial=trial, queries=(query,), responses=responses)


def _trial() -> TrialFacts:
    return TrialFacts(
        id="hill-hazels",
        title="Four ways of watering hazel seedlings on a terrace",
        question="Does a wick reservoir keep more seedlings alive than weekly hand watering?",
        invented=True,
        place="field",
        season_start="2025-03-17",
        season_end="2025-10-13",
        site={"name": "Terrace 3", "latitude": 41.2, "elevation_m": 640.0, "soil": "rubble"},
        people={"designed_by": "A. Example"},
        factors={"watering": ARMS},
        references={"watering": ARMS[0]},
        details={ARMS[0]: "2 L a plant each week"},
        confidence=0.95,
        planned=True,
        primary="survival",
        secondary=("height",),
        comparisons=(
            PlannedComparison(
                "watering",
                "each with hand watering",
                "each with the reference",
                "dunnett",
                None,
                None,
            ),
        ),
        matters={"survival": {"difference": 0.10}, "height": {"ratio": 1.15}},
        browsing="as seen",
    )


def _unit_values(
    stream: random.Random, centers: tuple[float, ...], spread: float, low: float, high: float
) -> tuple[UnitValue, ...]:
    rows: list[UnitValue] = []
    for block in BLOCKS:
        shift = stream.gauss(0, spread)
        for arm, center in zip(ARMS, centers, strict=True):
            unit = UNITS[block, arm]
            residual = stream.gauss(0, spread)
            fitted = center + shift
            value = min(max(fitted + residual, low), high)
            if unit == LOST_UNIT:
                rows.append(
                    UnitValue(unit, block, None, arm, None, 0, None, None, "the plot was lost")
                )
            else:
                rows.append(UnitValue(unit, block, None, arm, value, 8, fitted, value - fitted))
    return tuple(rows)


def _comparison(
    name: str,
    arm: str,
    measure: str,
    est: tuple[float, float, float],
    *,
    estimand: str,
    at: str | None = None,
    verdict: str | None,
    sentence: str | None,
    absolute: Absolute | None,
    rule: str = "strata",
    matters: float | None = None,
    denominator: str | None = None,
    p: float = 0.02,
) -> Comparison:
    estimate, low, high = est
    return Comparison(
        term="treatment",
        name=name,
        treatment=arm,
        versus=ARMS[0],
        within=None,
        estimand=estimand,
        at=at,
        measure=measure,
        rule=rule,
        unit_of_replication="plot",
        estimate=estimate,
        se=0.07,
        df=14.0,
        low=low,
        high=high,
        p=p,
        adjustment="dunnett",
        p_adjusted=min(1.0, 2.2 * p),
        low_adjusted=low - abs(low) * 0.05,
        high_adjusted=high + abs(high) * 0.05,
        p_equivalence=0.81,
        matters=matters,
        verdict=verdict,
        sentence=sentence,
        redraws=Redraws(0.0312, "exact", 64, 0.03125, None),
        absolute=absolute,
        relative=Relative(estimate, low, high)
        if measure == "ratio"
        else Relative(1.3, 1.1, 1.5),
        denominator=denominator,
        unbounded=None,
    )


def _missing(name: str, arm: str, why: str, estimand: str) -> Comparison:
    return Comparison(
        term="treatment",
        name=name,
        treatment=arm,
        versus=ARMS[0],
        within=None,
        estimand=estimand,
        at=None,
        measure="difference",
        rule="strata",
        unit_of_replication="plot",
        estimate=None,
        se=None,
        df=None,
        low=None,
        high=None,
        p=None,
        adjustment="none",
        p_adjusted=None,
        low_adjusted=None,
        high_adjusted=None,
        p_equivalence=None,
        matters=None,
        verdict=None,
        sentence=None,
        redraws=None,
        absolute=None,
        relative=None,
        denominator=None,
        unbounded=None,
        not_estimable=why,
    )


def _tests(f: float, p: float) -> tuple[TestRow, ...]:
    redraws = Redraws(0.0007, "sampled", 10000, 0.0001, None)
    return (
        TestRow("treatment", "plot", "plot", "F", f, 3.0, 14.0, p, redraws),
        TestRow("treatment", "plot", "plot", "chi-square", 11.9, 3.0, None, 0.0078, None),
    )


def _strata(f: float, p: float) -> tuple[StrataRow, ...]:
    return (
        StrataRow("block", "block", 5, 0.214, 0.0428, None, None),
        StrataRow("plot", "treatment", 3, 0.61, 0.61 / 3, f, p),
        StrataRow("plot", "residual", 14, 0.44, 0.44 / 14, None, None),
    )


def _mixed(comparisons: tuple[Comparison, ...]) -> MixedModel:
    return MixedModel(
        terms=("treatment", "block", "plot", "plant"),
        variance_components=(
            VarianceComponent("block", 0.0021, 0.0, 0.013),
            VarianceComponent("plot", 0.0, 0.0, 0.009),
            VarianceComponent("residual", 0.051, 0.043, 0.062),
        ),
        tests=(TestRow("treatment", "plot", "plot", "F", 6.1, 3.0, 13.7, 0.0072, None),),
        comparisons=tuple(replace(c, rule="mixed", sentence=None) for c in comparisons),
        df_method="Kenward-Roger",
        converged=True,
        objective=12.25,
        diary={"iterations": 9, "optimizer": "average information", "gradient": 1.5e-9},
    )


def _mean(arm: str, estimand: str, at: str | None, e: float, half: float, lost: bool) -> Mean:
    n = 5 if lost else 6
    return Mean(
        "treatment", arm, None, estimand, at, e, half / 2.1, 14.0, e - half, e + half, n, 8 * n
    )


def _survival(stream: random.Random) -> ResponseResult:
    shares = (0.62, 0.87, 0.83, 0.66)
    values = tuple(
        replace(v, value=None if v.value is None else round(v.value * 8) / 8)
        for v in _unit_values(stream, shares, 0.08, 0.0, 1.0)
    )
    days = (0.0, 30.0, 61.0, 92.0, 122.0, 153.0, 184.0, 210.0)
    curves: list[CurvePoint] = []
    for arm, share in zip(ARMS, shares, strict=True):
        rate = -math.log(share) / days[-1] ** 0.7
        for low, high in zip(days, (*days[1:], days[-1]), strict=True):
            s = math.exp(-rate * low**0.7)
            half = 0.0 if low == 0 else 0.04 + 0.08 * (1 - s)
            n = 40 if arm == "gravity wick" else 48
            curves.append(
                CurvePoint(
                    arm, low, high, s, max(s - half, 0), min(s + half / 2, 1), int(n * s)
                )
            )
    at = "2025-10-13"
    more = "more alive of 100 planted"
    comparisons = (
        _comparison(
            "capillary wick against hand watering",
            ARMS[1],
            "difference",
            (0.25, 0.08, 0.42),
            estimand="share alive",
            at=at,
            verdict="better",
            matters=0.10,
            rule="dispersion",
            sentence="With the capillary wick, about 25 more of 100 seedlings were alive at "
            "the end than with hand watering; the true number may be 8 to 42. It is better.",
            absolute=Absolute(25.0, 8.0, 42.0, more),
            p=0.003,
        ),
        _comparison(
            "gravity wick against hand watering",
            ARMS[2],
            "difference",
            (0.21, 0.02, 0.40),
            estimand="share alive",
            at=at,
            verdict="better",
            matters=0.10,
            rule="dispersion",
            sentence="With the gravity wick, about 21 more of 100 seedlings were alive at the "
            "end; the true number may be 2 to 40. It is better.",
            absolute=Absolute(21.0, 2.0, 40.0, more),
            p=0.02,
        ),
        _comparison(
            "buried clay pot against hand watering",
            ARMS[3],
            "difference",
            (0.04, -0.15, 0.23),
            estimand="share alive",
            at=at,
            verdict="cannot tell",
            matters=0.10,
            rule="dispersion",
            sentence="We cannot tell whether the buried clay pot keeps more alive: the true "
            "number may be 15 fewer to 23 more of 100. About 11 blocks would tell.",
            absolute=Absolute(4.0, -15.0, 23.0, more),
            p=0.61,
        ),
    )
    means = tuple(
        _mean(arm, "share alive", when, s + extra, 0.11, arm == ARMS[2])
        for when, extra in (("2025-07-01", 0.1), (at, 0.0))
        for arm, s in zip(ARMS, shares, strict=True)
    ) + tuple(
        _mean(arm, "restricted mean survival time", None, 160 + 50 * s, 12.5, arm == ARMS[2])
        for arm, s in zip(ARMS, shares, strict=True)
    )
    paired = tuple(replace(c, rule="paired", df=5.0, sentence=None) for c in comparisons)
    return ResponseResult(
        name="survival",
        kind="survival",
        measured_in="share",
        model_scale="as measured",
        better="more",
        role="primary",
        unit_summary=UnitSummary("share alive at 2025-10-13", "share", values),
        strata=(),
        tests=_tests(6.41, 0.0058),
        means=means,
        comparisons=comparisons,
        sensitivity=paired,
        mixed_model=None,
        curves=tuple(curves),
        checks=(
            Check("residuals", "No unit stands out: the largest is KB-2, 2.1 times.", None),
            Check("each block left out", "The verdicts stay with any block left out.", None),
        ),
        cautions=("2 plants were not found at the last visit; best and worst case agree.",),
    )


def _sized(
    stream: random.Random,
    name: str,
    kind: str,
    unit: str,
    estimand: str,
    centers: tuple[float, ...],
    cv: float,
    role: str,
    denominator: str | None = None,
) -> ResponseResult:
    logs = tuple(math.log(c) for c in centers)
    values = _unit_values(stream, logs, cv, -9.0, 9.0)
    means = tuple(
        Mean(
            "treatment",
            arm,
            None,
            estimand,
            None,
            c,
            cv / 2.4,
            14.0,
            c * math.exp(-cv),
            c * math.exp(cv),
            5 if arm == ARMS[2] else 6,
            37,
        )
        for arm, c in zip(ARMS, centers, strict=True)
    )
    comparisons = tuple(
        _comparison(
            f"{arm} against {ARMS[0]}",
            arm,
            "ratio",
            (
                c / centers[0],
                c / centers[0] * math.exp(-1.6 * cv),
                c / centers[0] * math.exp(1.6 * cv),
            ),
            estimand=estimand,
            matters=1.15,
            denominator=denominator,
            verdict="better" if c > 1.18 * centers[0] else "cannot tell",
            sentence=f"{name.capitalize()} with the {arm}: the difference is clear in this "
            "season."
            if c > 1.18 * centers[0]
            else f"{name.capitalize()} with the {arm}: we cannot tell from this season.",
            absolute=Absolute(c - centers[0], c - centers[0] * 1.1, c - centers[0] * 0.9, unit),
        )
        for arm, c in zip(ARMS[1:], centers[1:], strict=True)
    )
    return ResponseResult(
        name=name,
        kind=kind,
        measured_in=unit,
        model_scale="log",
        better="more",
        role=role,
        unit_summary=UnitSummary(f"{name} per plot", f"log({unit})", values),
        strata=_strata(6.4, 0.006),
        tests=_tests(6.4, 0.006),
        means=means,
        comparisons=comparisons,
        sensitivity=comparisons[:1],
        mixed_model=_mixed(comparisons),
        curves=(),
        checks=(Check("variance by arm", "The arms vary alike.", None),),
        cautions=("Survivors only: read it beside survival.",) if kind == "growth" else (),
    )


def _counts(stream: random.Random) -> ResponseResult:
    values = tuple(
        replace(v, value=None if v.value is None else float(round(v.value)))
        for v in _unit_values(stream, (14.0, 22.0, 20.0, 15.0), 3.0, 0.0, 99.0)
    )
    why = "the arm has yield in fewer than two blocks: compare by re-randomization"
    good = _comparison(
        "capillary wick against hand watering",
        ARMS[1],
        "ratio",
        (1.57, 1.20, 2.05),
        estimand="total",
        verdict="better",
        sentence="More shoots with the capillary wick.",
        absolute=Absolute(8.0, 3.0, 13.0, "shoots a plot"),
    )
    means = (
        *(
            Mean("treatment", arm, None, "mean", None, m, 1.5, 14.0, m - 3.0, m + 3.0, 6, 48)
            for arm, m in zip(ARMS[:3], (14.0, 22.0, 20.0), strict=True)
        ),
        Mean("treatment", ARMS[3], None, "mean", None, None, None, None, None, None, 1, 8, why),
    )
    return ResponseResult(
        name="shoots",
        kind="count",
        measured_in="shoots",
        model_scale="as measured",
        better="more",
        role="exploratory",
        unit_summary=UnitSummary("shoots per plot", "shoots", values),
        strata=(),
        tests=(TestRow("treatment", "plot", "plot", "F", None, None, None, None, None, why),),
        means=means,
        comparisons=(
            good,
            _missing("buried clay pot against hand watering", ARMS[3], why, "total"),
        ),
        sensitivity=(),
        mixed_model=None,
        curves=(),
        checks=(),
        cautions=(),
    )


def _accounting() -> Accounting:
    arms = tuple(
        ArmCount(
            arm,
            48,
            48,
            40 if arm == "gravity wick" else 48,
            6,
            5 if arm == "gravity wick" else 6,
        )
        for arm in ARMS
    )
    lost = tuple(LostUnit(LOST_UNIT, str(i), "flood damage: plot lost") for i in range(1, 9))
    return Accounting(192, 192, 184, arms, lost)


def _water(stream: random.Random) -> tuple[WaterUnit, ...]:
    planned = dict(zip(ARMS, (480.0, 240.0, 320.0, 300.0), strict=True))
    rows: list[WaterUnit] = []
    for block in BLOCKS:
        for arm in ARMS:
            unit = UNITS[block, arm]
            applied = planned[arm] * (1 + stream.gauss(0, 0.05))
            dry = (
                (DryPeriod("2025-07-10", "2025-07-15", "2025-07-20"),) if unit == "KB-3" else ()
            )
            if unit == LOST_UNIT:
                rows.append(
                    WaterUnit(
                        unit,
                        arm,
                        planned[arm],
                        None,
                        None,
                        None,
                        None,
                        (),
                        "no water log for this plot",
                    )
                )
                continue
            delivered = applied * 0.96
            rows.append(
                WaterUnit(
                    unit,
                    arm,
                    planned[arm],
                    applied,
                    delivered,
                    delivered * 0.94,
                    delivered * 1.06,
                    dry,
                )
            )
    return tuple(rows)


def _power() -> PowerResults:
    planned = PowerRow(
        "survival",
        "capillary wick against hand watering",
        0.20,
        6.0,
        0.72,
        None,
        None,
        "difference",
        "under the trial file's assumptions",
    )
    reached = PowerRow(
        "survival",
        "capillary wick against hand watering",
        0.21,
        6.0,
        0.80,
        0.16,
        0.30,
        "difference",
        "smallest difference this trial could detect",
    )
    following = PowerRow(
        "survival",
        "capillary wick against hand watering",
        0.10,
        11.0,
        0.80,
        8.0,
        17.0,
        "difference",
        "blocks for the next season",
    )
    none = PowerRow(
        "shoots",
        "buried clay pot against hand watering",
        None,
        None,
        None,
        None,
        None,
        "ratio",
        "",
        "no smallest important ratio was written in the plan",
    )
    return PowerResults((planned,), (reached,), (following, none))


def _queries() -> tuple[Problem, ...]:
    return (
        Problem(
            "visits.csv",
            "alive after dead",
            "KA-2 plant 3 alive on 2025-05-06",
            "dead for good",
            "look at the plant and correct the sheet",
            row=240,
        ),
        Problem(
            "sizes.xlsx",
            "size shrinks",
            "31 cm after 34 cm",
            "at least 34 cm",
            "check the row against the field sheet",
            row=57,
            column="height, mm",
        ),
    )
