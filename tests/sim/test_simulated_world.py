"""simulated.toml: read with suspicion, and not needed; its bottles give what a plan counts on."""

from dataclasses import replace

import pytest

from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.tonight import tonight_from
from controller.settings.faults import SiteFaults
from sim.matter.ions import EXCESS, INDEX
from sim.plant import Plant
from sim.world import TruePumps, World, load_world
from sim.world_file import FILE


@pytest.fixture
def site_with(demo_site, tmp_path):
    def made(text=None):
        if text is not None:
            (tmp_path / FILE).write_text(text, encoding="utf-8")
        return replace(demo_site, folder=tmp_path)

    return made


def test_the_demo_world_describes_every_input_of_the_demo_site(demo_site, demo_world):
    assert demo_world.inputs.keys() == demo_site.inputs.keys()
    assert demo_world.inputs["gypsum_suspension"].suspended.grain_um == 20.0
    assert demo_world.inputs["kelp_extract"].suspended is None


def test_a_site_without_the_file_has_a_likely_world(site_with):
    world = load_world(site_with())
    assert world.inputs["citric_acid"].content(10.0, 1.0, 20.0)[INDEX["citrate"]] == pytest.approx(10.0)
    assert world.inputs["limestone_suspension"].content(1.0, 1.0, 20.0)[INDEX["limestone"]] > 1.0
    assert world.inputs["gypsum_suspension"].content(1.0, 1.0, 20.0)[INDEX["gypsum"]] > 1.0
    assert world.inputs["rock_phosphate_suspension"].content(1.0, 1.0, 20.0)[INDEX["inert"]] > 0.5
    assert world.supply.temperature_c == 15.5


def test_what_the_file_says_stands_and_the_rest_is_filled_in(site_with):
    world = load_world(site_with("[supply]\ntemperature_c = 9.0\nmmol_l = { Na = 3.0, carbonate = 3.0 }\n"))
    content = world.supply.content(2000.0)
    assert content[INDEX["Na"]] == pytest.approx(6.0)
    assert content[INDEX["Ca"]] == 0.0
    assert content[INDEX["heat"]] == pytest.approx(18.0)
    assert world.supply.flow_share == 0.96
    assert world.room.temperature_c == 18.0


@pytest.mark.parametrize(("share", "density_kg_l"), [(0.0, 1.1041), (1.0, 1.25), (4.0, 1.6877)])
def test_sludge_carries_more_grains_and_less_of_the_liquid_between_them(demo_world, share, density_kg_l):
    """By volume: label 1.25 kg/L with 12 % of 2.32 kg/L, so 88 % of 1.1041 kg/L; 48 % grains make 1.6877.

    The file's 1.6 mmol/mL are 1 % less than 12 % of grains are, which is 6 g in a litre of sludge.
    """
    gypsum = demo_world.inputs["gypsum_suspension"]
    drawn = gypsum.content(10.0, share, 20.0)
    assert drawn[INDEX["gypsum"]] == pytest.approx(16.0 * share)
    assert drawn[INDEX["Ca"]] == pytest.approx(0.15 * (1.0 - 0.12 * share) / 0.88)
    assert 1.0 + drawn[EXCESS] / 10.0 == pytest.approx(density_kg_l, abs=7e-3)


def test_bottles_stand_where_the_file_says(site_with):
    site = site_with("[bottles]\nabove_tank_m = 0.3\nline_m = 1.5\nline_ml = 40.0\n")
    kelp = Plant(site, load_world(site), seed=1).dosing.bottles[1]
    # 10 L on 300 cm2 stand a third of a metre high.
    assert kelp.head_m == pytest.approx(0.3 + 1 / 3)
    assert kelp.tubing.suction_m == 1.5
    assert kelp.line.drainable_ml == 40.0


