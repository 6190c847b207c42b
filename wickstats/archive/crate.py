"""ro-crate-metadata.json: the report's folder as an RO-Crate with its MIAPPE fields.

The folder is the investigation, ``inputs/`` the study; every file stands with what it is.
MIAPPE fields hang on the two as property values under the names and numbers of the
checklist. No clock: the crate's day is the last day of the records. Leans on ``archived``,
``datapackage``, ``miappe`` and core.

Source: RO-Crate Metadata Specification 1.1 (Sefton et al. 2021, w3id.org/ro/crate/1.1).
"""

from collections.abc import Iterable, Mapping
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import quote

from wickstats.archive.archived import Archived, archived_of
from wickstats.archive.datapackage import (
    PACKAGE_NAME,
    PACKAGE_PROFILE,
    data_package,
    media_type,
    package_title,
)
from wickstats.archive.manifest import MANIFEST_NAME
from wickstats.archive.miappe import (
    MIAPPE_VERSION,
    MiappeField,
    investigation_fields,
    record_days,
    season_of,
    study_fields,
    unit_fields,
)
from wickstats.archive.results_file import RESULTS_NAME
from wickstats.core.codec import dump_json
from wickstats.core.results import Results
from wickstats.core.words import say

CRATE_NAME = "ro-crate-metadata.json"
CRATE_VERSION = "https://w3id.org/ro/crate/1.1"
STUDY = "inputs/"
Entity = dict[str, Any]


