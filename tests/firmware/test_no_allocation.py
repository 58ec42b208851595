"""Nothing in the pump path allocates, so that no clean-up can delay a stop. Asked of the real VM."""

import re
from pathlib import Path

import pytest
from test_micropython import play_in_vm

SCRIPT = "allocation_script.py"
NAMES = re.findall(r'^    "([^"]+)": ', (Path(__file__).parent / SCRIPT).read_text(), re.MULTILINE)
CONTROL = "an integer that is not small"


@pytest.fixture(scope="module")
def taken(tmp_path_factory):
    """Give the bytes that a thousand rounds took, for each case."""
    _, *answers = play_in_vm(NAMES, tmp_path_factory.mktemp("vm"), SCRIPT)
    return {name: int(answer) for name, answer in zip(NAMES, answers, strict=True)}


def test_the_measurement_notices_objects_of_a_few_bytes(taken):
    """The uptime, put together, is no small integer: each asking leaves at least one word on the heap."""
    assert taken[CONTROL] >= 1000 * 4
    assert taken["nothing"] == 0


@pytest.mark.parametrize("name", [name for name in NAMES if name != CONTROL])
def test_a_thousand_rounds_leave_nothing_on_the_heap(taken, name):
    assert taken[name] == 0