def test_bottles_stand_low_enough_where_nothing_is_said(site_with, demo_site, demo_world):
    for world in (demo_world, load_world(site_with())):
        assert all(bottle.head_m < 0.0 for bottle in Plant(demo_site, world, seed=1).dosing.bottles.values())


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[rooms]\n", 'simulated.toml: rooms = { a table }: is an unknown key; the nearest is "room"'),
        ("[room]\ntemperatur_c = 1.0\n", 'the nearest is "temperature_c"'),
        ("[room]\ntemperature_c = 400\n", "room.temperature_c = 400: is out of bounds"),
        ("[room]\ntemperature_c = nan\n", "room.temperature_c = nan: is not a plain number"),
        ('[room]\ntemperature_c = "18"\n', 'room.temperature_c = "18": is not a plain number'),
        ("[room]\ntemperature_c = true\n", "is not a plain number"),
        ("room = 3\n", "room = 3: is not a table"),
        ("[supply]\nmmol_l = 5\n", "supply.mmol_l = 5: is not a table of amounts"),
        ("[supply.mmol_l]\nCalcium = 1\n", "supply.mmol_l.Calcium = 1: is an unknown key"),
        ("[supply.mmol_l]\nCa = -1\n", "supply.mmol_l.Ca = -1: is out of bounds"),
        ("[inputs.citric]\n", 'the nearest is "citric_acid"'),
        ('[inputs.citric_acid]\nsolid = "gipsum"\n', 'the nearest is "gypsum"'),
        ("[inputs.citric_acid]\nsolid = 3\n", "inputs.citric_acid.solid = 3: is no known solid"),
        ("[room\n", "simulated.toml: is not valid TOML"),
    ],
)
def test_a_fault_is_told_in_one_line(site_with, text, told):
    with pytest.raises(SiteFaults) as refused:
        load_world(site_with(text))
    assert told in str(refused.value)
    assert "\n" not in str(refused.value)


GYPSUM = '[inputs.gypsum_suspension]\nsolid = "gypsum"\n'


@pytest.mark.parametrize(
    ("text", "key", "told"),
    [
        (
            GYPSUM + "solid_volume_share = 0.45\ngrain_kg_l = 10\n",
            "inputs.gypsum_suspension.solid_volume_share",
            "leave -5.91 kg/L to the liquid",
        ),
        (
            '[inputs.molasses]\nsolid = "inert"\nsolid_volume_share = 0.45\ngrain_kg_l = 0.5\n',
            "inputs.molasses.solid_volume_share",
            "density in inputs.toml is 1.38",
        ),
        (
            GYPSUM + "solid_mmol_ml = 1.0\nsolid_volume_share = 0.12\ngrain_kg_l = 2.32\n",
            "inputs.gypsum_suspension.solid_mmol_ml",
            "disagrees with solid_volume_share = 0.12 of 2.32 kg/L, which is 1.62 mmol/mL of gypsum",
        ),
        ("[room]\ntemperature_c = 3\nswing_k = 3\n", "room.swing_k", "swings 3 °C from 0 to 6 °C"),
        ("[room]\ntemperature_c = 30\nswing_k = 11\n", "room.swing_k", "from 0.5 to 40 °C"),
        ("[supply]\nswing_k = 15\ntemperature_c = 15\n", "supply.swing_k", "from 0 to 30 °C"),
        ("[supply]\ntemperature_c = 44\n", "supply.temperature_c", "is out of bounds"),
        (
            "[inputs.citric_acid]\ngrain_um = 30\n",
            "inputs.citric_acid.grain_um",
            "has no effect without a solid",
        ),
        (
            '[inputs.gypsum_suspension]\nsolid = "inert"\nsolid_mmol_ml = 3\n',
            "inputs.gypsum_suspension.solid_mmol_ml",
            "what is inert is told by its share and density alone",
        ),
        (
            "[inputs.citric_acid]\nmmol_ml = { citrate = 1760 }\n",
            "inputs.citric_acid.mmol_ml.citrate",
            "from 0 to 30",
        ),
        ("[supply]\nmmol_l = { Ca = 50, Cl = 20 }\n", "supply.mmol_l", "far from even"),
    ],
)
def test_numbers_that_contradict_each_other_are_one_fault(site_with, text, key, told):
    with pytest.raises(SiteFaults) as refused:
        load_world(site_with(text))
    (fault,) = refused.value.faults
    assert fault.key == key
    assert told in str(fault)
    assert "\n" not in str(fault)


