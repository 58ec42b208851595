"""A dose on a scale: weighed, topped up once, stopped when it does not come, counted where no scale helps."""

from __future__ import annotations

from dataclasses import replace

import pytest
from run_states import Bench, step_of

from controller.measure.tube import TubeEstimate, TubeVerdict
from controller.plan.steps import AnyStep, Dose, Purpose, Rinse, StepKind
from controller.record.events import DoseIntent, DoseResult, StepEnded, Weighing
from controller.run.phases.phase import READING_KEEPS_S, Accepted
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.settings.values import ShortStock, Site

KELP_SCALE, OTHER_SCALE, CAN = "shelf_three", "shelf_one", "rinse_can"


def dose(
    site: Site, ml: float = 100.0, purpose: Purpose = Purpose.ADDITION, expected_s: float = 60.0
) -> Dose:
    step = step_of(StepKind.DOSE, site, 0.0)
    assert isinstance(step, Dose)
    return replace(step, target_ml=ml, rate_ml_min=240.0, purpose=purpose, expected_s=expected_s)


def gypsum_dose(site: Site) -> Dose:
    gypsum = site.inputs["gypsum_suspension"]
    return replace(dose(site), input=gypsum.name, pump=gypsum.pump, agitator=gypsum.agitator)


def begun(site: Site, *steps: AnyStep) -> Bench:
    bench = Bench(site)
    bench.load(*(steps or (dose(site),)))
    return bench


def ran(bench: Bench, seconds: float = 120.0) -> Bench:
    bench.order(Command.START)
    bench.dwell(seconds, 0.25)
    return bench


def all_of(bench: Bench, kind: type) -> list:
    return [event for _, event in bench.ledger.events if isinstance(event, kind)]


def resumed(bench: Bench, seconds: float = 120.0) -> Bench:
    bench.scan.acknowledge("tester")
    bench.dwell(1.0, 0.25)
    bench.order(Command.RESTART)
    bench.dwell(seconds, 0.25)
    return bench


def test_a_sound_dose_is_recorded_by_weight_and_its_weighing_kept(demo_site: Site) -> None:
    bench = ran(begun(demo_site))
    (result,), (weighing,) = all_of(bench, DoseResult), all_of(bench, Weighing)
    assert bench.scan.state is RunState.COMPLETE
    assert (result.outcome, result.basis) == ("done", "weighed")
    assert result.ml == weighing.ml == pytest.approx(100.0, abs=1.5)
    assert (weighing.scale, weighing.dose_id) == (KELP_SCALE, result.dose_id)
    assert weighing.before_g - weighing.after_g == pytest.approx(107.9, abs=1.5)
    assert bench.ledger.raised() == []


def test_nothing_turns_and_no_agitator_runs_while_the_bottle_is_weighed(demo_site: Site) -> None:
    bench = begun(demo_site, gypsum_dose(demo_site))
    bench.order(Command.START)
    asked = []
    for _ in range(600):
        snapshot = bench.look(0.1)
        asked.append(snapshot.outputs)
    turned = [place for place, one in enumerate(asked) if one.dose is not None]
    assert 40 <= turned[0] <= 80, "some five samples first"
    before = asked[5 : turned[0]]
    assert all(one.stir and not one.agitators and one.dose is None for one in before)
    assert all(asked[place].agitators for place in turned)
    after = asked[turned[-1] + 2 : turned[-1] + 45]
    assert all(one.stir and not one.agitators for one in after)
    weighed_s = next(s for s, event in bench.ledger.events if isinstance(event, Weighing))
    assert weighed_s - turned[-1] * 0.1 < 8.0


def test_the_result_is_on_disk_before_the_step_ends_and_after_the_weighing(demo_site: Site) -> None:
    bench = ran(begun(demo_site))
    kinds = [type(event) for _, event in bench.ledger.events]
    order = [kinds.index(kind) for kind in (DoseIntent, Weighing, DoseResult, StepEnded)]
    assert order == sorted(order)


def test_a_short_dose_is_topped_up_once_under_an_id_of_its_own(demo_site: Site) -> None:
    bench = begun(demo_site)
    bench.rig.came_share = 0.85
    ran(bench, 180.0)
    first, second = all_of(bench, DoseIntent)
    assert second.dose_id > first.dose_id
    assert second.target_ml == pytest.approx(15.0, abs=1.5)
    # It left evenly all the time: its own top-up goes by it, though one dose is not the tube yet.
    assert second.ml_per_count == pytest.approx(0.85 * first.ml_per_count, rel=0.02)
    assert sum(result.ml for result in all_of(bench, DoseResult)) == pytest.approx(100.0, abs=2.0)
    assert bench.scan.state is RunState.COMPLETE
    assert bench.ledger.raised() == [Cause.PUMP_DRIFTS.value]


