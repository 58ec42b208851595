"""After a cut the record says which doses nobody knows of, wherever the cut fell."""

from __future__ import annotations

import pytest
from believable_batch import Night, put_nights, wall_at

from controller.record.events import BatchEnded, DoseIntent, DoseResult, StepEnded
from controller.record.journal import Journal
from controller.record.recovery import last_batch, last_dose_id, open_doses
from controller.record.view import JournalView
from controller.record.writer import InlineWriter

PUTS = list(Night(1, 10.0).events())
CUTS = [place for place, put in enumerate(PUTS) if isinstance(put[1], DoseIntent | DoseResult | StepEnded)]


def intent(dose_id, target_ml=90.0):
    return DoseIntent(1, 1, dose_id, "addition", "humic", "pump 1", target_ml, 1800, 0.05, 180.0, 4711)


def result(dose_id):
    return DoseResult(1, 1, dose_id, "done", 1800, 90.0, 1.8, "")


def journal_with(path, events):
    ledger = InlineWriter(Journal(path), wall_at)
    for place, event in enumerate(events):
        ledger.put(float(place), event)
    ledger.close()
    assert ledger.fault is None
    return Journal(path)


def test_a_new_record_has_nothing_to_recover(tmp_path):
    with Journal(tmp_path / "record.sqlite") as journal:
        assert open_doses(journal) == ()
        assert last_dose_id(journal) == 0
        assert last_batch(journal) is None


@pytest.mark.parametrize("cut", CUTS)
def test_a_cut_after_any_event_leaves_open_exactly_what_had_no_result(tmp_path, cut):
    events = [event for _, event in PUTS[: cut + 1]]
    with journal_with(tmp_path / "record.sqlite", events) as journal:
        meant = [event for event in events if isinstance(event, DoseIntent)]
        known = {event.dose_id for event in events if isinstance(event, DoseResult)}
        assert open_doses(journal) == tuple(event for event in meant if event.dose_id not in known)
        assert last_dose_id(journal) == max((event.dose_id for event in meant), default=0)
        assert last_batch(journal).ended is None


def test_a_finished_night_leaves_nothing_open(tmp_path):
    put_nights(tmp_path / "record.sqlite", 2)
    with JournalView(tmp_path / "record.sqlite") as view:
        assert open_doses(view) == ()
        assert last_batch(view).started.event.batch == 2
        assert isinstance(last_batch(view).ended.event, BatchEnded)
        assert last_dose_id(view) == 209


def test_the_same_id_meant_twice_is_one_motion(tmp_path):
    with journal_with(tmp_path / "a.sqlite", [intent(5, 90.0), intent(5, 91.0)]) as journal:
        assert open_doses(journal) == (intent(5, 91.0),)
    with journal_with(tmp_path / "b.sqlite", [intent(5), intent(5), result(5)]) as journal:
        assert open_doses(journal) == ()
    with journal_with(tmp_path / "c.sqlite", [intent(5), result(5), intent(5)]) as journal:
        assert open_doses(journal) == (intent(5),)


def test_a_highest_id_is_found_in_results_too(tmp_path):
    with journal_with(tmp_path / "record.sqlite", [intent(5), result(8), intent(6)]) as journal:
        assert last_dose_id(journal) == 8
        assert [dose.dose_id for dose in open_doses(journal)] == [5, 6]
