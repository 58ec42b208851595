"""The input image: everything the controller knows about the rig in one scan, frozen.

Raw readings only, as the hardware gives them; `readings.py` turns them into litres and pH.
No decisions live here. A part that did not answer is None, never its last known value.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Selector(Enum):
    """Hand-Off-Auto selector. IMPOSSIBLE: the contacts contradict each other."""

    HAND = "hand"
    OFF = "off"
    AUTO = "auto"
    IMPOSSIBLE = "impossible"


class Trip(Enum):
    """Why the board switched itself off; latched there until a local reset."""

    LEASE = "host silent"
    HIGH_FLOAT = "high float"
    LEAK = "leak"
    VALVE_TIME = "valve time cap"
    DOSE_CAP = "dose cap"
    NIGHT_CAP = "night cap"
    COMMAND = "forbidden command"
    SELF_TEST = "self-test"
    MEMORY = "memory lost"


@dataclass(frozen=True, slots=True)
class Motion:
    """The last counted motion the board knows. `dose_id` 0: none since it booted."""

    channel: int
    dose_id: int
    target_count: int
    count_done: int
    running: bool


@dataclass(frozen=True, slots=True)
class BoardImage:
    """What the microcontroller board says.

    `first_trip` is the reason that came first; `open_id` is the last opening of the valve, 0 for none.
    """

    boot_id: int
    uptime_ms: int
    trips: frozenset[Trip]
    first_trip: Trip | None
    enabled: bool
    valve_open: bool
    open_id: int
    high_float: bool
    leak: bool
    motion: Motion
    ph_mv: float | None
    ec_us_cm: float | None
    tank_c: float | None
    supply_c: float | None
    level_mm: float | None
    flow_pulses: int
    second_ph_mv: float | None = None
    scales_g: tuple[float | None, ...] = ()


@dataclass(frozen=True, slots=True)
class PanelImage:
    """What the single-board computer's own pins say.

    `estop_ok` False: emergency stop pressed or its wire cut.
    """

    selector: Selector
    button: bool
    estop_ok: bool
    high_float: bool
    low_float: bool


@dataclass(frozen=True, slots=True)
class Image:
    """One scan's inputs. `board` is None when it did not answer in time."""

    board: BoardImage | None
    panel: PanelImage
