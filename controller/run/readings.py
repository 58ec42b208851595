"""Readings: the input image in litres, pH and degrees.

Conversion only; whether a reading may be trusted for a purpose is judged by interlocks and phases.
A reading that the rig did not give is None.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.measure.electrode import ph_from_mv, probe_verdict
from controller.measure.level import litres_at, litres_flowed
from controller.record.events import Reading
from controller.run.image import Image
from controller.settings.values import Rig


@dataclass(frozen=True, slots=True)
class Readings:
    """What the tank looks like now. `flow_l` counts up since the board booted.

    `ph_proven` False: shown, but it may come from a broken probe and must not be judged.
    """

    level_l: float | None
    ph: float | None
    ph_proven: bool
    tank_c: float | None
    ec_us_cm: float | None
    flow_l: float | None


NOTHING = Readings(None, None, False, None, None, None)


def readings_from(image: Image, rig: Rig, probe_moved_mv: float | None) -> Readings:
    """Convert one image; everything is None when the board is silent.

    `probe_moved_mv` is how far the pH signal has been seen to move tonight, None when nobody watched.
    """
    board = image.board
    if board is None:
        return NOTHING
    level_l = None if board.level_mm is None else litres_at(board.level_mm, rig.tank)
    if level_l is not None and not 0.0 <= level_l <= rig.tank.brim_l:
        level_l = None
    verdict = probe_verdict(board.ph_mv, board.tank_c, rig.probe, probe_moved_mv)
    ph = None
    if verdict.usable and board.ph_mv is not None and board.tank_c is not None:
        ph = ph_from_mv(board.ph_mv, board.tank_c, rig.probe)
    return Readings(
        level_l=level_l,
        ph=ph,
        ph_proven=verdict.proven,
        tank_c=board.tank_c,
        ec_us_cm=board.ec_us_cm,
        flow_l=litres_flowed(board.flow_pulses, rig.fill),
    )


def reading_event(readings: Readings, batch: int, number: int, ph: float | None, accepted: bool) -> Reading:
    """Word a look at the tank for the record; `ph` is the one that was judged, or just seen."""
    return Reading(
        batch=batch,
        number=number,
        level_l=readings.level_l,
        ph=ph,
        temperature_c=readings.tank_c,
        ec_us_cm=readings.ec_us_cm,
        accepted=accepted,
    )
