"""The law checks can fail: each law is broken once, and the check must see it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from pytest_mock import MockerFixture

from controller.plan.steps import StepKind
from controller.record.events import DoseAmended, DoseIntent, DoseResult
from controller.run.request import Request
from controller.settings.values import Site
from firmware_bridge.firmware.guard import Guard
from sim.faults import FaultPlan
from sim.fed_tank import doubts, fed_ml
from sim.matter.ions import PARCEL, K
from sim.night import Night
from sim.pins import FakePins
from sim.told_doses import Told, ToldDoses
from sim.vessel.layers import Layer


@pytest.fixture
def night(demo_site: Site, tmp_path: Path) -> Iterator[Callable[..., Night]]:
    made: list[Night] = []

    def make(*strikes: tuple[float, str]) -> Night:
        folder = tmp_path / f"{len(made)}"
        folder.mkdir()
        made.append(Night(demo_site, "young_plants", 1, folder, FaultPlan(strikes)))
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


def told_what_came(night: Night, **told: Told) -> list[str]:
    """Look at the tank as if it were fed now, the record saying what truly came but for `told`."""
    dosing = night.rig.plant.dosing
    says = {name: replace(night.told[name], ml=fed_ml(dosing, name)) for name in night.told}
    wanted = [
        replace(addition, ml=fed_ml(dosing, addition.input))
        for addition in night.plan.additions
        if addition.input in says
    ]
    return list(doubts(night.rig, replace(night.plan, additions=tuple(wanted)), says | told))


@pytest.fixture
def mixed(night: Callable[..., Night]) -> Night:
    """A night that has dosed kelp extract and mixed it in."""
    tonight = night()
    while not tonight.step().title.startswith("Dose 142"):
        pass
    return tonight


def test_a_tank_as_wanted_and_as_told_is_in_no_doubt(mixed: Night) -> None:
    assert told_what_came(mixed) == []


def test_an_addition_that_is_missing_is_a_doubt(mixed: Night) -> None:
    found = list(doubts(mixed.rig, mixed.plan, mixed.told))
    assert [text for text in found if "compost_extract is fed, wanted were 540 mL" in text]
    assert not [text for text in found if "kelp_extract" in text]


@pytest.mark.parametrize(("off", "doubted"), [(0.03, False), (0.12, True), (-0.12, True)])
def test_a_record_that_is_further_off_than_it_says_is_a_doubt(
    mixed: Night, off: float, doubted: bool
) -> None:
    says = mixed.told["kelp_extract"]
    came_ml = fed_ml(mixed.rig.plant.dosing, "kelp_extract")
    wrong = replace(says, ml=came_ml * (1.0 + off))
    assert any("its record says" in text for text in told_what_came(mixed, kelp_extract=wrong)) == doubted
    in_doubt = replace(wrong, doubt_ml=abs(off) * came_ml)
    assert told_what_came(mixed, kelp_extract=in_doubt) == []


@pytest.mark.parametrize(("says", "doubted"), [(1.0, False), (0.5, True)])
def test_an_unproven_dose_that_a_person_took_must_still_be_told_right(
    mixed: Night, says: float, doubted: bool
) -> None:
    came_ml = fed_ml(mixed.rig.plant.dosing, "kelp_extract")
    taken = replace(mixed.told["kelp_extract"], ml=says * came_ml, unproven=True)
    wanted = [replace(addition, ml=3.0 * came_ml) for addition in mixed.plan.additions]
    plan = replace(mixed.plan, additions=tuple(wanted))
    found = list(doubts(mixed.rig, plan, {**mixed.told, "kelp_extract": taken}))
    assert any("kelp_extract" in text for text in found) == doubted


@pytest.mark.parametrize(("share", "doubted"), [(0.95, False), (0.8, True), (1.2, True)])
def test_grains_that_did_not_come_or_came_twice_are_a_doubt(
    mixed: Night, mocker: MockerFixture, share: float, doubted: bool
) -> None:
    name = "rock_phosphate_suspension"
    shares = dict.fromkeys(mixed.told[name].dose_ids, share)
    mocker.patch(
        "sim.pumping.dosing.Dosing.solids_share_by_dose",
        new_callable=mocker.PropertyMock,
        return_value=shares,
    )
    assert any("of the solids on its label" in text for text in told_what_came(mixed)) == doubted


@pytest.mark.parametrize(("mmol", "doubted"), [(1.0, False), (200.0, True)])
def test_a_tank_that_is_stronger_below_is_a_doubt(mixed: Night, mmol: float, doubted: bool) -> None:
    potash = [0.0] * len(PARCEL)
    potash[K] = mmol
    mixed.rig.plant.tank.add(1.0, potash, at=Layer.BOTTOM)
    assert any("off its mean strength" in text for text in told_what_came(mixed)) == doubted


def test_liquid_that_nobody_asked_for_is_a_doubt(mixed: Night) -> None:
    dosing = mixed.rig.plant.dosing
    for _ in range(3):
        mixed.rig.plant.pump(dosing.channel_of("molasses"), 500, 80, 99)
    found = told_what_came(mixed)
    assert [text for text in found if "of molasses is fed, wanted were 0 mL" in text]


def test_two_concentrates_in_the_line_break_law_4(night: Callable[..., Night]) -> None:
    tonight = night()
    go_to(tonight, StepKind.DOSE)
    go_on(tonight, 20)
    assert laws_broken(tonight) == set()
    tonight.rig.plant.pump(tonight.rig.plant.dosing.channel_of("molasses"), 30, 80, 99)
    go_on(tonight, 2)
    assert 4 in laws_broken(tonight)


def test_a_welded_permit_counts_as_a_permit_but_not_without_the_enable(night: Callable[..., Night]) -> None:
    powered, cut = night((100.0, "permit-welded")), night((90.0, "board-cut"), (100.0, "permit-welded"))
    for tonight in (powered, cut):
        go_to(tonight, StepKind.FILL)
        go_on(tonight, 150)
    assert powered.rig.pins.enable
    assert laws_broken(powered) == {12}
    assert cut.rig.contacts.permit
    assert not cut.rig.pins.enable
    assert laws_broken(cut) == set()


class Nowhere:
    """A ledger that keeps nothing."""

    fault = None

    def put(self, at_s: float, event: object) -> int:
        return 1

    def durable(self, ticket: int) -> bool:
        return True

    def close(self) -> None:
        pass


def test_what_the_record_says_is_added_up_by_input_without_rinses() -> None:
    ledger = ToldDoses(Nowhere())
    for dose_id, purpose, name in ((1, "addition", "kelp"), (2, "rinse", "rinse"), (3, "trim", "kelp")):
        ledger.put(0.0, DoseIntent(1, 1, dose_id, purpose, name, "pump", 50.0, 500, 0.1, 60.0, 7))
        ledger.put(1.0, DoseResult(1, 1, dose_id, "done", 490, 49.0, 0.5, ""))
    assert ledger.by_input == {"kelp": Told(ml=98.0, doubt_ml=1.0, trims_ml=49.0, dose_ids=[1, 3])}
    ledger.put(2.0, DoseResult(1, 1, 3, "unproven", 0, 0.0, 0.0, "cut off"))
    assert ledger.by_input["kelp"].unproven


def test_a_trim_that_was_ended_early_is_wanted_by_what_came_and_an_addition_by_its_plan() -> None:
    ledger = ToldDoses(Nowhere())
    ledger.put(0.0, DoseIntent(1, 1, 1, "trim", "citric", "pump", 50.0, 500, 0.1, 60.0, 7))
    assert ledger.by_input["citric"].trims_ml == 50.0
    ledger.put(1.0, DoseResult(1, 1, 1, "short", 300, 30.0, 0.5, "bottle empty"))
    assert (ledger.by_input["citric"].ml, ledger.by_input["citric"].trims_ml) == (30.0, 30.0)


def test_the_last_word_on_a_dose_counts_and_what_it_drew_by_mistake_adds_to_that_input() -> None:
    ledger = ToldDoses(Nowhere())
    ledger.put(0.0, DoseIntent(1, 1, 1, "addition", "kelp", "pump", 50.0, 500, 0.1, 60.0, 7))
    ledger.put(1.0, DoseResult(1, 1, 1, "done", 500, 50.0, 0.5, ""))
    assert not ledger.by_input["kelp"].unproven
    ledger.put(2.0, DoseAmended(1, 2, 1, "kelp", "short", 20.0, 5.0, "by level", "seen"))
    ledger.put(3.0, DoseAmended(1, 2, 1, "kelp", "short", 0.0, 4.0, "weighed", "seen again"))
    ledger.put(3.0, DoseAmended(1, 2, 1, "gypsum", "unproven", 48.0, 3.0, "weighed", "seen again"))
    kelp, gypsum = ledger.by_input["kelp"], ledger.by_input["gypsum"]
    assert (kelp.ml, kelp.doubt_ml, kelp.dose_ids, kelp.unproven) == (0.0, 4.0, [1], True)
    assert (gypsum.ml, gypsum.doubt_ml, gypsum.dose_ids, gypsum.unproven) == (48.0, 3.0, [], True)
