"""The matrix does not lie: its words move with the very numbers by which its causes are judged."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from calm import CALM

from controller.run.causes import batch, emergency, machine, tank
from controller.run.interlock_row import Clear, Interlock, Output, Response
from controller.run.interlock_table import ROW_OF, TABLE
from controller.run.matrix import EFFECTS, QUARANTINED, Mark, effects_of, matrix
from controller.run.phases import check, fill, keep, release
from controller.run.situation import Cause, FillWatch, Situation
from controller.settings.values import Site

# For causes that compare a figure: what the situation must be given for it, and the limit of the module.
FIGURES = {
    Cause.VALVE_LEAKS_BY: ("still_rise_l", emergency.LEAK_BY_L),
    Cause.STALE_INPUT: ("stale_s", machine.STALE_S),
    Cause.PUMP_STALLED: ("stalled_s", tank.STALL_S),
    Cause.FOAM: ("foam_l", tank.FOAM_L),
    Cause.HELD_LONG: ("held_s", batch.LONG_HOLD_S),
}


def numbers(text: str) -> list[float]:
    return [float(found) for found in re.findall(r"\d+(?:\.\d+)?", text)]


@pytest.mark.parametrize("cause", FIGURES, ids=lambda cause: cause.name)
def test_a_figure_trips_just_above_the_number_that_the_page_prints(demo_site: Site, cause: Cause) -> None:
    name, limit = FIGURES[cause]
    row = ROW_OF[cause]
    printed = numbers(row.trip.words(demo_site))
    assert printed == [limit]

    def at(value: float) -> Situation:
        return replace(CALM, **{name: value})

    assert row.trip.test(at(printed[0] * 1.001), demo_site.rig)
    assert not row.trip.test(at(printed[0]), demo_site.rig)


def test_the_dry_supply_trips_just_above_the_number_that_the_page_prints(demo_site: Site) -> None:
    row = ROW_OF[Cause.SUPPLY_FAILED]
    (printed,) = numbers(row.trip.words(demo_site))
    for dry_s, trips in ((printed, False), (printed + 0.1, True)):
        assert row.trip.test(replace(CALM, fill=FillWatch(0.0, 0.0, dry_s)), demo_site.rig) is trips


def test_the_words_of_fill_and_level_move_with_the_rig(demo_site: Site) -> None:
    rig = demo_site.rig
    moved = replace(
        demo_site,
        rig=replace(
            rig,
            fill=replace(rig.fill, disagreement_l=4.5, pipe_ml=700.0),
            tank=replace(rig.tank, high_float_l=191.5, second_high_float_l=197.5, low_float_l=9.5),
        ),
    )
    words = {row.cause: row.trip.words(moved) for row in TABLE}
    assert numbers(words[Cause.FILL_DISAGREES]) == [4.5, fill.CALM_S, 4.5, 5.2]
    assert numbers(words[Cause.HIGH_FLOAT]) == [191.5, 197.5]
    assert 9.5 in numbers(words[Cause.LOW_FLOAT])
    assert 9.5 in numbers(words[Cause.RUN_DRY])
    row = ROW_OF[Cause.FILL_DISAGREES]
    assert not row.trip.test(replace(CALM, fill=FillWatch(4.5, 0.0, 0.0)), moved.rig)
    assert row.trip.test(replace(CALM, fill=FillWatch(4.6, 0.0, 0.0)), moved.rig)


def test_the_words_of_what_phases_report_move_with_the_policy_and_the_phases(demo_site: Site) -> None:
    policy, rig = demo_site.policy, demo_site.rig
    probe = replace(rig.probe, due_days=17, calibrated=rig.probe.calibrated + timedelta(days=1))
    proof = replace(policy.proof_tests, due_days=19, done=policy.proof_tests.done + timedelta(days=1))
    water = replace(policy.water, temperature_low_c=11.5, temperature_high_c=23.5, temperature_wait_s=420.0)
    trim = replace(policy.trim, max_trims=7, cap_ml_l=1.25, stable_ph=0.035, stable_s=75.0)
    pumps = {name: replace(pump, night_cap_ml=1234.0) for name, pump in rig.pumps.items()}
    moved = replace(
        demo_site,
        policy=replace(policy, water=water, trim=trim, proof_tests=proof),
        rig=replace(rig, probe=probe, pumps=pumps),
    )
    words = {row.cause: row.trip.words(moved) for row in TABLE}
    assert "17 days" in words[Cause.CALIBRATION_OVERDUE]
    assert str(probe.calibrated) in words[Cause.CALIBRATION_OVERDUE]
    assert "19 days" in words[Cause.PROOF_TEST_OVERDUE]
    assert str(proof.done) in words[Cause.PROOF_TEST_OVERDUE]
    assert numbers(words[Cause.WATER_TEMPERATURE]) == [11.5, 23.5, 7.0]
    assert "7 trims" in words[Cause.TRIM_FAILED]
    assert "1.25 mL/L" in words[Cause.TRIM_FAILED]
    assert numbers(words[Cause.PROBE_DOUBTFUL])[:2] == [0.035, 75.0]
    assert words[Cause.CAP_REACHED].count("1234 mL") == len(pumps)
    assert check.PATIENCE_S in numbers(words[Cause.PRECONDITION])
    assert check.HEEL_TOLERANCE_L in numbers(words[Cause.PRECONDITION])
    assert keep.DOUBT_S in numbers(words[Cause.PERMIT_WITHDRAWN])
    assert release.VOLUME_SHARE * 100 in numbers(words[Cause.TANK_UNFIT])


def test_every_row_of_the_page_is_a_row_of_the_table_and_every_effect_has_a_mark(demo_site: Site) -> None:
    page = matrix(demo_site)
    assert [row.cause for row in page] == [row.cause.value for row in TABLE]
    assert {row.cause for row in page} == {cause.value for cause in Cause}
    assert len({row.tag for row in page}) == len(page)
    for row in page:
        assert tuple(row.effects) == EFFECTS
        assert row.trip_point
        assert row.consequence
        assert row.remedy


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.cause.name)
def test_the_marks_are_those_of_the_row(row: Interlock, demo_site: Site) -> None:
    marks = effects_of(row)
    blocked = {output for output in Output if marks[output.value] is Mark.BLOCKED}
    assert blocked == set(row.blocks)
    assert (marks[QUARANTINED] is not Mark.NONE) is (row.response in (Response.STOP, Response.ABORT))
    (told,) = [page for page in matrix(demo_site) if page.cause == row.cause.value]
    assert told.latched is (row.clear is Clear.ACKNOWLEDGED)
    assert told.delay_s == row.delay_s
    assert told.response == row.response.name.lower()
    assert (told.bypass == "none") is not row.may_be_shelved
