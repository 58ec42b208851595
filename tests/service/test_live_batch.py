"""A batch run live, on the simulated rig in its own time: it ends as it should, and leaves nothing on."""

import time
from datetime import UTC, datetime

import pytest

from controller.record.batch_record import read_batch
from controller.record.writer import ThreadWriter
from controller.run.image import Selector
from controller.run.orders import StartRefused
from controller.run.sequence import RunState
from controller.service.live import Around, run_live
from controller.service.unfinished import CUT_OFF
from controller.settings.load import demo_site_folder, load_site
from sim.pace import SimPace
from sim.rig import SimRig
from sim.world import load_world

SITE = load_site(demo_site_folder())
START = datetime(2026, 11, 21, 2, 30, tzinfo=UTC)


class Live:
    """A simulated rig and everything around a live batch on it."""

    def __init__(self, tmp_path, stop_at_s=None):
        self.rig = SimRig(SITE, load_world(SITE), 1)
        self.state = tmp_path
        self.stop_at_s = stop_at_s
        self.snapshots = []
        self.around = Around(START, dict, ThreadWriter, self._should_stop, self.snapshots.append)

    def _should_stop(self):
        return self.stop_at_s is not None and self.rig.now_s >= self.stop_at_s

    def run(self, recipe="plain_flush"):
        pace = SimPace(self.rig, None, time.monotonic, time.sleep)
        return run_live(SITE, recipe, self.rig, pace, self.state, self.around)

    @property
    def all_off(self):
        self.rig.advance(self.rig.now_s + 1.0)
        pins = self.rig.pins
        return not (pins.valve or pins.enable or pins.motor_running or self.rig.plant.stir)


def test_a_whole_batch_runs_and_its_record_says_so(tmp_path):
    live = Live(tmp_path)
    end = live.run()
    record = read_batch(end.record_path, end.batch)
    assert end.ended_as is RunState.COMPLETE
    assert end.record_fault is None
    assert record.ended.event.released
    assert record.started.row.wall >= START
    assert live.all_off


def test_a_wish_to_stop_stops_the_batch_and_the_record_names_it(tmp_path):
    live = Live(tmp_path, stop_at_s=120.0)
    end = live.run()
    assert end.ended_as is RunState.STOPPED
    assert live.rig.now_s < 200.0
    assert "operator" in read_batch(end.record_path, end.batch).ended.event.reason
    assert live.all_off


def test_a_start_that_the_interlocks_refuse_raises_and_leaves_nothing_on(tmp_path):
    live = Live(tmp_path)
    live.rig.panel.selector = Selector.OFF
    with pytest.raises(StartRefused):
        live.run()
    assert live.all_off


def test_an_error_in_the_middle_leaves_nothing_on_and_the_next_start_closes_the_batch(tmp_path):
    live = Live(tmp_path)

    def fail_later(snapshot):
        if snapshot.now_s > 60.0:
            raise ZeroDivisionError("invented")

    live.around = Around(START, dict, ThreadWriter, lambda: False, fail_later)
    with pytest.raises(ZeroDivisionError):
        live.run()
    assert live.all_off
    record_path = tmp_path / "record.sqlite"
    assert read_batch(record_path, 1).ended is None
    again = Live(tmp_path, stop_at_s=10.0)
    end = again.run()
    assert end.batch == 2
    assert read_batch(record_path, 1).ended.event.reason == CUT_OFF


def test_a_disk_that_hangs_keeps_no_valve_open_that_an_error_left_open(tmp_path, mocker):
    live = Live(tmp_path)
    open_when_failing, off_when_closing = [], []
    close = ThreadWriter.close

    def fail_while_filling(snapshot):
        if live.rig.pins.valve:
            open_when_failing.append(snapshot.now_s)
            raise ZeroDivisionError("invented")

    def looking(writer):
        # Looked at as it stands: a moment later the lease would have closed it as well.
        pins = live.rig.pins
        off_when_closing.append(not (pins.valve or pins.enable or pins.motor_running))
        close(writer)

    live.around = Around(START, dict, ThreadWriter, lambda: False, fail_while_filling)
    mocker.patch.object(ThreadWriter, "close", looking)
    with pytest.raises(ZeroDivisionError):
        live.run()
    assert len(open_when_failing) == 1
    assert off_when_closing == [True]
