"""The pin factory: outputs claimed together with their level, and a clear line when there are no pins.

The fake below stands for the library lgpio, as its C source 0.2.2.0 has it (lgGpio.c): claiming an output
hands the level to the kernel in the same call, unless the line is an output already; then nothing happens.
"""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
from gpiozero import OutputDevice
from pytest_mock import MockerFixture
from wall_desk import ALL_LOW, PINS, RELAYS

from controller.run.request import Request
from firmware_bridge.faults import HardwareFault
from firmware_bridge.panel import Panel
from firmware_bridge.pin_factory import outputs_outlive_process, pin_factory

ROOT = Path(__file__).parents[2]
PI_3B = 0xA02082


class LgpioError(Exception):
    """As `lgpio.error`."""


class FakeLgpio(ModuleType):
    """Lines of one chip; `driven` tells every level that a line has shown as an output."""

    BOTH_EDGES, RISING_EDGE, FALLING_EDGE = 3, 1, 2
    SET_PULL_NONE, SET_PULL_UP, SET_PULL_DOWN = 1 << 7, 1 << 5, 1 << 6
    error = LgpioError

    def __init__(self) -> None:
        super().__init__("lgpio")
        self.outputs: dict[int, int] = {}
        self.pulls: dict[int, int] = {}
        self.driven: dict[int, list[int]] = {}
        self.calls: list[tuple[str, int]] = []
        self.busy: set[int] = set()
        self.chip_problem = ""

    def gpiochip_open(self, _chip: int) -> int:
        if self.chip_problem:
            raise LgpioError(self.chip_problem)
        return 1

    def gpiochip_close(self, _handle: int) -> int:
        return 0

    def gpio_claim_input(self, _handle: int, gpio: int, flags: int = 0) -> int:
        if gpio in self.busy:
            raise LgpioError("GPIO busy")
        self.outputs.pop(gpio, None)
        self.pulls[gpio] = flags
        return 0

    def gpio_claim_output(self, _handle: int, gpio: int, level: int = 0, _flags: int = 0) -> int:
        self.calls.append(("claim", gpio))
        if gpio not in self.outputs:
            self._show(gpio, level)
        return 0

    def gpio_write(self, _handle: int, gpio: int, level: int) -> int:
        self.calls.append(("write", gpio))
        self._show(gpio, int(level))
        return 0

    def gpio_read(self, _handle: int, gpio: int) -> int:
        return self.outputs.get(gpio, 1)

    def gpio_free(self, _handle: int, gpio: int) -> int:
        self.outputs.pop(gpio, None)
        return 0

    def gpio_get_mode(self, _handle: int, gpio: int) -> int:
        return (2 if gpio in self.outputs else 0) | self.pulls.get(gpio, 0)

    def _show(self, gpio: int, level: int) -> None:
        if self.outputs.get(gpio) != level:
            self.outputs[gpio] = level
            self.driven.setdefault(gpio, []).append(level)


@pytest.fixture
def lgpio(mocker: MockerFixture) -> Iterator[FakeLgpio]:
    """gpiozero's own lgpio pins, on the fake."""
    fake = FakeLgpio()
    mocker.patch.dict(sys.modules, {"lgpio": fake})
    sys.modules.pop("gpiozero.pins.lgpio", None)
    mocker.patch("gpiozero.pins.local.get_pi_revision", return_value=PI_3B)
    yield fake
    from gpiozero.pins.local import LocalPiFactory

    LocalPiFactory.pins.clear()
    LocalPiFactory._reservations.clear()


@pytest.mark.parametrize(("pins", "off"), [(PINS, 0), (ALL_LOW, 1)], ids=["active high", "active low"])
def test_no_relay_on_real_pins_glitches_at_the_start(lgpio: FakeLgpio, pins, off: int):
    Panel(pins, pin_factory("lgpio"))
    assert {name: lgpio.driven[pin] for name, pin in RELAYS.items()} == {name: [off] for name in RELAYS}


def test_gpiozero_s_own_lgpio_pins_would_have_glitched(lgpio: FakeLgpio):
    from gpiozero.pins.lgpio import LGPIOFactory

    Panel(ALL_LOW, LGPIOFactory())
    assert {name: lgpio.driven[pin] for name, pin in RELAYS.items()} == {name: [0, 1] for name in RELAYS}


def test_the_level_is_part_of_the_claim(lgpio: FakeLgpio):
    factory = pin_factory("lgpio")
    pin = factory.pin(17)
    lgpio.calls.clear()
    pin.output_with_state(True)
    assert lgpio.calls[0] == ("claim", 17)
    assert lgpio.driven[17] == [1]


def test_a_line_that_is_an_output_already_gets_its_level_all_the_same(lgpio: FakeLgpio):
    factory = pin_factory("lgpio")
    pin = factory.pin(17)
    pin.output_with_state(True)
    pin.output_with_state(False)
    assert lgpio.outputs[17] == 0


