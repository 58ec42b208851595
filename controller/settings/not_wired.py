"""What rig.toml does not say yet about the wiring. Contradictions are refused when it is read."""

from __future__ import annotations

from controller.settings.faults import Fault
from controller.settings.values import Site

PORT, FRONT_ENDS, PINS = "board.port", "board.front_ends", "pins"

_REMEDIES = {
    PORT: (
        "the line to the board is not named",
        'write port = "/dev/serial/by-id/..."; `ls /dev/serial/by-id` lists those plugged in',
    ),
    FRONT_ENDS: (
        "the section is missing",
        "write what the pH, conductivity and level modules give the board, from their data sheets",
    ),
    PINS: (
        "the section is missing",
        "write the section [pins] with the GPIO number of each contact and relay",
    ),
}


def not_wired(site: Site) -> tuple[Fault, ...]:
    """List what is missing, each with its remedy."""
    written = {
        PORT: site.rig.board.port,
        FRONT_ENDS: site.rig.board.front_ends,
        PINS: site.rig.pins,
    }
    return tuple(missing(key) for key, value in written.items() if value is None)


def missing(key: str) -> Fault:
    """Tell that one of the three is missing."""
    problem, remedy = _REMEDIES[key]
    return Fault("rig.toml", key, "", problem, remedy)