def test_one_dose_far_off_meters_no_dose_of_another_step(demo_site: Site) -> None:
    bench = begun(demo_site, dose(demo_site, 300.0), dose(demo_site, 300.0))
    bench.rig.came_share = 0.9
    bench.order(Command.START)
    while len(all_of(bench, DoseIntent)) < 2:
        bench.look(0.25)
    bench.rig.came_share = 1.0
    bench.dwell(240.0, 0.25)
    first, top_up, other = all_of(bench, DoseIntent)
    assert top_up.ml_per_count < 0.96 * first.ml_per_count
    assert other.ml_per_count == pytest.approx(first.ml_per_count, rel=0.005)
    assert bench.scan.state is RunState.COMPLETE


def test_a_dose_that_stays_short_after_its_top_up_is_held_and_taken_as_it_is(demo_site: Site) -> None:
    bench = begun(demo_site)
    bench.rig.came_share = 0.85
    bench.order(Command.START)
    while len(all_of(bench, DoseIntent)) < 2:
        bench.look(0.25)
    bench.rig.came_share = 0.4
    bench.dwell(120.0, 0.25)
    assert bench.scan.state is RunState.HELD
    assert Cause.DOSE_MISSING.value in bench.ledger.raised()
    resumed(bench)
    assert bench.scan.state is RunState.COMPLETE
    assert len(all_of(bench, DoseIntent)) == 2, "nothing more is moved"


@pytest.mark.parametrize(
    ("short", "tops_up"), [(ShortStock.REFUSE, True), (ShortStock.WITHIN_TOLERANCE, False)]
)
def test_a_shortfall_within_the_tolerance_is_taken_where_the_site_says_so(
    demo_site: Site, short: ShortStock, tops_up: bool
) -> None:
    stock = replace(demo_site.policy.stock, short=short, tolerance=0.06)
    site = replace(demo_site, policy=replace(demo_site.policy, stock=stock))
    bench = begun(site, dose(site, 200.0))
    bench.rig.came_share = 0.955
    ran(bench, 240.0)
    assert (len(all_of(bench, DoseIntent)) == 2) is tops_up
    assert bench.scan.state is RunState.COMPLETE
    assert all_of(bench, DoseResult)[0].ml == pytest.approx(191.0, abs=2.0), "the true amount is on record"


@pytest.mark.parametrize("share", [0.0, 0.4])
def test_a_pump_that_moves_nothing_is_stopped_within_a_segment_and_held(
    demo_site: Site, share: float
) -> None:
    bench = begun(demo_site, dose(demo_site, 500.0))
    bench.rig.came_share = share
    ran(bench, 60.0)
    assert bench.scan.state is RunState.HELD
    assert bench.ledger.raised() == [Cause.DOSE_MISSING.value]
    (result,) = all_of(bench, DoseResult)
    assert result.outcome == "short"
    assert result.count_done * 0.05 < 120.0
    assert result.ml == pytest.approx(share * result.count_done * 0.05, abs=3.0)
    assert result.ml + result.uncertainty_ml >= result.count_done * 0.05 - 1.0


def test_what_is_missing_is_moved_after_a_person_has_mended_it_and_no_more(demo_site: Site) -> None:
    bench = begun(demo_site, dose(demo_site, 300.0))
    bench.rig.came_share = 0.0
    ran(bench, 60.0)
    bench.rig.came_share = 1.0
    bench.rig.scales_g[KELP_SCALE] = 17_000.0
    resumed(bench, 200.0)
    assert bench.scan.state is RunState.COMPLETE
    first, second = all_of(bench, DoseIntent)
    assert second.dose_id > first.dose_id
    assert second.target_ml == pytest.approx(300.0, abs=3.0)
    assert sum(result.ml for result in all_of(bench, DoseResult)) == pytest.approx(300.0, abs=4.0)


def test_a_tube_in_the_wrong_bottle_is_named_by_the_scale_that_loses_weight(demo_site: Site) -> None:
    bench = begun(demo_site, dose(demo_site, 500.0))
    bench.rig.drawn_from = OTHER_SCALE
    ran(bench, 60.0)
    (told,) = [alarm.text for _, alarm in bench.ledger.alarms() if alarm.state == "raised"]
    assert f"scale {OTHER_SCALE} lost weight: its tube hangs in the wrong bottle" in told


