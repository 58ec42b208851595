"""What rig.toml says about the wiring holds together: pins, relays, agitators, front ends, sensor ranges."""

import math

import pytest
from gpiozero.pins.mock import MockFactory
from site_copies import SiteCopy

AGITATORS = """[pins.agitators]
gypsum_agitator = 11
rock_phosphate_agitator = 12
limestone_agitator = 18
compost_agitator = 20
fish_agitator = 21
"""

# (what stands there, what is written instead, the one fault line)
ONE_FAULT = {
    "a relay on the pin of another": (
        "air = 27",
        "air = 17",
        "rig.toml: pins.air = 17: is used twice, here and by pins.stir; give each a pin of its own",
    ),
    "a relay on the pin of a contact": (
        "sounder = 25",
        "sounder = 19",
        "rig.toml: pins.sounder = 19: is used twice, here and by pins.estop_ok; give each a pin of its own",
    ),
    "an agitator on the pin of the lamp": (
        "fish_agitator = 21",
        "fish_agitator = 24",
        "rig.toml: pins.agitators.fish_agitator = 24: is used twice, here and by pins.lamp; "
        "give each a pin of its own",
    ),
    "an agitator without a pin": (
        "fish_agitator = 21\n",
        "",
        "rig.toml: pins.agitators.fish_agitator: is missing; "
        "add fish_agitator = the GPIO number of its relay, or take it out of agitators",
    ),
    "an agitator misspelt, told once": (
        "fish_agitator = 21",
        "fsh_agitator = 21",
        "rig.toml: pins.agitators.fsh_agitator = 21: is not in the list agitators; "
        'the nearest is "fish_agitator", which has no pin',
    ),
    "an agitator that is nowhere": (
        "fish_agitator = 21",
        "fish_agitator = 21\nkelp_stirrer = 9",
        "rig.toml: pins.agitators.kelp_stirrer = 9: is not in the list agitators; known: compost_agitator, "
        "fish_agitator, gypsum_agitator, limestone_agitator, rock_phosphate_agitator",
    ),
    "no agitator wired at all": (
        AGITATORS,
        "",
        "rig.toml: pins.agitators: is missing; "
        "add the section [pins.agitators] with a GPIO number for each of the list agitators",
    ),
    "agitators misspelt as a section": (
        "[pins.agitators]",
        "[pins.agitator]",
        'rig.toml: pins.agitator = { a table }: is not a known key; the nearest is "agitators"',
    ),
    "an air pump without a pin": (
        "air = 27\n",
        "",
        "rig.toml: pins.air: is missing, but air_pump = true; "
        "add air = the GPIO number of its relay, or write air_pump = false",
    ),
    "air misspelt, told once": (
        "air = 27",
        "airr = 27",
        'rig.toml: pins.airr = 27: is not a known key; the nearest is "air"',
    ),
    "an air pin without an air pump": (
        "air_pump = true",
        "air_pump = false",
        "rig.toml: pins.air = 27: is wired, but air_pump = false; remove the line, or write air_pump = true",
    ),
    "a low level that switches nothing": (
        "active_low = []",
        'active_low = ["drian"]',
        'rig.toml: pins.active_low[1] = "drian": is not a relay with a pin; the nearest is "drain"',
    ),
    "a lamp as a relay": (
        "active_low = []",
        'active_low = ["stir", "lamp"]',
        'rig.toml: pins.active_low[2] = "lamp": is not a relay with a pin; known: air, compost_agitator, '
        "drain, fish_agitator, gypsum_agitator, limestone_agitator, permit, rock_phosphate_agitator, stir",
    ),
    "a relay that is on until the program starts": (
        "drain = 22",
        "drain = 3",
        "rig.toml: pins.drain = 3: is pulled up by the computer itself, so the relay is on until the program "
        "starts; put a contact there, and the relay elsewhere",
    ),
    "an agitator that is on until the program starts": (
        "fish_agitator = 21",
        "fish_agitator = 2",
        "rig.toml: pins.agitators.fish_agitator = 2: is pulled up by the computer itself, so the relay is on "
        "until the program starts; put a contact there, and the relay elsewhere",
    ),
    "a conductivity range of nothing": (
        'conductivity_full = "3000 mV"',
        'conductivity_full = "0 mV"',
        'rig.toml: board.front_ends.conductivity_full = "0 mV": is not above conductivity_zero (0 mV); '
        "write what the module gives at both ends; at least 100 mV lie between them",
    ),
    "a level range upside down": (
        'level_full = "3000 mV"',
        'level_full = "400 mV"',
        'rig.toml: board.front_ends.level_full = "400 mV": is not above level_zero (500 mV); '
        "write what the module gives at both ends; at least 100 mV lie between them",
    ),
    "a level range with hardly a step in it": (
        'level_full = "3000 mV"',
        'level_full = "599 mV"',
        'rig.toml: board.front_ends.level_full = "599 mV": is hardly above level_zero (500 mV); '
        "write what the module gives at both ends; at least 100 mV lie between them",
    ),
    # 190 L in a tank of 60 cm: 190 / (pi/4 x 0.36) = 672 mm.
    "a level sensor that ends below the high float": (
        'level_full_height = "90 cm"',
        'level_full_height = "600 mm"',
        'rig.toml: board.front_ends.level_full_height = "600 mm": ends below tank.high_float '
        "(190 L, 672 mm); fit a level sensor that sees the whole height, or mend the tank's diameter",
    ),
    # Nernst, 25 °C: 59.16 mV a pH, seven of them 414.1 mV; 4 of it 1656 mV; 1500 / 414.1 = 3.62.
    "an electrode that leaves the converter's range": (
        "ph_gain = 3.0",
        "ph_gain = 4",
        "rig.toml: board.front_ends.ph_gain = 4: leaves the converter's 0 to 3300 mV: "
        "pH 0 to 14 swings ph_zero (1500 mV) by 1656 mV each way; "
        "set the module to at most 3.62 there, or its zero nearer to 1650 mV",
    ),
}


