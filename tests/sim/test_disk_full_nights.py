"""Nights in which the disk fills up: no new dose, and the person is told why."""

from __future__ import annotations

from pathlib import Path

import pytest
from full_disk import fill_disk_after
from pytest_mock import MockerFixture

from controller.record.events import DoseIntent
from controller.record.fault import RecordFault
from controller.settings.values import Site
from sim.night import Night, run_night


@pytest.mark.parametrize("writes", [2, 5, 8, 9, 10, 11, 12, 13, 40, 60])
def test_a_full_disk_stops_dosing_and_is_named(
    demo_site: Site, tmp_path: Path, mocker: MockerFixture, writes: int
) -> None:
    fill_disk_after(mocker, writes)
    outcome = run_night(demo_site, "young_plants", 1, tmp_path)
    assert not outcome.released
    assert outcome.violations == ()
    assert outcome.result == "stopped"
    assert "the disk is full" in outcome.reason
    assert any("the disk is full" in str(alarm["text"]) for alarm in outcome.as_json()["alarms"])  # type: ignore[attr-defined]
    intents = {timed.event.dose_id for timed in outcome.record.events if isinstance(timed.event, DoseIntent)}
    assert set(outcome.ml_by_dose) <= intents, "a motor turned whose intent is not on disk"


def test_a_disk_full_from_the_start_is_one_clear_fault(
    demo_site: Site, tmp_path: Path, mocker: MockerFixture
) -> None:
    fill_disk_after(mocker, 0)
    with pytest.raises(RecordFault, match=r"disk is full.*free space"):
        run_night(demo_site, "young_plants", 1, tmp_path)


def test_a_disk_that_is_freed_goes_on_only_by_a_person(
    demo_site: Site, tmp_path: Path, mocker: MockerFixture
) -> None:
    fill_disk_after(mocker, 9)
    night = Night(demo_site, "young_plants", 1, tmp_path)
    while night.step().state.value != "held":
        pass
    mocker.stopall()
    for _ in range(50):
        night.step(1.0)
    assert night.scan.state.value == "held"
    assert night.record_fault is None
    night.close()
