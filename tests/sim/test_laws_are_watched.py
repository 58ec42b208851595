"""The law checks can fail: each law is broken once, and the check must see it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from pytest_mock import MockerFixture

from controller.plan.steps import StepKind
from controller.run.request import Request
from controller.settings.values import Site
from firmware_bridge.firmware.guard import Guard
from sim.faults import FaultPlan
from sim.night import Night
from sim.pins import FakePins


@pytest.fixture
def night(demo_site: Site, tmp_path: Path) -> Iterator[Callable[..., Night]]:
    made: list[Night] = []

    def make(*strikes: tuple[float, str]) -> Night:
        made.append(Night(demo_site, "young_plants", 1, tmp_path, FaultPlan(strikes)))
        return made[-1]

    yield make
    for one in made:
        one.close()


def go_to(night: Night, kind: StepKind) -> None:
    while night.step().kind is not kind:
        pass


def go_on(night: Night, seconds: float) -> None:
    end_s = night.rig.now_s + seconds
    while night.rig.now_s < end_s:
        night.step(1.0)


def laws_broken(night: Night) -> set[int]:
    return {violation.law for violation in night.violations}


def test_an_honest_night_breaks_none(night: Callable[..., Night]) -> None:
    tonight = night()
    go_to(tonight, StepKind.MEASURE)
    assert laws_broken(tonight) == set()


def test_a_motor_that_turns_more_than_its_target_breaks_law_1(
    night: Callable[..., Night], mocker: MockerFixture
) -> None:
    real_start = FakePins.motor_start
    mocker.patch.object(
        FakePins,
        "motor_start",
        lambda pins, channel, count, counts_per_s: real_start(pins, channel, count + 500, counts_per_s),
    )
    tonight = night()
    go_to(tonight, StepKind.DOSE)
    go_on(tonight, 600)
    assert 1 in laws_broken(tonight)


def test_a_board_without_a_lease_breaks_law_2_when_the_host_falls_silent(
    night: Callable[..., Night], mocker: MockerFixture
) -> None:
    mocker.patch.object(Guard, "elapse")
    tonight = night()
    go_to(tonight, StepKind.MIX)
    tonight.rig.cut = True
    go_on(tonight, 20)
    assert 2 in laws_broken(tonight)


def test_a_rig_with_no_working_float_and_a_stuck_valve_breaks_law_3(night: Callable[..., Night]) -> None:
    tonight = night((1.0, "float-jammed-down"))
    tonight.rig.panel.high_float_stuck = False
    go_to(tonight, StepKind.SETTLE)
    # Three faults at once, against which no single-fault design can stand: the check must still see them.
    tonight.rig.pins.overrides["level"] = 5000
    tonight.rig.plant.valve_stuck_open = True
    go_on(tonight, 120)
    assert 3 in laws_broken(tonight)


def test_a_dose_with_the_valve_open_breaks_law_4(night: Callable[..., Night], mocker: MockerFixture) -> None:
    tonight = night()
    go_to(tonight, StepKind.DOSE)
    mocker.patch.object(FakePins, "set_valve")
    tonight.rig.pins.valve = True
    go_on(tonight, 10)
    assert 4 in laws_broken(tonight)


def test_a_permit_without_a_release_breaks_law_12(night: Callable[..., Night], mocker: MockerFixture) -> None:
    tonight = night()
    go_to(tonight, StepKind.MIX)
    go_on(tonight, 5)
    mocker.patch("controller.run.scan.refusal", return_value=None)
    real_write = tonight.rig.write

    def write_permit(outputs: Request) -> None:
        real_write(replace(outputs, stir=True, permit=True, dose=None, fill=None))

    mocker.patch.object(tonight.rig, "write", write_permit)
    go_on(tonight, 5)
    assert 12 in laws_broken(tonight)
