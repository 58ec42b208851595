"""Faults of the pH electrode, its cable and its module."""

from __future__ import annotations

from typing import TYPE_CHECKING

from firmware_bridge.registers import NO_READING
from sim.faults.fault import Act, Fault, plainly
from sim.sensing import probe_condition as ailing
from sim.sensing.probe_condition import ProbeCondition

if TYPE_CHECKING:
    from sim.rig import SimRig


def _probe(condition: ProbeCondition) -> Act:
    def change(rig: SimRig) -> None:
        rig.pins.overrides.pop("ph", None)
        rig.plant.instruments.probe.condition = condition

    return plainly(change)


def _frozen(rig: SimRig) -> None:
    instruments = rig.plant.instruments
    rig.pins.overrides["ph"] = instruments.front_end.ph_decimv(instruments.ph_mv(rig.now_s))


def _lost(rig: SimRig) -> None:
    rig.pins.overrides["ph"] = NO_READING


FAULTS = (
    Fault("probe-open", "The cable of the pH probe broke: its input is open.", _probe(ailing.OPEN_INPUT)),
    Fault(
        "probe-floating",
        "The cable of the pH probe broke: its input floats about.",
        _probe(ailing.FLOATING_INPUT),
    ),
    Fault("probe-lost", "The pH probe gave no reading any more.", plainly(_lost)),
    Fault(
        "probe-frozen",
        "The module of the pH probe hung: it repeats what it gave at that moment.",
        plainly(_frozen),
    ),
    Fault(
        "probe-broken-glass",
        "The glass of the pH probe broke: it gives the same whatever the pH.",
        _probe(ailing.BROKEN_GLASS),
    ),
    Fault("probe-wet-plug", "The plug of the pH probe became wet.", _probe(ailing.WET_PLUG)),
    Fault("probe-dried-out", "The pH probe had dried out.", _probe(ailing.DRIED)),
    Fault("probe-filmed", "A film grew on the pH probe: it follows slowly.", _probe(ailing.FILMED)),
    Fault(
        "probe-drifting",
        "The reference of the pH probe was poisoned: it jumped and drifts.",
        _probe(ailing.POISONED_REFERENCE),
    ),
    Fault(
        "probe-ground-loop",
        "A ground loop let running motors into the pH probe.",
        _probe(ailing.GROUND_LOOP),
    ),
    Fault("probe-well", "The pH probe was put right.", _probe(ailing.HEALTHY)),
)
