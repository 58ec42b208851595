"""Read the page that explains a night as a person without eyes would, and hold what is so of every one."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

from controller.settings.values import Site
from sim.faults import FaultPlan
from sim.night import run_night
from sim.outcome import NightOutcome

VOID = {"meta", "line", "path", "rect", "circle", "polyline"}
HEADINGS = ["How far off", "Broken on purpose", "Over the night", "Amounts", "Errors of this world"]


class Page(HTMLParser):
    """Reads a page, insists that every tag is closed in order, and keeps what it says."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.headings: list[tuple[str, str]] = []
        self.words: list[str] = []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] in ("h1", "h2", "h3"):
            self.headings.append((self.open[-1], data))
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(self.words)


def drawings(html: str) -> dict[str, ElementTree.Element]:
    found = [ElementTree.fromstring(one) for one in re.findall(r"<svg.*?</svg>", html, re.DOTALL)]
    return {one[0].attrib["id"].removesuffix("-title"): one for one in found}


def lines(drawing: ElementTree.Element, kind: str) -> int:
    """Count what is drawn as a line of one class."""
    return len(drawing.findall(f"polyline[@class='{kind}']"))


def must_hold(html: str) -> Page:
    """Hold what is so of every page, whatever became of the night."""
    page = Page(html)
    assert [words for level, words in page.headings if level == "h2"] == HEADINGS
    assert page.headings[0][0] == "h1"
    assert not re.search(r"https?:|//\w|url\(|@import", html)
    assert not {"script", "img", "link", "iframe", "object", "embed", "form", "base"} & set(page.tags)
    names = {name for name, _ in page.attributes}
    assert not {"src", "href", "srcset", "action", "xlink:href"} & names
    assert not [name for name in names if name.startswith("on")]
    drawn = drawings(html)
    assert page.tags.count("svg") == len(drawn), "two drawings have the same name"
    for one in drawn.values():
        assert [part.tag for part in one[:2]] == ["title", "desc"]
        assert all(part.text for part in one[:2])
        assert one.attrib["aria-labelledby"] == f"{one[0].attrib['id']} {one[1].attrib['id']}"
    assert page.text.index("only a simulation knows what is true") < page.text.index("How far off")
    assert not re.search(r"\b(nan|inf|None)\b", page.text)
    return page


def explained(
    site: Site, folder: Path, *strikes: tuple[float, str], recipe: str = "fruiting"
) -> NightOutcome:
    return run_night(site, recipe, 3, folder, faults=FaultPlan(strikes), traced=True)
