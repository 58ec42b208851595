"""All faults of all files are told at once, one line each: file, key, value, remedy."""

import pytest
from site_copies import SiteCopy

from controller.settings.faults import SiteFaults

TEN_FAULTS = """\
rig.toml: tank.brim: is missing; add brim = "180 L"
rig.toml: tank.diametre = "60 cm": is not a known key; the nearest is "diameter", which is missing
rig.toml: fill.pipe = "400 ML": ML means megalitre, a million litres; write mL (small m, large L)
rig.toml: tank.high_float = "170 L": is not above working (180 L); \
levels must rise in this order: low_float, working, high_float, second_high_float, brim
inputs.toml: inputs.molasses.pump = "mollases": is not a pump of rig.toml; the nearest is "molasses"
site.toml: time_zone = "Europe/Lisboa": is not a known time zone; the nearest is "Europe/Lisbon"
site.toml: proof_tests.done = "2026-11-01": is not a date; \
write year-month-day without quotes, e.g. 2026-11-20
recipes/fruiting.toml: addition[3].rate = "2,0 mL/L": has a comma in its number; \
write a point for decimals and nothing between thousands (like "4 mL/L")
recipes/fruiting.toml: addition[2].input = "kelp_extrakt": is not an input of inputs.toml; \
the nearest is "kelp_extract"
recipes/plain_flush.toml: is empty; write settings into it, or copy the file of the demo site"""


