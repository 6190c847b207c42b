"""The trial as its owner shares its place: exact, rounded, or withheld.

Rounded is to 0.1 degree and 10 m. Everything that leaves the owner's hands is reckoned with
and archived as this trial; in its file only the site's own values are written anew, so that
comments and titles stay what their writer made them. Leans on this package's readers and
PyYAML's marks.
"""

from collections.abc import Iterator
from pathlib import Path

import yaml

from wickstats.design.findings import Place
from wickstats.design.places import places
from wickstats.design.read import parse_trial
from wickstats.design.trial import Site, Trial

SITE = ("trial", "site")
ROUNDED = {"latitude": 1, "longitude": 1, "elevation_m": -1}
_BOM = b"\xef\xbb\xbf"


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
    if shared == trial.trial.site:
        return trial
    if not trial.source:
        head = trial.trial.model_copy(update={"site": shared})
        return trial.model_copy(update={"trial": head})
    data = _rewritten(trial, shared)
    return parse_trial(data, file=trial.file, folder=Path(trial.folder))


def _rewritten(trial: Trial, shared: Site) -> bytes:
    """The file's bytes with other values of the site."""
    found, _ = places(trial)
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
    head = _BOM if trial.source.startswith(_BOM) else b""
    return head + text.encode("utf-8")


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
