"""What a live batch owes a person: cut-off doses closed whatever comes, and an alarm that can be heard."""

import time
from datetime import UTC, datetime

import pytest

from controller.plan.findings import PlanRefused
from controller.record.batch_record import read_batch
from controller.record.events import DoseResult
from controller.record.journal import Journal
from controller.record.writer import InlineWriter
from controller.run.sequence import RunState
from controller.service.lamp_and_sounder import SOUNDER_ENDS_S, LampAndSounder
from controller.service.live import Around, run_live
from controller.settings.load import demo_site_folder, load_site
from firmware_bridge.faults import HardwareFault
from sim.pace import SimPace
from sim.rig import SimRig
from sim.world import load_world

SITE = load_site(demo_site_folder())
START = datetime(2026, 11, 21, 2, 30, tzinfo=UTC)


class KilledError(Exception):
    """Stands for the end of the program in the middle of something."""


class Evening:
    """A rig, and what is done to it while a batch runs on it."""

    def __init__(self, tmp_path):
        self.rig = SimRig(SITE, load_world(SITE), 1)
        self.folder = tmp_path
        self.snapshots = []

    def run(self, on_scan, motions=dict):
        def look(now):
            self.snapshots.append(now)
            on_scan(now)

        around = Around(START, motions, InlineWriter, lambda: False, look)
        pace = SimPace(self.rig, None, time.monotonic, time.sleep)
        return run_live(SITE, "fruiting", self.rig, pace, self.folder, around)


def killed_while_dosing(evening):
    def kill(now):
        if now.outputs.dose is not None and evening.rig.pins.motor_running:
            evening.rig.advance(evening.rig.now_s + 1.0)
            raise KilledError

    with pytest.raises(KilledError):
        evening.run(kill)


def test_a_cut_off_dose_is_closed_with_the_boards_count_though_the_next_plan_is_refused(tmp_path):
    evening = Evening(tmp_path)
    killed_while_dosing(evening)
    motion = evening.rig.read().board.motion
    counts = {(evening.rig.boot_id, motion.dose_id): motion.count_done}
    assert evening.rig.plant.volume_l > SITE.policy.heel.max_l
    with pytest.raises(PlanRefused):
        evening.run(lambda now: None, lambda: counts)
    with Journal(tmp_path / "record.sqlite") as journal:
        (result,) = [row.event for row in journal.rows(DoseResult) if row.event.dose_id == motion.dose_id]
    assert (result.outcome, result.count_done) == ("short", motion.count_done)
    assert read_batch(tmp_path / "record.sqlite", 1).ended.event.result == "aborted"


def test_the_counts_are_asked_for_only_when_the_motor_stands(tmp_path):
    evening, asked = Evening(tmp_path), []
    killed_while_dosing(evening)
    evening.rig.cut = True

    def motions():
        asked.append(evening.rig.now_s)
        return {}

    assert evening.run(lambda now: None, motions).ended_as is not RunState.COMPLETE
    assert asked == []
    with Journal(tmp_path / "record.sqlite") as journal:
        results = [row.event for row in journal.rows(DoseResult)]
    assert [(one.outcome, one.count_done) for one in results] == [("unproven", 0)]
    assert results[0].uncertainty_ml > 0


def test_after_an_alarm_ended_the_batch_the_scans_go_on_off_until_the_button_is_pressed(tmp_path):
    evening = Evening(tmp_path)

    def press_the_stop_and_later_the_button(now):
        evening.rig.panel.estop_ok = now.now_s < 30.0
        evening.rig.panel.button = now.now_s > 90.0

    end = evening.run(press_the_stop_and_later_the_button)
    assert end.ended_as is RunState.ABORTED
    after = [now for now in evening.snapshots if now.state is RunState.ABORTED]
    assert all(now.unacknowledged for now in after[:-1])
    assert not after[-1].unacknowledged
    assert 85.0 < after[-1].now_s < 120.0
    assert not evening.rig.pins.enable


def test_an_alarm_that_nobody_hears_ends_with_its_sounder(tmp_path):
    evening = Evening(tmp_path)

    def press_the_stop(now):
        evening.rig.panel.estop_ok = now.now_s < 30.0

    evening.run(press_the_stop)
    after = [now.now_s for now in evening.snapshots if now.state is RunState.ABORTED]
    assert after[-1] - after[0] == pytest.approx(SOUNDER_ENDS_S, abs=2.0)


def test_a_lamp_that_cannot_be_switched_is_told_and_ends_no_night(tmp_path):
    def broken(lamp, sounder):
        raise HardwareFault("pins.lamp", "cannot be switched on", "look at the header")

    evening = Evening(tmp_path)
    lamp, told = LampAndSounder(broken), []

    def look(now):
        lamp(now)
        told.append(lamp.trouble)
        evening.rig.panel.estop_ok = now.now_s < 30.0
        evening.rig.panel.button = now.now_s > 40.0

    assert evening.run(look).ended_as is RunState.ABORTED
    assert set(told) == {"pins.lamp: cannot be switched on; look at the header"}


def test_the_record_is_closed_though_the_outputs_cannot_be_switched_off(tmp_path, mocker):
    evening = Evening(tmp_path)
    closed = mocker.spy(InlineWriter, "close")
    write = evening.rig.write

    def failing(outputs):
        if evening.rig.now_s > 30.0:
            raise HardwareFault("pins.stir", "cannot be switched off", "press the emergency stop")
        write(outputs)

    evening.rig.write = failing
    with pytest.raises(HardwareFault):
        evening.run(lambda now: None)
    assert closed.call_count == 1
