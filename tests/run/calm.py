"""A rig on which nothing is wrong, to change one thing at a time."""

from __future__ import annotations

from dataclasses import replace

from controller.run.image import BoardImage, Image, Motion, PanelImage, Selector
from controller.run.readings import Readings
from controller.run.request import ALL_OFF
from controller.run.situation import Situation

BOOT_ID = 77

BOARD = BoardImage(
    boot_id=BOOT_ID,
    uptime_ms=60_000,
    trips=frozenset(),
    first_trip=None,
    enabled=True,
    valve_open=False,
    open_id=0,
    high_float=False,
    leak=False,
    motion=Motion(channel=0, dose_id=0, target_count=0, count_done=0, running=False),
    ph_mv=20.0,
    ec_us_cm=900.0,
    tank_c=18.0,
    supply_c=16.0,
    level_mm=400.0,
    flow_pulses=1000,
)
PANEL = PanelImage(selector=Selector.AUTO, button=False, estop_ok=True, high_float=False, low_float=False)
READINGS = Readings(level_l=113.0, ph=6.6, ph_proven=True, tank_c=18.0, ec_us_cm=900.0, flow_l=2.2)

CALM = Situation(
    image=Image(BOARD, PANEL),
    readings=READINGS,
    driven=ALL_OFF,
    kind=None,
    boot_id_expected=BOOT_ID,
    fill=None,
    still_rise_l=0.0,
    stalled_s=0.0,
    held_s=0.0,
    trouble=None,
    guard_refused=None,
    record_fault=None,
)


def with_board(**changes: object) -> Situation:
    return replace(CALM, image=replace(CALM.image, board=replace(BOARD, **changes)))  # type: ignore[arg-type]


def with_panel(**changes: object) -> Situation:
    return replace(CALM, image=replace(CALM.image, panel=replace(PANEL, **changes)))  # type: ignore[arg-type]
