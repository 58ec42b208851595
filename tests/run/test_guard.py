"""The guard says no to every blocked output and to every request that breaks a law by its shape."""

import itertools

import pytest

from controller.run.guard import refusal
from controller.run.interlock_row import Output
from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request

DOSE = DoseCommand(channel=0, dose_id=1, target_count=100, counts_per_s=50, boot_id=7)
FILL = FillCommand(open_id=1, max_ms=1000, boot_id=1)
NOTHING_BLOCKED: frozenset[Output] = frozenset()

ASKING = {
    Output.FILL: Request(fill=FILL),
    Output.DOSE: Request(dose=DOSE, stir=True),
    Output.STIR: Request(stir=True),
    Output.AIR: Request(air=True),
    Output.AGITATE: Request(agitators=frozenset({"gypsum"})),
    Output.DRAIN: Request(drain=True),
    Output.PERMIT: Request(permit=True),
}


@pytest.mark.parametrize("output", Output)
def test_a_request_for_one_free_output_passes(output: Output) -> None:
    assert refusal(ASKING[output], NOTHING_BLOCKED, released=True) is None


@pytest.mark.parametrize("output", Output)
def test_a_blocked_output_is_refused_by_name(output: Output) -> None:
    why = refusal(ASKING[output], frozenset({output}), released=True)
    assert why is not None
    assert output.value in why


@pytest.mark.parametrize(("asked", "blocked"), list(itertools.permutations(Output, 2)))
def test_blocking_one_output_leaves_the_others_alone(asked: Output, blocked: Output) -> None:
    why = refusal(ASKING[asked], frozenset({blocked}), released=True)
    stir_needed = asked is Output.DOSE and blocked is Output.STIR
    assert (why is not None) == stir_needed


def test_all_off_is_never_refused() -> None:
    assert refusal(ALL_OFF, frozenset(Output), released=False) is None


@pytest.mark.parametrize(
    ("request_", "words"),
    [
        (Request(dose=DOSE, fill=FILL, stir=True), "fill valve open"),
        (Request(dose=DOSE), "still tank"),
        (Request(drain=True, fill=FILL), "drain"),
        (Request(drain=True, dose=DOSE, stir=True), "drain"),
        (Request(permit=True, fill=FILL), "permit"),
        (Request(permit=True, dose=DOSE, stir=True), "permit"),
    ],
)
def test_what_the_laws_forbid_together_is_refused(request_: Request, words: str) -> None:
    why = refusal(request_, NOTHING_BLOCKED, released=True)
    assert why is not None
    assert words in why


def test_no_permit_for_a_tank_that_is_not_proven_fit() -> None:
    assert refusal(Request(permit=True), NOTHING_BLOCKED, released=False) is not None
