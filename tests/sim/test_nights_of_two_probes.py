"""Nights in which one of two pH probes goes wrong: what one probe alone would hide is seen and named.

The same faults on a site with one probe are in `test_nights_unseen.py`, with the harm they do there.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from fault_nights import FRUITING, PLAIN, RIGHT_AT_ONCE, TAP, Ended, night_with, site_in_truth

from controller.run.situation import Cause
from controller.settings.values import Site

FIRST, SECOND = "the first pH probe", "the second pH probe"

# Fault, moment, what is said of it.
SEEN = [
    ("probe-wet-plug", 10.0, "they differ by more than 0.15"),
    ("probe-wet-plug:second", 10.0, "they differ by more than 0.15"),
    ("probe-drifting", 10.0, "they differ by more than 0.15"),
    ("probe-dried-out:second", 10.0, "they differ by more than 0.15"),
    ("probe-lost:second", 10.0, f"{SECOND} gives no plausible reading (no signal)"),
    ("probe-frozen", 1000.0, f"{FIRST}'s signal stands at pH 7.49 and does not move at all"),
]
KEEPING_S = 2700.0
ONE = "both signals are one: the switch before the converter is stuck, or both plugs hang on one probe"
# A switch that is stuck hides what the second probe would tell, and alone halves what is known.
STUCK = [("probe-switch-stuck",), ("probe-switch-stuck", "probe-drifting")]


def notes(night: Ended) -> str:
    return " ".join(step.ended.event.note for step in night.record.steps if step.ended is not None)


@pytest.mark.parametrize(("fault", "at_s", "words"), SEEN)
def test_a_probe_that_would_pass_for_sound_alone_is_seen_and_named_beside_another(
    demo_site: Site, tmp_path: Path, fault: str, at_s: float, words: str
) -> None:
    night = night_with(demo_site, tmp_path, PLAIN, (at_s, fault))
    assert night.violations == ()
    assert (night.result, night.released, night.everything_off) == ("stopped", False, True)
    assert night.raised[0][0] == Cause.PROBE_DOUBTFUL.value
    assert words in night.reason
    assert FIRST in night.reason
    assert SECOND in night.reason


@pytest.mark.parametrize("faults", STUCK)
@pytest.mark.parametrize("recipe", [PLAIN, FRUITING])
def test_a_stuck_switch_that_shows_the_first_probe_twice_is_seen(
    demo_site: Site, tmp_path: Path, faults: tuple[str, ...], recipe: str
) -> None:
    night = night_with(demo_site, tmp_path, recipe, *((10.0, fault) for fault in faults))
    assert night.violations == ()
    assert (night.result, night.released, night.everything_off) == ("stopped", False, True)
    assert night.raised[0][0] == Cause.PROBE_DOUBTFUL.value
    assert ONE in night.reason


def test_a_switch_that_sticks_while_a_tank_is_kept_withdraws_the_permit(tmp_path: Path) -> None:
    site = site_in_truth(tmp_path / "easy", (TAP, RIGHT_AT_ONCE))
    strike = (KEEPING_S, "probe-switch-stuck")
    night = night_with(site, tmp_path / "night", PLAIN, strike, kept_s=3600.0)
    assert night.released
    assert night.violations == ()
    assert night.raised[0][0] == Cause.PERMIT_WITHDRAWN.value
    assert f"pH can no longer be proven: {ONE}" in night.reason


@pytest.mark.parametrize(
    ("fault", "remedy"),
    [
        ("probe-open:second", f"{SECOND} gives no plausible reading (no signal): mend its cable or plug"),
        ("probe-wet-plug", "dry both plugs"),
    ],
)
def test_a_broken_cable_and_a_wet_plug_are_each_told_with_what_to_do(
    demo_site: Site, tmp_path: Path, fault: str, remedy: str
) -> None:
    night = night_with(demo_site, tmp_path, PLAIN, (10.0, fault))
    assert remedy in night.reason
    (alarm,) = (one.event for one in night.record.alarms if one.event.alarm == Cause.PROBE_DOUBTFUL.value)
    assert alarm.remedy.startswith("Do to the probe what the text says")


def test_a_film_on_one_probe_is_named_and_costs_no_batch(demo_site: Site, tmp_path: Path) -> None:
    night = night_with(demo_site, tmp_path, PLAIN, (10.0, "probe-filmed:second"))
    assert (night.released, night.raised, night.violations) == (True, [], ())
    assert f"{SECOND} answers slowly, 95 % of a change in" in notes(night)
    assert FIRST not in notes(night)


def test_two_sound_probes_are_never_called_slow(demo_site: Site, tmp_path: Path) -> None:
    night = night_with(demo_site, tmp_path, PLAIN)
    assert (night.released, night.raised, night.violations) == (True, [], ())
    assert "slowly" not in notes(night)


def test_a_probe_lost_while_a_tank_is_kept_withdraws_the_permit_by_name(tmp_path: Path) -> None:
    site = site_in_truth(tmp_path / "easy", (TAP, RIGHT_AT_ONCE))
    night = night_with(site, tmp_path / "night", PLAIN, (KEEPING_S, "probe-open:second"))
    assert night.released
    assert night.violations == ()
    assert night.raised[0][0] == Cause.PERMIT_WITHDRAWN.value
    assert f"pH can no longer be proven: {SECOND} gives no plausible reading" in night.reason
