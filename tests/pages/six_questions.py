"""Six questions that a reader of page one alone must answer right.

Run it for a person: ``python tests/pages/six_questions.py REPORT_DIR`` prints page one and the
questions. The test beside it answers them from the page's text by the plain rules below.
"""

import re
import sys
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from support_page import Element, parse_page

QUESTIONS = (
    "How many ways of watering were compared, and against which one?",
    "Which of them did better, worse or could not be told apart, in the main question?",
    "How large is each difference, and between which limits?",
    "In how many blocks, and how sure are the ranges?",
    "Where should nobody rely on this?",
    "What would tell more?",
)


@dataclass(frozen=True, slots=True)
class Answers:
    """What the text of page one says."""

    ways: int
    against: tuple[str, ...]
    lines: tuple[str, ...]
    limits: tuple[str, ...]  # the words in brackets that end each line
    blocks: int
    percent: str
    not_for: str
    more: tuple[str, ...]


def page_one(data: bytes) -> Element:
    """The advisor's part."""
    return parse_page(data).all("section")[0]


def answers(part: Element) -> Answers:
    """Answer the questions from the words of the part alone."""
    text = "\n".join(e.text for e in part.all("p", "li"))
    lines = _main_lines(part)
    return Answers(
        ways=int(_found(r"We compared (\d+) ways", text)),
        against=tuple(re.findall(r"Each [^.]*?was set against (.+?)\.(?= |$)", text)),
        lines=lines,
        limits=tuple(_found(r"\(([^()]+)\)\.$", line) for line in lines),
        blocks=int(_found(r"within (\d+) (?:blocks|runs)", text)),
        percent=_found(r"the true value in ([\d.]+)\s%", text),
        not_for=_found(r"Do not rely on it for (.+?)\.", text),
        more=tuple(_after(part, "What would tell more")),
    )


def _main_lines(part: Element) -> tuple[str, ...]:
    """The framed lines after "the main question", up to the next heading in words."""
    told: list[str] = []
    inside = False
    for element in part.all("p"):
        framed = "verdict" in element.attributes.get("class", "")
        if not framed and element.text.endswith(":"):
            inside = "the main question" in element.text
        elif framed and inside:
            told.append(element.text)
    return tuple(told)


def _after(part: Element, heading: str) -> list[str]:
    """List items under a heading."""
    out: list[str] = []
    inside = False
    for element in part.all("h3", "li"):
        if element.tag == "h3":
            inside = element.text == heading
        elif inside:
            out.append(element.text)
    return out


def _found(pattern: str, text: str) -> str:
    match = re.search(pattern, text)
    if match is None:
        raise AssertionError(f"page one does not say: {pattern}")
    return match.group(1)


def main(folder: str) -> None:
    """Print page one and the questions."""
    part = page_one((Path(folder) / "report.html").read_bytes())
    told = [e.text for e in part.all("h2", "h3", "p", "li", "figcaption")]
    asked = [f"{i}. {q}" for i, q in enumerate(QUESTIONS, 1)]
    sys.stdout.write("\n".join([*told, "", *asked]) + "\n")


if __name__ == "__main__":
    main(sys.argv[1])
