"""Nights that start too low and are brought up with limestone, which dissolves for hours."""

from __future__ import annotations

import pytest
from fault_nights import PLAIN, TAP, Ended, night_with, site_with

from controller.record.batch_record import Timed
from controller.record.events import Decision

ACIDIC = "{ K = 2.0, phosphate = 2.02, carbonate = 0.3 }"
"""Potassium dihydrogen phosphate with a little free acid: some pH 4.6."""


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> Ended:
    folder = tmp_path_factory.mktemp("slow")
    return night_with(site_with(folder, ("simulated.toml", TAP, ACIDIC)), folder, PLAIN)


def waits(night: Ended) -> list[Timed[Decision]]:
    return [one for one in night.record.decisions if one.event.did == "stir longer and look again"]


def test_the_tank_is_brought_into_its_window_and_fed(night: Ended) -> None:
    assert night.released
    assert night.violations == ()
    assert night.fed is not None
    assert 5.8 <= night.fed.ph <= 6.3


def test_what_lies_in_the_tank_is_given_time_before_more_is_dosed(night: Ended) -> None:
    trims = [dose for dose in night.record.doses if dose.intent.event.purpose == "trim"]
    assert 1 <= len(trims) <= 4
    assert waits(night)
    for one in waits(night):
        after = [dose.intent.t_s for dose in trims if dose.intent.t_s > one.t_s]
        # Twenty minutes of stirring and the settle come before any further dose.
        assert not after or min(after) - one.t_s >= 1200.0 + 240.0


def test_the_record_says_what_is_waited_for_and_what_came_of_it(night: Ended) -> None:
    told = waits(night)[0].event
    assert "Limestone suspension dissolves slowly" in told.believed
    after = next(one for one in night.record.decisions if one.t_s > waits(night)[0].t_s)
    assert "and 1 wait took pH from" in after.event.came
