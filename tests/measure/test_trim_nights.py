"""Whole nights of trimming random waters: pH ends in the window and never passes its far edge."""

from __future__ import annotations

import random

import pytest
from titrated_water import TitratedWater, nearly, organic_water, random_water
from trimmed_night import PHOSPHORIC, POLICY, Probing, TrimmedNight, trim_night

from controller.measure.trim import Add, GiveUp, InWindow

DEFAULT = (5.8, 6.3)
NARROW = (5.95, 6.15)


def median(nights: list[TrimmedNight]) -> int:
    return sorted(night.trims for night in nights)[len(nights) // 2]


def percentile_99(nights: list[TrimmedNight]) -> int:
    return sorted(night.trims for night in nights)[int(0.99 * len(nights))]


def assert_all_reached_without_passing(nights: list[TrimmedNight]) -> None:
    assert [night.past_far_edge_ph for night in nights if night.past_far_edge_ph > 0.0] == []
    assert [night.end for night in nights if not isinstance(night.end, InWindow)] == []


@pytest.mark.parametrize("noise_ph", [0.01, 0.03])
@pytest.mark.parametrize(("window", "middle", "most"), [(DEFAULT, 6, 9), (NARROW, 7, 9)])
def test_from_a_cold_start_no_water_passes_the_far_edge(
    window: tuple[float, float], middle: int, most: int, noise_ph: float
) -> None:
    rng = random.Random(1)
    probing = Probing(noise_ph=noise_ph)
    nights = [
        trim_night(draw(rng, rng.uniform(6.4, 8.4)), rng, window=window, probing=probing)
        for draw in (random_water, organic_water)
        for _ in range(60)
    ]
    assert_all_reached_without_passing(nights)
    assert median(nights) <= (middle if noise_ph > 0.02 else middle - 1)
    assert percentile_99(nights) <= most


def test_a_bicarbonate_tank_is_reached_from_a_cold_start_in_five_trims() -> None:
    rng = random.Random(6)
    nights = []
    for _ in range(60):
        ph = rng.uniform(6.4, 8.0)
        # Alkalinity 2 meq/L: bicarbonate is all but the carbonic acid that goes with the pH.
        water = TitratedWater(ph, carbonate_mmol_l=2.0 * (1.0 + 10.0 ** (6.352 - ph)))
        nights.append(trim_night(water, rng))
    assert_all_reached_without_passing(nights)
    assert median(nights) <= 5


def test_phosphoric_acid_in_soft_water_does_not_run_away_once_the_bicarbonate_is_gone() -> None:
    # The acid gives two protons high up and one below pH 6, so that the water seems to buffer more and more;
    # below pH 5.4 little but the water itself holds out.
    rng = random.Random(14)
    nights = [
        trim_night(
            TitratedWater(rng.uniform(6.4, 8.4), carbonate_mmol_l=rng.uniform(0.3, 2.5)),
            rng,
            window=(5.3, 5.6),
            acid=PHOSPHORIC,
        )
        for _ in range(120)
    ]
    assert_all_reached_without_passing(nights)
    assert percentile_99(nights) <= 9


@pytest.mark.parametrize(("window", "most"), [(DEFAULT, 2), (NARROW, 3)])
def test_with_memory_of_a_like_night_fewer_trims_are_enough(window: tuple[float, float], most: int) -> None:
    rng = random.Random(7)
    nights = []
    for _ in range(80):
        ph = rng.uniform(6.4, 8.4)
        water = organic_water(rng, ph)
        before = trim_night(nearly(water, rng, ph), rng, window=window)
        memory = before.state.memory(POLICY.stable_ph)
        nights.append(trim_night(water, rng, window=window, remembered=memory))
    assert_all_reached_without_passing(nights)
    assert median(nights) <= most
    assert percentile_99(nights) <= 5


def test_memory_of_water_with_three_times_the_buffering_does_not_carry_past_the_far_edge() -> None:
    rng = random.Random(8)
    nights = []
    for _ in range(60):
        ph = rng.uniform(6.4, 8.4)
        water = random_water(rng, ph)
        harder = TitratedWater(
            ph,
            carbonate_mmol_l=3.0 * water.carbonate_mmol_l,
            phosphate_mmol_l=3.0 * water.phosphate_mmol_l,
        )
        memory = trim_night(harder, rng).state.memory(POLICY.stable_ph)
        nights.append(trim_night(water, rng, remembered=memory))
    assert_all_reached_without_passing(nights)


def test_buffering_that_fades_as_fast_as_ammonium_does_not_carry_past_the_far_edge() -> None:
    rng = random.Random(9)
    nights = [
        trim_night(
            TitratedWater(
                rng.uniform(6.4, 8.6),
                carbonate_mmol_l=0.3,
                phosphate_mmol_l=0.1,
                ammonium_mmol_l=rng.uniform(0.0, 6.0),
            ),
            rng,
        )
        for _ in range(80)
    ]
    assert_all_reached_without_passing(nights)


def test_base_does_not_carry_past_the_upper_edge() -> None:
    rng = random.Random(10)
    nights = [trim_night(random_water(rng, rng.uniform(4.3, 5.75)), rng) for _ in range(80)]
    assert_all_reached_without_passing(nights)
    assert all(step.input.name == "potassium_hydroxide" for night in nights for step in night.steps)


def test_an_acid_five_times_as_strong_as_last_night_needs_no_telling() -> None:
    rng = random.Random(11)
    nights = [
        trim_night(
            TitratedWater(rng.uniform(6.6, 8.2), carbonate_mmol_l=2.0),
            rng,
            probing=Probing(mol_l={"citric_acid": 5.0}),
        )
        for _ in range(60)
    ]
    assert_all_reached_without_passing(nights)


def test_every_night_ends_whatever_the_probe_says() -> None:
    # A probe that is off by half a pH, each time anew: no answer can be trusted, none may go on for ever.
    rng = random.Random(12)
    for _ in range(40):
        night = trim_night(random_water(rng, 7.5), rng, probing=Probing(wander_ph=0.5))
        assert night.trims <= POLICY.max_trims
        assert isinstance(night.end, InWindow | GiveUp)


def test_a_night_can_be_told_from_its_decisions() -> None:
    rng = random.Random(13)
    night = trim_night(TitratedWater(7.8, carbonate_mmol_l=2.0), rng)
    assert all(isinstance(step, Add) and step.believed and step.did for step in night.steps)
    assert "not known yet" in night.steps[0].text
    assert "pH per mL" in night.steps[-1].text
