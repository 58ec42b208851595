"""A batch comes back whole: steps with their times, doses with intent and result, amounts against targets."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from believable_batch import ADDITIONS, BEGAN, Night, put_nights, wall_at

from controller.record.amounts import Outcome, additions, rinses, trims
from controller.record.batch_record import list_batches, read_batch
from controller.record.events import (
    BatchEnded,
    BatchStarted,
    DoseAmended,
    DoseIntent,
    DosePurpose,
    DoseResult,
    OperatorAct,
    StepEnded,
)
from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.report import report_html
from controller.record.verdict import Fitness, release_reading, verdict
from controller.record.writer import InlineWriter


def written(path, puts, wall=wall_at):
    """Write these (at_s, event) and read the last batch back."""
    ledger = InlineWriter(Journal(path), wall)
    for at_s, event in puts:
        ledger.put(at_s, event)
    ledger.close()
    assert ledger.fault is None
    return read_batch(path)


def changed(kind, which=lambda event: True, **fields):
    """One believable night in which events of one class are other than they were."""
    for at_s, event in Night(1, 10.0).events():
        hit = type(event) is kind and which(event)
        yield at_s, replace(event, **fields) if hit else event


def without(kind, which=lambda event: True):
    """One believable night in which some events never happened."""
    return [put for put in Night(1, 10.0).events() if not (type(put[1]) is kind and which(put[1]))]


@pytest.fixture
def path(tmp_path):
    return tmp_path / "record.sqlite"


def test_a_batch_comes_back_as_it_was_put(path):
    put_nights(path, 3)
    record = read_batch(path, 2)
    puts = list(Night(2, 86_410.0).events())
    assert [timed.event for timed in record.events] == [event for _, event in puts]
    assert [timed.row.wall for timed in record.events] == [
        wall_at(at_s).replace(microsecond=wall_at(at_s).microsecond // 1000 * 1000) for at_s, _ in puts
    ]
    assert [timed.t_s for timed in record.events] == pytest.approx([at_s - 86_410.0 for at_s, _ in puts])
    assert record.chain.faults == ()


def test_batches_are_listed_with_their_ends(path):
    put_nights(path, 3)
    batches = list_batches(path)
    assert [batch.batch for batch in batches] == [1, 2, 3]
    assert [batch.ended.event.result for batch in batches] == ["complete"] * 3
    assert batches[1].started.wall == BEGAN + timedelta(seconds=86_410)


def test_steps_have_the_times_they_took(path):
    put_nights(path)
    steps = read_batch(path).steps
    assert [step.started.event.number for step in steps] == list(range(1, len(steps) + 1))
    assert steps[1].started.event.title == "Fill to 135 L"
    assert steps[1].took_s == pytest.approx(600.0)
    alarm_s = 60.0
    assert sum(step.took_s for step in steps) + alarm_s == pytest.approx(steps[-1].ended.t_s)


def test_a_step_that_never_ended_says_so(path):
    record = written(path, without(StepEnded, lambda event: event.number == 4))
    assert [step.ended is None for step in record.steps].index(True) == 3
    assert record.steps[3].took_s is None


def test_intent_and_result_of_a_dose_are_joined(path):
    put_nights(path)
    doses = read_batch(path).doses
    assert [dose.intent.event.dose_id for dose in doses] == [dose.result.event.dose_id for dose in doses]
    assert len(doses) == 2 * len(ADDITIONS) + 1
    assert all(dose.result.t_s > dose.intent.t_s for dose in doses)


def test_a_batch_that_is_still_being_written_can_be_read(path):
    ledger = InlineWriter(Journal(path), wall_at)
    for at_s, event in Night(1, 10.0).events():
        ledger.put(at_s, event)
        if isinstance(event, DoseIntent) and event.input == "humic_extract":
            break
    record = read_batch(path)
    assert record.ended is None
    assert verdict(record).fitness is Fitness.UNFINISHED
    assert record.doses[-1].result is None
    by_name = {amount.input: amount.outcome for amount in additions(record)}
    assert by_name == {
        "fish_hydrolysate": Outcome.AS_PLANNED,
        "gypsum_slurry": Outcome.AS_PLANNED,
        "humic_extract": Outcome.UNPROVEN,
        "living_brew": Outcome.NOT_DOSED,
    }
    ledger.close()


def test_an_act_written_after_the_next_batch_began_is_not_lost(path):
    late = OperatorAct(1, "Mira", "acknowledge", "taken")
    record_of_two = [*Night(1, 10.0).events(), *Night(2, 90_000.0).events(), (180_000.0, late)]
    written(path, record_of_two)
    assert read_batch(path, 1).acts[-1].event == late
    assert late not in [act.event for act in read_batch(path, 2).acts]


def test_seconds_run_on_when_the_computer_was_restarted_in_between(path):
    puts = list(Night(1, 5000.0).events())
    half = len(puts) // 2
    gap_s = 300.0
    restarted = [*puts[:half], *((at_s - puts[half][0] + 20.0, event) for at_s, event in puts[half:])]
    walls = iter(
        [wall_at(at_s) for at_s, _ in puts[:half]] + [wall_at(at_s + gap_s) for at_s, _ in puts[half:]]
    )
    record = written(path, restarted, wall=lambda at_s: next(walls))
    expected = [at_s - 5000.0 + (gap_s if place >= half else 0.0) for place, (at_s, _) in enumerate(puts)]
    assert [timed.t_s for timed in record.events] == pytest.approx(expected, abs=0.002)


def test_an_unknown_batch_and_an_empty_record_are_one_clear_line(path):
    Journal(path).close()
    with pytest.raises(RecordFault, match="holds no batch yet"):
        read_batch(path)
    written(path, Night(4, 1.0).events())
    with pytest.raises(RecordFault, match="there is no batch 7; it holds batches 4 to 4"):
        read_batch(path, 7)


def test_amounts_are_added_up_against_the_plan(path):
    put_nights(path)
    record = read_batch(path)
    assert [(a.input, a.title, a.rate, a.target_ml) for a in additions(record)] == list(ADDITIONS)
    for amount in additions(record):
        assert amount.ml == pytest.approx(amount.target_ml, abs=0.05)
        assert amount.uncertainty_ml == pytest.approx(0.02 * amount.ml)
        assert amount.difference_share == pytest.approx((amount.ml - amount.target_ml) / amount.target_ml)
        assert amount.outcome is Outcome.AS_PLANNED
    (trim,) = trims(record)
    assert (trim.input, trim.title, trim.ml) == ("citric_acid", "Citric acid", pytest.approx(9.0))
    (water,) = rinses(record)
    assert water.ml == pytest.approx(4 * 120.0)
    assert water.uncertainty_ml == pytest.approx(4 * 2.4)


@pytest.mark.parametrize(
    ("said", "ml", "outcome"),
    [
        ("done", 355.9, Outcome.AS_PLANNED),
        ("done", 355.9 * 1.051, Outcome.OFF_TARGET),
        ("done", 355.9 * 0.949, Outcome.OFF_TARGET),
        ("done", 355.9 * 0.951, Outcome.AS_PLANNED),
        ("short", 355.0, Outcome.SHORT),
        ("unproven", 355.9, Outcome.UNPROVEN),
        ("a word nobody knows", 355.9, Outcome.UNPROVEN),
    ],
)
def test_an_amount_is_called_what_it_is(path, said, ml, outcome):
    first = Night(1, 10.0).dose_id + 1
    night = changed(DoseResult, lambda event: event.dose_id == first, outcome=said, ml=ml, uncertainty_ml=1.0)
    amount = additions(written(path, night))[0]
    assert amount.outcome is outcome
    assert amount.ml == ml


def test_of_two_doses_of_one_input_the_worse_counts(path):
    said = {101: "unproven", 103: "short"}
    puts = []
    for at_s, event in Night(1, 10.0).events():
        if isinstance(event, DoseIntent) and event.dose_id == 103:
            event = replace(event, input="fish_hydrolysate")
        if isinstance(event, DoseResult) and event.dose_id in said:
            event = replace(event, outcome=said[event.dose_id])
        puts.append((at_s, event))
    fish = additions(written(path, puts))[0]
    assert fish.outcome is Outcome.UNPROVEN
    assert fish.ml == pytest.approx(355.9 + 237.8, abs=0.1)


def amended(*words):
    """A night whose second dose, 237.8 mL of gypsum slurry, is taken back once or more at its end."""
    puts = list(Night(1, 10.0).events())
    later = [(puts[-1][0], DoseAmended(1, 9, 103, *word)) for word in words]
    return [*puts[:-2], *later, *puts[-2:]]


def test_the_last_word_on_a_dose_is_what_its_amount_is_and_what_was_written_stays(path):
    first = ("gypsum_slurry", "short", 60.0, 30.0, "by level", "seen once")
    last = ("gypsum_slurry", "short", 0.0, 65.0, "by level", "the level shows 230 mL less than was moved")
    record = written(path, amended(first, last))
    gypsum = additions(record)[1]
    assert (gypsum.ml, gypsum.uncertainty_ml, gypsum.by) == (0.0, 65.0, "by level")
    assert (gypsum.outcome, gypsum.reason) == (Outcome.SHORT, last[-1])
    (dose,) = [dose for dose in record.doses if dose.intent.event.dose_id == 103]
    assert dose.result.event.ml == pytest.approx(237.8)
    assert [later.event.ml for later in dose.amended] == [60.0, 0.0]
    assert f"Gypsum slurry is short: {last[-1]}." in verdict(record).doubts
    page = report_html(record)
    assert "± 65.0 mL, by level" in page
    assert f"short: {last[-1]}" in page
    assert record.chain.faults == ()


def test_what_a_dose_drew_by_mistake_adds_to_the_input_that_it_was(path):
    own = ("gypsum_slurry", "short", 0.0, 5.0, "weighed", "another bottle lost the weight")
    other = ("humic_extract", "unproven", 200.0, 20.0, "weighed", "drawn for gypsum slurry")
    _, gypsum, humic, _ = additions(written(path, amended(own, other)))
    assert (gypsum.ml, gypsum.outcome) == (0.0, Outcome.SHORT)
    assert (humic.ml, humic.target_ml) == (pytest.approx(290.0), 90.0)
    assert (humic.outcome, humic.reason) == (Outcome.UNPROVEN, "drawn for gypsum slurry")
    assert humic.uncertainty_ml == pytest.approx(20.0 + 0.02 * 90.0)


def test_an_input_that_nobody_planned_and_a_dose_drew_by_mistake_has_a_line_with_no_target(path):
    other = ("limestone", "unproven", 200.0, 20.0, "weighed", "drawn for gypsum slurry")
    found = additions(written(path, amended(other)))
    assert [(amount.input, amount.target_ml, amount.ml) for amount in found[4:]] == [
        ("limestone", 0.0, 200.0)
    ]


def test_a_shortfall_is_told_with_its_reason(path):
    short = changed(
        DoseResult,
        lambda event: event.dose_id == 103,
        outcome="short",
        ml=150.0,
        reason="bottle empty",
    )
    record = written(path, short)
    assert verdict(record).doubts == ("Gypsum slurry is short: bottle empty.",)
    assert "short: bottle empty" in report_html(record)


def test_a_trim_with_an_input_of_the_plan_has_its_title_and_a_target_of_its_own(path):
    night = changed(DoseIntent, lambda event: event.purpose == DosePurpose.TRIM, input="humic_extract")
    (trim,) = trims(written(path, night))
    assert (trim.title, trim.target_ml) == ("Humic extract", 9.0)


def test_an_amount_within_its_own_uncertainty_is_not_called_off_target(path):
    first = Night(1, 10.0).dose_id + 1
    night = changed(DoseResult, lambda event: event.dose_id == first, ml=320.0, uncertainty_ml=40.0)
    assert additions(written(path, night))[0].outcome is Outcome.AS_PLANNED


@pytest.mark.parametrize(
    "plan", ["", "{", "[]", "null", '{"additions": 3}', '{"additions": [1, {"input": 2}]}', "[" * 9000]
)
def test_a_plan_that_cannot_be_read_leaves_the_doses_to_speak(path, plan):
    record = written(path, changed(BatchStarted, plan_json=plan))
    assert [(a.input, a.target_ml) for a in additions(record)] == [(name, ml) for name, _, _, ml in ADDITIONS]


def test_the_verdict_is_in_plain_words_with_its_reason(path):
    put_nights(path)
    found = verdict(read_batch(path))
    assert found.fitness is Fitness.RELEASED
    assert found.because.startswith("Because: settled and steady at pH 6.08, inside the window 5.8 to 6.3.")
    assert "do not feed it after that" in found.because
    assert found.doubts == ()


def test_a_refused_tank_is_not_to_be_fed_because_of_what_was_recorded(path):
    night = changed(BatchEnded, result="aborted", reason="pH 7.10 cannot be brought down", released=False)
    found = verdict(written(path, night))
    assert found.fitness is Fitness.REFUSED
    assert found.because == "Because: pH 7.10 cannot be brought down (the batch ended as aborted)."


def test_a_tank_withdrawn_after_its_release_is_not_to_be_fed(path):
    found = verdict(written(path, changed(BatchEnded, result="stopped", reason="pH has moved to 6.9")))
    assert found.fitness is Fitness.WITHDRAWN
    assert "pH has moved to 6.9" in found.because


def test_a_tank_being_kept_is_released(path):
    puts = list(Night(1, 10.0).events())
    record = written(path, puts[:-3])
    assert record.ended is None
    assert verdict(record).fitness is Fitness.KEPT


def test_the_reading_that_counts_is_the_last_accepted_one_before_keeping(path):
    put_nights(path)
    record = read_batch(path)
    assert release_reading(record).event.ph == 6.08
    assert len(record.accepted) == 2


def test_a_damaged_record_is_doubted_aloud(path):
    import sqlite3

    put_nights(path)
    with sqlite3.connect(path) as careless:
        careless.execute("UPDATE dose_result SET ml = 999.0 WHERE dose_id = 101")
    careless.close()
    doubts = verdict(read_batch(path)).doubts
    assert "damaged" in doubts[0]
    assert "Fish hydrolysate is off target." in doubts
