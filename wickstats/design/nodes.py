"""YAML's event stream becomes a small tree of text, lists and mappings with places.

Scalars stay text: what they mean is decided by the schema, never by YAML's own
guesses. Tags, anchors, aliases, merge keys, duplicate keys, keys that are not text,
several documents and deep nesting are refused while events come in. Leans on PyYAML.
"""

from dataclasses import dataclass, field

import yaml

from wickstats.design.findings import Findings, Place, Stopped, quote

MAX_LEVELS = 20

# libyaml where PyYAML was built with it: the same events, some ten times faster
LOADER: type = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(slots=True)
class Scalar:
    """Text as written; ``plain`` when it stood without quotes."""

    text: str
    plain: bool
    place: Place

    @property
    def empty(self) -> bool:
        """Nothing written after the key."""
        return self.plain and self.text == ""


@dataclass(slots=True)
class Listing:
    """A list."""

    place: Place
    items: "list[Node]" = field(default_factory=list)


@dataclass(slots=True)
class Mapping:
    """Keys and values in the order of the file."""

    place: Place
    pairs: "list[tuple[Scalar, Node]]" = field(default_factory=list)
    keys: "dict[str, Scalar]" = field(default_factory=dict)


Node = Scalar | Listing | Mapping

_NO_KEY = Scalar("", plain=False, place=Place(1, 1))  # in the place of a refused key


def _place(event: yaml.Event) -> Place:
    mark = event.start_mark
    return Place(1, 1) if mark is None else Place(mark.line + 1, mark.column + 1)


def too_deep(findings: Findings, place: Place) -> None:
    """Keep the problem that nesting goes too deep."""
    findings.add(
        (),
        "too deep",
        found=f"more than {MAX_LEVELS} levels of nesting",
        expected=f"at most {MAX_LEVELS}; a trial needs about six",
        fix="look for a bracket or an indentation too many",
        at=place,
    )


class _Builder:
    """Builds the tree from events, without recursion."""

    def __init__(self, findings: Findings) -> None:
        self._findings = findings
        self._stack: list[Listing | Mapping] = []
        self._pending: list[Scalar | None] = []  # the key that waits for its value
        self._documents = 0
        self.root: Node | None = None

    def take(self, event: yaml.Event) -> None:
        """Add one event to the tree."""
        if isinstance(event, yaml.DocumentStartEvent):
            self._document(event)
        elif isinstance(event, yaml.AliasEvent):
            self._refuse(event, "alias", f"the alias *{event.anchor}")
            self._put(Scalar(str(event.anchor), plain=False, place=_place(event)))
        elif isinstance(event, yaml.ScalarEvent):
            self._refuse_extras(event)
            plain = event.style is None or event.style == ""
            self._put(Scalar(event.value, plain=plain, place=_place(event)))
        elif isinstance(event, yaml.CollectionStartEvent):
            self._open(event)
        elif isinstance(event, yaml.CollectionEndEvent):
            self._stack.pop()
            self._pending.pop()

    def _document(self, event: yaml.Event) -> None:
        self._documents += 1
        if self._documents > 1:
            self._findings.add(
                (),
                "several documents",
                found='a line "---" that starts a second document',
                expected="one trial in one file",
                fix='take the line "---" out, or put the second trial in its own file',
                at=_place(event),
            )
            raise Stopped

    def _open(self, event: yaml.CollectionStartEvent) -> None:
        self._refuse_extras(event)
        place = _place(event)
        if len(self._stack) >= MAX_LEVELS:
            too_deep(self._findings, place)
            raise Stopped
        node = Mapping(place) if isinstance(event, yaml.MappingStartEvent) else Listing(place)
        self._put(node)
        self._stack.append(node)
        self._pending.append(None)

    def _put(self, node: Node) -> None:
        if not self._stack:
            self.root = node
            return
        parent = self._stack[-1]
        if isinstance(parent, Listing):
            parent.items.append(node)
            return
        key = self._pending[-1]
        if key is None:
            self._pending[-1] = self._key(node)
            return
        self._pending[-1] = None
        self._add_pair(parent, key, node)

    def _key(self, node: Node) -> Scalar:
        if isinstance(node, Scalar):
            return node
        self._findings.add(
            (),
            "key is not text",
            found="a list or mapping in the place of a key",
            expected="a key of plain text",
            fix='if the text begins with "?", "{" or "[", put it in quotes',
            at=node.place,
        )
        return _NO_KEY

    def _add_pair(self, parent: Mapping, key: Scalar, node: Node) -> None:
        if key is _NO_KEY:
            return
        if key.plain and key.text == "<<":
            self._findings.add(
                (),
                "merge key",
                found='the merge key "<<"',
                expected="every part written out",
                fix="write the keys out where they are used",
                at=key.place,
            )
            return
        first = parent.keys.setdefault(key.text, key)
        if first is not key:
            self._findings.add(
                (),
                "duplicate key",
                found=f"{quote(key.text)} a second time (first on line {first.place.line})",
                expected="each key once",
                fix="keep one of the two",
                at=key.place,
            )
            return
        parent.pairs.append((key, node))

    def _refuse_extras(self, event: yaml.ScalarEvent | yaml.CollectionStartEvent) -> None:
        if event.anchor is not None:
            self._refuse(event, "anchor", f"the anchor &{event.anchor}")
        if event.tag is not None and event.tag != "!":
            tag = event.tag.replace("tag:yaml.org,2002:", "!!")
            self._refuse(event, "tag", f"the tag {quote(tag)}")

    def _refuse(self, event: yaml.Event, code: str, found: str) -> None:
        self._findings.add(
            (),
            code,
            found=found,
            expected="plain values, each written where it is used",
            fix="write the value out; if the sign belongs to a text, put it in quotes",
            at=_place(event),
        )


def build(text: str, findings: Findings) -> Node | None:
    """Return the tree of the text's one document, or None where the file is empty.

    Raises
    ------
    Stopped
        Where nesting is too deep or a second document starts.
    yaml.YAMLError
        At the first syntax error.
    """
    builder = _Builder(findings)
    for event in yaml.parse(text, Loader=LOADER):
        builder.take(event)
    return builder.root
