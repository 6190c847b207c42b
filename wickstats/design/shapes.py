"""The trial file's specification, made from the trial's types, with its short forms.

Long forms follow from the types; the short forms (a factor as a list of levels, a
level as plain text, a table as a file's name, ...) stand here. Leans on specs and trial.
"""

import types
import typing
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from wickstats.design import trial as t
from wickstats.design.findings import Findings, Path
from wickstats.design.kinds import TableName
from wickstats.design.nodes import Listing, Mapping, Node, Scalar
from wickstats.design.specs import (
    MISSING,
    DateSpec,
    Field,
    ListSpec,
    NumberSpec,
    PairSpec,
    SectionSpec,
    Spec,
    TableSpec,
    TextSpec,
    TruthSpec,
    WordSpec,
    mismatch,
)

NOT_KEYS = frozenset({"file", "folder", "source"})  # of the trial: where it was read from
SOURCE_PATH = "_path"  # where a table's source stood; taken out before values are built

_NAME = TextSpec(name=True, longest=200, words="a name on one line")
_COUNT = NumberSpec(whole=True, at_least=1)


@dataclass(frozen=True)
class EitherSpec:
    """Text alone fills one attribute; otherwise a section."""

    attribute: str
    text: Spec
    section: SectionSpec

    @property
    def words(self) -> str:
        """What is expected, in words."""
        return f"{self.text.words}, or {self.section.words}"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if isinstance(node, Mapping):
            return self.section.read(node, path, out)
        if isinstance(node, Listing):
            return mismatch(self, node, path, out, "write one text, or keys and values")
        value = self.text.read(node, path, out)
        return MISSING if value is MISSING else {self.attribute: value}


@dataclass(frozen=True)
class FactorsSpec:
    """Factor names, each with a list of levels or the long form."""

    section: SectionSpec
    levels: ListSpec
    words: str = "names of factors, each with its levels"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Mapping):
            return mismatch(self, node, path, out, "write factor: [level, level] under it")
        if not node.pairs:
            return mismatch(self, node, path, out, "name at least one factor")
        factors = []
        for key, item in node.pairs:
            here = (*path, key.text)
            out.keys[here], out.values[here] = key.place, item.place
            name = _NAME.read(key, here, out)
            if isinstance(item, Listing):
                out.values[(*here, "levels")] = item.place
                levels = self.levels.read(item, (*here, "levels"), out)
                found = {} if levels is MISSING else {"levels": levels}
            else:
                found = self.section.read(item, here, out)
            if name is not MISSING and found is not MISSING:
                factors.append({"name": name, **found})
        return tuple(factors)


@dataclass(frozen=True)
class SourcesSpec:
    """A table's files: a name, a mapping, or a list of either; ``file`` may be a list."""

    section: SectionSpec
    words: str = "a file's name, or keys and values: file, sheet, columns, ..., or a list"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if not isinstance(node, Listing):
            return self._one(node, path, out)
        found: list[dict[str, Any]] = []
        for i, item in enumerate(node.items):
            out.values[(*path, i)] = item.place
            one = self._one(item, (*path, i), out)
            found.extend(() if one is MISSING else one)
        if not node.items:
            return mismatch(self, node, path, out, "name a file, or take the table out")
        return tuple(found)

    def _one(self, node: Node, path: Path, out: Findings) -> Any:
        if isinstance(node, Mapping):
            values = self.section.read(node, path, out)
            return tuple(
                {**values, "file": file, SOURCE_PATH: (*path, "file")}
                for file in values.get("file", ())
            )
        if isinstance(node, Listing):
            return mismatch(self, node, path, out, "write one file an item")
        name = _NAME.read(node, path, out)
        return MISSING if name is MISSING else ({"file": name, SOURCE_PATH: path},)


@dataclass(frozen=True)
class TimesSpec:
    """Dates, or days from planting; one or a list; never both kinds."""

    words: str = "dates as in 2025-03-17, or days from planting as in 90"

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        items = node.items if isinstance(node, Listing) else [node]
        if isinstance(node, Mapping) or not items:
            return mismatch(self, node, path, out, "write one date, or [date, date]")
        first = items[0]
        days = isinstance(first, Scalar) and first.text.replace(".", "", 1).isdigit()
        item: Spec = NumberSpec(at_least=0) if days else DateSpec()
        return ListSpec(item, single=True).read(node, path, out)


@dataclass(frozen=True)
class CountsSpec:
    """One number for all treatments, or one each."""

    words: str = "a whole number at least 1, or one for each treatment"
    each: TableSpec = field(default_factory=lambda: TableSpec(_COUNT, at_least=1))

    def read(self, node: Node, path: Path, out: Findings) -> Any:
        """Read one node."""
        if isinstance(node, Mapping):
            return self.each.read(node, path, out)
        if isinstance(node, Listing):
            return mismatch(self, node, path, out, "write one number, or treatment: number")
        return _COUNT.read(node, path, out)


