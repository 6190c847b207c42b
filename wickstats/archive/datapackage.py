"""datapackage.json: the archived records as a Data Package, each file with its Table Schema.

The files stay the exact bytes that were read; what stands here says how to read them
(delimiter, rows above the heads, sheet) and what every head means. Leans on ``archived``,
``fields`` and core.

Source: Data Package standard 2.0 (datapackage.org); the words of its version 1 are kept
where readers of today know only those.
"""

import hashlib
import re
from collections.abc import Mapping
from typing import Any

from wickstats.archive.archived import Archived, ArchivedTable
from wickstats.archive.fields import table_fields
from wickstats.core.codec import dump_json
from wickstats.core.results import Results
from wickstats.core.words import say

PACKAGE_NAME = "datapackage.json"
PACKAGE_PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
SCHEMA_PROFILE = "https://datapackage.org/profiles/2.0/tableschema.json"


def package_title(results: Results) -> str:
    """The trial's title; a rehearsal's says that it is one."""
    title = results.trial.title or results.trial.id
    return say("simulated title", title=title) if results.simulated else title


def data_package(results: Results, archived: Archived) -> bytes | None:
    """Return the bytes of datapackage.json, or None where no table was archived."""
    if not archived.tables:
        return None
    names: dict[str, int] = {}
    resources = [_resource(t, results.source_bytes, names) for t in archived.tables]
    head: dict[str, Any] = {
        "$schema": PACKAGE_PROFILE,
        "name": results.trial.id.lower(),
        "title": package_title(results),
        "description": _described(results),
    }
    if results.trial.people:
        head["contributors"] = [
            {"title": name, "roles": [role.replace("_", " ")]}
            for role, name in results.trial.people.items()
        ]
    return dump_json(head | {"resources": resources})


def _described(results: Results) -> str:
    parts = [results.trial.question or "", say("package about")]
    if results.trial.invented and not results.simulated:
        parts.insert(0, say("banner invented"))
    if results.simulated:
        parts.insert(0, say("banner simulated"))
    return " ".join(part for part in parts if part)


def _resource(
    table: ArchivedTable, sources: Mapping[str, bytes], names: dict[str, int]
) -> dict[str, Any]:
    data = sources[table.path]
    names[table.table.name] = names.get(table.table.name, 0) + 1
    n = names[table.table.name]
    book = table.path.lower().endswith((".xlsx", ".xlsm"))
    resource: dict[str, Any] = {
        "name": table.table.name if n == 1 else f"{table.table.name}-{n}",
        "type": "table",
        "title": table.table.name,
        "description": table.table.says,
        "path": f"inputs/{table.path}",
        "format": "xlsx" if book else "csv",
        "mediatype": media_type(table.path),
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
    }
    if not book:
        resource["encoding"] = _encoding(data)
    dialect = _dialect(table, book=book)
    if dialect:
        resource["dialect"] = dialect
    schema: dict[str, Any] = {
        "$schema": SCHEMA_PROFILE,
        "fields": table_fields(table),
        "missingValues": [""],
    }
    if table.table.name == "layout":
        schema["primaryKey"] = ["plot"]
    return resource | {"schema": schema}


def _dialect(table: ArchivedTable, *, book: bool) -> dict[str, Any]:
    out: dict[str, Any] = {}
    if table.sheet.header_row > 1:
        out["headerRows"] = [table.sheet.header_row]
    if book:
        if table.source.sheet:
            # the standard's own word, and the one that readers of version 1 know
            out |= {"sheetName": table.source.sheet, "excel": {"sheet": table.source.sheet}}
        return out
    if table.sheet.delimiter not in (None, ","):
        mark = table.sheet.delimiter
        out |= {"delimiter": mark, "csv": {"delimiter": mark}}
    above = table.sheet.header_row
    if len(table.sheet.rows) and int(table.sheet.rows[-1]) - above > len(table.sheet.rows):
        out["skipBlankRows"] = True
    return out


def _encoding(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    return "utf-8-sig" if data[:3] == b"\xef\xbb\xbf" else "utf-8"


def media_type(path: str) -> str:
    """The media type of a file of the folder, by its ending."""
    endings = {
        ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        ".csv": "text/csv",
        ".tsv": "text/tab-separated-values",
        ".json": "application/json",
        ".svg": "image/svg+xml",
        ".html": "text/html",
        ".yaml": "application/yaml",
        ".yml": "application/yaml",
    }
    found = re.search(r"\.[a-z0-9]+$", path.lower())
    return endings.get(found.group() if found else "", "text/plain")
