"""Grams to millilitres, against published tables of water, air and the Z factor."""

import pytest

from controller.measure.gravimetry import (
    OUNCE_G,
    Air,
    measured_density_kg_m3,
    water_density_kg_m3,
    z_factor_ml_g,
)

# Z in mL/g every half degree from 15 to 30 °C at 1013 hPa: the table of ISO 8655-6 as makers of pipettes
# print it in their manuals (from memory, checked by a second transcription of it).
Z_TABLE = (
    1.0020,
    1.0020,
    1.0021,
    1.0022,
    1.0023,
    1.0024,
    1.0025,
    1.0026,
    1.0027,
    1.0028,
    1.0029,
    1.0030,
    1.0031,
    1.0032,
    1.0033,
    1.0034,
    1.0035,
    1.0036,
    1.0038,
    1.0039,
    1.0040,
    1.0041,
    1.0043,
    1.0044,
    1.0045,
    1.0047,
    1.0048,
    1.0050,
    1.0051,
    1.0052,
    1.0054,
)


@pytest.mark.parametrize(
    ("temperature_c", "kg_m3"),
    # Tanaka et al., Metrologia 38 (2001) 301-309, and IAPWS-95 within 0.0007 kg/m3 between 15 and 30 °C.
    [(15, 999.1026), (18, 998.5984), (20, 998.2067), (23, 997.5408), (25, 997.0470), (30, 995.6488)],
)
def test_water_is_as_dense_as_in_the_published_table(temperature_c: float, kg_m3: float) -> None:
    assert water_density_kg_m3(temperature_c) == pytest.approx(kg_m3, abs=6e-5)


def test_water_is_densest_at_four_degrees() -> None:
    assert max(range(41), key=water_density_kg_m3) == 4
    assert water_density_kg_m3(3.983035) == pytest.approx(999.97495)


@pytest.mark.parametrize(("place", "printed"), list(enumerate(Z_TABLE)))
def test_z_is_the_published_one_at_every_half_degree(place: int, printed: float) -> None:
    temperature_c = 15.0 + place / 2.0
    found = z_factor_ml_g(water_density_kg_m3(temperature_c), Air(temperature_c))
    # 0.00006: half of the last digit printed, and two ties of the table.
    assert found == pytest.approx(printed, abs=6e-5)


def test_air_is_as_dense_as_in_oiml_r_111() -> None:
    # 1.2 kg/m3 at 20 °C and sea level is the convention of OIML R 111 and D 28.
    assert Air(20.0, 1013.25, 50.0).density_kg_m3 == pytest.approx(1.199, abs=5e-4)
    # Ideal gas (dry, 287.05 J/(kg K), ISO 2533): p / (R T).
    assert Air(15.0, 1013.25, 0.0).density_kg_m3 == pytest.approx(101325 / (287.05 * 288.15), rel=1e-3)


def test_a_hundred_hectopascals_change_z_by_a_ten_thousandth() -> None:
    # The pressure columns of the same table differ by 0.0001 a 100 hPa.
    water = water_density_kg_m3(20.0)
    step = z_factor_ml_g(water, Air(pressure_hpa=1050)) - z_factor_ml_g(water, Air(pressure_hpa=950))
    assert step == pytest.approx(1e-4, abs=2e-5)


def test_a_gram_of_a_thick_concentrate_is_less_than_a_millilitre() -> None:
    assert z_factor_ml_g(1250.0, Air()) == pytest.approx(1 / 1.25, rel=1e-3)


def test_a_density_that_was_measured_gives_back_its_volume() -> None:
    air = Air(22.0, 990.0, 40.0)
    density = measured_density_kg_m3(123.4, 100.0, air)
    assert 123.4 * z_factor_ml_g(density, air) == pytest.approx(100.0, rel=1e-12)
    assert density > 1234.0


def test_an_ounce_is_that_of_nist() -> None:
    # NIST Handbook 44, Appendix C: 16 oz = 1 lb = 453.59237 g exactly.
    pound_g = 16 * OUNCE_G
    assert pound_g == pytest.approx(453.59237, rel=1e-15)


@pytest.mark.parametrize("temperature_c", [-0.1, 40.1, float("nan")])
def test_water_that_nobody_weighs_is_refused(temperature_c: float) -> None:
    with pytest.raises(ValueError, match="between"):
        water_density_kg_m3(temperature_c)


@pytest.mark.parametrize(
    "changes", [{"pressure_hpa": 29.9}, {"humidity_percent": 101}, {"temperature_c": 70}]
)
def test_air_that_is_none_is_refused(changes: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="no "):
        Air(**changes)


@pytest.mark.parametrize(("grams", "ml"), [(0.0, 1.0), (1.0, 0.0), (-1.0, 1.0)])
def test_a_density_of_nothing_is_refused(grams: float, ml: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        measured_density_kg_m3(grams, ml, Air())


def test_a_density_in_the_wrong_unit_is_refused() -> None:
    with pytest.raises(ValueError, match="kg/L"):
        z_factor_ml_g(1.25, Air())
