"""A batch that was cut off is closed with what the board still knows, and never carried on."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from controller.measure.metering import dose_uncertainty_ml
from controller.record.events import BatchEnded, BatchStarted, DoseIntent, DoseResult, Weighing
from controller.record.journal import Journal
from controller.record.writer import InlineWriter
from controller.service.unfinished import CUT_OFF, find_unfinished
from controller.settings.load import demo_site_folder, load_site

SITE = load_site(demo_site_folder())
ON_SCALE = SITE.rig.pumps["kelp"]
KELP = replace(ON_SCALE, scale=None)
INTENT = DoseIntent(
    batch=4,
    number=3,
    dose_id=41,
    purpose="addition",
    input="kelp_extract",
    pump="kelp",
    target_ml=50.0,
    target_count=1000,
    ml_per_count=KELP.ml_per_count,
    rate_ml_min=300.0,
    boot_id=77,
)
STARTED = BatchStarted(4, "fruiting", "Fruiting", 180.0, 0.0, 5.8, 6.3, 5_000.0, "{}")
RESULT = DoseResult(4, 3, 41, "done", 1000, 50.0, 1.4, "")


def site_with(pump):
    """The demo site with this kelp pump."""
    return replace(SITE, rig=replace(SITE.rig, pumps={**SITE.rig.pumps, "kelp": pump}))


def closed(tmp_path, events, motions, pump=KELP):
    """Leave these events behind, start anew, and give what was then written."""
    path = tmp_path / "record.sqlite"
    with Journal(path) as journal:
        writer = InlineWriter(journal, lambda s: datetime.fromtimestamp(s, UTC))
        for event in events:
            assert writer.durable(writer.put(1.0, event))
    with Journal(path) as journal:
        unfinished = find_unfinished(journal)
        writer = InlineWriter(journal, lambda s: datetime.fromtimestamp(s, UTC))
        unfinished.close(writer, lambda: motions, site_with(pump), 0.0)
        assert writer.fault is None
        results = [row.event for row in journal.rows(DoseResult)]
        ends = [row.event for row in journal.rows(BatchEnded)]
        assert find_unfinished(journal).doses == ()
        assert find_unfinished(journal).batch is None
    return results, ends


def test_a_dose_whose_count_the_board_knows_is_proven_to_that_count(tmp_path):
    results, ends = closed(tmp_path, [STARTED, INTENT], {(77, 41): 600})
    assert [(r.outcome, r.count_done, r.ml) for r in results] == [("short", 600, pytest.approx(30.0))]
    assert results[0].uncertainty_ml == pytest.approx(dose_uncertainty_ml(KELP, 30.0))
    assert [(e.batch, e.result, e.reason, e.released) for e in ends] == [(4, "aborted", CUT_OFF, False)]


def test_a_dose_that_the_board_finished_meanwhile_is_done(tmp_path):
    results, _ = closed(tmp_path, [STARTED, INTENT], {(77, 41): 1000})
    assert [(r.outcome, r.count_done) for r in results] == [("done", 1000)]


def test_a_board_that_counts_more_than_was_meant_proves_no_more_than_was_meant(tmp_path):
    results, _ = closed(tmp_path, [STARTED, INTENT], {(77, 41): 1007})
    assert [(r.outcome, r.count_done, r.ml) for r in results] == [("done", 1000, pytest.approx(50.0))]


@pytest.mark.parametrize("motions", [None, {}, {(77, 40): 1000}, {(78, 41): 1000}])
def test_a_dose_that_the_board_does_not_know_may_have_gone_in_whole(tmp_path, motions):
    results, _ = closed(tmp_path, [STARTED, INTENT], motions)
    assert [(r.outcome, r.count_done, r.ml) for r in results] == [("unproven", 0, 0.0)]
    # The whole dose, and how far off that itself may be.
    expected_ml = INTENT.target_ml + dose_uncertainty_ml(KELP, INTENT.target_ml)
    assert results[0].uncertainty_ml == pytest.approx(expected_ml)


def test_a_dose_is_counted_by_the_pump_as_it_metered_then_and_with_what_its_start_gives(tmp_path):
    generous = replace(KELP, start_ml=0.3)
    events = [STARTED, replace(INTENT, ml_per_count=0.049)]
    results, _ = closed(tmp_path, events, {(77, 41): 600}, generous)
    assert results[0].ml == pytest.approx(0.3 + 600 * 0.049)
    worn = replace(generous, ml_per_count=0.049)
    assert results[0].uncertainty_ml == pytest.approx(dose_uncertainty_ml(worn, results[0].ml))


@pytest.mark.parametrize("counts", [600, 1000])
def test_of_a_dose_on_a_scale_that_was_not_weighed_again_all_or_nothing_may_have_come(tmp_path, counts):
    """The scale may just have stopped it because nothing left the bottle; of that nothing is on record."""
    results, _ = closed(tmp_path, [STARTED, INTENT], {(77, 41): counts}, ON_SCALE)
    (result,) = results
    assert (result.count_done, result.ml, result.basis) == (counts, pytest.approx(counts * 0.05), "counted")
    assert result.uncertainty_ml >= result.ml


@pytest.mark.parametrize("motions", [{(77, 41): 1000}, None])
def test_a_weighing_without_its_result_is_believed_as_the_result_would_have_been(tmp_path, motions):
    weighing = Weighing(4, 3, 41, "shelf_three", 9000.0, 8957.0, 39.9, 2.0)
    results, _ = closed(tmp_path, [STARTED, INTENT, weighing], motions, ON_SCALE)
    assert [(r.ml, r.uncertainty_ml, r.basis) for r in results] == [(39.9, 2.0, "weighed")]


def test_the_doubt_about_a_dose_of_a_pump_that_was_taken_out_is_told_all_the_same(tmp_path):
    results, _ = closed(tmp_path, [STARTED, replace(INTENT, pump="gone")], None)
    assert results[0].uncertainty_ml >= INTENT.target_ml


def test_a_batch_that_has_ended_is_left_alone(tmp_path):
    ended = BatchEnded(4, "complete", "kept to the end", True)
    results, ends = closed(tmp_path, [STARTED, INTENT, RESULT, ended], {(77, 41): 600})
    assert (results, ends) == ([RESULT], [ended])


def test_an_empty_record_has_nothing_open(tmp_path):
    assert closed(tmp_path, [], {}) == ([], [])
