"""Scales, start volumes, calibration dates, a second probe and a calibrated cell: read, checked, refused."""

from dataclasses import fields
from datetime import date

import pytest
from site_copies import SiteCopy

from controller.settings.values import ConductivityCell, PhProbe, Pump, Scale, Site


def test_the_demo_site_weighs_every_pump_in_its_own_pairs_of_a_shelf(demo_site: Site) -> None:
    on: dict[str | None, set[str]] = {}
    for pump in demo_site.rig.pumps.values():
        on.setdefault(pump.scale, set()).add(pump.name)
    assert on == {
        "shelf_one": {"molasses", "humate"},
        "shelf_two": {"fish", "soapbark", "citric"},
        "shelf_three": {"kelp", "gypsum"},
        "shelf_four": {"rock_phosphate", "limestone", "compost"},
        "rinse_can": {"rinse_water"},
    }
    assert [scale.line for scale in demo_site.rig.scales.values()] == [0, 1, 2, 3, 4]
    assert demo_site.rig.scales["shelf_two"] == Scale("shelf_two", 1)


def test_the_demo_site_has_two_probes_a_calibrated_cell_and_dated_pumps(demo_site: Site) -> None:
    rig = demo_site.rig
    assert rig.second_probe == PhProbe(-3.0, 0.97, 7.0, date(2026, 11, 20), 30)
    assert rig.cell == ConductivityCell(0.99, date(2026, 11, 20), 90)
    dated = {(pump.calibrated, pump.due_days, pump.start_ml) for pump in rig.pumps.values()}
    assert dated == {(date(2026, 11, 15), 180, 0.0)}


@pytest.mark.parametrize(("text", "ml"), [("0.1 mL", 0.1), ("-0.25 mL", -0.25), ("0 mL", 0.0)])
def test_a_start_may_be_more_less_or_nothing(site_copy: SiteCopy, text: str, ml: float) -> None:
    site_copy.replace("rig.toml", 'scale = "shelf_two"', f'start = "{text}"\nscale = "shelf_two"')
    assert site_copy.load().rig.pumps["fish"].start_ml == ml


def bare(site_copy: SiteCopy) -> SiteCopy:
    """Take out everything of which a site may have none."""
    path = site_copy.folder / "rig.toml"
    kept, dropping = [], False
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("["):
            dropping = line.startswith(("[scales.", "[second_ph_probe]", "[conductivity_cell]"))
        in_pump = bool(kept) and not dropping and line.startswith(("scale =", "calibrated = 2026-11-15"))
        if not dropping and not in_pump and line != 'due = "180 days"':
            kept.append(line)
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    return site_copy


def test_a_site_without_any_of_it_is_whole_too(site_copy: SiteCopy) -> None:
    rig = bare(site_copy).load().rig
    assert (dict(rig.scales), rig.second_probe, rig.cell) == ({}, None, None)
    optional = {line.name: line.default for line in fields(Pump) if line.name in METERING_KEYS}
    for pump in rig.pumps.values():
        assert {key: getattr(pump, key) for key in METERING_KEYS} == optional


METERING_KEYS = ("scale", "start_ml", "calibrated", "due_days")

# (what stands in rig.toml, what is written instead, start of the one fault line)
ONE_FAULT = {
    "a scale that is not there": (
        'scale = "shelf_two"',
        'scale = "shelf_tow"',
        'rig.toml: pumps.fish.scale = "shelf_tow": is not a scale of this rig; the nearest is "shelf_two"',
    ),
    "the only pump of a scale misspells it": (
        'scale = "rinse_can"',
        'scale = "rinse_kan"',
        'rig.toml: pumps.rinse_water.scale = "rinse_kan": is not a scale of this rig; '
        'the nearest is "rinse_can"',
    ),
    "a scale that no pump uses": (
        'scale = "rinse_can"\n',
        "",
        'rig.toml: scales.rinse_can: is used by no pump; write scale = "rinse_can" at each pump whose bottle',
    ),
    "a line the board does not have": (
        "line = 4",
        "line = 5",
        "rig.toml: scales.rinse_can.line = 5: is more than 4",
    ),
    "a line below 0": ("line = 4", "line = -1", "rig.toml: scales.rinse_can.line = -1: is less than 0"),
    "two scales on one line": (
        "line = 4",
        "line = 1",
        "rig.toml: scales.rinse_can.line = 1: is used twice, here and by shelf_two; "
        "each scale needs a data line of its own",
    ),
    "a date without its due": (
        'calibrated = 2026-11-15\ndue = "180 days"',
        "calibrated = 2026-11-15",
        "rig.toml: pumps.fish.calibrated = 2026-11-15: stands without due; add due, or remove calibrated",
    ),
    "a due without its date": (
        'calibrated = 2026-11-15\ndue = "180 days"',
        'due = "180 days"',
        'rig.toml: pumps.fish.due = "180 days": stands without calibrated; add calibrated, or remove due',
    ),
    "a start of a litre": (
        'scale = "shelf_two"',
        'scale = "shelf_two"\nstart = "1 L"',
        'rig.toml: pumps.fish.start = "1 L": is more than 5 mL; look for a slip',
    ),
    "a start that is most of the smallest dose": (
        'scale = "shelf_two"',
        'scale = "shelf_two"\nstart = "-3.2 mL"',
        'rig.toml: pumps.fish.start = "-3.2 mL": is more than half of min_dose (6 mL); raise min_dose',
    ),
    "a cell factor of a tenth": (
        "factor = 0.99",
        "factor = 0.1",
        "rig.toml: conductivity_cell.factor = 0.1: is less than 0.5; look for a slip",
    ),
    "a second probe without a slope": (
        'slope = "97 %"\n',
        "",
        'rig.toml: second_ph_probe.slope: is missing; add slope = "75 %"',
    ),
    "a misspelt second probe": (
        "[second_ph_probe]",
        "[secnd_ph_probe]",
        'rig.toml: secnd_ph_probe = { a table }: is not a known key; the nearest is "second_ph_probe"',
    ),
}


