"""What is heavy sinks in the simulated tank, what is light floats, and the stir pump must work against it.

The critical Froude number of a jet in layered water: Rossman & Grayman, J. Environ. Eng. 125 (1999) 755, from
memory. Density of water at 10, 15 and 20 deg C: 999.70, 999.10, 998.21 kg/m3 (common tables).
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.matter.ions import EXCESS, HEAT, INDEX, parcel
from sim.vessel.layers import ALL_IN, Layer, Layers
from sim.vessel.stratification import Stratification, density_kg_m3
from sim.vessel.tank import Tank

AREA_M2 = math.pi / 4.0 * 0.6**2
LITRES = 180.0
MOLASSES_G_ML = 0.35


def tank_of(litres=LITRES, temperature_c=18.0):
    # A room that takes a thousand years, so that weight alone moves anything.
    tank = Tank(AREA_M2, 15.0, room_c=temperature_c, room_hours=1e7)
    water = {"Na": 2.0 * litres, "carbonate": 2.0 * litres}
    tank.add(litres * 1e3, parcel(water, litres, temperature_c))
    return tank


def dose(ml, excess_g_ml, temperature_c=18.0):
    """A dense acid with much potassium."""
    content = {"K": 0.6 * ml, "Cl": 0.35 * ml, "citrate": 0.1 * ml, "excess_g": excess_g_ml * ml}
    return parcel(content, ml * 1e-3, temperature_c)


def layers(tank, name="K"):
    tank.water.mix()
    return [layer[INDEX[name]] for layer in tank.water.parcels]


def warmth(tank):
    tank.water.mix()
    return [layer[HEAT] * 3.0 / tank.water.volume_l for layer in tank.water.parcels]


def bottom_share(tank, name="K"):
    top, middle, bottom = layers(tank, name)
    return bottom / (top + middle + bottom)


def pour(tank, ml, excess_g_ml, stir_l_min, seconds=120):
    """Dose over two minutes, four times a second."""
    for _ in range(4 * seconds):
        tank.add(ml / (4 * seconds), dose(ml / (4 * seconds), excess_g_ml))
        tank.advance(0.25, stir_l_min, False)


def even_after_s(excess_g, flow_l_min):
    """Seconds of stirring until a dose that lies at the bottom is within 5 % of even everywhere."""
    tank, mean = tank_of(), 100.0
    tank.water.parcels[2][EXCESS] += excess_g
    tank.water.parcels[2][INDEX["K"]] += 3.0 * mean
    elapsed_s = 0.0
    while max(abs(amount - mean) for amount in layers(tank)) > 0.05 * mean:
        tank.advance(0.25, flow_l_min, False)
        elapsed_s += 0.25
        assert elapsed_s < 7200.0
    return elapsed_s


@pytest.mark.parametrize(("temperature_c", "kg_m3"), [(10.0, 999.70), (15.0, 999.10), (20.0, 998.21)])
def test_a_parcel_weighs_what_its_water_and_what_it_carries_weigh(temperature_c, kg_m3):
    assert density_kg_m3(parcel({}, 2.0, temperature_c), 2.0) == pytest.approx(kg_m3, abs=0.02)
    molasses = parcel({"excess_g": 350.0}, 1.0, temperature_c)
    assert density_kg_m3(molasses, 1.0) == pytest.approx(kg_m3 + 350.0, abs=0.02)


@pytest.mark.parametrize(("excess_g_ml", "ml"), [(MOLASSES_G_ML, 475.0), (0.25, 100.0), (0.01, 900.0)])
def test_a_dense_dose_lies_at_the_bottom_of_still_water(excess_g_ml, ml):
    tank = tank_of()
    pour(tank, ml, excess_g_ml, 0.0)
    assert bottom_share(tank) > 0.95


def test_a_dose_as_heavy_as_water_stays_where_it_went_in():
    tank = tank_of()
    pour(tank, 475.0, 0.0, 0.0)
    top, middle, bottom = layers(tank)
    assert top > 0.9 * (top + middle + bottom)


def test_dense_liquid_at_the_bottom_keeps_there_far_longer_than_neutral_liquid():
    dense, neutral = tank_of(), tank_of()
    dense.add(475.0, dose(475.0, MOLASSES_G_ML), Layer.BOTTOM)
    neutral.add(475.0, dose(475.0, 0.0), Layer.BOTTOM)
    for tank in (dense, neutral):
        tank.advance(2.0 * 3600.0, 0.0, False)
    left = [(bottom_share(tank) - 1.0 / 3.0) * 1.5 for tank in (dense, neutral)]
    # Exchange goes exponentially: compare what each has lost as a number of time constants.
    assert left[0] > 0.95
    assert -math.log(left[1]) > 50.0 * -math.log(left[0])


def test_a_dense_dose_that_enters_below_a_light_one_does_not_rise():
    tank = tank_of()
    tank.add(475.0, dose(475.0, MOLASSES_G_ML), Layer.BOTTOM)
    assert bottom_share(tank) > 0.99


def test_a_dose_lighter_than_the_bottom_rests_on_it():
    tank = tank_of()
    tank.add(2_000.0, dose(2_000.0, MOLASSES_G_ML), Layer.BOTTOM)
    # Heavier than plain water, but diluted on its way lighter than what lies below.
    tank.add(100.0, parcel({"NO3": 100.0, "excess_g": 2.0}, 0.1, 18.0))
    top, middle, bottom = layers(tank, "NO3")
    assert middle > 0.9 * (top + middle + bottom)


@pytest.mark.parametrize("plunging", [False, True])
def test_cold_supply_water_sinks_below_warm_water(plunging):
    tank = tank_of(120.0, 24.0)
    for _ in range(600):
        tank.add(100.0, parcel({}, 0.1, 10.0), plunging=plunging)
        tank.advance(0.5, 0.0, False)
    top, _, bottom = warmth(tank)
    assert bottom < top
    assert bottom < (120.0 * 24.0 + 60.0 * 10.0) / 180.0 + 0.01
    if not plunging:
        assert top - bottom > 2.0


def test_warm_water_let_in_at_the_bottom_floats_and_stays_up():
    tank = tank_of(120.0, 12.0)
    for _ in range(200):
        tank.add(100.0, parcel({}, 0.1, 25.0), Layer.BOTTOM)
        tank.advance(0.5, 0.0, False)
    top, _, bottom = warmth(tank)
    assert top - bottom > 2.0
    tank.advance(3600.0, 0.0, False)
    still_top, _, still_bottom = warmth(tank)
    assert still_top - still_bottom > 0.9 * (top - bottom)


def laid(excess_g, place):
    tank = tank_of()
    tank.water.parcels[place][EXCESS] += excess_g
    tank.water.parcels[place][INDEX["K"]] += 100.0
    return tank


def test_heavy_water_above_light_water_overturns_within_minutes():
    heavy_above, heavy_below = laid(60.0, 0), laid(60.0, 2)
    for tank in (heavy_above, heavy_below):
        tank.advance(300.0, 0.0, False)
    assert layers(heavy_above) == pytest.approx([100.0 / 3.0] * 3, rel=0.05)
    assert bottom_share(heavy_below) > 0.98


def test_the_stir_pump_takes_longer_the_denser_the_bottom_is():
    neutral, *dense = [even_after_s(excess_g, 20.0) for excess_g in (0.0, 166.0, 1000.0, 4000.0)]
    assert neutral < dense[0] < dense[1] < dense[2]
    assert dense[2] > 1.7 * neutral


def test_a_usual_dose_is_no_burden_to_a_strong_jet_and_a_heavy_one_is_to_a_weak_jet():
    hindered = {
        (excess_g, flow_l_min): even_after_s(excess_g, flow_l_min) / even_after_s(0.0, flow_l_min)
        for excess_g in (166.0, 2000.0)
        for flow_l_min in (20.0, 60.0)
    }
    assert hindered[166.0, 60.0] == pytest.approx(1.0, abs=0.03)
    assert hindered[2000.0, 60.0] < 1.15
    assert hindered[2000.0, 20.0] > 1.3


def test_at_the_critical_froude_number_a_jet_exchanges_half_as_fast():
    flow_l_min, bore_m, litres = 60.0, 0.015, 180.0
    depth_m = litres * 1e-3 / AREA_M2
    speed_m_s = flow_l_min / 60000.0 / (math.pi / 4.0 * bore_m**2)
    # U / sqrt(g' D) = H / D, solved for the difference in density.
    critical_kg_m3 = 1000.0 * (speed_m_s * bore_m / depth_m) ** 2 / bore_m / 9.80665
    rates = []
    for excess_g in (0.0, critical_kg_m3 * litres / 3.0):
        water, layering = Layers(), Stratification()
        water.add(litres, parcel({}, litres, 18.0), ALL_IN[Layer.TOP])
        water.parcels[2][EXCESS] += excess_g
        layering.survey(water, AREA_M2, flow_l_min, bore_m * 1e3, False)
        rates.append(layering.lower)
        assert layering.upper == pytest.approx(rates[0])
    assert rates[1] == pytest.approx(0.5 * rates[0], rel=0.01)


def test_a_dense_dose_into_still_water_is_read_too_strong_until_it_is_stirred():
    tank = tank_of()
    start_us_cm, start_ph = tank.ec_at_probe(), tank.ph_at_probe()
    pour(tank, 475.0, MOLASSES_G_ML, 0.0)
    still_us_cm, still_ph = tank.ec_at_probe(), tank.ph_at_probe()
    assert still_ph < tank.ph_true() - 0.3
    tank.advance(150.0, 60.0, False)
    even_us_cm, even_ph = tank.ec_at_probe(), tank.ph_at_probe()
    assert start_us_cm < even_us_cm < still_us_cm
    assert still_us_cm - start_us_cm > 2.0 * (even_us_cm - start_us_cm)
    assert even_ph == pytest.approx(tank.ph_true(), abs=0.02)
    assert still_ph < even_ph < start_ph


def test_a_dense_dose_into_stirred_water_is_read_right_soon_after():
    stirred, reference = tank_of(), tank_of()
    start_us_cm = stirred.ec_at_probe()
    pour(stirred, 475.0, MOLASSES_G_ML, 60.0)
    pour(reference, 475.0, 0.0, 60.0)
    at_once = stirred.ec_at_probe() - start_us_cm
    assert at_once == pytest.approx(reference.ec_at_probe() - start_us_cm, rel=0.25)
    for tank in (stirred, reference):
        tank.advance(45.0, 60.0, False)
    assert stirred.ec_at_probe() == pytest.approx(reference.ec_at_probe(), rel=0.01)
    assert stirred.ph_at_probe() == pytest.approx(stirred.ph_true(), abs=0.02)


def test_grains_take_their_weight_to_the_floor_and_up_again():
    tank = tank_of()
    tank.add(500.0, parcel({"inert": 581.0, "excess_g": 145.0}, 0.5, 18.0))
    tank.advance(24.0 * 3600.0, 0.0, False)
    assert tank.content()[EXCESS] == pytest.approx(0.0, abs=2.0)
    tank.advance(120.0, 60.0, False)
    assert tank.content()[EXCESS] == pytest.approx(145.0, abs=2.0)


@settings(max_examples=25, deadline=None)
@given(
    excess=st.tuples(*[st.floats(-2_000.0, 60_000.0)] * 3),
    warm=st.tuples(*[st.floats(0.5, 45.0)] * 3),
    litres=st.floats(0.01, 200.0),
    dt_s=st.floats(0.0, 4000.0),
    flow_l_min=st.sampled_from([0.0, 20.0, 80.0]),
    air=st.booleans(),
)
def test_any_layering_and_any_step_stay_between_what_there_was(excess, warm, litres, dt_s, flow_l_min, air):
    tank = tank_of(litres)
    for place, layer in enumerate(tank.water.parcels):
        layer[EXCESS], layer[HEAT] = excess[place] * litres / 200.0, warm[place] * litres / 3.0
    total = [sum(layers(tank, name)) for name in ("excess_g", "heat")]
    tank.advance(dt_s, flow_l_min, air)
    assert min(warm) - 1e-2 <= min(warmth(tank)) <= max(warmth(tank)) <= max(warm) + 1e-2
    assert sum(layers(tank, "excess_g")) == pytest.approx(total[0], rel=1e-9, abs=1e-9)
    assert sum(layers(tank, "heat")) == pytest.approx(total[1], rel=1e-2)