def test_far_too_much_is_held_and_taken_when_a_person_resumes(demo_site: Site) -> None:
    bench = begun(demo_site)
    bench.rig.came_share = 1.2
    ran(bench)
    assert bench.scan.state is RunState.HELD
    assert Cause.DOSE_EXCESS.value in bench.ledger.raised()
    resumed(bench, 20.0)
    assert bench.scan.state is RunState.COMPLETE
    assert len(all_of(bench, DoseIntent)) == 1


def test_a_scale_that_gives_nothing_leaves_the_dose_counted_and_is_told(demo_site: Site) -> None:
    bench = begun(demo_site)
    bench.rig.scales_g[KELP_SCALE] = None
    ran(bench)
    (result,) = all_of(bench, DoseResult)
    assert (result.outcome, result.basis) == ("done", "counted")
    assert all_of(bench, Weighing) == []
    assert bench.ledger.raised() == [Cause.SCALE_LOST.value]
    assert bench.scan.state is RunState.COMPLETE


def test_a_scale_that_is_lost_in_the_dose_leaves_it_counted(demo_site: Site) -> None:
    bench = begun(demo_site)
    bench.order(Command.START)
    bench.dwell(15.0, 0.25)
    bench.rig.scales_g[KELP_SCALE] = None
    bench.dwell(60.0, 0.25)
    assert all_of(bench, DoseResult)[0].basis == "counted"
    assert bench.ledger.raised() == [Cause.SCALE_LOST.value]


def test_a_bottle_that_is_filled_before_it_was_weighed_again_leaves_the_dose_counted(demo_site: Site) -> None:
    bench = begun(demo_site)
    bench.order(Command.START)
    while bench.rig.board.motion.count_done < 2000:
        bench.look(0.25)
    bench.rig.scales_g[KELP_SCALE] = 18_000.0
    bench.dwell(20.0, 0.25)
    (result,) = all_of(bench, DoseResult)
    assert (result.basis, result.ml) == ("counted", pytest.approx(100.0, abs=0.5))
    assert bench.ledger.raised() == [Cause.SCALE_LOST.value]


def test_a_pump_without_a_scale_doses_as_ever(demo_site: Site) -> None:
    pumps = {name: replace(pump, scale=None) for name, pump in demo_site.rig.pumps.items()}
    site = replace(demo_site, rig=replace(demo_site.rig, pumps=pumps, scales={}))
    bench = ran(begun(site), 35.0)
    assert all_of(bench, DoseResult)[0].basis == "counted"
    assert bench.scan.state is RunState.COMPLETE


def test_a_bottle_left_alone_in_a_hold_is_weighed_whole(demo_site: Site) -> None:
    bench = begun(demo_site, dose(demo_site, 200.0))
    bench.order(Command.START)
    bench.dwell(20.0, 0.25)
    bench.order(Command.HOLD)
    bench.dwell(30.0, 0.5)
    resumed(bench)
    (result,), (weighing,) = all_of(bench, DoseResult), all_of(bench, Weighing)
    assert len(all_of(bench, DoseIntent)) == 1
    assert result.basis == "weighed"
    assert weighing.ml == pytest.approx(200.0, abs=2.0)


def test_a_bottle_filled_in_a_hold_spoils_neither_the_amount_nor_the_dose(demo_site: Site) -> None:
    bench = begun(demo_site, dose(demo_site, 200.0))
    bench.order(Command.START)
    bench.dwell(20.0, 0.25)
    bench.order(Command.HOLD)
    bench.dwell(5.0, 0.5)
    bench.rig.scales_g[KELP_SCALE] = 19_000.0
    resumed(bench)
    (result,) = all_of(bench, DoseResult)
    assert result.ml == pytest.approx(200.0, abs=4.0)
    assert bench.scan.state is RunState.COMPLETE
    assert bench.ledger.raised() == []


@pytest.mark.parametrize("command", [Command.STOP, Command.ABORT])
@pytest.mark.parametrize("after_s", [3.0, 15.0, 33.0])
def test_whatever_the_moment_a_stop_leaves_no_dose_without_a_result(
    demo_site: Site, command: Command, after_s: float
) -> None:
    bench = begun(demo_site)
    bench.order(Command.START)
    bench.dwell(after_s, 0.25)
    bench.order(command)
    bench.dwell(2.0, 0.25)
    intents, results = all_of(bench, DoseIntent), all_of(bench, DoseResult)
    assert [one.dose_id for one in intents] == [one.dose_id for one in results]


