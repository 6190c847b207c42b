"""Values that show themselves in a notebook.

A value is ``Shown``; what draws it registers a form for its type. Forms are loaded when the
first value is shown, so that a program without a notebook never pays for them. Leans on
nothing.
"""

from collections.abc import Callable
from typing import Any, TypeVar

Kind = TypeVar("Kind")

_FORMS: dict[type, Callable[[Any], str]] = {}
_LOADERS: list[Callable[[], None]] = []


class Shown:
    """A value whose type may have a form as HTML."""

    __slots__ = ()

    def _repr_html_(self) -> str | None:
        """HTML for a notebook; None, and so the plain text, where nothing draws the type."""
        while _LOADERS:
            _LOADERS.pop()()
        form = _FORMS.get(type(self))
        return None if form is None else form(self)


def register(kind: type[Kind], form: Callable[[Kind], str]) -> None:
    """Show values of that type by this form: value -> HTML, escaped, without script."""
    _FORMS[kind] = form


def load_at_first_show(loader: Callable[[], None]) -> None:
    """Call ``loader``, which registers forms, before the first value is shown."""
    _LOADERS.append(loader)
