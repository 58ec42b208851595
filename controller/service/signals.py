"""What lamp and sounder of a live rig say, from snapshot to snapshot. No pins, no clock of its own."""

from __future__ import annotations

from collections.abc import Callable

from controller.run.situation import Cause
from controller.run.snapshot import Snapshot
from firmware_bridge.signals import lamp_on, signal_of, sounder_on

Show = Callable[[bool, bool], None]
"""Takes whether the lamp is lit and the sounder sounds."""


class Signals:
    """Follow the alarms of one rig; call it after every scan."""

    def __init__(self, show: Show) -> None:
        self._show = show
        self._unheard: frozenset[Cause] = frozenset()
        self._youngest_s: float | None = None

    def __call__(self, now: Snapshot) -> None:
        """Show what a person at the rig should know now."""
        if now.unacknowledged - self._unheard:
            self._youngest_s = now.now_s
        elif not now.unacknowledged:
            self._youngest_s = None
        self._unheard = now.unacknowledged
        signal = signal_of(now.state.value, fit_to_feed=now.outputs.permit, alarm=bool(now.unacknowledged))
        age_s = None if self._youngest_s is None else now.now_s - self._youngest_s
        self._show(lamp_on(signal, now.now_s), sounder_on(signal, age_s))
