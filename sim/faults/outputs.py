"""Faults of what is switched: fill valve, stir pump, air pump, agitators, drain, feed permit.

A welded relay still needs the board's enable to feed it; the fill valve does not hang on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.faults.fault import Act, Fault, Strikes, plainly
from sim.relays import AIR, DRAIN, PERMIT, STIR

if TYPE_CHECKING:
    from sim.rig import SimRig


def _stuck_open(rig: SimRig) -> None:
    rig.plant.valve_stuck_open = True


def _stuck_shut(rig: SimRig) -> None:
    rig.plant.valve_stuck_shut = True


def _welded(relay: str) -> Act:
    return plainly(lambda rig: rig.relays.welded.add(relay))


def _dead(relay: str) -> Act:
    return plainly(lambda rig: rig.relays.dead.add(relay))


def _agitator_dead(rig: SimRig, of: str) -> None:
    agitator = rig.site.inputs[of].agitator
    if agitator is not None:
        rig.relays.dead.add(agitator)


def _agitator_runs_on(rig: SimRig, of: str) -> None:
    agitator = rig.site.inputs[of].agitator
    if agitator is not None:
        rig.relays.welded.add(agitator)


FAULTS = (
    Fault(
        "valve-stuck-open",
        "The fill valve stuck open: it lets water through whatever it is told.",
        plainly(_stuck_open),
    ),
    Fault("valve-stuck-shut", "The fill valve stuck shut.", plainly(_stuck_shut)),
    Fault("stir-dead", "The stir pump did not run any more.", _dead(STIR)),
    Fault(
        "stir-runs-on", "The relay of the stir pump welded: it runs as long as it has power.", _welded(STIR)
    ),
    Fault("air-dead", "The air pump did not run any more.", _dead(AIR)),
    Fault("air-runs-on", "The relay of the air pump welded: it runs as long as it has power.", _welded(AIR)),
    Fault(
        "agitator-dead",
        "The agitator in the bottle of {of} did not run any more.",
        _agitator_dead,
        Strikes.AGITATOR,
    ),
    Fault(
        "agitator-runs-on",
        "The relay of the agitator in the bottle of {of} welded.",
        _agitator_runs_on,
        Strikes.AGITATOR,
    ),
    Fault(
        "drain-stuck-open",
        "The relay of the drain welded: the tank runs out while it has power.",
        _welded(DRAIN),
    ),
    Fault("drain-dead", "The drain did not open any more.", _dead(DRAIN)),
    Fault(
        "permit-welded",
        "The relay of the feed permit welded: the feed pump may run as long as the rig has power.",
        _welded(PERMIT),
    ),
    Fault("permit-dead", "The relay of the feed permit did not close any more.", _dead(PERMIT)),
)
