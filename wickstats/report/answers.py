"""The advisor's answers: one short line a comparison, verdict first, then number and range.

Leans on report.facts, report.effects, report.named and core.
"""

from collections.abc import Mapping, Sequence

from wickstats.core.fates import fates_words
from wickstats.core.numbers import fixed, number, places_for, with_interval
from wickstats.core.responses import Comparison, Number, ResponseResult
from wickstats.core.words import say
from wickstats.report.effects import adjusted
from wickstats.report.facts import capital, headline, of_plants
from wickstats.report.named import spoken_name

Factors = Mapping[str, Sequence[str]]
NO_FACTORS: Factors = {}
_ENDED = {"lower": "lived", "upper": "died"}  # the side on which a share has its only limit

CANNOT_TELL = "cannot tell"
ONE_SIDE = ("lower", "upper")  # the plan asked only whether better


def answer_line(
    row: Comparison, response: ResponseResult, factors: Factors = NO_FACTORS
) -> str:
    """One short line: the verdict with its number and range; "" where nothing was said.

    ``factors``: every factor of the trial with its levels, to tell names of the plan's own
    making in the language of the page.
    """
    if row.sentence is None:
        return ""
    versus = spoken_name(row.versus, factors)
    names = {
        "treatment": capital(spoken_name(row.treatment, factors)),
        "versus": versus if row.within is None else f"{versus} ({row.within})",
    }
    if row.verdict is None:
        return say("answer line none", **names)
    effect = effect_of(row, response)
    told = _fates(row, response)
    if told:
        effect = say("answer bound", effect=effect, fates=told)
    if row.verdict == CANNOT_TELL and _asked_one_side(row):
        return say("answer line not shown better", effect=effect, **names)
    return say(f"answer line {row.verdict}", effect=effect, **names)


def _asked_one_side(row: Comparison) -> bool:
    """Whether the plan asked only whether better.

    The bound of an arm that bore in fewer than two blocks has one limit whatever was asked;
    where it leaves out no difference and tells nothing, the other side was asked about.
    """
    if row.bound not in ONE_SIDE:
        return False
    low, high = adjusted(row)
    none = 0.0 if row.measure == "difference" else 1.0
    apart = (low is not None and low > none) or (high is not None and high < none)
    return row.se is not None or row.rule == "bound" or apart


def answered(response: ResponseResult) -> tuple[list[Comparison], bool]:
    """The comparisons to answer, each pair once, and whether others were left for below."""
    told = [c for c in headline(response) if c.sentence is not None]
    planned = [c for c in told if not c.unplanned] or told
    kept: list[Comparison] = []
    pairs: set[tuple[frozenset[str], str | None]] = set()
    for row in planned:
        pair = (frozenset((row.treatment, row.versus)), row.within)
        if pair not in pairs:
            pairs.add(pair)
            kept.append(row)
    return kept, len(kept) < len(told)


def effect_of(row: Comparison, response: ResponseResult) -> str:
    """The effect with its range, in the units people use."""
    low, high = adjusted(row)
    if row.estimand.startswith("share ") and row.measure == "difference":
        return _share(row, response, low, high)
    if row.bound is not None and row.se is None and (low is None or high is None):
        limit = high if high is not None else low
        return say("answer at most" if high is not None else "answer at least", n=number(limit))
    if row.measure == "ratio":
        value, between = with_interval(row.estimate, low, high)
        return say("answer ratio", value=value, between=between)
    return _difference(row, response, low, high)


def _share(row: Comparison, response: ResponseResult, low: Number, high: Number) -> str:
    subjects = "plants" if of_plants(response) else "subjects"
    spared = "" if row.estimand == "share alive" else "spared "
    if low is None or high is None:  # the plan asked about one side
        end = high if low is None else low
        least = (end or 0.0) * (1.0 if high is None else -1.0) > 0.0
        key = "at least" if least else "at most"
        between = say(key, n=_of_hundred(end, "0"))
    else:
        between = say("range", low=_of_hundred(low, "0"), high=_of_hundred(high, "0"))
    value = _of_hundred(row.estimate, say("as many"))
    return say(f"answer share {spared}{subjects}", value=value, between=between)


def _of_hundred(share: Number, none: str) -> str:
    if share is None:
        return "?"
    count = round(100.0 * min(abs(share), 1.0))  # never more than there are
    if count == 0:
        return none
    return say("n more" if share > 0 else "n fewer", n=count)


def _difference(row: Comparison, response: ResponseResult, low: Number, high: Number) -> str:
    unit = "" if response.measured_in == "1" else f" {response.measured_in.strip('{}')}"
    places = places_for(low, high, row.estimate)
    value = fixed(row.estimate, places)
    if row.estimate is None or not value.strip("0.,"):
        between = _ends(low, high, places)
        return say("answer difference none", between=between)
    less = row.estimate < 0.0
    if low is None or high is None or low < 0.0 < high:
        between = _ends(low, high, places)
    elif less:
        between = with_interval(None, _turned(high), _turned(low), places)[1]
    else:
        between = with_interval(None, low, high, places)[1]
    value = fixed(abs(row.estimate), places)
    key = "answer difference less" if less else "answer difference more"
    return say(key, value=value, between=between, unit=unit)


def _ends(low: Number, high: Number, places: int) -> str:
    """Limits on either side of no difference, each in words."""
    told = []
    for end, missing in ((low, "no lower limit"), (high, "no upper limit")):
        if end is None:
            told.append(say(missing))
        elif not fixed(end, places).strip("0.,"):
            told.append(say("answer end none"))
        else:
            key = "answer end more" if end > 0 else "answer end less"
            told.append(say(key, n=fixed(abs(end), places)))
    return say("range", low=told[0], high=told[1])


def _turned(value: Number) -> Number:
    return None if value is None else -value


def _fates(row: Comparison, response: ResponseResult) -> str:
    """Which of the two treatments lost none or all; "" where neither did."""
    one = say("plants one" if of_plants(response) else "subjects one")
    spared = "" if row.estimand == "share alive" else " spared"
    told = []
    about = (row.term, row.within, row.estimand, row.at)
    means = {
        m.treatment: m for m in response.means if (m.term, m.within, m.estimand, m.at) == about
    }
    for name in (row.treatment, row.versus):
        mean = means.get(name)
        if mean is None or mean.bound not in _ENDED or not row.estimand.startswith("share "):
            continue
        fate = say(f"fate {_ENDED[mean.bound]}{spared}")
        told.append((name, say("fate known", fate=fate) if mean.n_unseen else fate))
    return fates_words(one, told) if told else ""
