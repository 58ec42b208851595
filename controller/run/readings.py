"""Readings: the input image in litres, pH and degrees.

Conversion only; whether a reading may be trusted for a purpose is judged by interlocks and phases.
A reading that the rig did not give is None.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from controller.measure.electrode import ph_from_mv, probe_verdict
from controller.measure.level import litres_at, litres_flowed
from controller.measure.two_probes import FIRST, ONE, SECOND, ProbeSeen, apart_mv, one_signal, together
from controller.record.events import Reading
from controller.run.image import Image
from controller.settings.values import PhProbe, Rig


@dataclass(frozen=True, slots=True)
class ProbeMoved:
    """How a probe's signal has been seen to move: how far tonight, and for how long not at all."""

    moved_mv: float
    same_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Readings:
    """What the tank looks like now. `flow_l` counts up since the board booted.

    `ph` is the mean of what the probes say. `ph_proven` False: shown, but it may come from a broken probe and
    must not be judged; `ph_why` says why. `probes` are the fitted ones, the first one first.
    """

    level_l: float | None
    ph: float | None
    ph_proven: bool
    tank_c: float | None
    ec_us_cm: float | None
    flow_l: float | None
    ph_why: str = ""
    probes: tuple[ProbeSeen, ...] = ()


NOTHING = Readings(None, None, False, None, None, None, "the board does not answer")


def readings_from(
    image: Image,
    rig: Rig,
    first: ProbeMoved | None = None,
    second: ProbeMoved | None = None,
    seen_apart_mv: Sequence[float] = (),
) -> Readings:
    """Convert one image; everything is None when the board is silent.

    `first` and `second` say how the signals of the probes have been seen to move tonight, None when nobody
    watched; `seen_apart_mv` is how far the first stood above the second at the latest looks.
    """
    board = image.board
    if board is None:
        return NOTHING
    level_l = None if board.level_mm is None else litres_at(board.level_mm, rig.tank)
    if level_l is not None and not 0.0 <= level_l <= rig.tank.brim_l:
        level_l = None
    if rig.second_probe is None:
        probes: tuple[ProbeSeen, ...] = (_seen(ONE, board.ph_mv, board.tank_c, rig.probe, first),)
    else:
        probes = (
            _seen(FIRST, board.ph_mv, board.tank_c, rig.probe, first),
            _seen(SECOND, board.second_ph_mv, board.tank_c, rig.second_probe, second),
        )
    both = together(probes, _one_signal(probes, board.tank_c, rig, seen_apart_mv))
    factor = 1.0 if rig.cell is None else rig.cell.factor
    return Readings(
        level_l=level_l,
        ph=both.ph,
        ph_proven=both.proven,
        tank_c=board.tank_c,
        ec_us_cm=None if board.ec_us_cm is None else factor * board.ec_us_cm,
        flow_l=litres_flowed(board.flow_pulses, rig.fill),
        ph_why=both.why,
        probes=probes,
    )


def _seen(
    name: str, mv: float | None, tank_c: float | None, probe: PhProbe, moved: ProbeMoved | None
) -> ProbeSeen:
    moved_mv, same_s = (None, 0.0) if moved is None else (moved.moved_mv, moved.same_s)
    verdict = probe_verdict(mv, tank_c, probe, moved_mv, same_s)
    ph = None
    if verdict.usable and mv is not None and tank_c is not None:
        ph = ph_from_mv(mv, tank_c, probe)
    return ProbeSeen(name, ph, verdict)


def _one_signal(
    probes: Sequence[ProbeSeen], tank_c: float | None, rig: Rig, seen_apart_mv: Sequence[float]
) -> str:
    """Say that both signals come from one probe; empty when they do not, or when nothing tells."""
    readable = [probe.ph for probe in probes if probe.ph is not None]
    if rig.second_probe is None or tank_c is None or len(readable) < 2:
        return ""
    ph = sum(readable) / len(readable)
    return one_signal(seen_apart_mv, apart_mv(ph, tank_c, rig.probe, rig.second_probe))


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