def test_a_folder_with_ten_faults_gives_these_ten_lines(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", 'brim = "220 L"\n', "")
    site_copy.replace("rig.toml", "diameter =", "diametre =")
    site_copy.replace("rig.toml", '"400 mL"', '"400 ML"')
    site_copy.replace("rig.toml", 'high_float = "190 L"', 'high_float = "170 L"')
    site_copy.replace("inputs.toml", 'pump = "molasses"', 'pump = "mollases"')
    site_copy.replace("site.toml", "Europe/Lisbon", "Europe/Lisboa")
    site_copy.replace("site.toml", "2026-11-01", '"2026-11-01"')
    site_copy.replace("recipes/fruiting.toml", '"2 mL/L"', '"2,0 mL/L"')
    site_copy.replace("recipes/fruiting.toml", '"kelp_extract"', '"kelp_extrakt"')
    (site_copy.folder / "recipes/plain_flush.toml").write_bytes(b"")
    assert str(SiteFaults(site_copy.faults())) == TEN_FAULTS


# (file, what stands there, what is written instead, start of the one fault line)
ONE_FAULT = {
    "an input that names an unknown agitator": (
        "inputs.toml",
        'agitator = "compost_agitator"',
        'agitator = "compost_agitater"',
        'inputs.toml: inputs.compost_extract.agitator = "compost_agitater": is not in the list agitators '
        'of rig.toml; the nearest is "compost_agitator"',
    ),
    "two inputs on one pump": (
        "inputs.toml",
        'pump = "kelp"',
        'pump = "fish"',
        'inputs.toml: inputs.kelp_extract.pump = "fish": is used twice, here and by fish_hydrolysate; '
        "each input needs a pump of its own",
    ),
    "an input on the rinse pump": (
        "inputs.toml",
        'pump = "kelp"',
        'pump = "rinse_water"',
        'inputs.toml: inputs.kelp_extract.pump = "rinse_water": is the rinse pump; '
        "give the input a pump of its own",
    ),
    "two pumps on one channel": (
        "rig.toml",
        "channel = 1\n",
        "channel = 0\n",
        "rig.toml: pumps.kelp.channel = 0: is used twice, here and by fish; "
        "each pump needs a channel of its own",
    ),
    "a channel the board does not have": (
        "rig.toml",
        "channel = 10",
        "channel = 16",
        "rig.toml: pumps.rinse_water.channel = 16: is more than 15",
    ),
    "a rinse pump that is not there": (
        "rig.toml",
        'rinse_pump = "rinse_water"',
        'rinse_pump = "rinse"',
        'rig.toml: manifold.rinse_pump = "rinse": is not a pump of this rig; the nearest is "rinse_water"',
    ),
    "a pipe that holds more than fits above the floats": (
        "rig.toml",
        'pipe = "400 mL"',
        'pipe = "24 L"',
        'rig.toml: fill.pipe = "24 L": does not fit between tank.second_high_float and tank.brim',
    ),
    "a smallest dose below one count": (
        "rig.toml",
        'min_dose = "6 mL"',
        'min_dose = "0.01 mL"',
        'rig.toml: pumps.fish.min_dose = "0.01 mL": is less than one count (0.05 mL/count)',
    ),
    "a night cap below the smallest dose": (
        "rig.toml",
        'night_cap = "1500 mL"',
        'night_cap = "1 mL"',
        'rig.toml: pumps.fish.night_cap = "1 mL": is below min_dose (6 mL); raise night_cap',
    ),
    "a dose cap above the night cap": (
        "rig.toml",
        'night_cap = "1500 mL"\nscale = "shelf_two"',
        'night_cap = "1500 mL"\ndose_cap = "1600 mL"\nscale = "shelf_two"',
        'rig.toml: pumps.fish.night_cap = "1500 mL": is below dose_cap (1600 mL); lower dose_cap',
    ),
    "a dose cap below the smallest dose": (
        "rig.toml",
        'night_cap = "1500 mL"\nscale = "shelf_two"',
        'night_cap = "1500 mL"\ndose_cap = "1 mL"\nscale = "shelf_two"',
        'rig.toml: pumps.fish.dose_cap = "1 mL": is below min_dose (6 mL); raise dose_cap',
    ),
    "a rate of zero": (
        "recipes/fruiting.toml",
        '"4 mL/L"',
        '"0 mL/L"',
        'recipes/fruiting.toml: addition[1].rate = "0 mL/L": is zero',
    ),
    "one input in two lines": (
        "recipes/fruiting.toml",
        '"kelp_extract"',
        '"fish_hydrolysate"',
        'recipes/fruiting.toml: addition[2].input = "fish_hydrolysate": is added twice, '
        "here and in addition[1]; write one line with the sum of both rates",
    ),
    "a window upside down": (
        "recipes/fruiting.toml",
        "ph_low = 5.8",
        "ph_low = 6.3",
        "recipes/fruiting.toml: ph_high = 6.3: is not above ph_low (6.3); write the lower end as ph_low",
    ),
    "a pH with a unit": (
        "recipes/fruiting.toml",
        "ph_low = 5.8",
        'ph_low = "5.8 pH"',
        'recipes/fruiting.toml: ph_low = "5.8 pH": is not a plain number; '
        "write a number without quotes and without a unit",
    ),
    "a pH that is not a number": (
        "recipes/fruiting.toml",
        "ph_low = 5.8",
        "ph_low = nan",
        "recipes/fruiting.toml: ph_low = nan: is not a finite number",
    ),
    "an acid that is none": (
        "recipes/fruiting.toml",
        'acid = "citric_acid"',
        'acid = "limestone_suspension"',
        'recipes/fruiting.toml: trim.acid = "limestone_suspension": is not an acid; '
        'known: citric_acid, with reaction = "acid"',
    ),
    "a base that is none": (
        "recipes/fruiting.toml",
        'base = "limestone_suspension"',
        'base = "gypsum_suspension"',
        'recipes/fruiting.toml: trim.base = "gypsum_suspension": is not a base; '
        'the nearest is "limestone_suspension", with reaction = "base"',
    ),
    "a final volume above the working one": (
        "recipes/fruiting.toml",
        '"180 L"',
        '"1800 L"',
        'recipes/fruiting.toml: final = "1800 L": is more than the tank works with '
        "(180 L in rig.toml); write less",
    ),
    "a schedule with an unknown recipe": (
        "site.toml",
        'recipe = "fruiting"',
        'recipe = "fruting"',
        'site.toml: night[1].recipe = "fruting": is not a recipe of this site; the nearest is "fruiting"',
    ),
    "one time planned twice": (
        "site.toml",
        '"sunday"',
        '"monday"',
        'site.toml: night[3].days = "monday": plans monday 02:30 again, as night[1] does; '
        "plan each time once",
    ),
    "a day that is none": (
        "site.toml",
        '"sunday"',
        '"sonday"',
        'site.toml: night[3].days[1] = "sonday": is not one of the choices; the nearest is "sunday"',
    ),
    "a time of day that is none": (
        "site.toml",
        '"02:30"',
        '"24:30"',
        'site.toml: night[1].at = "24:30": is not a time of day; '
        'write hours and minutes in quotes, e.g. "02:30"',
    ),
    "a bottle of which nobody says what its tube leaves": (
        "inputs.toml",
        'unreachable = "450 mL"\n',
        "",
        'inputs.toml: inputs.fish_hydrolysate.unreachable: is missing; add unreachable = "450 mL"',
    ),
    "a label range reversed": (
        "inputs.toml",
        'label_low = "0.2 mL/L"',
        'label_low = "2 mL/L"',
        'inputs.toml: inputs.soapbark_extract.label_high = "1 mL/L": is below label_low (2 mL/L); '
        "the label range is reversed: swap the two",
    ),
    "a living input that oxidises": (
        "inputs.toml",
        "living = true",
        "living = true\noxidiser = true",
        "inputs.toml: inputs.compost_extract.oxidiser = true: contradicts living = true",
    ),
    "an agitator without a time": (
        "inputs.toml",
        'agitate = "45 s"\n',
        "",
        'inputs.toml: inputs.fish_hydrolysate.agitator = "fish_agitator": stands without agitate',
    ),
    "a temperature gate upside down": (
        "site.toml",
        'temperature_low = "10 °C"',
        'temperature_low = "30 °C"',
        'site.toml: water.temperature_high = "28 °C": is not above temperature_low (30 °C); swap the two',
    ),
    "a rest without a time": (
        "site.toml",
        'chlorine = "cartridge"',
        'chlorine = "aerated rest"',
        'site.toml: water.rest = "0 s": is no rest, but chlorine = "aerated rest"',
    ),
    "a cap below the first dose": (
        "site.toml",
        'cap = "2 mL/L"',
        'cap = "0.02 mL/L"',
        'site.toml: trim.cap = "0.02 mL/L": is below first_dose (0.025 mL/L)',
    ),
    "a guard that leaves next to nothing between the edges": (
        "site.toml",
        'guard = "20 %"',
        'guard = "41 %"',
        'site.toml: trim.guard = "41 %": is more than 0.4 of the whole',
    ),
    "a whole section missing": (
        "site.toml",
        '[heel]\nmax = "10 L"\nmax_age = "36 h"\n',
        "",
        "site.toml: heel: is missing; add the section [heel]",
    ),
    "a section misspelt": (
        "rig.toml",
        "air_pump = true",
        'air_pump = true\nagitator = "x"',
        'rig.toml: agitator = "x": is not a known key; the nearest is "agitators"',
    ),
    "a word for a yes": (
        "rig.toml",
        "air_pump = true",
        'air_pump = "yes"',
        'rig.toml: air_pump = "yes": is neither true nor false; write true or false without quotes',
    ),
    "a whole number that is not whole": (
        "rig.toml",
        "server_id = 17",
        "server_id = 17.0",
        "rig.toml: board.server_id = 17.0: is not a whole number",
    ),
    "a table where a quantity belongs": (
        "rig.toml",
        'nozzle = "15 mm"',
        "nozzle = { width = 15 }",
        "rig.toml: stir.nozzle = { a table }: is not a quantity",
    ),
    "a name that is not plain": (
        "inputs.toml",
        "[inputs.molasses]",
        '[inputs."Mo\\nlasses"]',
        'inputs.toml: inputs.Mo\\nlasses = "Mo\\nlasses": is not a plain name',
    ),
    "a spoon that is neither": (
        "recipes/fruiting.toml",
        'spoons = "label"',
        'spoons = "heaped"',
        'recipes/fruiting.toml: spoons = "heaped": is not one of the choices; known: customary, label; '
        'write one of "label", "customary"',
    ),
}


@pytest.mark.parametrize(("file", "old", "new", "line"), ONE_FAULT.values(), ids=ONE_FAULT.keys())
def test_it_is_told_where_what_and_how_to_mend(
    site_copy: SiteCopy, file: str, old: str, new: str, line: str
) -> None:
    site_copy.replace(file, old, new)
    told = [str(fault) for fault in site_copy.faults()]
    assert any(one.startswith(line) for one in told), told


def test_one_slip_is_told_once_and_not_again_by_everything_that_leans_on_it(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", 'brim = "220 L"', 'brim = "220"')
    assert site_copy.only_fault().startswith('rig.toml: tank.brim = "220": is a bare number without a unit')


def test_a_misspelt_key_is_one_mistake_and_told_once(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", "working =", "wroking =")
    assert site_copy.only_fault() == (
        'rig.toml: tank.wroking = "180 L": is not a known key; the nearest is "working", which is missing'
    )


def test_a_misspelt_section_is_one_mistake_and_told_once(site_copy: SiteCopy) -> None:
    site_copy.replace("site.toml", "[keeping]", "[keping]")
    assert site_copy.only_fault() == (
        'site.toml: keping = { a table }: is not a known key; the nearest is "keeping", which is missing'
    )


def test_a_key_missing_in_one_section_is_told_beside_one_misspelt_in_another(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", "flow =", "folw =")
    site_copy.replace("rig.toml", 'rated = "12 L/min"\n', "")
    assert [fault.key for fault in site_copy.faults()] == ["fill.rated", "stir.folw"]


def test_an_unknown_key_near_one_that_is_there_hides_nothing_missing(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", 'nozzle = "15 mm"\n', 'flows = "60 L/min"\n')
    assert [fault.key for fault in site_copy.faults()] == ["stir.nozzle", "stir.flows"]


def test_resting_with_air_needs_an_air_pump(site_copy: SiteCopy) -> None:
    site_copy.replace("site.toml", 'chlorine = "cartridge"', 'chlorine = "aerated rest"')
    site_copy.replace("site.toml", 'rest = "0 s"', 'rest = "12 h"')
    assert site_copy.load().policy.water.rest_s == 43_200.0
    site_copy.replace("rig.toml", "air_pump = true", "air_pump = false")
    site_copy.replace("rig.toml", "air = 27\n", "")
    assert site_copy.only_fault() == (
        'site.toml: water.chlorine = "aerated rest": needs air, but air_pump = false in rig.toml; '
        "fit an air pump and write air_pump = true, or deal with chlorine in another way"
    )


def test_a_recipe_cut_short_is_no_plain_water(site_copy: SiteCopy) -> None:
    path = site_copy.folder / "recipes/fruiting.toml"
    whole = path.read_bytes()
    path.write_bytes(whole[: whole.index(b"[[addition]]")])
    told = site_copy.only_fault()
    assert told.startswith("recipes/fruiting.toml: addition: is missing: nothing is added by this recipe; ")
    assert 'if it is plain water, write additions = "none"' in told


def test_plain_water_says_so_and_then_adds_nothing(site_copy: SiteCopy) -> None:
    assert site_copy.load().recipes["plain_flush"].additions == ()
    site_copy.replace("recipes/plain_flush.toml", 'additions = "none"\n', "")
    assert site_copy.only_fault().startswith("recipes/plain_flush.toml: addition: is missing")


def test_a_recipe_that_says_none_and_lists_some_is_refused(site_copy: SiteCopy) -> None:
    site_copy.replace("recipes/fruiting.toml", "ph_low", 'additions = "none"\nph_low')
    assert site_copy.only_fault() == (
        'recipes/fruiting.toml: additions = "none": contradicts the 7 [[addition]] of this recipe; '
        "remove this line, or every [[addition]]"
    )


@pytest.mark.parametrize("value", ['"no"', "0", '[{ input = "molasses" }]'])
def test_what_is_not_none_is_told_how_additions_are_written(site_copy: SiteCopy, value: str) -> None:
    site_copy.replace("recipes/plain_flush.toml", '"none"', value)
    assert 'is not "none"; write each input as an [[addition]] of its own' in site_copy.only_fault()


def test_a_day_written_twice_in_a_clashing_night_is_told_once(site_copy: SiteCopy) -> None:
    site_copy.replace("site.toml", '["sunday"]', '["monday", "monday"]')
    assert site_copy.only_fault().startswith('site.toml: night[3].days = "monday": plans monday 02:30 again')


def test_a_suspension_needs_an_agitated_bottle(site_copy: SiteCopy) -> None:
    site_copy.replace("inputs.toml", 'agitator = "gypsum_agitator"\nagitate = "60 s"\n', "")
    assert site_copy.only_fault().startswith(
        'inputs.toml: inputs.gypsum_suspension.form = "suspension": is a suspension '
        "whose bottle nothing agitates"
    )


def test_a_living_input_may_not_trim_even_if_it_is_an_acid(site_copy: SiteCopy) -> None:
    site_copy.replace("inputs.toml", "living = true", 'living = true\nreaction = "acid"')
    site_copy.replace("recipes/fruiting.toml", 'acid = "citric_acid"', 'acid = "compost_extract"')
    assert site_copy.only_fault().startswith(
        'recipes/fruiting.toml: trim.acid = "compost_extract": is a living input'
    )


def test_a_broken_file_does_not_hide_the_faults_of_the_others(site_copy: SiteCopy) -> None:
    (site_copy.folder / "rig.toml").write_bytes(b"\xff\xfe\x00")
    site_copy.replace("site.toml", 'recipe = "fruiting"', 'recipe = "fruting"')
    site_copy.replace("recipes/young_plants.toml", '"3 mL/L"', '"3 M/L"')
    assert [fault.file for fault in site_copy.faults()] == [
        "rig.toml",
        "site.toml",
        "recipes/young_plants.toml",
    ]


def test_two_sites_differ_in_nothing_but_the_spoon_that_the_recipe_means(site_copy: SiteCopy) -> None:
    by_label = site_copy.load().recipes["fruiting"].additions[1]
    site_copy.replace("recipes/fruiting.toml", 'spoons = "label"', 'spoons = "customary"')
    customary = site_copy.load().recipes["fruiting"].additions[1]
    assert customary.rate_text == "2 tsp/gal (customary spoon 4.929 mL, US gallon) = 2.604 mL/L"
    # 1/768 gallon a spoon (NIST Handbook 44 App. C): 2 spoons in a gallon are 1/384.
    assert customary.rate_ml_l == 1000 / 384
    assert by_label.rate_ml_l > customary.rate_ml_l
