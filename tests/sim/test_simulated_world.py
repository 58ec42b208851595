"""simulated.toml: read with suspicion, and not needed."""

from dataclasses import replace

import pytest

from controller.settings.faults import SiteFaults
from sim.ions import INDEX
from sim.world import load_world
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


def test_sludge_carries_more_grains_and_no_more_dissolved_matter(demo_world):
    gypsum = demo_world.inputs["gypsum_suspension"]
    label, sludge = gypsum.content(10.0, 1.0, 20.0), gypsum.content(10.0, 2.0, 20.0)
    assert sludge[INDEX["gypsum"]] == pytest.approx(2.0 * label[INDEX["gypsum"]])
    assert sludge[INDEX["Ca"]] == label[INDEX["Ca"]]


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
