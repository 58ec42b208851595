"""What two probes say together: sound and agreeing, or a doubt that names which says what."""

from __future__ import annotations

import pytest

from controller.measure.electrode import ProbeVerdict
from controller.measure.two_probes import AGREE_PH, FIRST, ONE, SECOND, ProbeSeen, together

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


@pytest.mark.parametrize(
    ("verdict", "ph", "words"),
    [
        (ProbeVerdict.NO_SIGNAL, None, "the second pH probe gives no plausible reading (no signal)"),
        (ProbeVerdict.OPEN_INPUT, None, "(open input)"),
        (ProbeVerdict.NEAR_ZERO_GLASS_SUSPECT, 7.0, "near zero and has never moved"),
        (ProbeVerdict.DEAD, 6.0, "stands at pH 6.00 and does not move"),
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
