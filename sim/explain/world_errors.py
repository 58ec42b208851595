"""What was wrong in a simulated night, in words: faults that struck on purpose, and the errors of its world.

Nothing is plotted here, and nothing is judged.
"""

from __future__ import annotations

from collections.abc import Mapping

from controller.record.batch_record import BatchRecord
from controller.record.page import Html, element, facts, folded, join, section, table
from controller.record.words import celsius, duration, later, percent, time_of_day
from controller.settings.values import PhProbe, Site
from sim.explain.world_numbers import numbers
from sim.faults import FAULTS
from sim.faults.book import words_of
from sim.outcome import NightOutcome
from sim.true_instruments import TrueProbe
from sim.world import World

AS_IT_BEGAN = (
    "What was so in this simulated world as the night began, whatever the settings say. What was broken on "
    "purpose later is not in these figures."
)
FAULT_WORDS: Mapping[str, str] = {
    name: fault.told_of(fault.strikes.placeholder) for name, fault in FAULTS.items()
}


def broken_on_purpose(outcome: NightOutcome) -> Html:
    """Tell each fault that struck, with its moment and what it was, and what became of the record."""
    items = [_fault(outcome.record, at_s, name) for at_s, name in outcome.struck]
    items += [
        element(
            "li", f"{name} was to strike {duration(at_s)} into the night, which had ended by then.", "warn"
        )
        for at_s, name in outcome.never_struck
    ]
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
    supply = world.supply
    pairs = _probe("pH probe", world.probe, site.rig.probe)
    if world.second_probe is not None and site.rig.second_probe is not None:
        pairs += _probe("Second pH probe", world.second_probe, site.rig.second_probe)
    if site.rig.scales:
        pairs.append(("Scales", _scales(world)))
    pairs += [
        ("Conductivity cell", f"reads {percent(world.cell.cell_error)}"),
        ("Level sensor", f"takes {100 * world.level.foam_share:g} % of the foam's height for water"),
        (
            "Pumps, error of their calibration",
            f"each its own, at most ±{100 * world.pumps.calibration_error:g} %",
        ),
        ("Flow meter", f"reads {percent(supply.meter_error)}"),
        ("Supply, flow", f"{100 * supply.flow_share:g} % of the rated one"),
        ("Supply, temperature", celsius(supply.temperature_c)),
        ("Bottles", f"had stood for {world.bottles.stood_hours:g} h when the night began"),
    ]
    lead = element("p", AS_IT_BEGAN, "soft")
    return section(
        "Errors of this world", lead, facts(pairs), folded("Every number of this world", _all(world))
    )


def _probe(name: str, true: TrueProbe, believed: PhProbe) -> list[tuple[str, str]]:
    return [
        (f"{name}, offset", f"{true.offset_mv:g} mV; the controller believes {believed.offset_mv:g} mV"),
        (
            f"{name}, slope",
            f"{100 * true.slope_share:g} % of theory; the controller believes "
            f"{100 * believed.slope_share:g} %",
        ),
        (
            f"{name}, pH at which warmth changes nothing",
            f"{true.isopotential_ph:g}; the controller believes {believed.isopotential_ph:g}",
        ),
        (
            f"{name}, drift",
            f"{true.drift_mv_h:g} mV an hour, and to and fro by some {true.reference_wander_mv:g} mV",
        ),
        (
            f"{name}, bias while motors run",
            f"stir pump {true.stray_mv:g} mV, air pump {true.stray_air_mv:g} mV, "
            f"dosing pumps {true.stray_motor_mv:g} mV",
        ),
    ]


def _scales(world: World) -> str:
    true = world.scales
    return (
        f"each reads {percent(true.span_error)} of its load, {true.drift_g_k:g} g more for each kelvin above "
        f"20 °C, noise {true.scale_noise_g:g} g, and {true.vibration_g:g} g more while something runs there"
    )


def _all(world: World) -> Html:
    head = ("line", "value")
    caption = "As written in simulated.toml, or what stands in for a line that is not there"
    return table(caption, head, numbers(world), numbers=(1,))