def _constraints(metadata: Iterable[Any]) -> dict[str, Any]:
    """Limits from a field's metadata, whatever carries them."""
    out: dict[str, Any] = {}
    for item in metadata:
        if isinstance(item, FieldInfo):
            out |= _constraints(item.metadata)
        for name in ("ge", "gt", "le", "lt", "pattern", "max_length", "min_length"):
            value = getattr(item, name, None)
            if value is not None:
                out[name] = value
    return out


def _scalar(kind: Any, limits: dict[str, Any]) -> Spec:
    if kind is bool:
        return TruthSpec()
    if kind is date:
        return DateSpec()
    if kind in (int, float):
        return NumberSpec(
            whole=kind is int,
            at_least=limits.get("ge"),
            above=limits.get("gt"),
            at_most=limits.get("le"),
            below=limits.get("lt"),
        )
    if limits.get("pattern"):
        words = "letters, digits and hyphens, as in quarry-oaks"
        if limits["pattern"].startswith("^[0-9a-f]"):
            words = "64 digits from 0 to f"
        return TextSpec(True, limits["pattern"], limits.get("max_length", 64), words)  # noqa: FBT003 - the first field is the flag
    return _NAME if limits.get("min_length") else TextSpec()


def spec_of(annotation: Any, metadata: Iterable[Any] = ()) -> Spec:
    """The specification that a type annotation stands for."""
    limits = _constraints(metadata)
    origin, args = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return spec_of(args[0], (*args[1:], *metadata))
    if origin in (types.UnionType, typing.Union):
        (kind,) = [a for a in args if a is not type(None)]
        return spec_of(kind, metadata)
    if origin is typing.Literal:
        return WordSpec(args)
    if origin is tuple:
        item = spec_of(args[0])
        if args[1] is not Ellipsis:
            return PairSpec(typing.cast("NumberSpec", item))
        return ListSpec(item, limits.get("min_length", 0), single=args[0] is str)
    if origin is dict:
        allowed = typing.get_args(args[0]) or None
        return TableSpec(spec_of(args[1]), allowed)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return section_of(annotation)
    return _scalar(annotation, limits)


@cache
def _elsewhere() -> dict[str, str]:
    """Which section a key belongs to, for keys that stand in the wrong one."""
    sections: dict[str, type[BaseModel]] = {
        "trial": t.TrialHead,
        "design": t.Design,
        "plan": t.Plan,
        "water": t.Water,
        "power": t.PowerPlan,
        "costs": t.Costs,
    }
    out: dict[str, str] = {}
    for name, model in sections.items():
        for key, info in model.model_fields.items():
            out.setdefault(info.alias or key, name)
    for key in t.Trial.model_fields:
        if key not in NOT_KEYS:
            out.setdefault(key, "the top level, without indentation")
    return out


_SPECIAL = frozenset({t.Trial, t.Design, t.Response})


@cache
def section_of(model: type[BaseModel]) -> SectionSpec:
    """The specification of a section, its short forms put in."""
    return _section(model, _specials()[model] if model in _SPECIAL else {})


@cache
def _specials() -> dict[type[BaseModel], dict[str, Spec]]:
    columns = TableSpec(EitherSpec("head", TextSpec(), _section(t.ColumnSource, {})))
    levels = ListSpec(EitherSpec("name", _NAME, _section(t.Level, {})), at_least=1)
    files = ListSpec(_NAME, 1, single=True)
    source = _section(t.TableSource, {"columns": columns, "file": files})
    factor = _section(t.Factor, {"levels": levels})
    fields = {key: value for key, value in factor.fields.items() if key != "name"}
    return {
        t.Trial: {
            "factors": FactorsSpec(SectionSpec(fields, _elsewhere()), levels),
            "records": TableSpec(SourcesSpec(source), typing.get_args(TableName)),
        },
        t.Design: {"replicates": CountsSpec()},
        t.Response: {"at": TimesSpec()},
    }


def _section(model: type[BaseModel], special: dict[str, Spec]) -> SectionSpec:
    fields = {}
    for name, info in model.model_fields.items():
        if model is t.Trial and name in NOT_KEYS:
            continue
        spec = special.get(name) or spec_of(info.annotation, info.metadata)
        fields[info.alias or name] = Field(name, spec, info.is_required())
    return SectionSpec(fields, _elsewhere())


@cache
def trial_spec() -> SectionSpec:
    """The specification of the whole file."""
    return section_of(t.Trial)
