"""Amounts of a night: wanted, recorded and truly come for each input, with the solids that really came.

One drawing in percent of what was wanted, and the tables of all inputs and of all doses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from controller.record.amounts import additions, trims
from controller.record.axis import Scale, round_ticks
from controller.record.events import DosePurpose
from controller.record.page import Html, element, folded, join, section, table, text
from controller.record.words import later, millilitres, percent, time_of_day
from sim.explain.differences import Dosed, doses, together
from sim.explain.scales import scales
from sim.explain.truth_trace import NightTruth
from sim.outcome import NightOutcome

NEXT_TO_NOTHING_ML = 0.05
"""What the page would write as 0.0 mL or 0.1 mL is not told as an accident."""
UNWANTED = "not wanted"
WIDTH, LEFT, RIGHT, TOP, ROW, FOOT = 420, 10, 14, 6, 38, 34
LEAST_SPAN_PERCENT = 4.0


def amounts(outcome: NightOutcome, seen: NightTruth) -> Html:
    """Tell the amounts of a night; a night without any dose says so."""
    titles = _titles(outcome)
    every = doses(outcome.record, outcome.ml_by_dose, seen.solids_share_by_dose)
    rows = summed(outcome, every)
    if not rows:
        none = element("p", "No addition was planned or dosed.")
        return section("Amounts", none, _astray(outcome, titles), scales(outcome, seen.scales))
    told = [_table("Each input: what came into tank and line by its end", rows, titles, outcome)]
    if not every:
        none = element("p", "Nothing was dosed.")
        wanted = folded("What was wanted", *told)
        return section("Amounts", none, _astray(outcome, titles), wanted, scales(outcome, seen.scales))
    told.append(_table("Each dose, rinses too: what its pump moved", every, titles, outcome))
    drawn = [row for row in rows if row.target_ml > 0.0]
    legend = (
        "Percent of the amount that was wanted. ◇ recorded, by the pump's counts or by the scale, "
        "whichever has less doubt. "
        "● truly in tank and line, by pump or gravity. "
        "□ solids that came up the tube, in percent of the label. Dashed: as wanted."
    )
    title = element("h3", "Each input, in percent of what was wanted")
    figure = element("figure", join(title, _draw(drawn, titles), element("figcaption", legend)), "steps")
    tables = folded("Amounts as tables", join(*told))
    return section("Amounts", figure, _astray(outcome, titles), tables, scales(outcome, seen.scales))


def _astray(outcome: NightOutcome, titles: Mapping[str, str]) -> Html:
    """Tell what no pump's count tells: what ran in by gravity, and what went to the floor."""
    found = (
        (_title(name, titles), words, amount_ml)
        for name, ran in outcome.ran.items()
        for words, amount_ml in (
            ("ran in by gravity", ran.siphoned_ml),
            ("went to the floor", ran.spilled_ml),
        )
    )
    rows = [(f"{title}: {words}", millilitres(ml)) for title, words, ml in found if ml > NEXT_TO_NOTHING_ML]
    if not rows:
        return element("p", "Nothing ran into the tank by gravity, and no pump spilled anything.")
    return table("What no pump counted", ("what", "true"), rows, numbers=(1,), kind="even")


def summed(outcome: NightOutcome, every: Sequence[Dosed]) -> tuple[Dosed, ...]:
    """Add doses up by input: planned additions in order, dosed or not, then trims, then what came unwanted.

    The true amount of an addition is what really came, even if no pump moved it.
    """
    planned = {addition.input: addition.ml for addition in outcome.plan.additions}
    found = [
        replace(
            together(name, DosePurpose.ADDITION, ml, _of(every, name, DosePurpose.ADDITION)),
            true_ml=outcome.added_ml(name),
        )
        for name, ml in planned.items()
    ]
    for name in dict.fromkeys(dose.input for dose in every if dose.purpose == DosePurpose.TRIM):
        parts = _of(every, name, DosePurpose.TRIM)
        found.append(together(name, DosePurpose.TRIM, sum(part.target_ml for part in parts), parts))
    told = {row.input for row in found}
    found += [
        Dosed(name, UNWANTED, None, 0.0, 0.0, ran.delivered_ml, None)
        for name, ran in outcome.ran.items()
        if name not in told and ran.delivered_ml > NEXT_TO_NOTHING_ML
    ]
    return tuple(found)


def _of(every: Sequence[Dosed], name: str, purpose: str) -> tuple[Dosed, ...]:
    return tuple(dose for dose in every if dose.input == name and dose.purpose == purpose)


