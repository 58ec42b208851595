"""Faults of the pH electrodes, their cables and modules, and of the switch between two of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from firmware_bridge.registers import NO_READING
from sim.faults.fault import SECOND, Act, Fault, Strikes, plainly
from sim.sensing import probe_condition as ailing
from sim.sensing.probe import PhProbe
from sim.sensing.probe_condition import ProbeCondition

if TYPE_CHECKING:
    from sim.rig import SimRig


def _reading(of: str) -> str:
    """Return what the board's pins call the reading of this probe."""
    return "second ph" if of == SECOND else "ph"


def _electrode(rig: SimRig, of: str) -> PhProbe:
    instruments = rig.plant.instruments
    second = instruments.second_probe
    return second if of == SECOND and second is not None else instruments.probe


def _probe(condition: ProbeCondition) -> Act:
    def change(rig: SimRig, of: str) -> None:
        rig.pins.overrides.pop(_reading(of), None)
        _electrode(rig, of).condition = condition

    return change


def _frozen(rig: SimRig, of: str) -> None:
    instruments = rig.plant.instruments
    instruments.ph_mv(rig.now_s)
    given_mv = _electrode(rig, of).mv(rig.now_s)
    rig.pins.overrides[_reading(of)] = instruments.front_end.ph_decimv(given_mv)


def _lost(rig: SimRig, of: str) -> None:
    rig.pins.overrides[_reading(of)] = NO_READING


def _switch(stuck: bool) -> Act:
    def change(rig: SimRig) -> None:
        rig.plant.instruments.switch_stuck = stuck

    return plainly(change)


def _fault(name: str, words: str, act: Act) -> Fault:
    return Fault(name, words, act, Strikes.PROBE)


FAULTS = (
    _fault(
        "probe-open", "The cable of the {of}pH probe broke: its input is open.", _probe(ailing.OPEN_INPUT)
    ),
    _fault(
        "probe-floating",
        "The cable of the {of}pH probe broke: its input floats about.",
        _probe(ailing.FLOATING_INPUT),
    ),
    _fault("probe-lost", "The {of}pH probe gave no reading any more.", _lost),
    _fault(
        "probe-frozen",
        "The module of the {of}pH probe hung: it repeats what it gave at that moment.",
        _frozen,
    ),
    _fault(
        "probe-broken-glass",
        "The glass of the {of}pH probe broke: it gives the same whatever the pH.",
        _probe(ailing.BROKEN_GLASS),
    ),
    _fault("probe-wet-plug", "The plug of the {of}pH probe became wet.", _probe(ailing.WET_PLUG)),
    _fault("probe-dried-out", "The {of}pH probe had dried out.", _probe(ailing.DRIED)),
    _fault("probe-filmed", "A film grew on the {of}pH probe: it follows slowly.", _probe(ailing.FILMED)),
    _fault(
        "probe-drifting",
        "The reference of the {of}pH probe was poisoned: it jumped and drifts.",
        _probe(ailing.POISONED_REFERENCE),
    ),
    _fault(
        "probe-ground-loop",
        "A ground loop let running motors into the {of}pH probe.",
        _probe(ailing.GROUND_LOOP),
    ),
    _fault("probe-well", "The {of}pH probe was put right.", _probe(ailing.HEALTHY)),
    Fault(
        "probe-switch-stuck",
        "The switch between the two pH probes stuck: the board reads the first one twice.",
        _switch(True),
        Strikes.SWITCH,
    ),
    Fault(
        "probe-switch-free",
        "The switch between the two pH probes moved again.",
        _switch(False),
        Strikes.SWITCH,
    ),
)
