"""Readings: the input image in litres, pH and degrees.

Conversion only; whether a reading may be trusted for a purpose is judged by interlocks and phases.
A reading that the rig did not give is None.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.measure.electrode import ph_from_mv, probe_verdict
from controller.measure.level import litres_at, litres_flowed
from controller.run.image import Image
from controller.settings.values import Rig


@dataclass(frozen=True, slots=True)
class Readings:
    """What the tank looks like now. `flow_l` counts up since the board booted."""

    level_l: float | None
    ph: float | None
    tank_c: float | None
    supply_c: float | None
    ec_us_cm: float | None
    flow_l: float | None


NOTHING = Readings(None, None, None, None, None, None)


def readings_from(image: Image, rig: Rig) -> Readings:
    """Convert one image; everything is None when the board is silent."""
    board = image.board
    if board is None:
        return NOTHING
    level_l = None if board.level_mm is None else litres_at(board.level_mm, rig.tank)
    return Readings(
        level_l=level_l,
        ph=_ph(board.ph_mv, board.tank_c, rig),
        tank_c=board.tank_c,
        supply_c=board.supply_c,
        ec_us_cm=board.ec_us_cm,
        flow_l=litres_flowed(board.flow_pulses, rig.fill),
    )


def _ph(ph_mv: float | None, tank_c: float | None, rig: Rig) -> float | None:
    if ph_mv is None or tank_c is None:
        return None
    if not probe_verdict(ph_mv, tank_c, rig.probe).usable:
        return None
    return ph_from_mv(ph_mv, tank_c, rig.probe)