@pytest.mark.parametrize(("old", "new", "told"), ONE_FAULT.values(), ids=ONE_FAULT.keys())
def test_it_is_told_where_what_and_how_to_mend(site_copy: SiteCopy, old: str, new: str, told: str) -> None:
    site_copy.replace("rig.toml", old, new)
    assert site_copy.only_fault().startswith(told)


def test_a_scale_where_none_is_listed_is_told_how_to_list_it(site_copy: SiteCopy) -> None:
    bare(site_copy).replace("rig.toml", "channel = 0\n", 'channel = 0\nscale = "shelf"\n')
    assert site_copy.only_fault() == (
        'rig.toml: pumps.fish.scale = "shelf": is not a scale of this rig; '
        "add [scales.NAME] with its line, or remove it"
    )


def test_bottles_too_heavy_for_the_board_are_refused_with_what_each_weighs(site_copy: SiteCopy) -> None:
    # 16 L of molasses at 1.38 kg/L, 6 L of humate at 1.10, and two empty bottles: 22.08 + 6.6 + 2 = 30.68 kg.
    site_copy.replace("inputs.toml", 'stock = "12 L"\nunreachable = "450 mL"\n\n[inputs.potassium', "STOCK")
    site_copy.replace("inputs.toml", "STOCK", 'stock = "16 L"\nunreachable = "450 mL"\n\n[inputs.potassium')
    assert site_copy.load().inputs["molasses"].stock_ml == 16_000
    site_copy.replace("inputs.toml", 'stock = "16 L"', 'stock = "17 L"')
    assert site_copy.only_fault() == (
        "rig.toml: scales.shelf_one: carries 32.06 kg with its bottles full (molasses 24.5, "
        "potassium_humate 7.6, each with 1 for the empty bottle), and the board can tell 32 kg; "
        "put one of them on another scale, or use smaller bottles"
    )


def test_what_a_night_may_draw_from_the_can_of_rinse_water_counts(site_copy: SiteCopy) -> None:
    site_copy.replace("rig.toml", 'night_cap = "4000 mL"', 'night_cap = "31.5 L"')
    assert site_copy.only_fault().startswith(
        "rig.toml: scales.rinse_can: carries 32.5 kg with its bottles full (rinse_water 32.5, "
    )


@pytest.mark.parametrize(
    ("line", "field", "value"),
    [
        ('pulsation = "9 %"', "pulsation_share", 0.09),
        ('suction_bore = "1 cm"', "suction_bore_mm", 10.0),
        ('suction_length = "850 mm"', "suction_m", 0.85),
    ],
)
def test_pulsation_and_suction_tube_are_read_and_may_be_left_out(
    site_copy: SiteCopy, line: str, field: str, value: float
) -> None:
    key = line.split(" = ")[0]
    path = site_copy.folder / "rig.toml"
    kept = [row for row in path.read_text(encoding="utf-8").splitlines() if not row.startswith(key)]
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    assert {getattr(pump, field) for pump in site_copy.load().rig.pumps.values()} == {None}
    site_copy.replace("rig.toml", "[pumps.fish]", f"[pumps.fish]\n{line}")
    assert getattr(site_copy.load().rig.pumps["fish"], field) == pytest.approx(value)
