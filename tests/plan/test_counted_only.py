"""What a plan warns of where no scale weighs: which inputs, in one line, and which loss would show."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import pytest

from controller.measure import arrived
from controller.measure.metering import calibration_share, dose_uncertainty_ml
from controller.plan import counted_only
from controller.plan.batch import plan_batch
from controller.plan.counted_only import heel_foam_l, shown_from_ml
from controller.plan.findings import Rule
from controller.plan.rinsing import rinses_after
from controller.plan.tonight import tonight_from
from controller.run import arrived as followed
from controller.settings.values import Site


def without_scales(site: Site, *but: str, due_days: int | None = 45) -> Site:
    """The site, with scales only under the pumps named, and the others weighed again in time."""
    pumps = {
        name: pump if name in but else replace(pump, scale=None, due_days=due_days)
        for name, pump in site.rig.pumps.items()
    }
    return replace(site, rig=replace(site.rig, pumps=pumps))


def warned(site: Site, recipe: str, heel_l: float = 0.0) -> list[str]:
    plan = plan_batch(site, recipe, replace(tonight_from(site), heel_l=heel_l))
    return [warning.text for warning in plan.warnings if warning.rule == Rule.COUNTED_ONLY]


def test_a_site_that_weighs_everything_is_not_warned(demo_site: Site) -> None:
    assert [warned(demo_site, recipe) for recipe in demo_site.recipes] == [[]] * len(demo_site.recipes)


def test_all_that_is_only_counted_stands_in_one_line_with_what_its_loss_would_show(demo_site: Site) -> None:
    (text,) = warned(without_scales(demo_site), "fruiting")
    shown, hidden = text.split("; ")
    for name in (
        "fish_hydrolysate",
        "kelp_extract",
        "gypsum_suspension",
        "molasses",
        "potassium_humate",
        "compost_extract",
    ):
        assert name in shown
    assert "soapbark_extract, rinse water" in hidden
    assert f"from some {round(shown_from_ml(demo_site), -1):g} mL on" in shown


def test_only_what_no_scale_weighs_is_named(demo_site: Site) -> None:
    (text,) = warned(without_scales(demo_site, "fish", "rinse_water"), "fruiting")
    assert "fish_hydrolysate" not in text
    assert "rinse water" not in text
    assert "molasses" in text


def test_a_pump_without_a_scale_that_is_weighed_too_seldom_is_named_with_its_key(demo_site: Site) -> None:
    """Only those of tonight's additions; 45 days are not too long."""
    _, text = warned(without_scales(demo_site, "molasses", due_days=46), "fruiting")
    assert "pumps.fish.due is 46 days, pumps.kelp.due is 46 days" in text
    assert '"45 days"' in text
    for name in ("molasses", "citric", "rinse_water"):
        assert name not in text
    _, undated = warned(without_scales(demo_site, due_days=None), "fruiting")
    assert "pumps.fish.due is missing" in undated


def test_plain_water_is_not_warned_of(demo_site: Site) -> None:
    assert warned(without_scales(demo_site), "plain_flush") == []


def test_the_limit_is_the_one_by_which_a_night_judges(demo_site: Site) -> None:
    assert counted_only.LOOKS == followed.LOOKS
    assert counted_only.TOLD_AT == arrived.DECIDE + arrived.SURE
    assert counted_only.LEVEL_SHARE == arrived.LEVEL_SHARE
    for calibrated, share in ((date(2026, 11, 1), 0.018), (None, 0.029)):
        pump = replace(demo_site.rig.pumps["molasses"], calibrated=calibrated)
        assert calibration_share(pump) == pytest.approx(share, rel=0.05)
    lost_ml = shown_from_ml(demo_site)
    per_mm = math.pi / 4 * demo_site.rig.tank.diameter_m**2
    # Sixteen readings whose sample deviation is exactly the noise that the plan assumes.
    swing_l = counted_only.NOISE_MM * per_mm * math.sqrt(15 / 16)
    window = arrived.LevelWindow(per_mm)
    for index in range(counted_only.LOOKS):
        window.add(135.0 + swing_l * (-1) ** index)
    before = window.mean()
    assert before is not None
    pump, rinse = demo_site.rig.pumps["molasses"], demo_site.rig.pumps["rinse_water"]
    rinse_ml = rinses_after(demo_site.rig.manifold, full=False) * demo_site.rig.manifold.rinse_ml
    moved = [
        arrived.Moved("dose", pump.name, lost_ml, dose_uncertainty_ml(pump, lost_ml)),
        arrived.Moved("rinse water", rinse.name, rinse_ml, dose_uncertainty_ml(rinse, rinse_ml)),
    ]
    after = replace(before, mean_l=before.mean_l + rinse_ml / 1000)
    arrival = arrived.judge(before, after, moved)
    assert arrival.missing_l == pytest.approx((arrived.DECIDE + arrived.SURE) * arrival.doubt_l, rel=0.03)
    assert arrival.verdict is arrived.Verdict.MISSING


@pytest.mark.parametrize(
    ("wide_m", "noise_mm", "least_ml"), [(0.6, 0.3, 220), (0.6, 1.0, 720), (1.2, 0.3, 860)]
)
def test_a_wider_tank_and_a_noisier_level_hide_more(
    demo_site: Site, wide_m: float, noise_mm: float, least_ml: float
) -> None:
    tank = replace(demo_site.rig.tank, diameter_m=wide_m)
    site = replace(demo_site, rig=replace(demo_site.rig, tank=tank))
    assert shown_from_ml(site, noise_mm) == pytest.approx(least_ml, rel=0.05)


def test_a_heel_that_may_foam_hides_more_and_an_empty_tank_has_none(demo_site: Site) -> None:
    assert heel_foam_l(demo_site, 0.0) == 0.0
    assert heel_foam_l(demo_site, 5.0) == pytest.approx(0.283, abs=0.001)
    (text,) = warned(without_scales(demo_site), "fruiting", heel_l=5.0)
    assert "the level shows a loss" not in text
    assert "molasses" in text