def test_a_board_that_restarts_while_the_bottle_is_weighed_leaves_a_moved_dose_proven(
    demo_site: Site,
) -> None:
    bench = begun(demo_site)
    bench.order(Command.START)
    while bench.rig.board.motion.count_done < 2000:
        bench.look(0.25)
    bench.dwell(2.0, 0.25)
    bench.rig.board = replace(bench.rig.board, boot_id=bench.rig.board.boot_id + 1)
    bench.dwell(3.0, 0.25)
    resumed(bench, 30.0)
    (result,) = all_of(bench, DoseResult)
    assert (result.outcome, result.count_done) == ("done", 2000)
    assert bench.scan.state is RunState.COMPLETE


def test_a_tube_known_to_be_worn_is_refused_before_its_dose_until_a_person_decides(demo_site: Site) -> None:
    bench = begun(demo_site)
    memory = bench.scan.memory
    assert memory is not None
    memory.tubes["kelp"] = TubeEstimate(0.05, 0.9, 0.004, doses=5)
    ran(bench, 20.0)
    assert bench.scan.state is RunState.HELD
    assert (bench.ledger.raised(), all_of(bench, DoseIntent)) == ([Cause.PUMP_DRIFTED.value], [])
    bench.rig.came_share = 0.9
    resumed(bench)
    assert bench.scan.state is RunState.COMPLETE
    (intent,) = all_of(bench, DoseIntent)
    assert intent.target_count == pytest.approx(100.0 / 0.045, abs=8)
    assert memory.tubes["kelp"].verdict is TubeVerdict.REFUSED


def test_a_blocked_trim_is_told_and_not_given_again(demo_site: Site) -> None:
    bench = begun(demo_site, dose(demo_site, 10.0, Purpose.TRIM))
    bench.rig.came_share = 0.0
    ran(bench, 60.0)
    assert bench.ledger.raised() == [Cause.DOSE_MISSING.value]
    resumed(bench, 60.0)
    assert len(all_of(bench, DoseIntent)) == 1
    assert bench.scan.state is RunState.COMPLETE


@pytest.mark.parametrize(
    ("held_s", "whole"), [(READING_KEEPS_S - 20.0, True), (READING_KEEPS_S + 20.0, False)]
)
def test_after_a_long_hold_the_rest_of_a_trim_is_not_given(
    demo_site: Site, held_s: float, whole: bool
) -> None:
    bench = begun(demo_site, dose(demo_site, 60.0, Purpose.TRIM))
    bench.order(Command.START)
    bench.dwell(12.0, 0.25)
    bench.order(Command.HOLD)
    bench.dwell(held_s, 1.0)
    resumed(bench, 60.0)
    (result,) = all_of(bench, DoseResult)
    assert (result.outcome == "done") is whole
    assert (result.ml == pytest.approx(60.0, abs=2.0)) is whole
    assert bench.scan.state is RunState.COMPLETE
    memory = bench.scan.memory
    assert memory is not None
    assert memory.trim_dosed_ml == result.ml


def test_a_trim_held_up_before_it_began_is_not_given_at_all(demo_site: Site) -> None:
    bench = begun(demo_site, dose(demo_site, 60.0, Purpose.TRIM))
    memory = bench.scan.memory
    assert memory is not None
    memory.readings.append(Accepted(6.6, 18.0, -400.0))
    ran(bench, 30.0)
    assert all_of(bench, DoseIntent) == []
    assert bench.scan.state is RunState.COMPLETE


def test_a_tube_that_ran_empty_before_its_dose_is_told_before_anything_turns(demo_site: Site) -> None:
    bench = begun(demo_site)
    bench.order(Command.START)
    assert bench.scan.memory is not None
    bench.scan.memory.stood_g = {KELP_SCALE: 11_973.0}
    bench.dwell(20.0, 0.25)
    assert bench.scan.state is RunState.HELD
    assert all_of(bench, DoseIntent) == []
    resumed(bench)
    assert bench.scan.state is RunState.COMPLETE


def test_a_bottle_that_runs_by_itself_is_told_before_anything_turns(demo_site: Site) -> None:
    bench = begun(demo_site)
    bench.order(Command.START)
    assert bench.scan.memory is not None
    bench.scan.memory.stood_g = {KELP_SCALE: 12_000.0, OTHER_SCALE: 12_040.0}
    bench.dwell(20.0, 0.25)
    assert bench.ledger.raised() == [Cause.DOSE_EXCESS.value]
    assert all_of(bench, DoseIntent) == []