def _titles(outcome: NightOutcome) -> Mapping[str, str]:
    return {amount.input: amount.title for amount in (*trims(outcome.record), *additions(outcome.record))}


def _name(dose: Dosed, titles: Mapping[str, str]) -> str:
    title = _title(dose.input, titles)
    return title if dose.purpose == DosePurpose.ADDITION else f"{title} ({dose.purpose})"


def _title(name: str, titles: Mapping[str, str]) -> str:
    return titles.get(name, name.replace("_", " ").capitalize())


def _draw(rows: Sequence[Dosed], titles: Mapping[str, str]) -> Html:
    across = _scale(rows)
    height = TOP + ROW * len(rows) + FOOT
    foot = height - FOOT
    parts = [
        f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-labelledby="amounts-title amounts-desc">',
        '<title id="amounts-title">Amounts in percent of what was wanted</title>',
        f'<desc id="amounts-desc">{text(_description(rows, titles))}</desc>',
    ]
    for value in round_ticks(across.low, across.high):
        x = across.at(value)
        parts.append(f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{foot + 4}"/>')
        parts.append(
            f'<text class="soft" x="{x:.1f}" y="{foot + 16}" text-anchor="middle">{value:g} %</text>'
        )
    whole = across.at(100.0)
    parts.append(f'<line class="goal" x1="{whole:.1f}" x2="{whole:.1f}" y1="{TOP}" y2="{foot}"/>')
    for place, row in enumerate(rows):
        parts += _row(row, _name(row, titles), TOP + ROW * place, across)
    return Html("".join((*parts, "</svg>")))


def _row(row: Dosed, name: str, top: float, across: Scale) -> list[str]:
    y = top + ROW - 12
    parts = [
        f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y}" y2="{y}"/>',
        f'<text x="{LEFT}" y="{y - 10}">{text(name)}</text>',
    ]
    if row.solids_share is not None:
        x = across.at(100.0 * row.solids_share)
        parts.append(f'<rect class="mark" x="{x - 6:.1f}" y="{y - 6}" width="12" height="12"/>')
    if row.recorded_ml is not None:
        x = across.at(100.0 * row.recorded_ml / row.target_ml)
        parts.append(f'<path class="mark" d="M{x:.1f} {y - 6}l6 6l-6 6l-6 -6z"/>')
    x = across.at(100.0 * row.true_ml / row.target_ml)
    parts.append(f'<circle class="block" cx="{x:.1f}" cy="{y}" r="3.5"/>')
    return parts


def _scale(rows: Sequence[Dosed]) -> Scale:
    shares = [1.0] + [row.true_ml / row.target_ml for row in rows]
    shares += [row.recorded_ml / row.target_ml for row in rows if row.recorded_ml is not None]
    shares += [row.solids_share for row in rows if row.solids_share is not None]
    low, high = 100.0 * min(shares), 100.0 * max(shares)
    margin = max((LEAST_SPAN_PERCENT - (high - low)) / 2, 0.06 * (high - low))
    return Scale(low - margin, high + margin, LEFT + 8, WIDTH - RIGHT - 8)


def _description(rows: Sequence[Dosed], titles: Mapping[str, str]) -> str:
    said = []
    for row in rows:
        recorded = (
            "not known" if row.recorded_ml is None else f"{100 * row.recorded_ml / row.target_ml:.1f} %"
        )
        words = f"{_name(row, titles)}: recorded {recorded}, true {100 * row.true_ml / row.target_ml:.1f} %"
        solids = "" if row.solids_share is None else f", solids {100 * row.solids_share:.1f} % of label"
        said.append(f"{words}{solids}.")
    return " ".join(said)


def _table(caption: str, rows: Sequence[Dosed], titles: Mapping[str, str], outcome: NightOutcome) -> Html:
    cells = [
        (
            join(text(_name(row, titles)), element("small", _when(row, outcome)))
            if row.t_s is not None
            else text(_name(row, titles)),
            millilitres(row.target_ml),
            "not known" if row.recorded_ml is None else millilitres(row.recorded_ml),
            join(text(millilitres(row.true_ml)), element("small", f"recorded {percent(row.recorded_share)}")),
            "–" if row.solids_share is None else f"{100 * row.solids_share:.1f} %",
        )
        for row in rows
    ]
    head = ("input", "wanted", "recorded", "true", "solids, of label")
    return table(caption, head, cells, numbers=(1, 2, 3, 4))


def _when(row: Dosed, outcome: NightOutcome) -> str:
    return time_of_day(later(outcome.record.started.row.wall, row.t_s or 0.0))
