"""Files that the trial names: inside its folder, of a known kind, options that fit.

Leans on parts.
"""

import re
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from wickstats.design.findings import Findings, quote
from wickstats.design.findings import Path as Where
from wickstats.design.parts import Values, unknown_name
from wickstats.design.shapes import SOURCE_PATH
from wickstats.design.tables import RECORD_TABLES


def check_files(values: Values, folder: Path, out: Findings) -> None:
    """Every file name and its options."""
    layout = values.get("design", {}).get("layout")
    if layout is not None:
        _inside(layout, ("design", "layout"), folder, out)
        _ending(layout, ("design", "layout"), (".csv", ".txt", ".tsv"), out)
    for table, sources in values.get("records", {}).items():
        for source in sources:
            _source(table, source, layout, folder, out)
        _no_file_twice(table, sources, out)


def _no_file_twice(table: str, sources: list[dict[str, Any]], out: Findings) -> None:
    """The same sheet listed again would only repeat every row."""
    seen: set[tuple[str, str | None]] = set()
    for source in sources:
        file, sheet = source["file"], source.get("sheet")
        if file is not None and (file, sheet) in seen:
            out.add(
                source[SOURCE_PATH],
                "duplicate file",
                found=f"{quote(file)} a second time for {table}",
                expected="each file (or sheet of a workbook) once",
                fix="take one of the two out",
            )
        seen.add((file, sheet))


def _source(
    table: str, source: dict[str, Any], layout: str | None, folder: Path, out: Findings
) -> None:
    path: Where = source[SOURCE_PATH]
    file = source["file"]
    if file is None:
        return
    base = path[:-1] if path[-1] == "file" else path
    _inside(file, path, folder, out)
    _ending(file, path, (".csv", ".txt", ".tsv", ".xlsx"), out)
    if file == layout:
        out.add(
            path,
            "contradiction",
            found=f"{quote(file)} for the layout and for {table}",
            expected="a file of its own for each",
            fix="correct one of the two names",
        )
    _options(source, base, file, out)
    _columns(table, source.get("columns", {}), base, out)
    wide = source.get("wide")
    if wide and table != "measurements":
        out.add(
            (*base, "wide"),
            "contradiction",
            found=f"wide under {table}",
            expected="wide under measurements only",
            fix="write the table with one row an observation",
            on_key=True,
        )


def _inside(name: str, path: Where, folder: Path, out: Findings) -> None:
    """A relative path with forward slashes that stays in the folder, links followed."""
    if "\\" in name:
        fix = f"write {quote(name.replace(chr(92), '/'))}"
        _outside(name, path, "a path with forward slashes", fix, out)
        return
    outside = PurePosixPath(name).is_absolute() or bool(PureWindowsPath(name).drive)
    if not outside:
        try:
            outside = not (folder / name).resolve().is_relative_to(folder.resolve())
        except (OSError, ValueError, RuntimeError):
            outside = True
    if outside:
        fix = "put the file (not a link to it) beside the trial file and give its name"
        _outside(name, path, "a file inside the trial's folder", fix, out)


def _outside(name: str, path: Where, expected: str, fix: str, out: Findings) -> None:
    out.add(path, "path not allowed", found=quote(name), expected=expected, fix=fix)


def _ending(name: str, path: Where, allowed: tuple[str, ...], out: Findings) -> None:
    if not name.lower().endswith(allowed):
        main = [end for end in allowed if end in (".csv", ".xlsx")]
        out.add(
            path,
            "unknown kind of file",
            found=quote(name),
            expected=f"a name that ends in {' or '.join(main)}",
            fix="save the table as CSV" + (" or xlsx" if ".xlsx" in main else ""),
        )


def _options(source: dict[str, Any], base: Where, file: str, out: Findings) -> None:
    workbook = file.lower().endswith(".xlsx")
    foreign = ("delimiter", "decimal") if workbook else ("sheet",)
    for key in foreign:
        # a decimal sign may matter in a workbook too, where numbers were typed as text
        if key in source and not (workbook and key == "decimal"):
            out.add(
                (*base, key),
                "contradiction",
                found=f"{key} for {quote(file)}",
                expected=f"{key} only for {'CSV files' if workbook else 'workbooks (.xlsx)'}",
                fix="take it out, or correct the file's name",
                on_key=True,
            )
    delimiter = source.get("delimiter")
    if delimiter is not None and (len(delimiter) != 1 or delimiter.isalnum()):
        _impossible(base, "delimiter", delimiter, 'one sign, as in ";"', out)
    elif delimiter is not None and delimiter == source.get("decimal"):
        _impossible(base, "delimiter", delimiter, "another sign than the decimal sign", out)
    dates = source.get("dates")
    if dates is not None and not is_date_example(dates):
        expected = "the 31st of December 2025 written as in the file: 31/12/2025, 12/31/25"
        _impossible(base, "dates", dates, expected, out)


def _impossible(base: Where, key: str, value: str, expected: str, out: Findings) -> None:
    out.add(
        (*base, key),
        "impossible value",
        found=f"{quote(value)} for {key}",
        expected=expected,
        fix=f"correct {key}",
    )


def is_date_example(text: str) -> bool:
    """Whether a text writes the last day of a year in digits: 31, 12 and the year once."""
    parts = re.fullmatch(r"(\d+)[^\d\s]{1,2} ?(\d+)[^\d\s]{1,2} ?(\d+)\.?", text)
    if parts is None:
        return False
    year = [part for part in parts.groups() if part not in ("31", "12")]
    return len(year) == 1 and len(year[0]) in (2, 4) and {"31", "12"} < set(parts.groups())


def _columns(table: str, columns: dict[str, Any], base: Where, out: Findings) -> None:
    known = RECORD_TABLES[table]
    heads: dict[str, str] = {}
    for ours, source in columns.items():
        path = (*base, "columns", ours)
        if known.column(ours) is None and not known.own_quantities:
            unknown_name(ours, path, known.column_names, "column", out, on_key=True)
        head = source.get("head")
        if head is not None and head in heads and source.get("times") is None:
            out.add(
                path,
                "contradiction",
                found=f"the head {quote(head)} for {ours} and for {heads[head]}",
                expected="each head of the file for one of our columns",
                fix="correct one of the two",
            )
        if head is not None:
            heads[head] = ours
