"""The rigs that `tankhand serve` can run: the wired one, and the simulated one on gpiozero's mock pins.

Each is built, handed out ready to scan, and taken down again with every output off. Nothing is decided here.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from controller.settings.faults import SiteFaults
from firmware_bridge.faults import HardwareFault

if TYPE_CHECKING:
    from controller.run.request import RigPort
    from controller.service.lamp_and_sounder import Show
    from controller.service.live import Writer
    from controller.service.pace import Pace
    from controller.service.unfinished import BoardMotions
    from controller.settings.values import Site
    from firmware_bridge.board import BoardLink
    from firmware_bridge.connect import Expected
    from firmware_bridge.panel import Panel


@dataclass(frozen=True, slots=True)
class ServedRig:
    """A rig ready to scan: port, pace, time of day, the record's writer, motions, lamp and sounder."""

    port: RigPort
    pace: Pace
    wall_start: datetime
    writer: Writer
    motions: BoardMotions
    show: Show
    trouble: Callable[[], str | None]


@contextmanager
def wired_rig(site: Site, port: str | None) -> Iterator[ServedRig]:
    """Open line and pins, prove that it is the right board, and give the wired rig.

    `port` None: the site's own. Raises SiteFaults and HardwareFault before anything has moved.
    """
    from controller.cli.board.line import open_board, port_of
    from controller.cli.pipe_place import place_for_pipe
    from controller.record.writer import ThreadWriter
    from controller.service.board_settings import expected_of
    from controller.service.pace import SteadyPace
    from controller.settings.not_wired import PORT, not_wired
    from firmware_bridge.connect import connect
    from firmware_bridge.panel import Panel
    from firmware_bridge.pin_factory import pin_factory
    from firmware_bridge.rig import WiredRig
    from firmware_bridge.serial_line import BOARD_ALLOWANCE_S

    pins = site.rig.pins
    missing = [fault for fault in not_wired(site) if port is None or fault.key != PORT]
    if missing or pins is None:
        raise SiteFaults(missing)
    with place_for_pipe(), open_board(site, port_of(site, port), BOARD_ALLOWANCE_S) as link:
        wanted = expected_of(site)
        connect(link, wanted)
        with (
            Panel(pins, pin_factory("lgpio")) as panel,
            WiredRig(link, panel, lambda: fits(link, wanted)) as rig,
        ):
            yield ServedRig(
                port=rig,
                pace=SteadyPace(time.monotonic, time.sleep),
                wall_start=datetime.now(ZoneInfo(site.policy.time_zone)),
                writer=ThreadWriter,
                motions=lambda: counts_by_dose(link),
                show=panel.show,
                trouble=lambda: unread(panel),
            )


@contextmanager
def simulated_rig(site: Site, seed: int, speed: float | None, *, in_vm: bool) -> Iterator[ServedRig]:
    """Give the simulated rig in its own time; its wall is the real panel code on gpiozero's mock pins.

    `speed` None: as fast as it goes. A site whose pins are not written down has a wall without gpiozero.
    """
    from controller.record.writer import InlineWriter, ThreadWriter
    from sim.first_night import first_night, start_of
    from sim.gpio_wall import GpioWall
    from sim.pace import SimPace
    from sim.rig import SimRig
    from sim.vm.board import vm_board
    from sim.world import load_world

    with ExitStack() as taken_down:
        board = taken_down.enter_context(vm_board(site)) if in_vm else None
        rig = SimRig(site, load_world(site), seed, board=board)
        show: Show = _show_nothing
        if site.rig.pins is not None:
            rig.wall = GpioWall(site.rig.pins, lambda: rig.now_s)
            taken_down.callback(rig.wall.close)
            show = rig.wall.panel.show
        yield ServedRig(
            port=rig,
            pace=SimPace(rig, speed, time.monotonic, time.sleep),
            wall_start=start_of(site, first_night(site)),
            # As fast as it goes is faster than any disk: then the record is waited for, and not the night.
            writer=InlineWriter if speed is None else ThreadWriter,
            motions=dict,
            show=show,
            trouble=lambda: None if board is None else board.fault,
        )


def counts_by_dose(link: BoardLink) -> dict[tuple[int, int], int] | None:
    """Give the counts done by boot id and dose id, the last dose of each channel; None from a silent board.

    A dose id alone proves nothing: another record on this computer may have used the same one.
    """
    image, motions = link.read(), link.read_motions()
    if image is None or motions is None:
        return None
    return {(image.boot_id, one.last_dose_id): one.count_done for one in motions if one.last_dose_id}


def fits(link: BoardLink, wanted: Expected) -> bool:
    """Say whether the board that answers is the one that this site wants."""
    from firmware_bridge.connect import connect

    try:
        connect(link, wanted)
    except HardwareFault:
        return False
    return True


def unread(panel: Panel) -> str | None:
    """Tell which contacts could not be read: each was taken for the worst, and its alarm says no more."""
    return f"no reading from {', '.join(panel.unread)}" if panel.unread else None


def _show_nothing(lamp: bool, sounder: bool) -> None:
    """Do without lamp and sounder."""
