"""What the sequence may ask of the rig, and the port through which the rig is reached.

Only data and the protocol live here. A request becomes an output only by passing `guard.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from controller.run.image import Image


@dataclass(frozen=True, slots=True)
class DoseCommand:
    """Say "dose id X: reach count N".

    Repeating it moves nothing; the board refuses it under another boot id.
    """

    channel: int
    dose_id: int
    target_count: int
    counts_per_s: int
    boot_id: int


@dataclass(frozen=True, slots=True)
class FillCommand:
    """Open the fill valve for at most `max_ms` under a fresh `open_id`; refused under another boot id."""

    open_id: int
    max_ms: int
    boot_id: int


@dataclass(frozen=True, slots=True)
class Request:
    """Everything that is wanted on in this scan; what is not asked for is off."""

    fill: FillCommand | None = None
    dose: DoseCommand | None = None
    stir: bool = False
    air: bool = False
    agitators: frozenset[str] = frozenset()
    drain: bool = False
    permit: bool = False


ALL_OFF = Request()


class RigPort(Protocol):
    """The rig as the scan sees it: one read and one write a scan."""

    def read(self) -> Image:
        """Take one frozen image of every input."""
        ...

    def write(self, outputs: Request) -> None:
        """Drive every output once and renew the board's lease."""
        ...
