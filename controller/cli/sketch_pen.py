"""Draws labelled boxes, wires and text as SVG, and knows the box that each text takes up.

Nothing about wiring lives here. All text is monospaced, so that its width can be worked out without a font.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from unicodedata import east_asian_width

from controller.record.page import text

# Advance of one character over the font size: 0.60 in the usual monospaced fonts, a little more to be safe.
CHARACTER = 0.62
BODY, SMALL, HEAD = 13, 11, 16
_FONT = "'DejaVu Sans Mono','Liberation Mono',Consolas,Menlo,monospace"
_STYLE = (
    f"text{{font-family:{_FONT};fill:#1b1f24;white-space:pre}}"
    ".part{fill:#fff;stroke:#1b1f24;stroke-width:1.2}.frame{fill:none;stroke:#1b1f24;stroke-dasharray:2 3}"
    ".wire{fill:none;stroke:#1b1f24;stroke-width:1.4}.isolated{fill:none;stroke:#8a3b00;stroke-width:1.6;"
    "stroke-dasharray:7 5}.elv{fill:#eef4f8;stroke:#33566b;stroke-width:2}"
    ".mains{fill:#fdf1e3;stroke:#8a3b00;stroke-width:4}.cautions{fill:#fffbe6;stroke:#1b1f24;stroke-width:2}"
    ".dot{fill:#1b1f24}.strong{font-weight:bold}.soft{fill:#454d55}"
)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle: left, top, width, height."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Give the right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Give the lower edge."""
        return self.y + self.height

    @property
    def middle(self) -> float:
        """Give the height of the middle."""
        return self.y + self.height / 2


def width_of(words: str, size: int) -> float:
    """Work out how wide a text is; East Asian wide characters take two places (Unicode UAX #11)."""
    return sum(2 if east_asian_width(c) in "WF" else 1 for c in words) * CHARACTER * size


def fitted(words: str, width: float, size: int) -> str:
    """Shorten a text in its middle until it fits."""
    if width_of(words, size) <= width:
        return words
    half = len(words) // 2
    while half > 1 and width_of(words[:half] + "…" + words[-half:], size) > width:
        half -= 1
    return words[:half] + "…" + words[-half:]


def wrapped(words: str, width: float, size: int) -> list[str]:
    """Break a text into lines between its words."""
    lines, line = [], ""
    for word in words.split():
        longer = f"{line} {word}" if line else word
        if line and width_of(longer, size) > width:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line]


@dataclass(slots=True)
class Pen:
    """Collects what is drawn, in order."""

    drawn: list[str] = field(default_factory=list)

    def begin(self, name: str) -> None:
        """Start a named group."""
        self.drawn.append(f'<g id="{text(name)}">')

    def end(self) -> None:
        """End the group that was started last."""
        self.drawn.append("</g>")

    def rect(self, box: Box, kind: str) -> None:
        """Draw a plain rectangle in one of the style sheet's kinds."""
        place = f'x="{box.x:g}" y="{box.y:g}" width="{box.width:g}" height="{box.height:g}"'
        self.drawn.append(f'<rect class="{kind}" {place}/>')

    def write(self, words: str, x: float, y: float, size: int = BODY, kind: str = "") -> None:
        """Write one line of text that starts at x, with its base line at y."""
        style = f' class="{kind}"' if kind else ""
        self.drawn.append(f'<text{style} x="{x:g}" y="{y:g}" font-size="{size}">{text(words)}</text>')

    def wire(self, *points: tuple[float, float], kind: str = "wire") -> None:
        """Draw a line through points."""
        run = " ".join(f"{x:g},{y:g}" for x, y in points)
        self.drawn.append(f'<polyline class="{kind}" points="{run}"/>')

    def dot(self, x: float, y: float) -> None:
        """Mark a place where wires join."""
        self.drawn.append(f'<circle class="dot" cx="{x:g}" cy="{y:g}" r="3.5"/>')

    def part(self, box: Box, name: str, *remarks: str, about: str = "") -> None:
        """Draw a part with its name and remarks; `about` is a ready attribute that says which part it is."""
        room = box.width - 16
        lines = [(name, BODY, "strong"), *((remark, SMALL, "soft") for remark in remarks if remark)]
        self.drawn.append(f"<g{f' {about}' if about else ''}>")
        self.rect(box, "part")
        y = box.middle - 15 * len(lines) / 2 + 11
        for words, size, kind in lines:
            while size > 9 and width_of(words, size) > room:
                size -= 1
            self.write(fitted(words, room, size), box.x + 8, y, size, kind)
            y += 15
        self.drawn.append("</g>")

    def svg(self, width: float, height: float, title: str, description: str) -> str:
        """Close the picture: one SVG document that needs nothing else."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
            f'height="{height:g}" role="img" aria-labelledby="title desc">'
            f'<title id="title">{text(title)}</title><desc id="desc">{text(description)}</desc>'
            f'<style>{_STYLE}</style><rect width="{width:g}" height="{height:g}" fill="#fff"/>'
            + "".join(self.drawn)
            + "</svg>\n"
        )
