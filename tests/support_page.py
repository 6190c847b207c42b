"""A page taken apart by the standard library, for tests everywhere."""

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "br", "img", "link", "input", "hr"}


@dataclass
class Element:
    """One element with its attributes, its own and its descendants' text."""

    tag: str
    attributes: dict[str, str]
    children: list["Element"] = field(default_factory=list)
    words: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """All text inside, in order of the parser."""
        return "".join(self.words)

    def all(self, *tags: str) -> list["Element"]:
        """Every descendant of these tags, in order."""
        found: list[Element] = []
        for child in self.children:
            if child.tag in tags:
                found.append(child)
            found.extend(child.all(*tags))
        return found

    def everything(self) -> list["Element"]:
        """Every descendant, in order."""
        found: list[Element] = []
        for child in self.children:
            found.append(child)
            found.extend(child.everything())
        return found


class _Builder(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("root", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {k: v or "" for k, v in attrs})
        self.open[-1].children.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].children.append(Element(tag, {k: v or "" for k, v in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if self.open[-1].tag != tag:
            raise AssertionError(f"</{tag}> closes <{self.open[-1].tag}>")
        self.open.pop()

    def handle_data(self, data: str) -> None:
        for element in self.open:
            element.words.append(data)


def parse_page(data: bytes) -> Element:
    """Parse strictly: every end tag must close the element that is open."""
    builder = _Builder()
    builder.feed(data.decode("utf-8"))
    builder.close()
    if len(builder.open) != 1:
        raise AssertionError(f"never closed: {[e.tag for e in builder.open[1:]]}")
    return builder.root


def syllables(word: str) -> int:
    """Rough count: groups of vowels, a silent e at the end left out."""
    bare = re.sub(r"[^a-z]", "", word.lower())
    groups = len(re.findall(r"[aeiouy]+", bare))
    if bare.endswith("e") and not bare.endswith(("le", "ee")) and groups > 1:
        groups -= 1
    return max(groups, 1)


def grade(sentences: list[str]) -> float:
    """Flesch-Kincaid grade (Kincaid et al. 1975: 0.39 w/s + 11.8 syl/w - 15.59)."""
    split = [s for text in sentences for s in re.split(r"(?<=[.!?])\s+", text) if s.strip()]
    words = [w for s in split for w in s.split() if re.search("[A-Za-z]", w)]
    return (
        0.39 * len(words) / len(split)
        + 11.8 * sum(syllables(w) for w in words) / len(words)
        - 15.59
    )


def spanish_syllables(word: str) -> int:
    """Vowels in a row are one syllable, but for two strong ones or an accented weak one.

    The rules of the Royal Spanish Academy's orthography (2010), from memory; y counts at a
    word's end, and u is silent between g or q and e or i.
    """
    bare = re.sub("[^a-záéíóúüñ]", "", word.lower())
    bare = re.sub("([gq])u(?=[eiéí])", r"\1", bare)
    bare = re.sub("y$", "i", bare)
    runs = re.findall("[aeiouáéíóúü]+", bare)
    return max(sum(max(1, len(re.findall("[aeoáéóíú]", run))) for run in runs), 1)


def ease_in_spanish(sentences: list[str]) -> float:
    """Reading ease 206.84 - 60 syl/w - 1.02 w/s (Fernandez Huerta 1959).

    60 to 70: seventh or eighth grade. Formula and scale as the readme of MultiAzterTest, a
    general tool for readability, gives them.
    """
    split = [s for text in sentences for s in re.split(r"(?<=[.!?])\s+", text) if s.strip()]
    words = [w for s in split for w in s.split() if re.search("[A-Za-zÁÉÍÓÚáéíóúñ]", w)]
    return (
        206.84
        - 60.0 * sum(map(spanish_syllables, words)) / len(words)
        - 1.02 * len(words) / len(split)
    )


def luminance(color: str) -> float:
    """Relative luminance of #rrggbb (WCAG 2.2)."""
    parts = [int(color[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colors (WCAG 2.2)."""
    a, b = sorted((luminance(one), luminance(other)), reverse=True)
    return (a + 0.05) / (b + 0.05)
