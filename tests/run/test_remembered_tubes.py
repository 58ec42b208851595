"""What earlier nights taught of a tube, read from a record: weighed doses since its calibration only."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from controller.measure.tube import TubeEstimate, TubeVerdict
from controller.record.events import AnyEvent, BatchStarted, DoseIntent, DoseResult, Weighing
from controller.record.journal import Journal
from controller.record.writer import InlineWriter
from controller.run.remembered_tubes import NIGHTS, remembered_tubes
from controller.settings.values import Site

FIRST = datetime(2026, 11, 21, 2, 30, tzinfo=UTC)
DAY_S = 86_400.0


def night(number: int) -> BatchStarted:
    return BatchStarted(number, "fruiting", "Fruiting feed", 180.0, 0.0, 5.8, 6.3, 6000.0, "{}")


def dosed(
    batch: int,
    dose_id: int,
    weighed_ml: float | None,
    pump: str = "kelp",
    counts: int = 9600,
    outcome: str = "done",
) -> list[AnyEvent]:
    intent = DoseIntent(batch, 5, dose_id, "addition", "kelp_extract", pump, 480.0, counts, 0.05, 240.0, 7)
    result = DoseResult(batch, 5, dose_id, outcome, counts, weighed_ml or 480.0, 3.0, "")
    weighing = Weighing(batch, 5, dose_id, "shelf_three", 9000.0, 8500.0, weighed_ml or 0.0, 3.0)
    return [intent, *([] if weighed_ml is None else [weighing]), result]


def tube_of(
    site: Site, folder: Path, *events: AnyEvent, calibrated: date | None = None
) -> TubeEstimate | None:
    """Write the events, a day for each batch, and read what they teach of the kelp pump."""
    kelp = replace(site.rig.pumps["kelp"], calibrated=calibrated, start_ml=0.0, ml_per_count=0.05)
    site = replace(site, rig=replace(site.rig, pumps={**site.rig.pumps, "kelp": kelp}))
    with Journal(folder / "record.sqlite") as journal:
        ledger = InlineWriter(journal, lambda at_s: FIRST + timedelta(seconds=at_s))
        for event in events:
            ledger.put(DAY_S * (getattr(event, "batch", 1) - 1), event)
        return remembered_tubes(journal, site).get("kelp")


def test_an_empty_record_and_one_without_weighings_teach_nothing(demo_site: Site, tmp_path: Path) -> None:
    assert tube_of(demo_site, tmp_path) is None
    assert tube_of(demo_site, tmp_path, night(1), *dosed(1, 1, None)) is None


def test_the_tube_is_learned_from_every_weighed_dose_of_earlier_nights(
    demo_site: Site, tmp_path: Path
) -> None:
    events = [event for number in range(1, 9) for event in (night(number), *dosed(number, number, 456.0))]
    tube = tube_of(demo_site, tmp_path, *events)
    assert tube is not None
    assert tube.doses == 8
    assert tube.share == pytest.approx(0.95, abs=0.003)
    assert tube.verdict is TubeVerdict.DRIFTS


def test_doses_up_to_the_day_of_the_calibration_are_left_out(demo_site: Site, tmp_path: Path) -> None:
    events = [event for number in (1, 2, 3) for event in (night(number), *dosed(number, number, 475.0))]
    tube = tube_of(demo_site, tmp_path, *events, calibrated=FIRST.date() + timedelta(days=1))
    assert tube is not None
    assert tube.doses == 1
    assert tube_of(demo_site, tmp_path / "..", calibrated=FIRST.date() + timedelta(days=2)) is None


def test_one_night_far_off_is_not_carried_into_the_next(demo_site: Site, tmp_path: Path) -> None:
    events = [event for number in (1, 2, 3) for event in (night(number), *dosed(number, number, 480.0))]
    tube = tube_of(demo_site, tmp_path, *events, night(4), *dosed(4, 4, 375.0))
    assert tube is not None
    assert tube.share == pytest.approx(1.0, abs=0.001)
    assert 2.0 * tube.standard_share > 0.2, "but it is doubtful until a dose says which it is"


def test_a_dose_that_was_stopped_or_of_another_pump_teaches_nothing(demo_site: Site, tmp_path: Path) -> None:
    events = [night(1), *dosed(1, 1, 300.0, outcome="short"), *dosed(1, 2, 456.0, pump="fish")]
    assert tube_of(demo_site, tmp_path, *events) is None


def test_the_shots_of_a_rinse_are_one_weighing(demo_site: Site, tmp_path: Path) -> None:
    shots = [
        *dosed(1, 1, None, counts=3200),
        *dosed(1, 2, None, counts=3200),
        *dosed(1, 3, 470.4, counts=3200),
    ]
    tube = tube_of(demo_site, tmp_path, night(1), *shots)
    assert tube is not None
    assert (tube.doses, tube.share < 1.0) == (1, True)
    assert tube.share > 0.98


def test_only_the_newest_nights_are_read(demo_site: Site, tmp_path: Path) -> None:
    count = NIGHTS + 5
    events = [
        event for number in range(1, count + 1) for event in (night(number), *dosed(number, number, 475.0))
    ]
    tube = tube_of(demo_site, tmp_path, *events)
    assert tube is not None
    assert tube.doses == NIGHTS
