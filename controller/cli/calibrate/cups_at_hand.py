"""Who puts the sensor into the cups: the person at the real rig, or a simulated one.

Chosen here and nowhere else; reading the course of a cup is `controller.service.cup_readings`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar
from zoneinfo import ZoneInfo

import click

if TYPE_CHECKING:
    from controller.service.cup_readings import Cups
    from controller.settings.values import Site
    from firmware_bridge.board import BoardLink

HARDWARE, SIM = "hardware", "sim"
CUP_C = 22.0
EVERY_LOOKS = 5

Function = TypeVar("Function", bound=Callable[..., Any])


def rig_option(function: Function) -> Function:
    """Give a command `--rig`: the real board and a person, or both simulated."""
    return click.option(
        "--rig",
        type=click.Choice([HARDWARE, SIM]),
        default=HARDWARE,
        show_default=True,
        help="Read the real board while you move the sensor, or let all of it be simulated.",
    )(function)


@dataclass(frozen=True, slots=True)
class BoardLook:
    """What the real board shows at one moment."""

    at_s: float
    mv: float | None
    us_cm: float | None
    temperature_c: float | None


class AtTheRig:
    """The person at the rig: told what to do, and believed when Enter is pressed."""

    def __init__(self, link: BoardLink, sensor: str, second: bool, temperature_c: float | None) -> None:
        self._link = link
        self._sensor = sensor
        self._second = second
        self._temperature_c = temperature_c

    def put_into(self, label: str) -> None:
        """Say what to do and wait for Enter."""
        beside = "" if self._temperature_c is not None else " and the tank thermometer"
        text = (
            f"Rinse {self._sensor} with clean water and blot it (do not rub). Put it{beside} into {label}, "
            f"swirl once, and press Enter"
        )
        click.prompt(text, default="", show_default=False, prompt_suffix=". ", err=True)

    def wait(self, seconds: float) -> None:
        """Let real time pass."""
        time.sleep(seconds)

    def read(self) -> BoardLook:
        """Look at the board once."""
        image, now_s = self._link.read(), time.monotonic()
        if image is None:
            return BoardLook(now_s, None, None, None)
        mv = image.second_ph_mv if self._second else image.ph_mv
        celsius = image.tank_c if self._temperature_c is None else self._temperature_c
        return BoardLook(now_s, mv, image.ec_us_cm, celsius)


@contextmanager
def cups_at_hand(
    site: Site,
    rig: str,
    port: str | None,
    sensor: str,
    *,
    second: bool,
    temperature_c: float | None,
    seed: int,
) -> Iterator[Cups]:
    """Give the cups of the chosen rig for as long as the block runs. Raises SiteFaults and HardwareFault."""
    if rig == SIM:
        from sim.buffer_cups import BufferCups
        from sim.world import load_world

        cup_c = CUP_C if temperature_c is None else temperature_c
        yield BufferCups(site, load_world(site), seed, second=second, cup_c=cup_c)
        return
    from controller.cli.board.line import open_board, port_of
    from controller.service.board_settings import expected_of
    from firmware_bridge.connect import connect

    with open_board(site, port_of(site, port)) as link:
        connect(link, expected_of(site))
        yield AtTheRig(link, sensor, second, temperature_c)


def warm_the_bottles(cups: Cups, rig: str) -> None:
    """Have the same bottles brought at another temperature: a person is told, a simulated one does it."""
    click.echo("Now the same bottles, at least 10 K warmer or colder.", err=True)
    if rig == SIM:
        from sim.buffer_cups import BufferCups

        assert isinstance(cups, BufferCups)
        cups.cup_c += 12.0


def moment_of(site: Site, rig: str) -> datetime:
    """Give the time of day at the site; what is simulated is done as the first simulated night begins."""
    if rig == SIM:
        from sim.first_night import first_night, start_of

        return start_of(site, first_night(site))
    return datetime.now(ZoneInfo(site.policy.time_zone))


class Progress:
    """Tell now and then what the board shows, on stderr."""

    def __init__(self, unit: str) -> None:
        self._unit = unit
        self._looks = 0

    def __call__(self, look: Any) -> None:
        """Take one look."""
        value = look.mv if self._unit == "mV" else look.us_cm
        if self._looks % EVERY_LOOKS == 0:
            shown = "no reading" if value is None else f"{value:.1f} {self._unit}"
            celsius = "" if look.temperature_c is None else f", {look.temperature_c:.1f} °C"
            click.echo(f"  {shown}{celsius}", err=True)
        self._looks += 1
