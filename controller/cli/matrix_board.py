"""The board alone, as a second table of the matrix: what switches everything off without the computer.

The numbers are the limits that this site's board must hold; how the board judges is in its own firmware.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from controller.service.board_settings import limits_of
from controller.settings.values import Site
from firmware_bridge import registers as reg
from firmware_bridge.firmware.limits import Limits

LATCHED = "a person presses the board's reset with every cause gone"
ARMED = "an all-off command of the computer"


@dataclass(frozen=True, slots=True)
class BoardTrip:
    """One trip of the board: its code in the register map, when it comes, and what ends it."""

    code: int
    cause: str
    trip_point: str
    clear: str

    @property
    def latched(self) -> bool:
        """Tell whether only a person at the rig can end it."""
        return self.clear == LATCHED


def board_trips(site: Site) -> tuple[BoardTrip, ...]:
    """Give every trip of this site's board. Each one switches valve, pumps and enable off at once."""
    limits = limits_of(site)
    caps, nights = _caps(site, limits.dose_caps), _caps(site, limits.night_caps)
    tank = site.rig.tank
    return (
        BoardTrip(reg.TRIP_LEASE, "host silent", _lease(limits), ARMED),
        BoardTrip(reg.TRIP_HIGH_FLOAT, "high float", f"board's float up ({tank.high_float_l:g} L)", LATCHED),
        BoardTrip(reg.TRIP_LEAK, "leak", "leak sensor wet", LATCHED),
        BoardTrip(reg.TRIP_VALVE_TIME, "valve time cap", _valve(limits), LATCHED),
        BoardTrip(reg.TRIP_DOSE_CAP, "dose cap", f"one dose asked for above {caps}", LATCHED),
        BoardTrip(reg.TRIP_NIGHT_CAP, "night cap", f"doses of one night above {nights}", LATCHED),
        BoardTrip(
            reg.TRIP_COMMAND,
            "forbidden command",
            "a second motor, a dose with the valve open, a dose or opening changed under its id, a wrong "
            "channel or value",
            LATCHED,
        ),
        BoardTrip(reg.TRIP_SELF_TEST, "self-test", "any self-test of the board fails", LATCHED),
        BoardTrip(
            reg.TRIP_MEMORY,
            "memory lost",
            "what the board keeps over a restart is lost, or cannot be written",
            LATCHED,
        ),
    )


def _lease(limits: Limits) -> str:
    return f"no command or renewal for {limits.lease_ms / 1000:g} s while anything is on"


def _valve(limits: Limits) -> str:
    once, night = limits.valve_cap_ms / 1000, limits.valve_night_cap_ms / 1000
    return f"one opening asked for above {once:g} s, or openings of one night above {night:g} s"


def _caps(site: Site, counts: Sequence[int]) -> str:
    """Word the caps of the channels that have a pump."""
    pumps = sorted(site.rig.pumps.values(), key=lambda pump: pump.channel)
    return ", ".join(
        f"{counts[pump.channel]} counts of {pump.name} ({counts[pump.channel] * pump.ml_per_count:.0f} mL)"
        for pump in pumps
    )
