"""What a phase is: the small object that carries out one step, scan by scan.

The words every phase shares live here: what it is shown (`View`), what it answers (`Turn`) and what the
batch remembers between phases (`Memory`). No phase lives here, and no phase keeps time by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Protocol

from controller.measure.buffering import Direction
from controller.measure.trim import TrimState
from controller.measure.trim_history import NO_HISTORY, TrimHistory
from controller.measure.tube import TubeEstimate
from controller.plan.steps import AnyStep, Plan
from controller.record.events import AnyEvent
from controller.run.arrived import Arrivals
from controller.run.image import Image
from controller.run.readings import Readings
from controller.run.request import ALL_OFF, Request
from controller.run.situation import Cause, Trouble
from controller.settings.values import Site


@dataclass(frozen=True, slots=True)
class Accepted:
    """A pH reading that may be judged: taken settled and stable.

    `doubt_ph` is the standard uncertainty of its mean by the scatter of its samples; what the probe itself is
    off by is not in it. `ec_us_cm` is the conductivity seen with it, None where there is none.
    """

    ph: float
    temperature_c: float
    at_s: float
    doubt_ph: float = 0.0
    ec_us_cm: float | None = None


READING_KEEPS_S = 120.0


@dataclass(slots=True)
class Memory:
    """What a batch knows from one phase to the next.

    `agitating_since_s` holds, for each agitator now on, since when without a break.
    `readings` are the accepted ones in order, `settling` what each pH probe said since the last stir (time,
    pH). `boot_id` is the board's, as the batch believes it.
    `trim_asked` is the trim under way: its direction and the reading before it; `trim_dosed_ml` what
    of it has gone in; `trim_waits`: a trim is given more time. `history` is what earlier nights taught.
    `asked_ml` is what was asked of each pump tonight; `refilled` are the inputs whose bottle a person was
    sent to. `tubes` are the running estimates by pump, `weighed_in` the step that last taught each;
    `told` is what is told once a night, and of what;
    `stood_g` is what stood on each scale when it was last seen at rest; `arrivals` follow the level;
    `amending` are the tickets of amounts that were taken back and are perhaps not on disk yet.
    """

    batch: int
    plan: Plan
    next_dose_id: int
    boot_id: int | None = None
    last_open_id: int = 0
    agitating_since_s: dict[str, float] = field(default_factory=dict)
    readings: list[Accepted] = field(default_factory=list)
    settling: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    dosed_since_reading: bool = False
    trim: TrimState = field(default_factory=TrimState)
    trim_asked: tuple[Direction, Accepted] | None = None
    trim_dosed_ml: float = 0.0
    trim_waits: bool = False
    history: TrimHistory = NO_HISTORY
    asked_ml: dict[str, float] = field(default_factory=dict)
    refilled: set[str] = field(default_factory=set)
    tubes: dict[str, TubeEstimate] = field(default_factory=dict)
    weighed_in: dict[str, int] = field(default_factory=dict)
    told: set[tuple[Cause, str]] = field(default_factory=set)
    stood_g: dict[str, float] = field(default_factory=dict)
    arrivals: Arrivals = field(default_factory=Arrivals)
    amending: list[int] = field(default_factory=list)
    released: bool = False
    released_at_s: float | None = None

    def take_dose_id(self, above: int) -> int:
        """Give the next dose id, larger than `above`; none is ever given twice."""
        dose_id = max(self.next_dose_id, above + 1)
        self.next_dose_id = dose_id + 1
        return dose_id

    def take_open_id(self, above: int) -> int:
        """Give a fresh id for one opening of the fill valve, larger than `above` and than any before."""
        self.last_open_id = max(self.last_open_id, above) + 1
        return self.last_open_id

    def reading_is_old(self, now_s: float) -> bool:
        """Tell whether the last reading is so old (after a hold, say) that it proves nothing."""
        return self.last_reading is not None and now_s - self.last_reading.at_s > READING_KEEPS_S

    @property
    def last_reading(self) -> Accepted | None:
        """Give the newest accepted reading, None when something was dosed after it."""
        return self.readings[-1] if self.readings and not self.dosed_since_reading else None


@dataclass(frozen=True, slots=True)
class View:
    """What a phase sees in one scan. `elapsed_s` counts only time spent running this phase.

    `today` is None when the wall clock cannot be trusted. `put` hands an event to the record and gives its
    ticket; `durable` tells whether a ticket is on disk.
    """

    now_s: float
    elapsed_s: float
    number: int
    today: date | None
    image: Image
    readings: Readings
    site: Site
    memory: Memory
    put: Callable[[AnyEvent], int]
    durable: Callable[[int], bool]


@dataclass(frozen=True, slots=True)
class Turn:
    """A phase's answer: what it wants on, and when it wants to be asked again at the latest.

    `insert` are steps to be carried out right after this one. `note` is kept when the step ends.
    """

    request: Request = ALL_OFF
    wake_s: float = 0.0
    done: bool = False
    note: str = ""
    trouble: Trouble | None = None
    insert: tuple[AnyStep, ...] = ()


class Phase(Protocol):
    """Carry out one step."""

    def scan(self, view: View) -> Turn:
        """Look once, ask once."""
        ...

    def suspend(self, view: View) -> Trouble | None:
        """Take a hold; tell what it leaves in doubt."""
        ...

    def resume(self, view: View) -> None:
        """Prepare to go on after a hold: what a pause has spoilt starts again."""
        ...

    def abandon(self, view: View) -> None:
        """Write down what would otherwise be lost; called once when the batch stops or aborts."""
        ...


class PlainPhase:
    """A phase that a hold does not spoil and that leaves nothing unwritten."""

    def suspend(self, view: View) -> Trouble | None:
        """Leave nothing in doubt."""
        return None

    def resume(self, view: View) -> None:
        """Go on where the hold began."""

    def abandon(self, view: View) -> None:
        """Leave nothing behind."""