def test_numbers_that_agree_are_no_fault(site_with):
    """Molar mass of CaSO4.2H2O 172.17 g/mol: 0.1 mL of 2.32 g/mL in a millilitre are 1.35 mmol."""
    said = GYPSUM + "solid_mmol_ml = 1.5\nsolid_volume_share = 0.1\ngrain_kg_l = 2.32\n"
    world = load_world(site_with(said + "[room]\ntemperature_c = 16\nswing_k = 15\n"))
    assert world.inputs["gypsum_suspension"].suspended.volume_share == 0.1


def test_all_faults_are_told_at_once(site_with):
    with pytest.raises(SiteFaults) as refused:
        load_world(site_with("[room]\nco2_ppm = 0\n[bottles]\nline = 3\n[pumps]\ncalibration_error = 9\n"))
    assert len(refused.value.faults) == 3


def test_a_binary_file_is_refused(site_with, tmp_path):
    site = site_with("")
    (tmp_path / FILE).write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SiteFaults, match="not a text file in UTF-8"):
        load_world(site)


def test_a_folder_in_its_place_is_refused(site_with, tmp_path):
    (tmp_path / FILE).mkdir()
    with pytest.raises(SiteFaults, match="cannot be read"):
        load_world(site_with())


def site_with_kelp_of(site, stock_ml):
    kelp = replace(site.inputs["kelp_extract"], stock_ml=stock_ml)
    return replace(site, inputs={**site.inputs, "kelp_extract": kelp})


def dosed_by_plan(site):
    """Plan, and let the kelp pump sweep that; return target, what came, and air in the line, mL."""
    planned = plan_batch(site, "fruiting", tonight_from(site))
    (kelp,) = [addition for addition in planned.additions if addition.input == "kelp_extract"]
    pump = site.rig.pumps[kelp.pump]
    # A pump as exact as its weighing: what is looked at here is the bottle.
    plant = Plant(site, World(pumps=TruePumps(calibration_error=0.0), inputs=load_world(site).inputs), seed=1)
    line = plant.dosing.bottles[pump.channel].line
    full_ml = line.liquid_ml
    counts = round(kelp.ml / pump.ml_per_count)
    came_ml = sum(plant.pump(pump.channel, 10, counts_per_s=200, dose_id=1) for _ in range(counts // 10))
    return kelp.ml, came_ml, full_ml - line.liquid_ml


def test_plan_and_bottle_agree_to_the_millilitre_about_what_can_be_had(demo_site):
    need_ml, _, _ = dosed_by_plan(demo_site)
    least_ml = need_ml + demo_site.inputs["kelp_extract"].unreachable_ml
    target_ml, came_ml, air_ml = dosed_by_plan(site_with_kelp_of(demo_site, least_ml))
    assert target_ml == need_ml
    assert came_ml == pytest.approx(need_ml, rel=0.02)
    # A pump may sweep 0.4 % more than asked, and only that much air may have come after the liquid.
    assert air_ml < 0.02 * need_ml
    with pytest.raises(PlanRefused, match="kelp_extract"):
        dosed_by_plan(site_with_kelp_of(demo_site, least_ml - 1.0))


def test_the_tube_of_each_bottle_hangs_as_high_as_what_it_does_not_reach(demo_site, demo_world):
    shallow = replace(demo_site.inputs["kelp_extract"], unreachable_ml=600.0)
    site = replace(demo_site, inputs={**demo_site.inputs, "kelp_extract": shallow})
    stocks = {bottle.name: bottle.stock for bottle in Plant(site, demo_world, seed=1).dosing.bottles.values()}
    for name, left_ml in (("kelp_extract", 600.0), ("molasses", 450.0)):
        stock = stocks[name]
        stock.draw(stock.volume_ml)
        assert stock.volume_ml == pytest.approx(left_ml)
