"""A sentence in the forms that its language has for counts. Leans on core.language."""

from dataclasses import dataclass
from typing import TypeAlias

from wickstats.core.language import plural_form


@dataclass(frozen=True, slots=True)
class Plural:
    """The sentence for one, and for every other count (Unicode plural categories)."""

    one: str
    other: str

    def of(self, n: object) -> str:
        """The form for a count; categories without a form of their own take "other".

        Raises
        ------
        TypeError
            Where ``n`` is no number.
        """
        if not isinstance(n, int | float) or isinstance(n, bool):
            raise TypeError(f"the count n is no number: {n!r}")
        return self.one if plural_form(n) == "one" else self.other


Entry: TypeAlias = str | Plural
