"""A batch is opened: numbered after all that the record holds, and planned for what stands in the tank."""

import time
from dataclasses import replace
from datetime import UTC, datetime
from math import pi
from pathlib import Path

import pytest

from controller.cli.rigs import counts_by_dose
from controller.plan.findings import PlanRefused
from controller.plan.steps import Plan
from controller.record.batch_record import list_batches
from controller.record.events import DoseIntent, DoseResult
from controller.record.journal import Journal
from controller.record.writer import InlineWriter
from controller.run.snapshot import Snapshot
from controller.service.live import Around, run_live
from controller.service.opening import plan_for_the_tank
from controller.settings.load import demo_site_folder, load_site
from firmware_bridge.board import BoardLink
from sim.pace import SimPace
from sim.rig import SimRig
from sim.world import load_world

SITE = load_site(demo_site_folder())
START = datetime(2026, 11, 21, 2, 30, tzinfo=UTC)
RECORD = "record.sqlite"


class CutOffError(Exception):
    """What ends the program in the middle of a dose."""


class Nights:
    """One rig and one record, through programs that are each cut off in the middle of their third dose."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.rig = SimRig(SITE, load_world(SITE), 1)
        self.true_count = 0
        self._seen: set[int] = set()

    def night(self) -> None:
        """Run until the dose is half done. Each night a new host on the same line, and an empty tank."""
        self.rig.plant.tank.remove(self.rig.plant.volume_l)
        self._seen = set()
        link = BoardLink(self.rig.board.transport, SITE.rig.board.server_id)
        around = Around(START, lambda: counts_by_dose(link), InlineWriter, lambda: False, self._cut_off)
        pace = SimPace(self.rig, None, time.monotonic, time.sleep)
        with pytest.raises(CutOffError):
            run_live(SITE, "plain_flush", self.rig, pace, self.folder, around)

    def _cut_off(self, now: Snapshot) -> None:
        if now.outputs.dose is None or not self.rig.pins.motor_running:
            return
        dose = now.outputs.dose
        self._seen.add(dose.dose_id)
        if len(self._seen) < 3:
            return
        self.rig.advance(self.rig.now_s + 1.0)
        assert self.rig.pins.motor_running
        raise CutOffError

    def rows(self, kind: type) -> list[tuple[int, int, int]]:
        """Give batch, dose id, and target or count of each row."""
        with Journal(self.folder / RECORD) as journal:
            events = [row.event for row in journal.rows(kind)]
        return [
            (e.batch, e.dose_id, e.target_count if isinstance(e, DoseIntent) else e.count_done)
            for e in events
        ]


@pytest.fixture(scope="module")
def nights(tmp_path_factory: pytest.TempPathFactory) -> Nights:
    made = Nights(tmp_path_factory.mktemp("nights"))
    made.night()
    made.night()
    # From here on only the record knows which ids are spent.
    made.rig.restart_board()
    made.night()
    return made


def test_no_two_batches_share_a_dose_id_and_numbers_only_rise(nights: Nights):
    numbers = [batch.started.event.batch for batch in list_batches(nights.folder / RECORD)]
    assert sorted(numbers) == [1, 2, 3]
    meant = nights.rows(DoseIntent)
    assert [batch for batch, _, _ in meant] == [1, 1, 1, 2, 2, 2, 3, 3, 3]
    ids = [dose_id for _, dose_id, _ in meant]
    assert ids[0] == 1
    assert ids == sorted(set(ids))


def test_a_dose_that_was_cut_off_is_recorded_with_the_boards_true_count(nights: Nights):
    true = nights.rig.pins.counts_by_dose
    target_of = {dose_id: target for _, dose_id, target in nights.rows(DoseIntent)}
    counted = {dose_id: count for _, dose_id, count in nights.rows(DoseResult)}
    one, two, three = (max(d for batch, d, _ in nights.rows(DoseIntent) if batch == n) for n in (1, 2, 3))
    assert all(0 < true[dose_id] < target_of[dose_id] for dose_id in (one, two, three))
    # The second night's board has forgotten, and nobody has started anew after the third.
    assert counted == {dose_id: count for dose_id, count in true.items() if dose_id != three} | {two: 0}


def plan_at(level_l: float) -> Plan:
    """Plan for a tank whose level sensor shows so much."""
    image = SimRig(SITE, load_world(SITE), 1).read()
    assert image.board is not None
    # An upright cylinder: pi/4 d2, in mm a litre.
    mm_per_l = 1.0 / (pi / 4.0 * SITE.rig.tank.diameter_m**2)
    shown = replace(image, board=replace(image.board, level_mm=level_l * mm_per_l))
    return plan_for_the_tank(SITE, "plain_flush", shown)


@pytest.mark.parametrize(("level_l", "heel_l"), [(0.4, 0.0), (0.6, 0.6)])
def test_a_heel_counts_from_what_a_level_sensor_can_tell_from_an_empty_tank(level_l: float, heel_l: float):
    assert plan_at(level_l).heel_l == heel_l


def test_a_tank_that_is_a_fifth_full_already_is_told_with_its_litres_and_not_planned_for():
    with pytest.raises(PlanRefused, match="heel: 40 L"):
        plan_at(40.0)
