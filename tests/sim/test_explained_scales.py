"""What the page of a simulated night says of its scales and of each of two pH probes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from bare_sites import bare
from explained_page import Page, explained, must_hold

from controller.record.batch_record import of_kind
from controller.record.events import Weighing
from controller.record.words import millilitres, signed
from controller.settings.values import Site
from sim.explain.page import ALONE, explain_html
from sim.explain.scales import weighings
from sim.outcome import NightOutcome


@pytest.fixture(scope="module")
def good(demo_site: Site, tmp_path_factory: pytest.TempPathFactory) -> NightOutcome:
    return explained(demo_site, tmp_path_factory.mktemp("weighed"), recipe="young_plants")


@pytest.fixture(scope="module")
def words(good: NightOutcome, demo_site: Site) -> str:
    return " ".join(Page(explain_html(good, demo_site)).text.split())


def test_every_weighing_stands_beside_what_its_pump_truly_moved(good: NightOutcome, words: str) -> None:
    every = weighings(good.record, good.ml_by_dose)
    assert len(every) == len(of_kind(good.record.events, Weighing)) > 5
    # Every dose of a pump is weighed once here, so that nothing is missing and nothing counted twice.
    moved_ml = sum(good.ml_by_dose.values())
    assert sum(one.true_ml for one in every) == pytest.approx(moved_ml)
    for one in every:
        assert abs(one.amount_ml) < 2.0 * one.doubt_ml
        # Less than a hundredth of a millilitre is written without a sign.
        assert f"weighed {signed(millilitres(one.amount_ml))}" in words
    off = max((one.amount_ml for one in every), key=abs)
    told = words.partition("How far off")[2].partition("Broken on purpose")[0]
    assert f"Amount on a scale {signed(f'{off:.1f}')} mL" in told


def test_what_stood_on_each_scale_by_the_end_is_told_beside_what_it_showed(
    good: NightOutcome, demo_site: Site, words: str
) -> None:
    assert good.seen is not None
    assert [seen.name for seen in good.seen.scales] == list(demo_site.rig.scales)
    for seen in good.seen.scales:
        assert seen.shows_g is not None
        # 0.05 % of the load, half a gram a kelvin, a creep and some noise.
        assert seen.shows_g == pytest.approx(seen.stands_g, abs=25.0)
        assert f"{seen.stands_g:.1f} g {seen.shows_g:.1f} g" in words
    rinsed_ml = sum(
        good.ml_by_dose[dose.intent.event.dose_id]
        for dose in good.record.doses
        if dose.intent.event.purpose == "rinse"
    )
    can = good.seen.scales[-1]
    scales = good.seen.world.scales
    full_g = scales.platform_g + scales.tare_g + 1000.0 * good.seen.world.bottles.rinse_can_l
    assert full_g - can.stands_g == pytest.approx(rinsed_ml)


def test_each_probe_is_judged_alone_by_its_own_calibration(
    good: NightOutcome, demo_site: Site, words: str
) -> None:
    assert good.seen is not None
    told = re.findall(r"pH, (first|second) probe alone (\S+) pH", words)
    assert [name for name, _ in told] == ["first", "second"]
    for _, amount in told:
        # Electrodes a day after their calibration, off by a millivolt or two and by 0.3 % of slope.
        assert 0.001 < abs(float(amount.replace("\N{MINUS SIGN}", "-"))) < 0.12
    assert told[0][1] != told[1][1]
    assert ALONE in words
    world, rig = good.seen.world, demo_site.rig
    assert world.second_probe is not None
    assert rig.second_probe is not None
    believed = f"the controller believes {rig.second_probe.offset_mv:g} mV"
    assert f"Second pH probe, offset {world.second_probe.offset_mv:g} mV; {believed}" in words
    assert f"noise {world.scales.scale_noise_g:g} g" in words


def test_a_scale_that_was_lost_shows_no_reading(demo_site: Site, tmp_path: Path) -> None:
    outcome = explained(demo_site, tmp_path, (5.0, "scale-lost:rinse_can"), (300.0, "leak"))
    html = explain_html(outcome, demo_site)
    page = must_hold(html)
    assert outcome.seen is not None
    assert [seen.shows_g is None for seen in outcome.seen.scales] == [False] * 4 + [True]
    assert "Nothing was weighed." in page.text
    assert "no reading" in page.text
    assert "The scale at rinse can did not answer any more." in page.text


def test_a_site_without_them_is_told_nothing_of_scales_and_second_probes(
    demo_site: Site, tmp_path: Path
) -> None:
    site = bare(demo_site)
    outcome = explained(site, tmp_path, recipe="young_plants")
    assert outcome.released
    said = must_hold(explain_html(outcome, site)).text
    assert not re.search(
        r"[Ss]cales|Amount on a scale|[Ss]econd pH probe|probe alone", said.partition("Every number")[0]
    )
