"""Pieces of a self-contained HTML page: escaping, tables, sections, and the one style sheet.

What the page says is in `report.py`. Everything that is not `Html` already is escaped on its way in,
so that no text from a file can become markup. The page fetches nothing and runs no script.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

_NOT_FOR_A_PAGE = re.compile(
    "[^\t\n\x20-\x7e\xa0-\u2027\u202f-\u2065\u206a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"
)
"""Control codes, half characters, and what turns the direction of writing around."""


class Html(str):
    """Text that is markup already and goes in as it is."""

    __slots__ = ()


def text(value: str) -> Html:
    """Make any text safe inside an element or a quoted attribute; U+FFFD stands for what no page may hold."""
    return value if isinstance(value, Html) else Html(escape(_NOT_FOR_A_PAGE.sub("\ufffd", value)))


def join(*pieces: Html) -> Html:
    """Put pieces one after the other."""
    return Html("".join(pieces))


def element(tag: str, content: str, kind: str = "") -> Html:
    """Wrap content, escaped unless it is markup; `kind` is the CSS class."""
    style = f' class="{text(kind)}"' if kind else ""
    return Html(f"<{tag}{style}>{text(content)}</{tag}>")


def section(title: str, *content: Html) -> Html:
    """Make a section under its own heading."""
    return Html(f"<section>{element('h2', title)}{join(*content)}</section>")


def table(
    caption: str,
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Sequence[int] = (),
    kind: str = "",
) -> Html:
    """Make a table; the columns in `numbers` are right-aligned, and the first cell heads its row."""

    def align(place: int) -> str:
        return ' class="n"' if place in numbers else ""

    heads = "".join(f'<th scope="col"{align(place)}>{text(name)}</th>' for place, name in enumerate(head))
    body = "".join(
        "<tr>"
        + "".join(
            f'<th scope="row"{align(place)}>{text(cell)}</th>'
            if place == 0
            else f"<td{align(place)}>{text(cell)}</td>"
            for place, cell in enumerate(row)
        )
        + "</tr>"
        for row in rows
    )
    # The wrapper scrolls sideways on a narrow screen, so it must be reachable from the keyboard.
    return Html(
        f'<div class="wide {text(kind)}" tabindex="0" role="region" aria-label="{text(caption)}"><table>'
        f"<caption>{text(caption)}</caption>"
        f"<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def facts(pairs: Sequence[tuple[str, str]]) -> Html:
    """Make a list of named values."""
    items = "".join(f"<div>{element('dt', name)}{element('dd', value)}</div>" for name, value in pairs)
    return Html(f"<dl>{items}</dl>")


def folded(summary: str, content: Html) -> Html:
    """Hide content until it is asked for; works without a script."""
    return Html(f"<details>{element('summary', summary)}{content}</details>")


_NOTHING_FROM_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'"


def page(title: str, body: Html) -> str:
    """Make the whole page."""
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{_NOTHING_FROM_OUTSIDE}">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>{text(title)}</title><style>{STYLE}</style></head>"
        f"<body><main>{body}</main></body></html>\n"
    )


STYLE = """
:root{--paper:#fcfbf8;--ink:#1c2320;--soft:#59645e;--rule:#cdd3cd;--tint:#f0f2ed;--water:#0a6482;
--good:#256b40;--band:#d5e8d8;--warn:#8a5200;--bad:#a11f28}
@media screen and (prefers-color-scheme:dark){:root{
--paper:#131718;--ink:#e7ebe7;--soft:#a7b1ab;--rule:#3a4441;
--tint:#1d2324;--water:#6cc4e0;--good:#7fd09b;--band:#1d3d2b;--warn:#f0b860;--bad:#ff9a92}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);
font:16px/1.5 system-ui,sans-serif;overflow-wrap:break-word}
main{max-width:64rem;margin:0 auto;padding:1rem}
h1{font-size:1.5rem;line-height:1.25;margin:.25rem 0}
h2{font-size:1.15rem;margin:2.25rem 0 .5rem;padding-top:.75rem;border-top:1px solid var(--rule)}
h3{font-size:1rem;margin:0 0 .25rem}
p{margin:.4rem 0;max-width:44rem}
.soft,caption,figcaption,summary{color:var(--soft);font-size:.875rem}
.verdict{border:2px solid;border-left-width:.75rem;border-radius:.25rem;padding:.75rem 1rem;margin:1rem 0}
.verdict p{margin:.15rem 0;color:var(--ink)}
.verdict .say{font-size:1.3rem;font-weight:700;line-height:1.25;color:inherit}
.good{color:var(--good)}.warn{color:var(--warn)}.bad{color:var(--bad)}
dl{display:grid;grid-template-columns:repeat(auto-fill,minmax(9.5rem,1fr));gap:.6rem 1.25rem;margin:.75rem 0}
dt{color:var(--soft);font-size:.8125rem}dd{margin:0;font-weight:600}
:is(h1,h2,h3){overflow-wrap:anywhere}
.wide{overflow-x:auto;max-width:48rem;margin:.5rem 0 1rem}
figure.steps{max-width:38rem}
table{border-collapse:collapse;width:100%;font-size:.9rem}
caption{text-align:left;padding:.25rem 0}
th,td{text-align:left;vertical-align:top;padding:.35rem .6rem .35rem 0;border-bottom:1px solid var(--rule)}
thead th{font-size:.8125rem;font-weight:600;color:var(--soft)}
tbody th{font-weight:600;min-width:6.75rem}
.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
:is(td,th):not(.n){overflow-wrap:anywhere}
.even table{table-layout:fixed}.even .n{width:21%}
td:last-child,th:last-child{padding-right:0}
small{display:block;font-weight:400;color:var(--soft);font-size:.8125rem}
small.warn,small.bad{color:var(--bad);font-weight:600}
section>h3{margin:1.5rem 0 .5rem}
.plots{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,22rem),1fr));gap:1.25rem 2rem}
figure{margin:0;min-width:0}
figure svg{display:block;width:100%;height:auto}
svg text{font:12px system-ui,sans-serif;fill:var(--ink)}
svg .soft{fill:var(--soft)}
svg .strong{font-weight:700}
svg .grid{stroke:var(--rule);stroke-width:1}
svg .trace{fill:none;stroke:var(--water);stroke-width:1.75;stroke-linejoin:round}
svg .true{fill:none;stroke:var(--ink);stroke-width:1.25;stroke-linejoin:round}
svg .dotted{fill:none;stroke:var(--water);stroke-width:3.5;stroke-linecap:round;stroke-dasharray:0 5.5}
svg .band{fill:var(--band);stroke:var(--good);stroke-width:1;stroke-dasharray:5 3}
svg .goal{stroke:var(--good);stroke-width:1.25;stroke-dasharray:5 3}
svg .mark{fill:var(--paper);stroke:var(--ink);stroke-width:2}
svg .block{fill:var(--water)}
svg .open{fill:var(--paper);stroke:var(--bad);stroke-width:1.5;stroke-dasharray:3 2}
svg .alarm{fill:var(--bad)}
svg .tick{fill:var(--ink)}
details{margin:.35rem 0}summary{cursor:pointer;padding:.25rem 0}
ol.plain{list-style:none;margin:0;padding:0}
ol.plain>li{border-left:.3rem solid var(--rule);padding:.1rem 0 .1rem .8rem;margin:.9rem 0}
ol.plain>li.bad{border-color:var(--bad);color:inherit}
ol.plain>li.warn{border-color:var(--warn);color:inherit}
code{font:.85em ui-monospace,monospace}
@media (max-width:34rem){main{padding:.75rem}table{font-size:.84rem}th,td{padding-right:.5rem}}
@media print{body{font-size:10pt}main{max-width:none;padding:0}section{break-inside:auto}
figure,.verdict,tr,li{break-inside:avoid}h2{break-after:avoid}
svg .block,svg .band,svg .alarm{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
"""
