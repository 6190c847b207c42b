"""A trial file's bytes become text and then a tree, or a problem that says where.

Leans on PyYAML and this package's nodes.
"""

import re

import yaml

from wickstats.design.findings import Findings, Place, quote
from wickstats.design.nodes import Node, Stopped, build

MAX_BYTES = 1_000_000

# C0 and C1 controls but tab and line ends; marks that turn the direction of writing
_FORBIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\u061c\u200e\u200f\u202a-\u202e"
    "\u2066-\u2069\ufeff\ufffe\uffff]"
)
_QUOTED = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'(?:[^']|'')*'")


def forbidden_in(text: str) -> str | None:
    """The first control or direction-turning character, as U+202E, or None."""
    hit = _FORBIDDEN.search(text)
    return f"U+{ord(hit.group()):04X}" if hit else None


def parse(data: bytes, findings: Findings) -> Node | None:
    """Return the tree, or None where it cannot be had; the findings then say why."""
    if len(data) > MAX_BYTES:
        findings.add(
            (),
            "file too large",
            found=f"{len(data)} bytes",
            expected=f"at most {MAX_BYTES}",
            fix="keep data in the record tables, not in the trial file",
        )
        return None
    text = _decode(data, findings)
    if text is None:
        return None
    text = _without_forbidden(text, findings)
    try:
        root = build(text, findings)
    except Stopped:
        return None
    except yaml.YAMLError:
        _syntax(text, findings)
        return None
    if root is None:
        findings.add(
            (),
            "empty file",
            found="a file without content",
            expected="a trial: format, trial, factors, design",
            fix="start from the file that the command new writes",
        )
    return root


def _decode(data: bytes, findings: Findings) -> str | None:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line = before.count(b"\n") + 1
        tail = before.rsplit(b"\n", 1)[-1]
        findings.add(
            (),
            "not UTF-8",
            found=f"the byte 0x{data[error.start]:02X}, which is not UTF-8",
            expected="text saved as UTF-8",
            fix="save the file again with the encoding UTF-8",
            at=Place(line, len(tail.decode("utf-8", "replace")) + 1),
        )
        return None


def _without_forbidden(text: str, findings: Findings) -> str:
    if not _FORBIDDEN.search(text):
        return text
    for number, line in enumerate(text.split("\n"), start=1):
        hit = _FORBIDDEN.search(line)
        if hit:
            findings.add(
                (),
                "control character",
                found=f"the invisible character U+{ord(hit.group()):04X}",
                expected="visible text only",
                fix="delete the character, or type the line again",
                at=Place(number, hit.start() + 1),
            )
    return _FORBIDDEN.sub(" ", text)


def _syntax(text: str, findings: Findings) -> None:
    """Say the first syntax error, in the words of the portable parser."""
    words, place, context = "text that is not YAML", Place(1, 1), None
    try:
        for _ in yaml.parse(text, Loader=yaml.SafeLoader):
            pass
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        if mark is not None:
            place = Place(mark.line + 1, mark.column + 1)
        if error.context_mark is not None:
            context = error.context_mark.line + 1
        words = error.problem or error.context or words
    except yaml.YAMLError as error:
        words = str(error).splitlines()[0]
    lines = text.split("\n")
    line = lines[place.line - 1] if place.line <= len(lines) else ""
    shown = f" in the line {quote(line.strip())}" if line.strip() else " at the end of the file"
    findings.add(
        (),
        "YAML syntax",
        found=f"{words}{shown}",
        expected="YAML; reading stops at the first place that is not",
        fix=_hint(lines, place.line, context),
        at=place,
    )


def _hint(lines: list[str], line: int, context: int | None) -> str:
    """What to do, looking at the line of the error and where its part began."""
    numbers = [line, *([context] if context else []), line - 1]
    for number in dict.fromkeys(numbers):
        if not 1 <= number <= len(lines):
            continue
        text = lines[number - 1]
        if re.match(r"^ *\t", text):
            return f"indent line {number} with spaces, not tabs"
        sign = _unquoted_sign(text)
        if sign:
            return f'line {number} holds "{sign}" outside quotes: put quotes around the text'
    return (
        f"look at line {line} and the one before: an unclosed quote or bracket, "
        "a missing space after a colon, or an uneven indentation"
    )


def _unquoted_sign(line: str) -> str | None:
    bare = _QUOTED.sub("", line)
    code, comment, _ = bare.partition(" #")
    opened = sum(code.count(c) for c in "{[") - sum(code.count(c) for c in "}]")
    if comment and opened > 0:
        return " #"  # the comment swallowed the closing bracket
    if any(part.count(": ") > 1 for part in re.split(r"[,{}\[\]]", code)):
        return ": "
    return "?" if "?" in code else None
