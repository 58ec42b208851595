"""Following the level over a batch: what is looked at, compared, told, and not told again."""

from __future__ import annotations

import pytest

from controller.measure.arrived import Moved, StillLevel
from controller.run.arrived import CALM_S, EVERY_S, GIVE_UP_S, LOOKS, Arrivals, StillLook, sunk
from controller.run.situation import Cause, Trouble

FISH = Moved("fish_hydrolysate", "fish", 720.0, 15.0)
HUMATE = Moved("potassium_humate", "humate", 119.0, 3.0)
RINSE = Moved("rinse water", "rinse_water", 180.0, 5.0)


def at(level_l: float) -> StillLevel:
    return StillLevel(level_l, 0.02)


def followed(*moved: Moved, foams: bool = False) -> Arrivals:
    arrivals = Arrivals()
    arrivals.begin(at(135.0))
    for motion in moved:
        arrivals.note(motion, foams=foams)
    return arrivals


def looked(level_l: float | None) -> tuple[StillLook, float]:
    look, now_s = StillLook(0.28), 100.0
    while not look.over:
        now_s = look.look(now_s, level_l)
    return look, now_s - 100.0 - EVERY_S


def test_a_look_takes_no_reading_before_the_tank_is_calm_and_then_sixteen() -> None:
    look = StillLook(0.28)
    assert look.look(100.0, 500.0) == 100.0 + CALM_S
    assert look.look(100.0 + CALM_S / 2, 500.0) == 100.0 + CALM_S
    now_s = 100.0 + CALM_S
    for _ in range(LOOKS):
        assert not look.over
        now_s = look.look(now_s, 120.0)
    assert look.over
    assert look.level is not None
    assert look.level.mean_l == pytest.approx(120.0)
    assert now_s - 100.0 < 10.0


def test_scans_that_come_more_often_give_no_more_readings() -> None:
    look, now_s = StillLook(0.28), 0.0
    while not look.over:
        look.look(now_s, 120.0)
        now_s += 0.05
    assert now_s >= CALM_S + (LOOKS - 1) * EVERY_S


def test_a_look_without_a_level_gives_up_and_gives_nothing() -> None:
    look, took_s = looked(None)
    assert look.level is None
    assert took_s == pytest.approx(GIVE_UP_S, abs=EVERY_S)


def test_what_has_come_is_noted_and_not_told() -> None:
    trouble, note = followed(FISH, RINSE).compare(at(135.9), whole=True)
    assert trouble is None
    assert note == "level +0.90 L, 0.90 L were moved: arrived"


def test_what_has_not_come_is_told_with_its_inputs_and_what_was_wanted_and_seen() -> None:
    trouble, _ = followed(FISH, RINSE).compare(at(135.2), whole=True)
    assert trouble is not None
    assert trouble.cause is Cause.DOSE_MISSING
    assert "fish_hydrolysate 720 mL, rinse water 180 mL, together 900 mL" in trouble.text
    assert "the level shows 200 mL, 700 mL missing" in trouble.text


def test_what_was_told_is_not_told_again_and_the_next_look_begins_anew() -> None:
    arrivals = followed(FISH, RINSE)
    arrivals.compare(at(135.2), whole=True)
    assert arrivals.anew
    assert not arrivals.follows
    assert arrivals.compare(at(135.2), whole=True) == (None, "")
    arrivals.begin(at(135.2))
    assert not arrivals.anew
    arrivals.note(FISH, foams=False)
    assert arrivals.compare(at(135.9), whole=True)[0] is None


def test_several_small_losses_show_in_the_sum_and_in_none_of_the_looks() -> None:
    arrivals = followed()
    level_l, troubles = 135.0, []
    for _ in range(4):
        arrivals.note(FISH, foams=False)
        level_l += 0.720 - 0.110
        troubles.append(arrivals.compare(at(level_l), whole=False)[0])
    assert troubles == [None] * 4
    arrivals.note(HUMATE, foams=False)
    trouble, _ = arrivals.compare(at(level_l + 0.119), whole=True)
    assert trouble is not None
    assert "fish_hydrolysate 2880 mL, potassium_humate 119 mL, together 2999 mL" in trouble.text
    assert "440 mL missing" in trouble.text


def cause_of(trouble: Trouble | None) -> Cause | None:
    return None if trouble is None else trouble.cause


@pytest.mark.parametrize(
    ("rise_l", "foams", "cause"),
    [
        (1.3, False, Cause.DOSE_EXCESS),
        (1.3, True, None),
        (0.3, True, Cause.DOSE_MISSING),
        (-0.5, False, Cause.LEVEL_FALLS),
    ],
)
def test_more_is_told_where_nothing_foams_and_a_tank_that_lost_more_than_the_dose_falls(
    rise_l: float, foams: bool, cause: Cause | None
) -> None:
    trouble, _ = followed(FISH, foams=foams).compare(at(135.0 + rise_l), whole=True)
    assert cause_of(trouble) is cause


def test_a_look_that_gave_nothing_leaves_everything_to_the_next() -> None:
    arrivals = followed(FISH)
    assert arrivals.compare(None, whole=True) == (None, "")
    assert cause_of(arrivals.compare(at(135.0), whole=True)[0]) is Cause.DOSE_MISSING


def test_the_largest_amount_that_no_scale_weighed_is_that_of_one_input_and_no_rinse() -> None:
    weighed = Moved("molasses", "molasses", 900.0, 9.0, weighed=True)
    arrivals = followed(HUMATE, HUMATE, weighed, RINSE, RINSE)
    assert arrivals.largest_counted_ml("rinse_water") == pytest.approx(238.0)
    arrivals.compare(at(136.0), whole=False)
    assert arrivals.largest_counted_ml("rinse_water") == 0.0


def test_foam_is_what_the_level_sank_by_between_two_looks() -> None:
    sinking = sunk(at(178.4), at(178.1))
    assert sinking is not None
    assert sinking.sinking_l == pytest.approx(0.3)
    rising = sunk(at(178.1), at(178.4))
    assert rising is not None
    assert rising.sinking_l == 0.0
    assert sunk(None, at(178.0)) is None