def test_a_whole_life_on_real_pins_is_off_on_off_and_contacts_are_pulled_up(lgpio: FakeLgpio):
    with Panel(ALL_LOW, pin_factory("lgpio")) as panel:
        panel.drive(Request(stir=True))
        assert panel.read().estop_ok is False
        assert lgpio.pulls[PINS.estop_ok] == FakeLgpio.SET_PULL_UP
        lgpio.outputs.pop(PINS.estop_ok, None)
    assert lgpio.driven[PINS.stir] == [1, 0, 1]
    assert not lgpio.outputs, "every line is an input again"


def test_a_pin_that_another_program_holds_is_named_with_its_role(lgpio: FakeLgpio):
    lgpio.busy.add(PINS.drain)
    with pytest.raises(HardwareFault) as raised:
        Panel(PINS, pin_factory("lgpio"))
    assert str(raised.value) == (
        "pins.drain = 22: cannot be opened (GPIO busy); "
        "end the program that uses this pin, or give it another pin in rig.toml"
    )
    assert not lgpio.outputs, "what had been opened is let go again"


def test_a_chip_that_may_not_be_opened_is_told_with_the_group_to_join(lgpio: FakeLgpio):
    lgpio.chip_problem = "can not open gpiochip"
    with pytest.raises(
        HardwareFault, match=r"cannot be opened \(can not open gpiochip\); .*usermod -aG gpio"
    ):
        pin_factory("lgpio")


def test_a_library_that_is_missing_is_told_with_what_to_install(mocker: MockerFixture):
    mocker.patch.dict(sys.modules, {"lgpio": None})
    with pytest.raises(
        HardwareFault, match=r"lgpio cannot be loaded .*; run, .*pip install -e '\.\[hardware\]'"
    ):
        pin_factory("lgpio")


def test_a_name_that_is_no_way_to_drive_pins_is_refused():
    with pytest.raises(HardwareFault, match='"pigpio" is no way to drive them; choose "lgpio" or "mock"'):
        pin_factory("pigpio")


def test_the_mock_factory_is_a_new_one_each_time_and_claims_outputs_in_one_step():
    assert pin_factory("mock") is not pin_factory("mock")
    factory = pin_factory("mock")
    OutputDevice(17, active_high=False, pin_factory=factory)
    assert [state.state for state in factory.pin(17).states] == [True]


def _real_library(cwd: Path, **more: str) -> subprocess.CompletedProcess[str]:
    """Ask the installed library itself, in a process of its own: importing it opens threads and a pipe."""
    program = (
        "from firmware_bridge.faults import HardwareFault\n"
        "from firmware_bridge.pin_factory import pin_factory\n"
        "try:\n"
        "    pin_factory('lgpio').close()\n"
        "except HardwareFault as fault:\n"
        "    print(fault)\n"
        "else:\n"
        "    print('opened')\n"
    )
    environment = {key: value for key, value in os.environ.items() if key != "LG_WD"}
    return subprocess.run(
        [sys.executable, "-c", program],
        cwd=cwd,
        env={**environment, "PYTHONPATH": str(ROOT), **more},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )


def test_the_real_library_in_a_folder_that_cannot_be_written_names_lg_wd(tmp_path: Path):
    # Nobody can make a file in /proc, not even the superuser.
    told = _real_library(Path("/proc")).stdout
    assert told.startswith("GPIO pins: lgpio cannot make its pipe (")
    assert "or name one in LG_WD" in told
    elsewhere = _real_library(Path("/proc"), LG_WD=str(tmp_path)).stdout
    assert "LG_WD" not in elsewhere
    assert (tmp_path / ".lgd-nfy0").exists()


def test_the_real_library_on_a_computer_without_that_header_is_told(tmp_path: Path):
    told = _real_library(tmp_path).stdout
    if Path("/proc/device-tree/system/linux,revision").exists():
        assert told == "opened\n" or "cannot be opened" in told
    else:
        assert told == (
            "GPIO pins: gpiozero does not know this computer's header; "
            "run this on the rig's computer; anywhere else use the simulated rig\n"
        )


@pytest.mark.parametrize(("text", "outlive"), [("Y\n", True), ("1\n", True), ("N\n", False), ("0\n", False)])
@pytest.mark.parametrize("driver", ["pinctrl_bcm2835", "pinctrl_rp1"])
def test_the_kernel_s_own_word_tells_whether_a_killed_program_s_outputs_stay(
    driver: str, text: str, outlive: bool
):
    def read_text(path: str) -> str:
        if driver not in path:
            raise FileNotFoundError(path)
        return text

    assert outputs_outlive_process(read_text) is outlive


def test_a_kernel_that_does_not_tell_gives_no_answer(tmp_path: Path):
    assert outputs_outlive_process(lambda path: (tmp_path / path.lstrip("/")).read_text()) is None
