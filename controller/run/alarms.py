"""Alarms: what of the interlocks is announced to people, and how (states of ISA-18.2 / IEC 62682).

The interlocks act at once and are never delayed by anything here; only the announcement is: an off-delay and
a latch against chatter, suppression behind a root cause, shelves, and the budget of `alarm_budget.py`. An
alarm's on-delay is its cause's own delay. Out of service is not offered: no interlock can be taken away.
"""

from __future__ import annotations

from collections.abc import Sequence

from controller.record.events import AlarmState
from controller.run.alarm_budget import STILL_S, AlarmBudget
from controller.run.alarm_track import AlarmStatus, Notice, Standing, Track
from controller.run.interlock_table import ROW_OF
from controller.run.situation import Cause, Trouble

LONGEST_SHELF_S = 3600.0
AGAIN = f"It comes and goes, and is told no more until it has been still for {STILL_S / 60:g} min. "


class Alarms:
    """Follow the active causes from scan to scan. Times must not run backwards."""

    def __init__(self) -> None:
        self._tracks: dict[Cause, Track] = {}
        self._shelved_until_s: dict[Cause, float] = {}
        self._budget = AlarmBudget()
        self._notices: list[Notice] = []

    @property
    def busy(self) -> bool:
        """Tell whether anything is followed at all."""
        return bool(self._tracks or self._shelved_until_s)

    @property
    def unacknowledged(self) -> frozenset[Cause]:
        """Give the alarms to sound for: announced, not yet told as gone, and acknowledged by nobody."""
        tracks = self._tracks.values()
        return frozenset(track.row.cause for track in tracks if track.unheard and not track.returned)

    @property
    def standing_unheard(self) -> frozenset[Cause]:
        """Give the announced alarms whose cause is active at this moment and that nobody has acknowledged."""
        tracks = self._tracks.values()
        return frozenset(track.row.cause for track in tracks if track.unheard and track.active)

    def status(self, cause: Cause) -> tuple[AlarmStatus, str]:
        """Give the state of one alarm, and the reason of a silence."""
        if cause in self._shelved_until_s:
            return AlarmStatus.SHELVED, f"until {self._shelved_until_s[cause]:.0f} s"
        track = self._tracks.get(cause)
        return (AlarmStatus.NORMAL, "") if track is None else track.status

    def statuses(self) -> tuple[tuple[Cause, AlarmStatus, str], ...]:
        """Give every alarm that is not normal."""
        found = ((cause, *self.status(cause)) for cause in (*self._tracks, *self._shelved_until_s))
        return tuple(dict.fromkeys(line for line in found if line[1] is not AlarmStatus.NORMAL))

    def why_not_shelve(self, cause: Cause, for_s: float) -> str | None:
        """Say why an alarm may not be shelved so long, or None."""
        if not ROW_OF[cause].may_be_shelved:
            return "only an alarm of low or medium priority that holds may be shelved"
        if not 0 < for_s <= LONGEST_SHELF_S:
            return f"a shelf lasts at most {LONGEST_SHELF_S / 60:g} min"
        return None

    def shelve(self, cause: Cause, by: str, for_s: float, now_s: float) -> Notice:
        """Silence an alarm for a while; it must have been asked before whether it may be."""
        self._shelved_until_s[cause] = now_s + for_s
        track = self._tracks.get(cause)
        if track is not None:
            # What is raised after the shelf is no second coming.
            track.announced, track.told = False, 0
        return Notice(ROW_OF[cause], AlarmState.SHELVED, f"Shelved by {by} for {for_s / 60:.3g} min.")

    def begin_anew(self) -> None:
        """Take a person's start or restart: what is over does not count against what comes now."""
        for cause in [cause for cause, track in self._tracks.items() if not track.active]:
            track = self._tracks[cause]
            if track.announced:
                self._notices.append(Notice(track.row, AlarmState.CLEARED, track.row.consequence))
            self._forget(cause)

    def look(
        self,
        standing: Sequence[Standing],
        acknowledge: bool,
        trouble: Trouble | None,
        first_out: Cause | None,
        now_s: float,
    ) -> tuple[Notice, ...]:
        """Take what is active in one scan; give what goes on record."""
        if acknowledge:
            self._acknowledge()
        self._end_shelves(now_s)
        seen = {stands.row.cause for stands in standing if stands.row.is_alarm}
        for cause in [cause for cause in self._tracks if cause not in seen]:
            self._gone(self._tracks[cause], now_s)
        for stands in standing:
            if stands.row.is_alarm:
                self._comes(stands, trouble, now_s)
        for track in self._tracks.values():
            if track.active and not track.announced:
                self._announce(track, first_out, now_s)
        notices, self._notices = tuple(self._notices), []
        return notices

    def wake_s(self, now_s: float) -> float | None:
        """Say when something here changes by itself at the latest."""
        due_s = [
            track.gone_s + track.off_delay_s
            for track in self._tracks.values()
            if track.announced and not track.active and not track.returned
        ]
        due_s += self._shelved_until_s.values()
        free_s = self._budget.free_s(now_s)
        if free_s is not None and any(t.active and not t.announced for t in self._tracks.values()):
            due_s.append(free_s)
        return min((at_s for at_s in due_s if at_s > now_s), default=None)

    def _acknowledge(self) -> None:
        for track in self._tracks.values():
            if track.unheard:
                track.acknowledged = True
                self._notices.append(Notice(track.row, AlarmState.ACKNOWLEDGED, track.row.consequence))

    def _end_shelves(self, now_s: float) -> None:
        for cause in [cause for cause, until_s in self._shelved_until_s.items() if until_s <= now_s]:
            del self._shelved_until_s[cause]
            self._notices.append(
                Notice(ROW_OF[cause], AlarmState.UNSHELVED, "The shelf has ended by itself.")
            )

    def _comes(self, stands: Standing, trouble: Trouble | None, now_s: float) -> None:
        row = stands.row
        track = self._tracks.get(row.cause)
        if track is not None and not track.active and now_s - track.gone_s >= STILL_S:
            self._forget(row.cause)
            track = None
        if track is None:
            episode = self._budget.episode_for(row.cause, row.behind | row.follows)
            track = self._tracks[row.cause] = Track(row, episode)
        if not track.active:
            track.active = True
            if track.returned:
                # It had been told that it is gone: now it comes again.
                track.announced = track.returned = False
            if trouble is not None and trouble.cause is row.cause:
                track.text = f"{trouble.text}. "
        track.holds = stands.holds

    def _gone(self, track: Track, now_s: float) -> None:
        if track.active:
            track.active = track.holds = False
            track.gone_s = now_s
        if now_s < track.gone_s + track.off_delay_s:
            return
        if track.announced and track.acknowledged:
            track.announced = False
            self._notices.append(Notice(track.row, AlarmState.CLEARED, track.row.consequence))
        elif track.announced and not track.returned:
            track.returned = True
            self._notices.append(Notice(track.row, AlarmState.RETURNED, track.row.consequence))
        if not track.announced and now_s >= track.gone_s + STILL_S:
            self._forget(track.row.cause)

    def _forget(self, cause: Cause) -> None:
        del self._tracks[cause]
        self._budget.leave(cause)

    def _announce(self, track: Track, first_out: Cause | None, now_s: float) -> None:
        """Raise it, or put once on record why it is not raised."""
        track.silent = self._why_silent(track, now_s)
        consequence = track.row.consequence
        if track.silent is None:
            text = f"{AGAIN if track.told else ''}{track.text}{consequence}"
            track.announced, track.acknowledged, track.told = True, False, track.told + 1
            self._budget.spend(track.episode, now_s)
            is_first = first_out is track.row.cause
            self._notices.append(Notice(track.row, AlarmState.RAISED, text, is_first))
        elif track.silent not in track.silences and track.row.cause not in self._shelved_until_s:
            track.silences.add(track.silent)
            text = f"Not announced: {track.silent}. {track.text}{consequence}"
            self._notices.append(Notice(track.row, AlarmState.SUPPRESSED, text))

    def _why_silent(self, track: Track, now_s: float) -> str | None:
        if track.row.cause in self._shelved_until_s:
            return "it is shelved"
        for other in self._tracks.values():
            if other.active and other.row.cause in track.row.behind:
                return f"it follows from {other.row.cause.value}"
        if track.chattering:
            return "it comes and goes"
        return self._budget.why_not(track.episode, now_s)