def test_the_first_weights_are_taken_while_the_tank_fills_and_a_hold_forgets_them(demo_site: Site) -> None:
    bench = Bench(demo_site)
    bench.run(StepKind.FILL)
    memory = bench.scan.memory
    assert memory is not None
    # Still swinging at first: what a single look shows is no weight.
    bench.rig.scales_g[KELP_SCALE] = 12_050.0
    bench.dwell(2.0, 0.25)
    bench.rig.scales_g[KELP_SCALE] = 12_000.0
    bench.dwell(18.0, 0.25)
    assert memory.stood_g == dict.fromkeys(demo_site.rig.scales, 12_000.0)
    bench.order(Command.HOLD)
    bench.dwell(1.0, 0.25)
    bench.order(Command.RESTART)
    bench.dwell(30.0, 0.25)
    assert memory.stood_g == {}


def rinse(site: Site) -> Rinse:
    step = step_of(StepKind.RINSE, site, 0.0)
    assert isinstance(step, Rinse)
    return replace(step, times=3, each_ml=60.0, rate_ml_min=600.0)


def test_a_rinse_is_weighed_as_a_whole(demo_site: Site) -> None:
    bench = ran(begun(demo_site, rinse(demo_site)), 60.0)
    (weighing,) = all_of(bench, Weighing)
    assert len(all_of(bench, DoseResult)) == 3
    assert (weighing.scale, weighing.ml) == (CAN, pytest.approx(180.0, abs=2.0))
    assert bench.scan.state is RunState.COMPLETE


def test_a_rinse_that_did_not_come_is_held_and_done_again(demo_site: Site) -> None:
    bench = begun(demo_site, rinse(demo_site))
    bench.rig.came_share = 0.0
    ran(bench, 60.0)
    assert bench.scan.state is RunState.HELD
    assert bench.ledger.raised() == [Cause.DOSE_MISSING.value]
    bench.rig.came_share = 1.0
    resumed(bench, 60.0)
    assert bench.scan.state is RunState.COMPLETE
    assert len(all_of(bench, DoseResult)) == 6


def test_a_rinse_that_a_hold_interrupts_is_still_checked_from_there_on(demo_site: Site) -> None:
    bench = begun(demo_site, rinse(demo_site))
    bench.order(Command.START)
    bench.dwell(9.0, 0.25)
    bench.order(Command.HOLD)
    bench.dwell(5.0, 0.5)
    bench.rig.came_share = 0.0
    resumed(bench, 60.0)
    assert bench.scan.state is RunState.HELD
    assert bench.ledger.raised() == [Cause.DOSE_MISSING.value]


@pytest.mark.parametrize(("cap_ml", "may"), [(123.1, False), (130.0, True)])
def test_a_top_up_is_held_against_the_cap_as_its_motion_will_be(
    demo_site: Site, cap_ml: float, may: bool
) -> None:
    """A tube known to move less asks for more counts; what the cap forbids must not stop the batch."""
    pump = replace(demo_site.rig.pumps["kelp"], night_cap_ml=cap_ml)
    site = replace(demo_site, rig=replace(demo_site.rig, pumps={**demo_site.rig.pumps, "kelp": pump}))
    bench = begun(site)
    memory = bench.scan.memory
    assert memory is not None
    memory.tubes["kelp"] = TubeEstimate(0.05, 0.93, 0.001, doses=5)
    bench.rig.came_share = 0.93 * 0.85
    ran(bench, 180.0)
    assert len(all_of(bench, DoseIntent)) == (2 if may else 1)
    assert Cause.CAP_REACHED.value not in bench.ledger.raised()
    assert bench.scan.state is (RunState.COMPLETE if may else RunState.HELD)


def test_a_top_up_that_the_bottle_cannot_give_leaves_the_stock_check_on(demo_site: Site) -> None:
    kelp = replace(demo_site.inputs["kelp_extract"], stock_ml=203.0, unreachable_ml=0.0)
    site = replace(demo_site, inputs={**demo_site.inputs, "kelp_extract": kelp})
    bench = begun(site, dose(site, 200.0), dose(site, 50.0))
    bench.rig.came_share = 0.95
    ran(bench, 150.0)
    assert (bench.scan.state, len(all_of(bench, DoseIntent))) == (RunState.HELD, 1)
    bench.rig.came_share = 1.0
    resumed(bench, 30.0)
    assert bench.ledger.raised()[-1] == Cause.STOCK_EMPTY.value, "nobody was sent to the bottle before"
    assert len(all_of(bench, DoseIntent)) == 1
