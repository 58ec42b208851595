"""Still weights, the amount between two of them and its doubt, against standards and plain chance."""

from __future__ import annotations

import math
import random
import statistics

import pytest

from controller.measure.weighing import (
    StillWeight,
    WeighedAmount,
    beyond_doubt,
    grams,
    in_the_tube_ml,
    millilitres,
    scale_is_believed,
    still_weight,
    weighed_amount,
)


def samples(*grams_seen: float, every_s: float = 1.0) -> list[tuple[float, float]]:
    return [(place * every_s, g) for place, g in enumerate(grams_seen)]


def quiet(chance: random.Random, noise_g: float = 0.6) -> list[tuple[float, float]]:
    return samples(*(float(round(chance.gauss(11_000.0, noise_g))) for _ in range(5)))


def test_a_still_weight_is_the_mean_and_its_doubt_covers_the_truth() -> None:
    """95 of 100 within two standard uncertainties (JCGM 100:2008); here with noise and whole grams."""
    chance = random.Random(7)
    off = []
    for _ in range(2000):
        weight = still_weight(quiet(chance))
        assert weight is not None
        off.append(abs(weight.grams - 11_000.0) / weight.standard_g)
    assert sum(one <= 2.0 for one in off) / len(off) > 0.93


def test_samples_that_all_show_the_same_gram_are_still_in_doubt_by_the_resolution() -> None:
    weight = still_weight(samples(5.0, 5.0, 5.0, 5.0, 5.0))
    assert weight is not None
    # A reading in whole grams: an even distribution of half a gram either way (JCGM 100:2008, F.2.2.1).
    assert weight.standard_g == pytest.approx(0.5 / math.sqrt(3.0))


def test_too_few_samples_are_no_weight() -> None:
    assert still_weight(samples(5.0, 5.0, 5.0, 5.0)) is None


def test_one_glitch_is_left_out_and_two_are_refused() -> None:
    weight = still_weight(samples(100.0, 101.0, 900.0, 100.0, 101.0))
    assert weight is not None
    assert weight.grams == pytest.approx(100.5)
    assert still_weight(samples(100.0, 900.0, 900.0, 100.0, 101.0)) is None


def test_a_weight_that_slopes_is_refused() -> None:
    assert still_weight(samples(100.0, 99.0, 98.0, 97.0, 96.0)) is None
    assert still_weight(samples(100.0, 100.0, 99.0, 99.0, 99.0)) is not None


@pytest.mark.parametrize("noise_g", [12.0, 1200.0])
def test_a_running_agitator_or_a_person_leaning_is_hardly_ever_taken_for_still(noise_g: float) -> None:
    chance = random.Random(11)
    taken = sum(still_weight(quiet(chance, noise_g)) is not None for _ in range(2000))
    assert taken / 2000 < 0.02


# Z factor of water in mL/g at 101.3 kPa: ISO 8655-6 table A.1 (from memory), computed by V = m Z.
@pytest.mark.parametrize(
    ("density_kg_l", "z_ml_g"), [(0.9991026, 1.0020), (0.9982067, 1.0029), (0.9970470, 1.0040)]
)
def test_the_volume_of_water_follows_the_z_factor_of_the_standard(density_kg_l: float, z_ml_g: float) -> None:
    assert millilitres(100.0, density_kg_l) == pytest.approx(100.0 * z_ml_g, abs=0.01)
    assert grams(millilitres(100.0, density_kg_l), density_kg_l) == pytest.approx(100.0)


def test_a_density_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="density"):
        millilitres(1.0, 0.0)


def test_the_amount_between_two_weights_has_a_doubt_of_readings_cell_and_density() -> None:
    before, after = StillWeight(12_000.0, 0.4), StillWeight(12_000.0 - 1000.0, 0.3)
    amount = weighed_amount(before, after, 1.25)
    assert amount.ml == pytest.approx(millilitres(1000.0, 1.25))
    # By hand: readings 0.5 g, span 0.577 g and creep 0.289 g of 1000 g, over 1.25 kg/L; density 0.289 %.
    by_hand = 2.0 * math.hypot(math.sqrt(0.5**2 + 0.577**2 + 0.289**2) / 1.25, 0.00289 * amount.ml)
    assert amount.uncertainty_ml == pytest.approx(by_hand, rel=0.01)


def test_the_doubt_covers_simulated_weighings_of_a_scale_with_every_error() -> None:
    """Each error drawn as its half width says; k = 2 must hold the truth in some 95 of 100."""
    chance = random.Random(5)
    inside = 0
    for _ in range(1000):
        true_ml, written = chance.uniform(5.0, 900.0), 1.2
        density = written * (1.0 + chance.uniform(-0.005, 0.005))
        lost_g = grams(true_ml, density) * (1.0 + chance.uniform(-0.001, 0.001))
        weights = []
        for load_g in (9_000.0, 9_000.0 - lost_g):
            seen = [float(round(chance.gauss(load_g, 0.6))) for _ in range(5)]
            weights.append(still_weight(samples(*seen)) or StillWeight(statistics.fmean(seen), 0.5))
        amount = weighed_amount(weights[0], weights[1], written)
        inside += abs(amount.ml - true_ml) <= amount.uncertainty_ml
    assert inside / 1000 > 0.94


def weighed(ml: float, uncertainty_ml: float) -> WeighedAmount:
    return WeighedAmount(0.0, 0.0, ml, uncertainty_ml)


@pytest.mark.parametrize(
    ("ml", "uncertainty_ml", "counted_ml", "counted_doubt_ml", "believed"),
    [
        (700.0, 4.0, 720.0, 26.0, True),
        (4.9, 1.0, 5.0, 0.3, False),
        (0.1, 1.0, 5.0, 0.3, True),
    ],
)
def test_the_smaller_doubt_is_recorded_and_the_scale_where_the_two_contradict(
    ml: float, uncertainty_ml: float, counted_ml: float, counted_doubt_ml: float, believed: bool
) -> None:
    assert scale_is_believed(weighed(ml, uncertainty_ml), counted_ml, counted_doubt_ml) is believed


def test_what_stood_in_the_tube_of_an_empty_bottle_is_part_of_the_doubt() -> None:
    assert in_the_tube_ml(40.0, 0.0) == 40.0
    assert in_the_tube_ml(900.0, 0.0) == 100.0
    assert in_the_tube_ml(720.0, 612.0) == 0.0


def test_beyond_doubt_is_five_standard_uncertainties() -> None:
    assert not beyond_doubt(2.5, 1.0)
    assert beyond_doubt(2.51, 1.0)
