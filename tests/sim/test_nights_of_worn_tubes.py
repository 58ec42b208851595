"""A worn tube: amounts come right by the scale, a person is told, and the next night refuses the pump."""

from __future__ import annotations

import statistics
from pathlib import Path

import pytest
from fault_nights import FRUITING, night_with

from controller.run.situation import Cause
from controller.settings.values import Site

FISH = "fish_hydrolysate"
WORN = (10.0, f"worn:{FISH}")


def test_a_worn_tube_is_topped_up_told_and_refused_the_next_night(demo_site: Site, tmp_path: Path) -> None:
    first = night_with(demo_site, tmp_path, FRUITING, WORN)
    assert first.released
    assert first.violations == ()
    assert [alarm for alarm, _ in first.raised] == [Cause.PUMP_DRIFTS.value]
    assert first.fed is not None
    assert first.fed.ml[FISH] == pytest.approx(720.0, rel=0.02)
    assert first.recorded_ml[FISH] == pytest.approx(first.fed.ml[FISH], rel=0.01)
    doses = [dose for dose in first.record.doses if dose.intent.event.input == FISH]
    assert len(doses) == 2, "one dose and one top-up"

    second = night_with(demo_site, tmp_path, FRUITING, WORN)
    assert (second.released, second.held) == (False, True)
    assert [alarm for alarm, _ in second.raised] == [Cause.PUMP_DRIFTED.value]
    assert second.record.doses == (), "refused before anything is dosed with it"


def test_good_nights_teach_the_tubes_and_bring_the_doses_nearer(demo_site: Site, tmp_path: Path) -> None:
    nights = [night_with(demo_site, tmp_path, FRUITING) for _ in range(3)]
    assert all(night.released and night.violations == () and night.raised == [] for night in nights)
    planned = {dose.intent.event.input: 0.0 for dose in nights[0].record.doses}
    for dose in nights[0].record.doses:
        if dose.intent.event.purpose == "addition":
            planned[dose.intent.event.input] += dose.intent.event.target_ml

    def off(night: int) -> float:
        fed = nights[night].fed
        assert fed is not None
        return statistics.fmean(abs(fed.ml[name] / ml - 1.0) for name, ml in planned.items() if ml > 200.0)

    # 1 % of calibration error is in the simulated pumps, and 0.4 % of scatter that nothing can teach.
    assert off(2) < 0.006 < off(0)
