"""One night with faults, run as far as it must be to know how it ends. Rows and verdicts are the tests'.

Someone ends a night that is held for a minute, or that was fed for long enough: what comes after that is no
news, and takes most of the time.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from controller.record.batch_record import BatchRecord, read_batch
from controller.record.events import AlarmState
from controller.run.interlock_row import Response
from controller.run.interlock_table import ROW_OF
from controller.run.sequence import ENDS, Command, RunState
from controller.run.situation import Cause
from controller.run.snapshot import require_started
from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site
from sim.faults import FaultPlan
from sim.fed_tank import fed_ml, solids_share, unevenness
from sim.laws import Violation
from sim.night import Night
from sim.rig import SimRig
from sim.told_doses import Told

HELD_S, KEPT_S = 60.0, 900.0
"""How long a hold, and how long the keeping, is watched; a fed tank's pH is judged after 600 s."""
SEED = 3

TAP = "{ Ca = 1.1, Mg = 0.25, Na = 0.6, K = 0.05, Cl = 0.7, SO4 = 0.25, NO3 = 0.15, carbonate = 2.12 }"
"""The supply water of the demo site, mmol/L, as its file words it."""
RIGHT_AT_ONCE = "{ K = 2.15, phosphate = 2.0, carbonate = 0.03 }"
"""Water that needs no trim and does not drift: a night with it comes soon to its keeping."""
FRUITING, YOUNG_PLANTS, PLAIN = "fruiting", "young_plants", "plain_flush"


@dataclass(frozen=True, slots=True)
class AsFed:
    """What was physically so as the tank was released: mL by input, share of solids, pH, unevenness."""

    ml: dict[str, float]
    solids: dict[str, float]
    ph: float
    uneven: float


@dataclass(frozen=True, slots=True)
class Ended:
    """How a night ended. `held`: it was held on the way. `fed` is None if nothing was."""

    result: str
    reason: str
    released: bool
    held: bool
    record: BatchRecord
    violations: tuple[Violation, ...]
    fed: AsFed | None
    rig: SimRig

    @property
    def raised(self) -> list[tuple[str, float]]:
        """The alarms that were raised, with their moments."""
        return [
            (alarm.event.alarm, alarm.t_s)
            for alarm in self.record.alarms
            if alarm.event.state == AlarmState.RAISED.value
        ]

    @property
    def recorded_ml(self) -> dict[str, float]:
        """What the record says of each input, rinses apart."""
        ml: dict[str, float] = {}
        for dose in self.record.doses:
            for word in dose.believed:
                if dose.intent.event.purpose != "rinse":
                    ml[word.input] = ml.get(word.input, 0.0) + word.ml
        return ml

    @property
    def everything_off(self) -> bool:
        """Physically: valve shut, no motor turning, no relay fed."""
        pins, closed = self.rig.pins, self.rig.contacts
        relays = closed.stir or closed.air or closed.agitators or closed.drain or closed.permit
        return not pins.valve and not pins.motor_running and not (pins.enable and relays)


def night_with(
    site: Site, folder: Path, recipe: str, *strikes: tuple[float, str], kept_s: float = KEPT_S
) -> Ended:
    """Run one night in a folder of its own with these faults, with a record that knows no night before it."""
    folder.mkdir(parents=True, exist_ok=True)
    night = Night(site, recipe, SEED, folder, FaultPlan(strikes))
    try:
        held, fed = _run(night, kept_s)
    finally:
        night.close()
    record = read_batch(night.record_path, night.batch)
    assert record.ended is not None
    end = record.ended.event
    return Ended(end.result, end.reason, end.released, held, record, night.violations, fed, night.rig)


def must_end_safe(night: Ended, cause: Cause, at_s: float, released: bool = False) -> None:
    """Hold that a night was ended by what this cause does, told first, safe and in few words."""
    response = ROW_OF[cause].response
    assert night.violations == ()
    assert night.result == ("aborted" if response is Response.ABORT else "stopped")
    assert night.held == (response is Response.HOLD)
    assert night.released == released
    assert night.everything_off
    first = night.record.alarms[0]
    assert (first.event.alarm, first.event.first_out) == (cause.value, True)
    assert first.t_s >= at_s
    assert len(night.raised) <= 3


def _run(night: Night, kept_s: float) -> tuple[bool, AsFed | None]:
    held = False
    fed: AsFed | None = None
    from_s: float | None = None
    while True:
        now = night.step()
        require_started(now)
        if now.state in ENDS:
            return held, fed
        if now.released and fed is None:
            fed = as_fed(night)
        waits = now.state is RunState.HELD or now.released
        held = held or now.state is RunState.HELD
        if waits:
            from_s = now.now_s if from_s is None else from_s
            if now.now_s - from_s >= (kept_s if now.released else HELD_S):
                night.scan.order(Command.STOP, "tester")
        else:
            from_s = None


def site_in_truth(folder: Path, *changes: tuple[str, str]) -> Site:
    """Copy the demo site and change what is true in its world; the controller is told nothing of it."""
    return site_with(folder, *(("simulated.toml", old, new) for old, new in changes))


def site_with(folder: Path, *changes: tuple[str, str, str]) -> Site:
    """Copy the demo site and change it: file, what it says once, and what it is to say."""
    copy = Path(shutil.copytree(demo_site_folder(), folder / "site"))
    for name, old, new in changes:
        file = copy / name
        words = file.read_text("utf-8")
        assert words.count(old) == 1, old
        file.write_text(words.replace(old, new), "utf-8")
    return load_site(copy)


def as_fed(night: Night) -> AsFed:
    """Look at what is in the tank of a night now."""
    rig, told = night.rig, night.told
    solids = {name: solids_share(rig, told.get(name, Told())) for name in rig.site.inputs}
    return AsFed(
        {name: fed_ml(rig.plant.dosing, name) for name in rig.site.inputs},
        {name: share for name, share in solids.items() if share is not None},
        rig.plant.ph_true(),
        unevenness(rig.plant.tank),
    )