def package_files(results: Results, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return datapackage.json (where there are tables) and ro-crate-metadata.json.

    Parameters
    ----------
    results
        One analyzed season with the bytes that were read.
    files
        All other files of the report's folder but the manifest, path -> bytes.
    """
    archived = archived_of(results)
    package = data_package(results, archived)
    out = {} if package is None else {PACKAGE_NAME: package}
    return out | {CRATE_NAME: _crate(results, archived, {**files, **out})}


def _crate(results: Results, archived: Archived, files: Mapping[str, bytes]) -> bytes:
    title = package_title(results)
    inputs = [path for path in sorted(files) if path.startswith(STUDY)]
    others = [path for path in sorted(files) if not path.startswith(STUDY)]
    told = {path: _file(path, len(files[path]), archived) for path in (*others, *inputs)}
    people = [
        {"@id": f"#person-{n}", "@type": "Person", "name": name}
        for n, name in enumerate(dict.fromkeys(results.trial.people.values()), start=1)
    ]
    overall = list(_values(investigation_fields(results, title)))
    own = list(_values(study_fields(results, archived, title)))
    units = list(_units(archived))
    place = _place(results)
    root = _root(results, archived, title, overall, people)
    study = _study(results, archived, title, own, people)
    manifest = _manifest()
    root["hasPart"] = _refs([*([study] if inputs else []), *map(told.get, others), manifest])
    study["hasPart"] = _refs(map(told.get, inputs))
    study["about"] = _refs(entity for entity in units if entity["@type"] == "Thing")
    if place:
        study["spatialCoverage"] = {"@id": place[0]["@id"]}
    if not inputs:  # no folder of inputs: what is known of the study hangs on the whole
        root["additionalProperty"] += study["additionalProperty"]
    graph = [
        {
            "@id": CRATE_NAME,
            "@type": "CreativeWork",
            "name": say("crate metadata"),
            "conformsTo": {"@id": CRATE_VERSION},
            "about": {"@id": "./"},
        },
        root,
        *([study] if inputs else []),
        *told.values(),
        manifest,
        *([_package_standard()] if PACKAGE_NAME in files else []),
        *_analysis(results, inputs, others),
        *people,
        *place,
        *overall,
        *own,
        *units,
    ]
    kept = [{key: value for key, value in e.items() if value not in (None, [])} for e in graph]
    return dump_json({"@context": f"{CRATE_VERSION}/context", "@graph": kept})


def _root(
    results: Results,
    archived: Archived,
    title: str,
    fields: list[Entity],
    people: list[Entity],
) -> Entity:
    days = record_days(archived)
    _, end = season_of(results, archived)
    banner = "banner simulated" if results.simulated else "banner invented"
    marked = results.simulated or results.trial.invented
    parts = [say(banner) if marked else "", results.trial.question or "", say("crate about")]
    return {
        "@id": "./",
        "@type": "Dataset",
        "additionalType": "Investigation",
        "identifier": results.trial.id,
        "name": title,
        "description": " ".join(part for part in parts if part),
        "datePublished": days[-1] if days else end,
        "license": say("crate license"),
        "creator": _refs(people),
        "mentions": [{"@id": "#analysis"}],
        "additionalProperty": _refs(fields),
    }


def _study(
    results: Results,
    archived: Archived,
    title: str,
    fields: list[Entity],
    people: list[Entity],
) -> Entity:
    start, end = season_of(results, archived)
    return {
        "@id": STUDY,
        "@type": "Dataset",
        "additionalType": "Study",
        "identifier": results.trial.id,
        "name": title,
        "description": say("crate inputs"),
        "temporalCoverage": f"{start}/{end}" if start and end else start or end,
        "creator": _refs(people),
        "additionalProperty": _refs(fields),
    }


def _refs(entities: Iterable[Entity | None]) -> list[Entity]:
    return [{"@id": entity["@id"]} for entity in entities if entity is not None]


def _values(fields: Iterable[MiappeField], within: str = "") -> Iterable[Entity]:
    for field in fields:
        which = "" if field.of is None else f"-{field.of}"
        yield {
            "@id": f"#{within}DM-{field.number}{which}",
            "@type": "PropertyValue",
            "propertyID": f"MIAPPE {MIAPPE_VERSION} DM-{field.number}",
            "name": field.name,
            "value": field.value,
        }


def _units(archived: Archived) -> Iterable[Entity]:
    for name, fields in unit_fields(archived):
        own = list(_values(fields, within=f"unit-{quote(name, safe='')}-"))
        yield {
            "@id": f"#unit-{quote(name, safe='')}",
            "@type": "Thing",
            "additionalType": f"MIAPPE {MIAPPE_VERSION} Observation Unit",
            "identifier": name,
            "name": name,
            "additionalProperty": _refs(own),
        }
        yield from own


def _place(results: Results) -> list[Entity]:
    """The site as far as its owner shares it."""
    site = results.trial.site
    geo = {
        key: site[name]
        for key, name in (
            ("latitude", "latitude"), ("longitude", "longitude"), ("elevation", "elevation_m")
        )
        if name in site
    }  # fmt: skip
    if not geo and "name" not in site:
        return []
    place: Entity = {"@id": "#site", "@type": "Place", "name": site.get("name")}
    if not geo:
        return [place]
    place["geo"] = {"@id": "#site-position"}
    return [place, {"@id": "#site-position", "@type": "GeoCoordinates", **geo}]


def _file(path: str, size: int, archived: Archived) -> Entity:
    entity: Entity = {
        "@id": quote(path),
        "@type": "File",
        "name": PurePosixPath(path).name,
        "description": _says(path, archived),
        "encodingFormat": media_type(path),
        "contentSize": str(size),
    }
    if path == PACKAGE_NAME:
        entity["conformsTo"] = {"@id": PACKAGE_PROFILE}
    return entity


def _says(path: str, archived: Archived) -> str:
    known = {
        "report.html": "crate page",
        RESULTS_NAME: "crate results",
        PACKAGE_NAME: "crate package",
    }
    if path in known:
        return say(known[path])
    for start, key in (("tables/", "crate table"), ("figures/", "crate figure")):
        if path.startswith(start):
            return say(key, name=PurePosixPath(path).stem.replace("-", " "))
    own = path.removeprefix(STUDY)
    if archived.trial is not None and own == archived.trial.file:
        return say("crate trial")
    if own == archived.layout:
        return say("crate layout")
    tables = dict.fromkeys(t.table.name for t in archived.tables if t.path == own)
    if tables:
        return say("crate records", table=", ".join(tables))
    return say("crate record" if own.endswith(".record.json") else "crate other")


def _manifest() -> Entity:
    return {
        "@id": MANIFEST_NAME,
        "@type": "File",
        "name": MANIFEST_NAME,
        "description": say("crate manifest"),
        "encodingFormat": media_type(MANIFEST_NAME),
    }


def _package_standard() -> Entity:
    return {"@id": PACKAGE_PROFILE, "@type": "CreativeWork", "name": say("crate standard")}


def _analysis(results: Results, inputs: list[str], others: list[str]) -> list[Entity]:
    return [
        {
            "@id": "#analysis",
            "@type": "CreateAction",
            "name": say("crate analysis"),
            "instrument": {"@id": "#program"},
            "object": [{"@id": quote(path)} for path in inputs],
            "result": [{"@id": quote(path)} for path in others],
        },
        {
            "@id": "#program",
            "@type": "SoftwareApplication",
            "name": say("crate program"),
            "softwareVersion": results.wickstats,
        },
    ]
