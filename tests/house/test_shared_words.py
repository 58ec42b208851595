"""The record names the words that it reads back; the rooms which write them must mean the same ones."""

from __future__ import annotations

from controller.plan.steps import Purpose, StepKind
from controller.record.events import KEEP, BatchResult, DosePurpose, StepResult
from controller.run.sequence import ENDS


def test_the_plan_and_the_record_know_the_same_purposes() -> None:
    assert {purpose.value for purpose in Purpose} == set(DosePurpose)


def test_the_record_knows_the_step_in_which_a_tank_is_kept() -> None:
    assert StepKind.KEEP.value == KEEP


def test_the_run_machine_and_the_record_know_the_same_ends() -> None:
    assert {end.value for end in ENDS} == set(BatchResult)


def test_a_step_ends_by_itself_or_as_its_batch_does() -> None:
    assert set(StepResult) - {StepResult.DONE} == set(BatchResult) - {BatchResult.COMPLETE}