@pytest.mark.parametrize(("old", "new", "line"), ONE_FAULT.values(), ids=ONE_FAULT.keys())
def test_a_slip_in_the_wiring_is_told_once_with_its_place_and_remedy(
    site_copy: SiteCopy, old: str, new: str, line: str
) -> None:
    site_copy.replace("rig.toml", old, new)
    assert site_copy.only_fault() == line


def test_the_demo_site_is_wired_without_a_fault(site_copy: SiteCopy) -> None:
    rig = site_copy.load().rig
    assert rig.pins is not None
    assert set(rig.pins.agitators) == set(rig.agitators)


def test_an_agitator_may_not_have_the_name_of_another_relay(site_copy: SiteCopy) -> None:
    for file in ("rig.toml", "rig.toml", "inputs.toml"):
        site_copy.replace(file, "compost_agitator", "drain")
    assert site_copy.only_fault() == (
        "rig.toml: pins.agitators.drain = 20: has the name of another relay, and active_low could not tell "
        "them apart; give the agitator another name"
    )


def test_an_active_low_relay_may_sit_on_a_pin_that_is_pulled_up(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", "drain = 22", "drain = 3")
    site_copy.replace("rig.toml", "active_low = []", 'active_low = ["drain"]')
    assert site_copy.load().rig.pins.drain == 3


def test_the_pins_that_are_pulled_up_are_those_that_gpiozero_knows_as_such() -> None:
    factory = MockFactory()
    pulled_up = [pin for pin in range(2, 28) if factory.pin(pin).info.pull == "up"]
    assert pulled_up == [2, 3]


def test_a_site_that_is_only_simulated_needs_no_wiring(site_copy: SiteCopy) -> None:
    text = (site_copy.folder / "rig.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[board.front_ends]")
    tail = rest.partition("fish_agitator = 21")[2]
    (site_copy.folder / "rig.toml").write_text(head + tail, encoding="utf-8")
    rig = site_copy.load().rig
    assert (rig.pins, rig.board.front_ends) == (None, None)


def test_a_pin_that_was_refused_by_itself_is_not_told_again(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", "air = 27", "air = 99")
    site_copy.replace("rig.toml", "stir = 17", "stir = 99")
    told = [str(fault) for fault in site_copy.faults()]
    assert len(told) == 2
    assert all("is not a free pin of the header" in line for line in told)


@pytest.mark.parametrize(
    ("zero", "gain", "fits"),
    [
        ("1650 mV", 3.98, True),
        ("1650 mV", 3.99, False),
        ("500 mV", 1.2, True),
        ("500 mV", 1.3, False),
        ("2800 mV", 1.2, True),
        ("2800 mV", 1.3, False),
    ],
)
def test_the_whole_ph_scale_must_fit_the_converter(
    site_copy: SiteCopy, zero: str, gain: float, fits: bool
) -> None:
    # Nernst slope R T ln 10 / F at 25 °C is 59.16 mV (IUPAC 2002 recommendation on pH, table of k).
    assert math.isclose(8.314462618 * 298.15 * math.log(10) / 96485.33212, 0.05916, rel_tol=1e-4)
    site_copy.replace("rig.toml", 'ph_zero = "1500 mV"', f'ph_zero = "{zero}"')
    site_copy.replace("rig.toml", "ph_gain = 3.0", f"ph_gain = {gain}")
    if fits:
        assert site_copy.load().rig.board.front_ends.ph_gain == gain
    else:
        assert f"board.front_ends.ph_gain = {gain}: leaves the converter" in site_copy.only_fault()


def test_a_key_missing_in_a_section_that_may_be_left_out_is_told_with_an_example(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", "stir = 17\n", "")
    assert site_copy.only_fault() == "rig.toml: pins.stir: is missing; add stir = 17"


def test_a_key_misspelt_in_a_section_that_may_be_left_out_is_one_mistake(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", 'level_full = "3000 mV"', 'level_ful = "3000 mV"')
    assert site_copy.only_fault() == (
        'rig.toml: board.front_ends.level_ful = "3000 mV": is not a known key; '
        'the nearest is "level_full", which is missing'
    )
