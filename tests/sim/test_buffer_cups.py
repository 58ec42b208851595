"""Calibrations by a simulated person: what is found is what is truly so, and each slip is named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from controller.measure.buffers import Series, buffer_named
from controller.measure.conductivity import StandardReading, judge_cell, standard_named, standard_us_cm
from controller.measure.electrode import mv_from_ph
from controller.measure.electrode_calibration import ElectrodeCalibration, Verdict, judge
from controller.measure.electrode_fit import isopotential_ph
from controller.service.cup_readings import read_buffer, read_standard
from controller.settings.values import PhProbe, Site
from firmware_bridge.faults import HardwareFault
from sim.buffer_cups import PH_OF, BufferCups, kcl_share
from sim.matter.physical_constants import KELVIN
from sim.sensing import conductivity_cell as ailing_cell
from sim.sensing import probe_condition as ailing
from sim.sensing.probe_condition import ProbeCondition
from sim.world import World, load_world

TWO, THREE = ("7.00", "4.00"), ("7.00", "4.00", "10.01")


@pytest.fixture(scope="module")
def world(demo_site: Site) -> World:
    return load_world(demo_site)


def silent(look: object) -> None:
    """Tell nobody."""


def calibrated(
    site: Site,
    world: World,
    labels: tuple[str, ...] = TWO,
    *,
    seed: int = 1,
    second: bool = False,
    series: Series = Series.TECHNICAL,
    mixed_up: Mapping[str, str] | None = None,
    condition: ProbeCondition = ailing.HEALTHY,
    cup_c: float = 22.0,
) -> ElectrodeCalibration:
    cups = BufferCups(site, world, seed, second=second, mixed_up=mixed_up or {}, cup_c=cup_c)
    cups.probe.condition = condition
    readings = [read_buffer(cups, buffer_named(label, series), silent) for label in labels]
    believed = site.rig.second_probe if second else site.rig.probe
    assert believed is not None
    return judge(readings, believed)


@pytest.mark.parametrize("label", ["4.005", "6.865", "9.180", "10.012"])
def test_the_cups_hold_what_published_fits_say_and_the_controllers_tables_agree(label: str) -> None:
    buffer = buffer_named(label, Series.PRIMARY)
    for c in (10.0, 15.0, 20.0, 25.0, 30.0, 35.0):
        assert PH_OF[label](c + KELVIN) == pytest.approx(buffer.ph_at(c), abs=0.012)


def test_the_technical_cup_is_that_of_the_manual_within_a_hundredth() -> None:
    buffer = buffer_named("7.00", Series.TECHNICAL)
    for c in (10.0, 15.0, 20.0, 25.0, 30.0):
        assert PH_OF["7.00"](c + KELVIN) == pytest.approx(buffer.ph_at(c), abs=0.011)


def test_the_conductivity_of_potassium_chloride_follows_the_published_table() -> None:
    standard = standard_named("0.01")
    for c in (15.0, 20.0, 25.0, 30.0):
        published = standard_us_cm(standard, c) / standard_us_cm(standard, 25.0)
        assert kcl_share(c) == pytest.approx(published, rel=0.0005)


@pytest.mark.parametrize("second", [False, True])
@pytest.mark.parametrize("labels", [TWO, THREE])
def test_a_calibration_finds_the_electrode_that_is_truly_there(
    demo_site: Site, world: World, labels: tuple[str, ...], second: bool
) -> None:
    true = world.second_probe if second else world.probe
    assert true is not None
    found = calibrated(demo_site, world, labels, second=second)
    assert (found.verdict, found.passed, found.said) == (Verdict.GOOD, True, ())
    line = found.line
    assert line is not None
    assert line.slope_share == pytest.approx(true.slope_share, abs=line.slope_uncertainty)
    assert line.offset_mv == pytest.approx(true.offset_mv, abs=line.offset_uncertainty_mv)
    assert max(abs(left) for left in line.left_ph) < 0.03
    timed = [one.t95_s for one in found.readings if one.t95_s is not None]
    assert timed
    # Three time constants of the glass, and the small slow share that comes behind.
    assert all(2.5 * true.lag_s <= t95_s <= 6.0 * true.lag_s for t95_s in timed)


@pytest.mark.parametrize("seed", range(8))
def test_no_sound_electrode_is_turned_away(demo_site: Site, world: World, seed: int) -> None:
    for series, labels in ((Series.TECHNICAL, TWO), (Series.PRIMARY, ("6.865", "4.005", "9.180"))):
        found = calibrated(demo_site, world, labels, seed=seed, series=series, cup_c=15.0 + seed * 2.0)
        assert found.passed, found.said


@pytest.mark.parametrize(
    ("labels", "mixed_up", "words"),
    [
        (TWO, {"7.00": "6.865"}, "fit the primary buffer 6.865"),
        (THREE, {"7.00": "6.865"}, "fit the primary buffer 6.865"),
        (TWO, {"7.00": "4.00", "4.00": "7.00"}, "swapped"),
        (TWO, {"7.00": "4.00"}, "the same bottle twice"),
        (TWO, {"7.00": "cap", "4.00": "cap"}, "still in its cap"),
        (THREE, {"10.01": "9.180"}, "do not lie on one line"),
    ],
)
def test_each_slip_of_a_person_is_named(
    demo_site: Site, world: World, labels: tuple[str, ...], mixed_up: dict[str, str], words: str
) -> None:
    found = calibrated(demo_site, world, labels, mixed_up=mixed_up)
    assert (found.verdict, found.passed) == (Verdict.REPEAT, False)
    assert words in found.said[0]


def test_a_broken_glass_is_named_once_cap_and_plug_have_been_seen_to(demo_site: Site, world: World) -> None:
    found = calibrated(demo_site, world, condition=ailing.BROKEN_GLASS)
    assert (found.verdict, found.passed) == (Verdict.REPEAT, False)
    assert "if that fails replace it (glass broken)" in found.said[0]


def test_a_wet_plug_is_worn_out_as_far_as_a_calibration_can_tell(demo_site: Site, world: World) -> None:
    found = calibrated(demo_site, world, condition=ailing.WET_PLUG)
    assert (found.verdict, found.passed) == (Verdict.REPLACE, False)
    assert "below 85 %" in found.said[0]


def test_a_filmed_electrode_is_slow_and_is_to_be_cleaned(demo_site: Site, world: World) -> None:
    quick = world.probe
    filmed = replace(ailing.FILMED, lag_factor=3.0)
    found = calibrated(demo_site, world, condition=filmed)
    assert found.verdict is Verdict.CLEAN
    assert "95 % of a step" in " ".join(found.said)
    assert max(one.t95_s or 0.0 for one in found.readings) > 3.0 * 2.5 * quick.lag_s


@pytest.mark.parametrize("condition", [ailing.OPEN_INPUT, ailing.FLOATING_INPUT])
def test_a_cable_that_is_off_gives_no_calibration(
    demo_site: Site, world: World, condition: ProbeCondition
) -> None:
    with pytest.raises(HardwareFault, match=r"buffer 7\.00"):
        calibrated(demo_site, world, condition=condition)


def test_two_temperatures_find_the_true_isopotential_ph(demo_site: Site, world: World) -> None:
    cups = BufferCups(demo_site, world, 1, cup_c=12.0)
    readings = []
    for cup_c in (12.0, 30.0):
        cups.cup_c = cup_c
        readings += [
            read_buffer(cups, buffer_named(label, Series.PRIMARY), silent) for label in ("6.865", "4.005")
        ]
    # Tables of the buffers differ from the true liquids by some thousandths, and 18 K tell 0.06 pH a mV.
    assert isopotential_ph(readings) == pytest.approx(world.probe.isopotential_ph, abs=0.4)


@pytest.mark.parametrize("cup_c", [20.0, 22.5, 25.0])
def test_the_cell_factor_undoes_the_true_error_of_the_cell(
    demo_site: Site, world: World, cup_c: float
) -> None:
    cups = BufferCups(demo_site, world, 1, cup_c=cup_c)
    found = judge_cell([read_standard(cups, standard_named("1413"), silent)])
    assert found.passed
    assert found.factor == pytest.approx(1.0 / (1.0 + world.cell.cell_error), abs=found.uncertainty)


def test_a_cut_cell_and_a_cell_with_a_bubble_are_named(demo_site: Site, world: World) -> None:
    said = {}
    for condition in (ailing_cell.CUT, ailing_cell.BUBBLE_CAUGHT):
        cups = BufferCups(demo_site, world, 1)
        cups.cell.condition = condition
        reading: StandardReading | None = None
        try:
            reading = read_standard(cups, standard_named("1413"), silent)
        except HardwareFault as fault:
            said[condition.name] = str(fault)
        if reading is not None:
            said[condition.name] = " ".join(judge_cell([reading]).said)
    assert "shows nothing" in said["cut"]
    assert said["bubble caught"]


def test_an_unknown_liquid_is_refused(demo_site: Site, world: World) -> None:
    with pytest.raises(ValueError, match="nobody here knows"):
        BufferCups(demo_site, world, 1).put_into("lemonade")


def test_a_site_without_a_second_probe_has_none_to_calibrate(demo_site: Site, world: World) -> None:
    with pytest.raises(ValueError, match="no second electrode"):
        BufferCups(demo_site, replace(world, second_probe=None), 1, second=True)


def test_what_is_believed_after_a_calibration_reads_the_buffers_right(demo_site: Site, world: World) -> None:
    found = calibrated(demo_site, world, THREE)
    line = found.line
    assert line is not None
    probe: PhProbe = replace(demo_site.rig.probe, offset_mv=line.offset_mv, slope_share=line.slope_share)
    for one in found.readings:
        assert mv_from_ph(one.ph, one.temperature_c, probe) == pytest.approx(one.mv, abs=1.5)
