"""A night in which the clock on the wall is changed: the record tells true times, simulated and live."""

import time
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from controller.record.events import AnyEvent, BatchEnded, Reading, StateChange, StepStarted
from controller.record.journal import Journal
from controller.record.place import record_in
from controller.record.rows import Row
from controller.record.writer import InlineWriter
from controller.service.live import Around, run_live
from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site
from sim import night as simulated
from sim.pace import SimPace
from sim.rig import SimRig
from sim.world import load_world

# EU Directive 2000/84/EC: summer time begins and ends at 01:00 UTC on the last Sunday of March and October.
LISBON = ZoneInfo("Europe/Lisbon")
CHANGES = pytest.mark.parametrize(
    ("start", "offsets_h"),
    [
        (datetime(2026, 10, 25, 1, 50, tzinfo=LISBON), (1, 0)),
        (datetime(2026, 3, 29, 0, 50, tzinfo=LISBON), (0, 1)),
    ],
    ids=["put back", "put on"],
)
CHANGE_AFTER_S, STOP_S = 600.0, 900.0


def site_in_date_on(day: date) -> Site:
    """Give the demo site with everything calibrated and its proof tests done the day before."""
    site = load_site(demo_site_folder())
    before = day - timedelta(days=1)
    policy = replace(site.policy, proof_tests=replace(site.policy.proof_tests, done=before))
    rig = site.rig
    assert rig.second_probe is not None
    assert rig.cell is not None
    pumps = {name: replace(pump, calibrated=before) for name, pump in rig.pumps.items()}
    rig = replace(
        rig,
        pumps=pumps,
        probe=replace(rig.probe, calibrated=before),
        second_probe=replace(rig.second_probe, calibrated=before),
        cell=replace(rig.cell, calibrated=before),
    )
    return replace(site, policy=policy, rig=rig)


def play_live(site: Site, start: datetime, folder: Path) -> None:
    rig = SimRig(site, load_world(site), 1)
    pace = SimPace(rig, None, time.monotonic, time.sleep)
    around = Around(start, dict, InlineWriter, lambda: rig.now_s >= STOP_S, lambda _now: None)
    run_live(site, "plain_flush", rig, pace, folder, around)


def play_simulated(site: Site, start: datetime, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(simulated, "start_of", lambda _site, _night: start)
    elapsed: list[float] = []
    simulated.run_night(
        site,
        "plain_flush",
        1,
        folder,
        on_progress=lambda now: elapsed.append(now.now_s),
        should_stop=lambda: elapsed[-1] >= STOP_S,
    )


def rows_of(folder: Path) -> list[Row[AnyEvent]]:
    with Journal(record_in(folder)) as journal:
        kinds = (Reading, StateChange, StepStarted, BatchEnded)
        return sorted((row for kind in kinds for row in journal.rows(kind)), key=lambda row: row.seq)


@CHANGES
@pytest.mark.parametrize("way", ["simulated", "live"])
def test_the_record_of_such_a_night_tells_true_times(
    way: str, start: datetime, offsets_h: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    site = site_in_date_on(start.date())
    if way == "live":
        play_live(site, start, tmp_path)
    else:
        play_simulated(site, start, tmp_path, monkeypatch)
    rows = rows_of(tmp_path)
    assert rows[0].at_s < CHANGE_AFTER_S < rows[-1].at_s
    for row in rows:
        passed_s = (row.wall.astimezone(UTC) - start.astimezone(UTC)).total_seconds()
        assert passed_s == pytest.approx(row.at_s, abs=0.001)
        offset_h = offsets_h[row.at_s >= CHANGE_AFTER_S]
        assert row.wall.utcoffset() == timedelta(hours=offset_h)
