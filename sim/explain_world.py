"""What was wrong in a simulated night, in words: faults that struck on purpose, and the errors of its world.

Nothing is plotted here, and nothing is judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass

from controller.record.batch_record import BatchRecord
from controller.record.page import Html, element, facts, folded, join, section, table
from controller.record.words import celsius, duration, later, percent, time_of_day
from controller.settings.values import Site
from sim.faults import FAULTS
from sim.faults.book import words_of
from sim.outcome import NightOutcome
from sim.truth_trace import NightTruth
from sim.world import World

FAULT_WORDS: Mapping[str, str] = {name: fault.words for name, fault in FAULTS.items()}


def broken_on_purpose(outcome: NightOutcome, seen: NightTruth) -> Html:
    """Tell each fault that struck, with its moment and what it was, and what became of the record."""
    items = [_fault(outcome.record, at_s, name) for at_s, name in seen.struck]
    if outcome.record_fault is not None:
        words = f"The record could not be kept: {outcome.record_fault}. What is measured ends there."
        items.append(element("li", words, "bad"))
    if not items:
        return section(
            "Broken on purpose", element("p", "Nothing. The errors of this world are further down.")
        )
    return section("Broken on purpose", Html(f'<ol class="plain">{join(*items)}</ol>'))


def _fault(record: BatchRecord, at_s: float, name: str) -> Html:
    began = record.started.row
    when = f"{time_of_day(later(began.wall, at_s - began.at_s))}, {duration(at_s)} into the night: {name}"
    return element("li", join(element("strong", f"▼ {when}"), element("p", words_of(name))), "warn")


def errors_of_the_world(site: Site, world: World) -> Html:
    """Tell what was not as the controller believes, and fold every other number of this world."""
    believed, probe, supply = site.rig.probe, world.probe, world.supply
    pairs = [
        ("pH probe, offset", f"{probe.offset_mv:g} mV; the controller believes {believed.offset_mv:g} mV"),
        (
            "pH probe, slope",
            f"{100 * probe.slope_share:g} % of theory; the controller believes "
            f"{100 * believed.slope_share:g} %",
        ),
        ("pH probe, bias while motors run", f"{probe.stray_mv:g} mV"),
        (
            "Pumps, error of their calibration",
            f"each its own, at most ±{100 * world.pumps.calibration_error:g} %",
        ),
        ("Flow meter", f"reads {percent(supply.meter_error)}"),
        ("Supply, flow", f"{100 * supply.flow_share:g} % of the rated one"),
        ("Supply, temperature", celsius(supply.temperature_c)),
        ("Bottles", f"had stood for {world.bottles.stood_hours:g} h when the night began"),
    ]
    lead = element("p", "What was so in this simulated world, whatever the settings say.", "soft")
    return section(
        "Errors of this world", lead, facts(pairs), folded("Every number of this world", _all(world))
    )


def _all(world: World) -> Html:
    head = ("what", "value")
    return table("As in simulated.toml, or what stands in for it", head, _numbers(world), numbers=(1,))


def _numbers(world: World) -> list[tuple[str, str]]:
    """Give every plain value of every table, by the name of its table; the unit ends the name."""
    rows = []
    for of in fields(world):
        part = getattr(world, of.name)
        if not is_dataclass(part):
            continue
        values = ((line.name, getattr(part, line.name)) for line in fields(part))
        rows += [
            (f"{of.name}.{name}", f"{value}")
            for name, value in values
            if isinstance(value, float | int | str)
        ]
    return rows
