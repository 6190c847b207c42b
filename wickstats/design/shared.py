"""The trial as its owner shares its place: exact, rounded, or withheld.

Rounded is to 0.1 degree and 10 m. Everything that leaves the owner's hands is reckoned with
and archived as this trial; in its file only the site's own entry is written anew, without the
comments in it, which may tell what is rounded. Titles, other comments and the records stay
what their writer made them; ``still_told`` names those that tell the place all the same. Leans
on this package's readers and PyYAML's marks.
"""

import io
import re
import zipfile
from collections.abc import Iterator, Mapping
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import yaml

from wickstats.design.findings import Place
from wickstats.design.places import places
from wickstats.design.read import parse_trial
from wickstats.design.trial import Site, Trial

SITE = ("trial", "site")
ROUNDED = {"latitude": 1, "longitude": 1, "elevation_m": -1}
_BOM = b"\xef\xbb\xbf"
_COMMENT = re.compile(r"^[ \t]*#[^\n]*\n?|[ \t]+#[^\n]*", re.MULTILINE)
_DECIMALS = 3  # of a degree: from there on they tell a place to 100 m
_SHORTEST = 4  # letters of a name that is looked for
_MOST_UNPACKED = 50_000_000


def shared_site(trial: Trial) -> Site:
    """The site's values as far as they are shared."""
    site = trial.trial.site
    if site.share == "exact":
        return site
    if site.share == "withheld":
        return Site(share="withheld")
    told = {key: getattr(site, key) for key in ROUNDED}
    return site.model_copy(
        update={
            key: float(round(value, ROUNDED[key]))
            for key, value in told.items()
            if value is not None
        }
    )


def as_shared(trial: Trial) -> Trial:
    """The trial with its place as far as it is shared, in its values and in its file."""
    shared = shared_site(trial)
    if shared.share == "exact":
        return trial
    if not trial.source:
        head = trial.trial.model_copy(update={"site": shared})
        return trial.model_copy(update={"trial": head})
    data = _rewritten(trial, shared)
    if data == trial.source:
        return trial
    return parse_trial(data, file=trial.file, folder=Path(trial.folder))


def _rewritten(trial: Trial, shared: Site) -> bytes:
    """The file's bytes with other values of the site."""
    found, _ = places(trial)
    if SITE not in found.values:  # nothing is told
        return trial.source
    text = trial.source.decode("utf-8-sig")
    new: list[tuple[int, int, str]] = []
    if shared.share == "withheld":
        start, end = next(_spans(text, found.values[SITE], yaml.MappingStartEvent))
        written = text[start:end]
        flow = written.startswith("{")
        rest = "" if flow else written[len(written.rstrip()) :]
        new.append((start, end, "{share: withheld}" if flow else f"share: withheld{rest}"))
    else:
        for key in ROUNDED:
            value = getattr(shared, key)
            if value is None or value == getattr(trial.trial.site, key):
                continue
            place = found.values[(*SITE, key)]
            new.append((*next(_spans(text, place, yaml.ScalarEvent)), f"{value:g}"))
    for start, end, written in sorted(new, reverse=True):
        text = text[:start] + written + text[end:]
    text = _without_comments(text, found.values[SITE])
    head = _BOM if trial.source.startswith(_BOM) else b""
    return head + text.encode("utf-8")


def _without_comments(text: str, place: Place) -> str:
    """Without the comments on the lines of the site's entry, and inside it."""
    start, end = next(_spans(text, place, yaml.MappingStartEvent))
    first = text.rfind("\n", 0, text.rindex("site", 0, start)) + 1
    deep = len(text[first:]) - len(text[first:].lstrip(" "))
    if text[start] == "{":  # a comment may stand behind the brace
        end += len(text[end:].split("\n", 1)[0]) + 1
    cuts, last = [], 0
    for token in yaml.scan(text, Loader=yaml.SafeLoader):
        if token.start_mark is None or token.end_mark is None:
            continue
        for match in _COMMENT.finditer(text, last, token.start_mark.index):
            a, b = match.span()
            whole_line = a == 0 or text[a - 1] == "\n"
            outside = whole_line and len(match[0]) - len(match[0].lstrip()) <= deep
            if first <= a < end and not outside:
                cuts.append((a, b))
        last = token.end_mark.index
    for a, b in reversed(cuts):
        text = text[:a] + text[b:]
    return text


def still_told(trial: Trial, sources: Mapping[str, bytes]) -> list[str]:
    """Files (with line) that tell the place more exactly than it is shared.

    Looked for are the site's name, where it is withheld, and its degrees with three decimals
    or more; other words that tell a place are for their writer to know.

    Parameters
    ----------
    trial
        The trial as its owner wrote it.
    sources
        File -> bytes, as they are archived.
    """
    site, shared = trial.trial.site, shared_site(trial)
    wanted = [
        _degrees(value)
        for key in ("latitude", "longitude")
        if (value := getattr(site, key)) is not None and value != getattr(shared, key)
    ]
    if site.name and site.name != shared.name and len(site.name) >= _SHORTEST:
        wanted.append(rf"(?<!\w){re.escape(site.name)}(?!\w)")
    wanted = [pattern for pattern in wanted if pattern]
    if not wanted:
        return []
    tells = re.compile("|".join(wanted), re.IGNORECASE)
    out = []
    for name, data in sources.items():
        if data.startswith(b"PK"):
            out += [name] if tells.search(_unpacked(data)) else []
            continue
        lines = data.decode("utf-8", "replace").splitlines()
        out += [f"{name} line {k}" for k, line in enumerate(lines, 1) if tells.search(line)]
    return out


def _degrees(value: float) -> str:
    """Pattern of a number of degrees, cut or rounded, with enough decimals to tell it."""
    whole, _, decimals = f"{abs(value):.9f}".partition(".")
    if not decimals[_DECIMALS - 1 :].strip("0"):
        return ""
    half_up = Decimal(repr(abs(value))).quantize(Decimal(10) ** -_DECIMALS, ROUND_HALF_UP)
    rounded = f"{half_up:f}".partition(".")[2]
    return rf"(?<![\d.,]){whole}[.,](?:{decimals[:_DECIMALS]}|{rounded})"


def _unpacked(data: bytes) -> str:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(item.file_size for item in packed.infolist()) > _MOST_UNPACKED:
                return ""
            parts = [packed.read(n) for n in packed.namelist() if n.endswith(".xml")]
    except (zipfile.BadZipFile, OSError):
        return ""
    return "\n".join(part.decode("utf-8", "replace") for part in parts)


def _spans(text: str, place: Place, kind: type[yaml.Event]) -> Iterator[tuple[int, int]]:
    """Where the part that starts at a place begins and ends, as indices of the text."""
    open_at: list[int | None] = []
    for event in yaml.parse(text, Loader=yaml.SafeLoader):  # its marks know their index
        mark, end = event.start_mark, event.end_mark
        if mark is None or end is None:
            continue
        here = Place(mark.line + 1, mark.column + 1) == place and isinstance(event, kind)
        if here and isinstance(event, yaml.ScalarEvent):
            yield mark.index, end.index
        if isinstance(event, yaml.CollectionStartEvent):
            open_at.append(mark.index if here else None)
        elif isinstance(event, yaml.CollectionEndEvent):
            start = open_at.pop()
            if start is not None:
                yield start, end.index
