"""The laws of safety, checked against the physical truth after every scan of a simulated night.

The checks look at the plant and at what the firmware really drives, never at what the controller believes;
what a tank truly holds as it is fed is looked at by `fed_tank.py`, beside its record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from controller.plan.steps import Plan
from controller.run.snapshot import Snapshot
from sim.fed_tank import doubts
from sim.rig import SimRig
from sim.told_doses import Told

IN_THE_PIPE_MARGIN_L = 0.1
VOLUME_SHARE = 0.02
SENSOR_L = 1.0
PH_DOUBT = 0.10
MEETING_SHARE = 0.05
"""Less than this of the line is a trace: ten times what a rinse may leave there at a recovery of 99.5 %."""
PH_SEEN_WITHIN_S = 600.0


@dataclass(frozen=True, slots=True)
class Violation:
    """One broken law: its number in the contributor's guide, when, and what was seen."""

    law: int
    at_s: float
    text: str


@dataclass(slots=True)
class Laws:
    """Watch one rig; each law is reported once a night. `told` is what the record says of the doses."""

    rig: SimRig
    plan: Plan
    told: Mapping[str, Told]
    violations: list[Violation] = field(default_factory=list)
    _broken: set[int] = field(default_factory=set)
    _permitted_s: float | None = None
    _out_from_s: float | None = None

    def look(self, snapshot: Snapshot) -> None:
        """Check every law against the rig as it is now."""
        self._no_dose_repeated(snapshot)
        self._nothing_on_in_silence(snapshot)
        self._never_overfull(snapshot)
        self._one_thing_at_a_time(snapshot)
        self._no_doubtful_tank_fed(snapshot)

    def _no_dose_repeated(self, now: Snapshot) -> None:
        for dose_id, counts in self.rig.pins.counts_by_dose.items():
            target = self.rig.targets.get(dose_id)
            if target is not None and counts > target:
                self._broke(1, now, f"dose {dose_id} turned {counts} counts, its target was {target}")

    def _nothing_on_in_silence(self, now: Snapshot) -> None:
        pins = self.rig.pins
        silent_too_long = self.rig.silent_s > self.rig.longest_silence_s + 0.1
        if (pins.enable or pins.valve or pins.motor_running) and silent_too_long:
            self._broke(2, now, f"outputs are on after {self.rig.silent_s:.1f} s without the host")

    def _never_overfull(self, now: Snapshot) -> None:
        tank = self.rig.site.rig.tank
        limit_l = tank.high_float_l + self.rig.site.rig.fill.pipe_ml / 1000 + IN_THE_PIPE_MARGIN_L
        if self.rig.plant.tank.volume_l > limit_l:
            self._broke(
                3, now, f"the tank holds {self.rig.plant.tank.volume_l:.2f} L, the limit is {limit_l:.2f} L"
            )

    def _one_thing_at_a_time(self, now: Snapshot) -> None:
        if self.rig.pins.motor_running and self.rig.pins.valve:
            self._broke(4, now, "a pump turns while the fill valve is open")
        if self.rig.pins.motor_running:
            self._no_concentrates_meet(now)

    def _no_concentrates_meet(self, now: Snapshot) -> None:
        dosing = self.rig.plant.dosing
        least_ml = MEETING_SHARE * self.rig.site.rig.manifold.holdup_ml
        inside = [name for name in dosing.delivered_ml if dosing.common_line_ml(name) > least_ml]
        if len(inside) > 1:
            self._broke(4, now, f"{' and '.join(inside)} stand undiluted in the common line together")

    def _no_doubtful_tank_fed(self, now: Snapshot) -> None:
        if not (self.rig.contacts.permit and self.rig.pins.enable):
            return
        if not now.released:
            self._broke(12, now, "the feed permit is on for a tank that is not released")
            return
        if self._permitted_s is None:
            self._permitted_s = now.now_s
            self._look_at_amount(now)
            found = tuple(doubts(self.rig, self.plan, self.told))
            if found:
                self._broke(12, now, "; ".join(found))
        self._look_at_ph(now)

    def _look_at_amount(self, now: Snapshot) -> None:
        """Look at the volume once, when the permit comes: feeding lowers it afterwards."""
        volume_l, planned_l = self.rig.plant.volume_l, self.plan.final_l
        allowed_l = self.rig.site.rig.fill.disagreement_l + SENSOR_L
        if abs(volume_l - planned_l) > VOLUME_SHARE * planned_l + allowed_l:
            self._broke(12, now, f"a tank of {volume_l:.1f} L is fed, planned were {planned_l:.1f} L")

    def _look_at_ph(self, now: Snapshot) -> None:
        """Look at the true pH of the tank; the controller may take a while to see it leave its window."""
        ph = self.rig.plant.ph_true()
        low, high = self.plan.ph_low - PH_DOUBT, self.plan.ph_high + PH_DOUBT
        if low <= ph <= high:
            self._out_from_s = None
        elif self._out_from_s is None:
            self._out_from_s = now.now_s
        elif now.now_s - self._out_from_s > PH_SEEN_WITHIN_S:
            self._broke(12, now, f"a tank at true pH {ph:.2f} is fed")

    def _broke(self, law: int, now: Snapshot, text: str) -> None:
        if law not in self._broken:
            self._broken.add(law)
            self.violations.append(Violation(law, now.now_s, text))
