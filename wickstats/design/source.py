"""A trial file's bytes become text and then a tree, or a problem that says where.

Leans on PyYAML and this package's nodes.
"""

import re

import yaml

from wickstats.design.findings import Findings, Place, Stopped, quote
from wickstats.design.nodes import LOADER, Node, build, too_deep

MAX_BYTES = 1_000_000
MAX_BRACKETS = 100  # open at once: far beyond the levels allowed, before the parser looks ahead
PORTABLE_BYTES = 50_000  # up to here syntax errors are told in the portable parser's words

# C0 and C1 controls but tab and line ends; marks that turn the direction of writing
_FORBIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\u061c\u200e\u200f\u202a-\u202e"
    "\u2066-\u2069\ufeff\ufffe\uffff]"
)
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")  # where YAML ends a line
_NO_SPACE = re.compile(r"^ *(- )?[\w-]+:[^\s:/\\]|^ *(- )?[\w-]+:[\u00a0\u202f\u3000]")
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
    if data[:4] == b"PK\x03\x04" or (data[:2] not in _UTF16 and b"\0" in data[:4096]):
        findings.add(
            (),
            "not text",
            found="a workbook or another file that is not text",
            expected="a trial file: YAML text saved as UTF-8",
            fix="give the trial file; tables belong under its key records",
            at=Place(1, 1),
        )
        return None
    text = _decode(data, findings)
    if text is None:
        return None
    try:
        text = _without_forbidden(text, findings)
        if _too_many_brackets(text, findings):
            return None
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


def _too_many_brackets(text: str, findings: Findings) -> bool:
    """Stop before the parser, whose work grows with the square of open brackets."""
    depth = 0
    for number, line in enumerate(_BREAK.split(text), start=1):
        if "{" not in line and "[" not in line and not depth:
            continue
        for hit in re.finditer(r"[\[{\]}]", _QUOTED.sub(lambda m: " " * len(m[0]), line)):
            depth = max(depth + (1 if hit[0] in "[{" else -1), 0)
            if depth > MAX_BRACKETS:
                too_deep(findings, Place(number, hit.start() + 1))
                return True
    return False


def _without_forbidden(text: str, findings: Findings) -> str:
    if not _FORBIDDEN.search(text):
        return text
    for number, line in enumerate(_BREAK.split(text), start=1):
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
    loader = LOADER if len(text) > PORTABLE_BYTES else yaml.SafeLoader
    try:
        for _ in yaml.parse(text, Loader=loader):
            pass
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        if mark is not None:
            place = Place(mark.line + 1, mark.column + 1)
        if error.context_mark is not None:
            context = error.context_mark.line + 1
        words = (error.problem or error.context or words).removeprefix("found ")
    except yaml.YAMLError as error:
        words = str(error).splitlines()[0]
    lines = _BREAK.split(text)
    line = lines[place.line - 1] if place.line <= len(lines) else ""
    shown = f" in the line {quote(line.strip())}" if line.strip() else " at the end of the file"
    findings.add(
        (),
        "YAML syntax",
        found=f"{words}{shown}",
        expected="YAML; reading stops at the first place that is not",
        fix=_first_sign(words, line, place) or _hint(lines, place.line, context),
        at=place,
    )


def _first_sign(words: str, line: str, place: Place) -> str | None:
    """A text that begins with a sign which YAML keeps for itself."""
    sign = line[place.column - 1 : place.column]
    if "cannot start any token" not in words or sign in ("", "\t"):
        return None
    return f"put quotes around the text that begins with {sign}"


def _hint(lines: list[str], line: int, context: int | None) -> str:
    """What to do, looking at the line of the error and where its part began."""
    numbers = [line, *([context] if context else []), line - 1]
    near = [n for n in dict.fromkeys(numbers) if 1 <= n <= len(lines)]
    for number in near:
        if re.match(r"^ *\t", lines[number - 1]):
            return f"indent line {number} with spaces, not tabs"
    for number in near:
        if _NO_SPACE.match(lines[number - 1]):
            return f"write a plain space after the colon in line {number}"
    quoted = next((n for n in range(1, line + 1) if _open_quote(lines[n - 1])), None)
    if quoted:
        return f"line {quoted} opens a quote and does not close it: close it, or take it out"
    for number in near:
        sign = _unquoted_sign(lines[number - 1])
        if sign:
            return f'line {number} holds "{sign}" outside quotes: put quotes around the text'
    if context and context <= len(lines) and _opened(lines[context - 1]) > 0:
        return f"line {context} opens a bracket that is not closed: close it"
    before = next((n for n in range(line - 1, 0, -1) if lines[n - 1].strip()), None)
    if before and line <= len(lines) and _indent(lines[line - 1]) > _indent(lines[before - 1]):
        return (
            f"line {line} begins further right than line {before}: keys of one section "
            "begin in one column"
        )
    return (
        f"look at line {line} and the one before: an unclosed quote or bracket, "
        "a missing space after a colon, or an uneven indentation"
    )


def _open_quote(line: str) -> bool:
    bare = _QUOTED.sub("", line).partition(" #")[0]
    # an apostrophe inside a word opens nothing
    return not bare.lstrip().startswith("#") and bool(re.search(r"(^|[\s\[{,:])[\"']", bare))


def _opened(code: str) -> int:
    bare = _QUOTED.sub("", code)
    return sum(bare.count(c) for c in "{[") - sum(bare.count(c) for c in "}]")


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _unquoted_sign(line: str) -> str | None:
    bare = _QUOTED.sub("", line)
    code, comment, _ = bare.partition(" #")
    if comment and _opened(code) > 0:
        return " #"  # the comment swallowed the closing bracket
    if any(part.count(": ") > 1 for part in re.split(r"[,{}\[\]]", code)):
        return ": "
    return "?" if "?" in code else None
