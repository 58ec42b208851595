"""One alarm: its states by ISA-18.2 / IEC 62682, its delays, and what of it goes on record.

Data and what can be read from it alone; how alarms change is in `alarms.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from controller.record.events import AlarmState
from controller.run.alarm_budget import STILL_S, Episode
from controller.run.interlock_row import Clear, Interlock

OFF_DELAY_S = 10.0


class AlarmStatus(Enum):
    """The state of one alarm. LATCHED: its cause has gone and waits for a person's acknowledgement."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned unacknowledged"
    LATCHED = "latched"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"


@dataclass(frozen=True, slots=True)
class Notice:
    """One change of an alarm that goes on record."""

    row: Interlock
    state: AlarmState
    text: str
    first_out: bool = False


@dataclass(frozen=True, slots=True)
class Standing:
    """A cause that is active. `holds` False: its condition has gone and only the latch keeps it."""

    row: Interlock
    holds: bool


@dataclass(slots=True)
class Track:
    """One cause as announced. `silent` is why it is not."""

    row: Interlock
    episode: Episode
    text: str = ""
    active: bool = False
    holds: bool = False
    gone_s: float = 0.0
    announced: bool = False
    returned: bool = False
    acknowledged: bool = False
    told: int = 0
    silent: str | None = None
    silences: set[str] = field(default_factory=set)

    @property
    def unheard(self) -> bool:
        """Tell whether it has been announced and nobody has acknowledged it."""
        return self.announced and not self.acknowledged

    @property
    def chattering(self) -> bool:
        """Tell whether it came again within its episode: then it stands until it has been still."""
        return self.told > 1

    @property
    def off_delay_s(self) -> float:
        """Give how long it must have gone before that is told."""
        if self.chattering:
            return STILL_S
        return OFF_DELAY_S if self.row.clear is Clear.BY_ITSELF else 0.0

    @property
    def status(self) -> tuple[AlarmStatus, str]:
        """Give its state while it is not shelved, and the reason of a silence."""
        if not (self.active or self.announced):
            return AlarmStatus.NORMAL, ""
        if not self.announced:
            return AlarmStatus.SUPPRESSED, self.silent or ""
        if self.acknowledged:
            return AlarmStatus.ACKNOWLEDGED, ""
        if self.returned:
            return AlarmStatus.RETURNED, ""
        latched = self.active and not self.holds
        return (AlarmStatus.LATCHED if latched else AlarmStatus.UNACKNOWLEDGED), ""
