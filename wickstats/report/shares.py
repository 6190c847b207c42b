"""A logit mixed model of shares beside the first line: odds ratios, what is random.

Leans on pages, report.effects, report.facts and core.
"""

from wickstats.core.numbers import MISSING, fixed, number
from wickstats.core.responses import ResponseResult
from wickstats.core.share_models import ShareContrast, ShareFit, ShareModel
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Column, Items, Table, Text
from wickstats.report.effects import own_triple
from wickstats.report.facts import capital, listed
from wickstats.report.reasons import reasons_of


def logit_blocks(response: ResponseResult) -> list[Block]:
    """A small table with a sentence for each fit; empty where nothing is a share."""
    model = response.share_model
    if model is None:
        return []
    if model.not_estimable is not None:
        return [Text(say("logit missing", name=response.name, why=model.not_estimable))]
    told = Items(tuple(_fit_words(fit, k, len(model.fits)) for k, fit in enumerate(model.fits)))
    blocks: list[Block] = [Text(say("logit lead", name=capital(response.name))), told]
    given = [fit for fit in model.fits if fit.comparisons]
    return [*blocks, _table(response, model, given)] if given else blocks


def _table(response: ResponseResult, model: ShareModel, given: list[ShareFit]) -> Table:
    first = {
        (c.term, c.name, c.within): own_triple(c)[0]
        for c in response.comparisons
        if (c.estimand, c.at) == (model.estimand, model.at)
    }
    columns = [Column(say("head comparison")), Column(say("logit head first"), numeric=True)]
    columns += [
        Column(say("logit head odds", terms=listed(fit.random)), numeric=True) for fit in given
    ]
    rows = []
    for k, row in enumerate(given[0].comparisons):
        size = first.get((row.term, row.name, row.within))
        rows.append(
            (
                _named(row),
                MISSING if size is None else fixed(size, 1),
                *(number(fit.comparisons[k].odds_ratio) for fit in given),
            )
        )
    arms = [(arm.treatment, arm.not_estimable) for arm in given[0].arms]
    return Table(
        say("logit caption", name=response.name),
        tuple(columns),
        tuple(rows),
        (say("logit note") + reasons_of(arms)).strip(),
    )


def _named(row: ShareContrast) -> str:
    return row.name if row.within is None else f"{row.name} ({row.within})"


def _fit_words(fit: ShareFit, place: int, fits: int) -> str:
    """What is random and how much, or why there is no fit."""
    key = "logit fit textbook" if place == 0 and fits > 1 else "logit fit"
    return say(key, terms=capital(listed(fit.random)), told=_told(fit))


def _told(fit: ShareFit) -> str:
    if fit.not_estimable is not None:
        return say("logit fit missing", why=fit.not_estimable)
    told = listed([say("logit sd", term=c.term, sd=number(c.sd)) for c in fit.components])
    if fit.by_quadrature is None:
        return told
    return say(
        "logit quadrature",
        told=told,
        laplace=fixed(fit.log_likelihood, 2),
        quadrature=fixed(fit.by_quadrature, 2),
    )
