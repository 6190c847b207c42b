"""In words, of which treatments every plant lived or died. Leans on core.words."""

from collections.abc import Sequence

from wickstats.core.words import say


def fates_words(one: str, told: Sequence[tuple[str, str]]) -> str:
    """Say what became of every plant of one or two treatments, both named where both did.

    Parameters
    ----------
    one
        What was followed, in the singular.
    told
        One or two pairs of a treatment and its fate.
    """
    (name, fate), (other, second) = told[0], told[-1]
    if len(told) == 1:
        return say("fate of one", one=one, name=name, fate=fate)
    if fate == second:
        return say("fate of both", one=one, name=name, other=other, fate=fate)
    return say("fates apart", one=one, name=name, fate=fate, other=other, second=second)
