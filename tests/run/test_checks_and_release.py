"""Preconditions and release, each condition broken alone; and what the scan does with a forbidden request."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from calm import BOARD, PANEL, READINGS
from night_script import NightMaker, for_seconds, until_state, until_step

from controller.plan.batch import plan_batch
from controller.plan.steps import Check, Condition, Mix, Release, StepKind
from controller.plan.tonight import tonight_from
from controller.run.image import Image, Selector, Trip
from controller.run.phases.check import CheckPhase, pumps_of
from controller.run.phases.condition import ConditionPhase
from controller.run.phases.mix import MixPhase
from controller.run.phases.phase import Accepted, Memory, Turn, View
from controller.run.phases.release import ReleasePhase
from controller.run.request import ALL_OFF, Request
from controller.run.sequence import RunState
from controller.run.situation import Cause
from controller.settings.values import Site

CHECK = Check(kind=StepKind.CHECK, title="check", expected_s=5)
RELEASE = Release(kind=StepKind.RELEASE, title="release", expected_s=0, ph_low=5.8, ph_high=6.3)


@pytest.fixture
def view(demo_site: Site) -> View:
    """An empty tank on the day after probe and proof tests, long enough into the step to be judged."""
    plan = plan_batch(demo_site, "fruiting", tonight_from(demo_site))
    day = max(demo_site.rig.probe.calibrated, demo_site.policy.proof_tests.done) + timedelta(days=1)
    return View(
        now_s=1000.0,
        elapsed_s=30.0,
        number=1,
        today=day,
        image=Image(BOARD, PANEL),
        readings=replace(READINGS, level_l=0.0),
        site=demo_site,
        memory=Memory(batch=1, plan=plan, next_dose_id=1),
        put=lambda event: 1,
        durable=lambda ticket: True,
    )


def wrong(view: View) -> str:
    trouble = CheckPhase(CHECK).scan(view).trouble
    return "" if trouble is None else trouble.text


def test_with_everything_right_the_batch_may_begin(view: View) -> None:
    turn = CheckPhase(CHECK).scan(view)
    assert (turn.done, turn.trouble, turn.request) == (True, None, ALL_OFF)


def test_each_precondition_is_told_by_itself(view: View) -> None:
    probe, proof = view.site.rig.probe, view.site.policy.proof_tests
    tripped = replace(BOARD, trips=frozenset({Trip.LEAK}), first_trip=Trip.LEAK)
    late = probe.calibrated + timedelta(days=probe.due_days + 1)
    later = proof.done + timedelta(days=proof.due_days + 1)
    short = replace(view.site.policy.water, cartridge_left_l=10.0)
    short_site = replace(view.site, policy=replace(view.site.policy, water=short))
    cases = {
        "the board does not answer": replace(view, image=Image(None, PANEL)),
        "the board is tripped (leak)": replace(view, image=Image(tripped, PANEL)),
        "the selector is at hand": replace(view, image=Image(BOARD, replace(PANEL, selector=Selector.HAND))),
        "the level cannot be read": replace(view, readings=replace(view.readings, level_l=None)),
        "the tank holds 20.0 L": replace(view, readings=replace(view.readings, level_l=20.0)),
        "the tank temperature cannot be read": replace(view, readings=replace(view.readings, tank_c=None)),
        "the pH probe was last calibrated": replace(view, today=late),
        "the proof tests were last done": replace(view, today=later),
        "the clock is not synchronised": replace(view, today=None),
        "the carbon cartridge is good for 10 L more": replace(view, site=short_site),
    }
    for words, case in cases.items():
        assert words in wrong(case), words


def test_what_alone_is_wrong_with_the_dates_is_a_cause_of_its_own(view: View) -> None:
    """Calibration and proof tests each have a due date; without a trusted date neither can be judged."""
    probe, proof = view.site.rig.probe, view.site.policy.proof_tests

    def cause(seen: View) -> Cause | None:
        trouble = CheckPhase(CHECK).scan(seen).trouble
        return None if trouble is None else trouble.cause

    def dated(probe_days: int, proof_days: int) -> View:
        assert view.today is not None
        aged_probe = replace(probe, calibrated=view.today - timedelta(days=probe_days))
        aged_proof = replace(proof, done=view.today - timedelta(days=proof_days))
        rig, policy = view.site.rig, view.site.policy
        site = replace(
            view.site,
            rig=replace(rig, probe=aged_probe),
            policy=replace(policy, proof_tests=aged_proof),
        )
        return replace(view, site=site)

    assert cause(dated(probe.due_days, proof.due_days)) is None
    assert cause(dated(probe.due_days + 1, 0)) is Cause.CALIBRATION_OVERDUE
    assert cause(dated(0, proof.due_days + 1)) is Cause.PROOF_TEST_OVERDUE
    assert cause(dated(probe.due_days + 1, proof.due_days + 1)) is Cause.PRECONDITION
    assert cause(replace(view, today=None)) is Cause.CLOCK_DOUBTFUL
    assert cause(replace(view, image=Image(None, PANEL))) is Cause.PRECONDITION


def with_pump(view: View, name: str, **changes: object) -> View:
    rig = view.site.rig
    pumps = {**rig.pumps, name: replace(rig.pumps[name], **changes)}  # type: ignore[arg-type]
    return replace(view, site=replace(view.site, rig=replace(rig, pumps=pumps)))


def test_a_pump_that_tonight_needs_must_be_calibrated_in_date(view: View) -> None:
    """Those of the additions, the trims and the rinses; a pump that rests tonight keeps nobody waiting."""
    today = view.today
    assert today is not None
    resting = set(view.site.rig.pumps) - set(pumps_of(view.memory.plan, view.site))
    assert resting, "the test needs a pump that this recipe does not use"
    for name in view.site.rig.pumps:
        on_the_day = with_pump(view, name, calibrated=today - timedelta(days=90), due_days=90)
        late = with_pump(view, name, calibrated=today - timedelta(days=91), due_days=90)
        undated = with_pump(view, name, calibrated=None, due_days=None)
        assert wrong(on_the_day) == ""
        assert wrong(undated) == ""
        assert (f"pump {name} was last calibrated on" in wrong(late)) == (name not in resting)


def test_the_pumps_of_trims_and_rinses_count_among_those_of_a_night(view: View) -> None:
    pumps = pumps_of(view.memory.plan, view.site)
    recipe, inputs = view.site.recipes["fruiting"], view.site.inputs
    trims = [inputs[name].pump for name in (recipe.trim_acid, recipe.trim_base) if name is not None]
    assert set(trims) <= set(pumps)
    assert view.site.rig.manifold.rinse_pump in pumps


def test_a_second_probe_must_be_in_date_too(view: View) -> None:
    second, today = view.site.rig.second_probe, view.today
    assert second is not None
    assert today is not None
    aged = replace(second, calibrated=today - timedelta(days=second.due_days + 1))
    late = replace(view, site=replace(view.site, rig=replace(view.site.rig, second_probe=aged)))
    assert "the second pH probe was last calibrated" in wrong(late)


def test_a_calibration_dated_in_the_future_is_not_believed(view: View) -> None:
    assert "the pH probe was last calibrated" in wrong(replace(view, today=date(2020, 1, 1)))


def test_all_that_is_wrong_is_told_at_once(view: View) -> None:
    both = replace(view, today=None, readings=replace(view.readings, level_l=None))
    assert "clock" in wrong(both)
    assert "level" in wrong(both)


def judged(view: View, ph: float = 6.0, level_l: float | None = 180.0, dosed: bool = False) -> Turn:
    memory = replace(view.memory, readings=[Accepted(ph, 16.0, view.now_s - 1)], dosed_since_reading=dosed)
    seen = replace(view, memory=memory, readings=replace(view.readings, level_l=level_l))
    turn = ReleasePhase(RELEASE).scan(seen)
    assert memory.released == (turn.done and turn.trouble is None)
    return turn


@pytest.mark.parametrize("ph", [5.8, 6.0, 6.3])
def test_a_tank_in_its_window_is_released(view: View, ph: float) -> None:
    assert judged(view, ph).done


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"ph": 5.79}, "pH is 5.79"),
        ({"ph": 6.31}, "pH is 6.31"),
        ({"dosed": True}, "not measured after the last dose"),
        ({"level_l": None}, "level cannot be read"),
        ({"level_l": 150.0}, "holds 150.0 L"),
        ({"level_l": 189.0}, "holds 189.0 L"),
    ],
)
def test_a_tank_that_is_not_proven_is_quarantined(
    view: View, changes: dict[str, float | None], words: str
) -> None:
    trouble = judged(view, **changes).trouble  # type: ignore[arg-type]
    assert trouble is not None
    assert trouble.cause is Cause.TANK_UNFIT
    assert words in trouble.text


def test_a_forbidden_request_drives_nothing_and_aborts(
    night: NightMaker, monkeypatch: pytest.MonkeyPatch
) -> None:
    tonight = night(recipe="young_plants")
    until_step(tonight, StepKind.MIX)
    forbidden = Request(stir=True, permit=True)
    monkeypatch.setattr(MixPhase, "scan", lambda phase, view: Turn(forbidden, wake_s=view.now_s + 1))
    tonight.step()
    assert tonight.rig.panel.driven == ALL_OFF
    until_state(tonight, RunState.ABORTED)
    assert Cause.GUARD_REFUSED in tonight.scan.snapshot.active  # type: ignore[union-attr]
    assert tonight.violations == ()


def test_dose_ids_go_on_above_what_the_board_already_knows(night: NightMaker) -> None:
    tonight = night(recipe="young_plants")
    tonight.rig.board.node.pumps.dose_id = 5000
    until_step(tonight, StepKind.DOSE)
    for_seconds(tonight, 12)
    assert min(tonight.rig.targets) == 5001
    assert tonight.scan.state is RunState.RUNNING


def test_the_temperature_gate_waits_and_then_tells(view: View) -> None:
    step = Condition(
        kind=StepKind.CONDITION,
        title="condition",
        expected_s=0,
        rest_s=0,
        air=False,
        temperature_low_c=10,
        temperature_high_c=28,
        temperature_wait_s=600,
    )
    for tank_c, fit in ((10.0, True), (28.0, True), (9.9, False), (28.1, False), (None, False)):
        seen = replace(view, readings=replace(view.readings, tank_c=tank_c))
        turn = ConditionPhase(step).scan(seen)
        assert turn.done == fit, tank_c
        assert turn.trouble is None
    late = ConditionPhase(step).scan(replace(seen, elapsed_s=601.0))
    assert late.trouble is not None
    assert late.trouble.cause is Cause.WATER_TEMPERATURE


def test_the_next_bottle_is_agitated_in_the_last_part_of_the_mix(view: View) -> None:
    step = Mix(
        kind=StepKind.MIX,
        title="mix",
        expected_s=100,
        mix_s=100,
        air=False,
        next_input="gypsum_suspension",
        next_agitator="gypsum_agitator",
        agitate_s=60,
    )
    for elapsed_s, agitated in ((0.0, False), (39.0, False), (40.0, True), (99.0, True)):
        turn = MixPhase(step).scan(replace(view, elapsed_s=elapsed_s))
        assert turn.request.stir
        assert bool(turn.request.agitators) == agitated, elapsed_s
        assert not turn.done
    assert MixPhase(step).scan(replace(view, elapsed_s=100.0)).done
