"""A grower's sentence for each comparison, numbers included.

Leans on core.words, core.numbers, verdict and families.
"""

from dataclasses import dataclass
from math import exp

from wickstats.analysis import verdict as v
from wickstats.analysis.families import Judged
from wickstats.analysis.summary import Summary
from wickstats.core.numbers import confidence_level, fixed, number
from wickstats.core.words import say

KEYS = {
    v.BETTER: "verdict better",
    v.WORSE: "verdict worse",
    v.MORE: "verdict more",
    v.LESS: "verdict less",
    v.SAME: "verdict same",
    v.SAME_BETTER: "verdict same better",
    v.SAME_WORSE: "verdict same worse",
    v.SAME_MORE: "verdict same more",
    v.SAME_LESS: "verdict same less",
    v.NO_WORSE: "verdict no worse",
    v.NO_BETTER: "verdict no better",
    v.NO_LESS: "verdict no less",
    v.NO_MORE: "verdict no more",
    v.CANNOT_TELL: "verdict cannot tell",
}


SHARE_KEYS = {0: "effect share same", 1: "effect share one"}


@dataclass(frozen=True, slots=True)
class Told:
    """What a sentence needs to know of the response."""

    response: str
    role: str
    unit: str
    matters: float | None  # on the model's scale
    confidence: float


def sentence_of(
    verdict: str, judged: Judged, summary: Summary, told: Told, effect: str, more: str = ""
) -> str:
    """The sentence of a verdict; ``more`` is added behind it."""
    key = KEYS[verdict]
    if judged.side and verdict == v.CANNOT_TELL:
        key = "verdict not shown better"
    text = say(
        key,
        treatment=judged.contrast.treatment,
        versus=judged.contrast.versus,
        response=place(told.response, judged),
        effect=effect,
        matters=matters_words(told.matters, summary, told.unit),
    )
    if more:
        text = f"{text} {more}"
    return with_role(text, told.role, planned=judged.family.planned)


def place(response: str, judged: Judged) -> str:
    """The response, and inside which level of another factor."""
    within = judged.family.within
    return response if within is None else f"{response} ({within})"


def with_role(text: str, role: str, *, planned: bool) -> str:
    """Say when a response is secondary or a comparison was not planned."""
    if role == "exploratory" or not planned:
        return say("exploratory", sentence=text)
    return say("secondary", sentence=text) if role == "secondary" else text


def effect_words(judged: Judged, summary: Summary, told: Told) -> str:
    """The effect with its adjusted interval in everyday words."""
    value = judged.estimate.estimate
    if value is None:
        return ""
    if judged.side and (judged.low is not None or judged.high is not None):
        return _one_sided_words(judged, value, summary, told)
    if judged.low is None or judged.high is None:
        return say("effect without interval", value=_one(value, summary, told.unit))
    confidence = confidence_level(told.confidence)
    if summary.is_share:
        low, high = (plants_words(x) for x in (max(judged.low, -1.0), min(judged.high, 1.0)))
        return say(
            share_key(summary, SHARE_KEYS.get(round(100.0 * abs(value)), "effect share")),
            value=plants_words(value),
            confidence=confidence,
            low=low,
            high=high,
            **subject_words(summary),
        )
    if summary.log:
        return say(
            "effect ratio",
            percent=_percent(value),
            ratio=_ratio(value),
            confidence=confidence,
            low=_ratio(judged.low),
            high=_ratio(judged.high),
        )
    return say(
        "effect difference",
        value=_more(value, told.unit),
        confidence=confidence,
        low=_more(judged.low, told.unit),
        high=_more(judged.high, told.unit),
    )


def _one_sided_words(judged: Judged, value: float, summary: Summary, told: Told) -> str:
    """The effect with the one limit that the plan's question has."""
    limit = judged.low if judged.low is not None else judged.high or 0.0
    least = judged.side > 0
    if summary.is_share:
        limit = min(max(limit, -1.0), 1.0)
        size = {0: " same", 1: " one"}.get(round(100.0 * abs(value)), "")
        return say(
            share_key(summary, f"effect share side{size}"),
            value=plants_words(value),
            confidence=confidence_level(told.confidence),
            end=say("end at least" if limit * judged.side > 0.0 else "end at most"),
            limit=plants_words(limit),
            **subject_words(summary),
        )
    if summary.log:
        words = say("times as much", ratio=_ratio(limit))
    else:  # a limit on the worse side is the most that is lost
        words, least = _one(limit, summary, told.unit), limit * judged.side > 0.0
    return say(
        "effect at least" if least else "effect at most",
        value=_one(value, summary, told.unit),
        limit=words,
        confidence=confidence_level(told.confidence),
    )


def share_key(summary: Summary, key: str) -> str:
    """The key of a sentence about shares alive, or about plants that other causes spared."""
    return key if summary.estimand == "share alive" else f"{key} spared"


def subject_words(summary: Summary) -> dict[str, str]:
    """What was followed, in words: many, one, done (planted or followed)."""
    kind = summary.subjects
    return {key: say(f"{kind} {key}") for key in ("many", "one", "done")}


def plants_words(difference: float) -> str:
    """A difference of shares as plants of 100."""
    count = round(100.0 * abs(difference))
    if count == 0:
        return say("no more")
    return say("n more" if difference > 0 else "n fewer", n=fixed(float(count), 0))


def matters_words(matters: float | None, summary: Summary, unit: str) -> str:
    """The smallest important difference in words; empty without one."""
    if matters is None:
        return ""
    if summary.is_share:
        many = subject_words(summary)["many"]
        return say("matters share", n=_plain(100.0 * matters), many=many)
    if summary.log:
        return say("matters ratio", n=_plain(100.0 * (exp(matters) - 1.0)))
    return say("matters difference", n=_plain(matters), unit=unit_words(unit))


def _plain(value: float) -> str:
    """Three digits, without the zeros that a planned number did not have."""
    text = number(value)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _ratio(value: float) -> str:
    return number(exp(value)) if abs(value) < 300.0 else ("0" if value < 0 else "very many")


def _percent(value: float) -> str:
    change = 100.0 * (exp(min(value, 300.0)) - 1.0)
    if abs(change) < 0.5:
        return say("percent same")
    return say("percent more" if change > 0 else "percent less", n=_nearly(abs(change)))


def _nearly(change: float) -> str:
    """Two digits; more where they would make nearly all of it all."""
    told = number(change, 2)
    return told if told != "100" or change == 100.0 else number(change, 4)


def unit_words(unit: str) -> str:
    """A unit behind its number, with the space before it; nothing for pure numbers."""
    return "" if unit == "1" else f" {unit.strip('{}')}"


def _more(value: float, unit: str) -> str:
    if value == 0:
        return say("no more")
    key = "value more" if value > 0 else "value less"
    return say(key, n=number(abs(value)), unit=unit_words(unit))


def _one(value: float, summary: Summary, unit: str) -> str:
    if summary.is_share:
        return plants_words(value)
    if summary.log:
        return _percent(value)
    return _more(value, unit)
