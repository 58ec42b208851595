"""What two probes say together: sound and agreeing, or a doubt that names which says what."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from controller.measure.electrode import ProbeVerdict
from controller.measure.two_probes import (
    AGREE_PH,
    APART_LOOKS,
    CLEAR_MV,
    FIRST,
    ONE,
    SECOND,
    ProbeSeen,
    apart_mv,
    one_signal,
    together,
)
from controller.settings.values import Site

GOOD = ProbeVerdict.GOOD


def both(first: float | None, second: float | None, *verdicts: ProbeVerdict) -> tuple[ProbeSeen, ProbeSeen]:
    one, other = verdicts or (GOOD, GOOD)
    return ProbeSeen(FIRST, first, one), ProbeSeen(SECOND, second, other)


def test_one_sound_probe_is_worked_with_alone() -> None:
    alone = together([ProbeSeen(ONE, 6.1, GOOD)])
    assert (alone.ph, alone.why, alone.proven) == (6.1, "", True)


def test_two_that_agree_give_their_mean() -> None:
    agreed = together(both(6.0, 6.0 + AGREE_PH - 0.01))
    assert agreed.proven
    assert agreed.ph == pytest.approx(6.07)


def test_two_that_differ_prove_nothing_and_each_is_named_with_what_it_says() -> None:
    doubt = together(both(6.0, 6.16))
    assert not doubt.proven
    assert doubt.ph == pytest.approx(6.08)
    assert "the first pH probe says 6.00, the second pH probe says 6.16: they differ" in doubt.why
    assert doubt.why.endswith("put both probes into one buffer, and clean and calibrate the one that is off")


@pytest.mark.parametrize(
    ("verdict", "ph", "words"),
    [
        (ProbeVerdict.NO_SIGNAL, None, "the second pH probe gives no plausible reading (no signal)"),
        (ProbeVerdict.OPEN_INPUT, None, "(open input): mend its cable or plug"),
        (ProbeVerdict.OUT_OF_RANGE, None, "(pH out of range): look whether it hangs in the tank"),
        (ProbeVerdict.TEMPERATURE_OUT_OF_RANGE, None, "out of range): mend the tank thermometer"),
        (
            ProbeVerdict.NEAR_ZERO_GLASS_SUSPECT,
            7.0,
            "dry its plug, and replace the probe if that does not help",
        ),
        (ProbeVerdict.DEAD, 6.0, "stands at pH 6.00 and does not move at all: switch its module off and on"),
    ],
)
def test_one_that_is_lost_or_broken_is_named_first_and_the_other_one_shown(
    verdict: ProbeVerdict, ph: float | None, words: str
) -> None:
    doubt = together(both(6.0, ph, GOOD, verdict))
    assert not doubt.proven
    assert words in doubt.why
    assert doubt.why.startswith("the second")
    assert "the first pH probe says 6.00" in doubt.why
    assert doubt.ph is not None


def test_no_probe_at_all_gives_no_reading() -> None:
    nothing = together(both(None, None, ProbeVerdict.NO_SIGNAL, ProbeVerdict.NO_SIGNAL))
    assert nothing.ph is None
    assert not nothing.proven


def looks(mean_mv: float, sd_mv: float, n: int = APART_LOOKS, seed: int = 1) -> list[float]:
    """Differences of two signals of which each has this noise, in the board's tenths of a millivolt."""
    chance = random.Random(seed)
    return [
        round(mean_mv + chance.gauss(0.0, sd_mv), 1) - round(chance.gauss(0.0, sd_mv), 1) for _ in range(n)
    ]


def test_signals_that_should_differ_are_worked_out_from_the_two_calibrations_by_hand(demo_site: Site) -> None:
    # rig.toml: 4 mV and 98 %, -3 mV and 97 %; at 25 °C and pH 6 one hundredth of 59.159 mV comes to the 7 mV.
    first, second = demo_site.rig.probe, demo_site.rig.second_probe
    assert second is not None
    assert apart_mv(6.0, 25.0, first, second) == pytest.approx(7.0 + 0.59159, abs=1e-4)
    other = replace(second, isopotential_ph=6.9)
    assert apart_mv(6.0, 25.0, first, other) == pytest.approx(7.59159 + 0.97 * 5.9159, abs=1e-3)


@pytest.mark.parametrize("wanted_mv", [7.6, -7.6, CLEAR_MV])
@pytest.mark.parametrize("sd_mv", [0.0, 0.15, 1.0])
def test_one_probe_shown_twice_is_told_with_what_to_do(wanted_mv: float, sd_mv: float) -> None:
    told = one_signal(looks(0.0, sd_mv), wanted_mv)
    assert told.startswith(
        "both signals are one: the switch before the converter is stuck, or both plugs hang on one probe"
    )
    assert f"by their calibrations {abs(wanted_mv):.1f}): lift one probe out" in told
    doubt = together(both(6.0, 6.1), told)
    assert not doubt.proven
    assert doubt.why == told


def test_one_signal_is_told_before_that_its_two_readings_differ() -> None:
    told = one_signal(looks(0.0, 0.15), 14.0)
    assert together(both(6.0, 6.24), told).why == told


@pytest.mark.parametrize("seed", range(200))
def test_noise_alone_hides_no_stuck_switch_and_makes_none(seed: int) -> None:
    assert one_signal(looks(0.0, 0.2, seed=seed), 7.6)
    assert not one_signal(looks(7.6, 0.2, seed=seed), 7.6)
    # A sound pair that has drifted apart, though not so far that it stands just at zero.
    assert not one_signal(looks(1.0, 0.2, seed=seed), 7.6)


def test_what_cannot_be_told_is_not_told() -> None:
    assert not one_signal(looks(0.0, 0.15), CLEAR_MV - 0.1)
    assert not one_signal(looks(0.0, 0.15, n=APART_LOOKS - 1), 7.6)
    assert not one_signal(looks(0.0, 3.0), 7.6)
    assert not one_signal([], 7.6)
