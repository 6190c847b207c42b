"""The liters that stand beside a yield per liter, for a water response that has none.

Leans on the trial's values.
"""

from collections.abc import Mapping

from wickstats.design.trial import Assumption, Response, Trial


def with_liters(
    trial: Trial, response: Response, assume: Mapping[str, Assumption]
) -> tuple[Assumption, str | None]:
    """What is assumed about a response of water used, and the ratio that its liters stand by.

    Its own mean or liters prevail; else those of the yield per liter of the same water
    (planned, applied or delivered), or of the first that has some, serve it, with how much
    they vary where the water has no such number of its own.

    Returns
    -------
    tuple
        The assumption (empty where nothing is said), and the name of that yield per liter or
        None where its liters were not needed.
    """
    given = assume.get(response.name, Assumption())
    if given.mean or given.liters:
        return given, None
    ratios = [
        r
        for r in trial.responses
        if r.kind == "yield per liter" and r.name in assume and assume[r.name].liters
    ]
    ratios.sort(key=lambda r: r.water != response.water)
    if not ratios:
        return given, None
    beside = assume[ratios[0].name]
    own_spread = given.liters_cv is not None or given.plot_cv is not None
    new = {"liters": beside.liters} | ({} if own_spread else {"liters_cv": beside.liters_cv})
    return given.model_copy(update=new), ratios[0].name
