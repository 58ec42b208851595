"""`tankhand check --hardware`: port, board and pins are proven one by one, and nothing is switched on."""

import json
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from emulated import PATIENT_S, Served, served, speaks_another_map, wants_other_limits
from gpiozero import OutputDevice
from gpiozero.pins.mock import MockFactory
from kept_pins import KeptPins

from controller.cli import check_hardware, main
from controller.cli.board import line
from controller.run.image import BoardImage, Motion, PanelImage, Selector, Trip
from controller.settings.values import Site
from firmware_bridge import pin_factory as pins_by_name
from firmware_bridge.firmware.modbus import READ_INPUT
from firmware_bridge.panel import relay_pins
from firmware_bridge.pin_factory import GlitchFreeMockPin
from firmware_bridge.registers import NO_READING

ROOT = Path(__file__).parents[2]
QUIET = BoardImage(
    boot_id=1,
    uptime_ms=1000,
    trips=frozenset(),
    first_trip=None,
    enabled=False,
    valve_open=False,
    open_id=0,
    high_float=False,
    leak=False,
    motion=Motion(0, 0, 0, 0, False),
    ph_mv=0.0,
    ec_us_cm=0.0,
    tank_c=20.0,
    supply_c=15.0,
    level_mm=0.0,
    flow_pulses=0,
)


@pytest.fixture
def emulated(demo_site: Site, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    with served(demo_site, monkeypatch) as made:
        yield made


@pytest.fixture
def pins(monkeypatch: pytest.MonkeyPatch) -> KeptPins:
    made = KeptPins()
    monkeypatch.setattr(pins_by_name, "pin_factory", lambda _name: made)
    return made


def check(port: str, *words: str) -> Result:
    return CliRunner().invoke(main, ["check", "--hardware", "--pins", "mock", "--port", port, *words])


def found(result: Result) -> dict[str, bool]:
    """Give for each part whether all of it is good."""
    parts: dict[str, bool] = {}
    for finding in json.loads(result.stdout)["hardware"]:
        parts[finding["part"]] = parts.get(finding["part"], True) and finding["good"]
    return parts


def checked_until_faulty(emulated: Served, part: str) -> Result:
    """Check again until the board has seen its fault; a slow machine has as long as the patience lasts."""
    deadline_s = time.monotonic() + PATIENT_S
    while True:
        result = check(emulated.port, "--json")
        if found(result).get(part) is False:
            return result
        assert time.monotonic() < deadline_s, f"{part} never became faulty: {result.stdout}"


def test_a_sound_rig_is_good_line_by_line(emulated: Served):
    result = check(emulated.port)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = [
        text
        for text in result.stdout.splitlines()
        if re.match(r"good: (port|board|firmware|limits|pins)", text)
    ]
    assert [text.split(":")[1].strip() for text in lines] == [
        "port",
        "board",
        "firmware",
        "limits and front ends",
        "pins",
    ]
    assert result.stdout.index("good: rig.toml") < result.stdout.index("good: port")
    told = json.loads(check(emulated.port, "--json").stdout)
    assert told["good"] is True
    assert all(finding["good"] for finding in told["hardware"])


def test_nothing_is_switched_on_by_looking(emulated: Served, pins: KeptPins, demo_site: Site):
    assert check(emulated.port).exit_code == 0
    assert emulated.functions
    assert set(emulated.functions) == {READ_INPUT}
    assert emulated.switched_on == []
    wired = demo_site.rig.pins
    assert wired is not None
    off = {pin: not active_high for pin, active_high in relay_pins(wired).values()}
    off |= {wired.lamp: False, wired.sounder: False}
    for number, level in off.items():
        assert pins.levels[number], f"GPIO{number} was never looked at"
        assert set(pins.levels[number]) == {level}, f"GPIO{number} was on"
    # Let go in the end: an input again, held off by its driver's resistor.
    assert {pins.kept[number].function for number in off} == {"input"}


def test_an_active_low_relay_stays_high(emulated: Served, pins: KeptPins, tmp_path: Path, demo_site: Site):
    shutil.copytree(demo_site.folder, tmp_path / "site")
    rig = tmp_path / "site" / "rig.toml"
    text = rig.read_text(encoding="utf-8").replace("active_low = []", 'active_low = ["stir"]')
    rig.write_text(text, encoding="utf-8")
    assert check(emulated.port, "--site", str(tmp_path / "site")).exit_code == 0
    wired = demo_site.rig.pins
    assert wired is not None
    assert set(pins.levels[wired.stir]) == {True}
    assert set(pins.levels[wired.drain]) == {False}


def test_a_tripped_board_is_faulty_and_everything_else_is_still_looked_at(emulated: Served):
    emulated.board.pins.leak_wet = True
    result = checked_until_faulty(emulated, "trips")
    assert result.exit_code == 2
    assert json.loads(result.stdout)["good"] is False
    assert {part for part, good in found(result).items() if not good} == {"trips"}
    shown = check(emulated.port)
    assert shown.exit_code == 2
    assert shown.stderr.startswith("FAULTY: trips: leak: ")
    assert "local reset button" in shown.stderr
    assert "good: pins" in shown.stdout


def test_a_sensor_without_a_reading_is_faulty(emulated: Served):
    emulated.board.pins.overrides["level"] = NO_READING
    result = checked_until_faulty(emulated, "sensors")
    told = [one for one in json.loads(result.stdout)["hardware"] if one["part"] == "sensors"]
    assert told[0]["text"] == "no reading: level"
    assert result.exit_code == 2


def test_a_board_with_other_limits_is_faulty(demo_site: Site, monkeypatch: pytest.MonkeyPatch):
    with served(wants_other_limits(demo_site), monkeypatch) as other:
        result = check(other.port)
    assert result.exit_code == 2
    assert "FAULTY: limits and front ends: its limits are not those of this site; " in result.stderr
    assert "board limits" in result.stderr


def test_a_board_with_another_register_map_is_asked_for_nothing_more(emulated: Served):
    version = speaks_another_map(emulated.board)
    result = check(emulated.port, "--json")
    assert result.exit_code == 2
    parts = found(result)
    assert parts["board"]
    assert not parts["kind of board"]
    # Its other registers mean something else: they are not even read.
    assert not {"firmware", "limits and front ends", "trips", "outputs", "sensors"} & parts.keys()
    assert len(emulated.functions) == 1
    assert parts["pins"]
    assert f"version {version} of the register map" in check(emulated.port).stderr


def test_without_a_board_the_pins_are_looked_at_all_the_same(tmp_path: Path, pins: KeptPins):
    result = check(str(tmp_path / "nowhere"), "--json")
    assert result.exit_code == 2
    assert found(result) == {"port": False, "pins": True, "selector": True, "contacts": True}


def test_both_contacts_of_the_selector_closed_is_faulty(
    emulated: Served, demo_site: Site, monkeypatch: pytest.MonkeyPatch
):
    wired = demo_site.rig.pins
    assert wired is not None

    class Shorted(GlitchFreeMockPin):
        def _set_pull(self, value: str) -> None:
            super()._set_pull(value)
            if self.info.name in (f"GPIO{wired.selector_hand}", f"GPIO{wired.selector_auto}"):
                self.drive_low()

    monkeypatch.setattr(pins_by_name, "pin_factory", lambda _name: MockFactory(pin_class=Shorted))
    result = check(emulated.port)
    assert result.exit_code == 2
    assert "FAULTY: selector: it says HAND and AUTO at once" in result.stderr


def test_contacts_that_cannot_be_read_are_faulty_and_named(
    emulated: Served, demo_site: Site, monkeypatch: pytest.MonkeyPatch
):
    wired = demo_site.rig.pins
    assert wired is not None

    class Unreadable(GlitchFreeMockPin):
        def _get_state(self) -> bool:
            if self.info.name in (f"GPIO{wired.button}", f"GPIO{wired.low_float}"):
                raise OSError("it does not answer")
            return bool(super()._get_state())

    monkeypatch.setattr(pins_by_name, "pin_factory", lambda _name: MockFactory(pin_class=Unreadable))
    result = check(emulated.port)
    assert result.exit_code == 2
    assert "FAULTY: contacts: cannot be read: button, low_float; end the program" in result.stderr


@pytest.mark.parametrize(
    ("kernel", "way", "told"), [("Y\n", "lgpio", True), ("N\n", "lgpio", False), ("Y\n", "mock", False)]
)
@pytest.mark.usefixtures("pins")
def test_a_kernel_that_keeps_a_killed_programs_outputs_is_told_and_is_no_fault(
    emulated: Served, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kernel: str, way: str, told: bool
):
    parameter = tmp_path / "persist_gpio_outputs"
    parameter.write_text(kernel, encoding="utf-8")
    monkeypatch.setattr(pins_by_name, "_KEPT_OUTPUTS", (str(tmp_path / "nothing"), str(parameter)))
    result = check(emulated.port, "--pins", way)
    assert "FAULTY: pins" not in result.stderr
    assert ("good: pins: this kernel leaves a killed program's outputs as they were" in result.stdout) is told


def test_a_pin_that_cannot_be_opened_is_faulty_and_named(
    emulated: Served, demo_site: Site, monkeypatch: pytest.MonkeyPatch
):
    wired = demo_site.rig.pins
    assert wired is not None
    factory = KeptPins()
    held = OutputDevice(wired.permit, pin_factory=factory)
    monkeypatch.setattr(pins_by_name, "pin_factory", lambda _name: factory)
    result = check(emulated.port)
    held.close()
    assert result.exit_code == 2
    assert f"FAULTY: pins: pins.permit = {wired.permit}: cannot be opened" in result.stderr


def test_outputs_that_are_on_already_are_faulty():
    on = replace(QUIET, enabled=True, valve_open=True)
    outputs = [one for one in check_hardware._standing(on) if one.part == "outputs"]
    assert [(one.good, one.text) for one in outputs] == [(False, "on: enable, fill valve")]
    assert all(one.good for one in check_hardware._standing(QUIET))


def test_a_silent_computer_alone_is_no_fault_and_the_first_trip_is_told_first():
    silent = replace(QUIET, trips=frozenset({Trip.LEASE}), first_trip=Trip.LEASE)
    assert [one.good for one in check_hardware._trips(silent)] == [True]
    both = replace(QUIET, trips=frozenset({Trip.HIGH_FLOAT, Trip.LEAK}), first_trip=Trip.LEAK)
    told = list(check_hardware._trips(both))
    assert [one.text.split(":")[0] for one in told] == ["leak", "high float"]
    assert not any(one.good for one in told)


def test_contacts_are_told_as_they_stand():
    calm = PanelImage(Selector.AUTO, button=False, estop_ok=True, high_float=False, low_float=False)
    worst = PanelImage(Selector.OFF, button=False, estop_ok=False, high_float=True, low_float=True)
    assert (
        check_hardware._contacts(calm)
        == "emergency stop not pressed; second high float below; low float above"
    )
    assert check_hardware._contacts(worst).count("wire cut") == 3


def test_a_faulty_file_ends_the_check_before_any_hardware(
    tmp_path: Path, demo_site: Site, monkeypatch: pytest.MonkeyPatch
):
    shutil.copytree(demo_site.folder, tmp_path / "site")
    (tmp_path / "site" / "rig.toml").write_text("air_pump = maybe\n", encoding="utf-8")
    opened: list[str] = []
    monkeypatch.setattr(line, "open_board", lambda _site, port: opened.append(port))
    result = check("/dev/ttyUSB0", "--site", str(tmp_path / "site"))
    assert result.exit_code == 2
    assert "rig.toml" in result.stderr
    assert opened == []


@pytest.mark.parametrize("words", [["--pins", "mock"], ["--port", "/dev/ttyUSB0"]])
def test_options_of_the_hardware_want_the_hardware(words: list[str]):
    result = CliRunner().invoke(main, ["check", *words])
    assert (result.exit_code, result.stdout) == (2, "")
    assert "--hardware" in result.stderr


def test_without_the_option_nothing_of_the_hardware_is_told_or_loaded():
    program = (
        "import sys\n"
        "from controller.cli import main\n"
        "main(['check', '--json'], standalone_mode=False)\n"
        "print(*({'serial', 'gpiozero', 'lgpio'} & set(sys.modules)))"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT
    )
    answer, loaded = run.stdout.splitlines()
    assert "hardware" not in json.loads(answer)
    assert loaded == ""


def test_looking_for_real_pins_leaves_nothing_in_the_folder_of_the_person(tmp_path: Path):
    command = [sys.executable, "-m", "controller", "check", "--hardware", "--port", str(tmp_path / "none")]
    environment = {"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"}
    run = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path, env=environment)
    assert run.returncode == 2
    assert f"FAULTY: port: {tmp_path / 'none'}: there is no such port" in run.stderr
    assert "Traceback" not in run.stderr
    assert "pins" in run.stderr + run.stdout
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("contacts", "good", "told"),
    [
        ({}, True, ""),
        ({"high_float": True}, True, ""),
        ({"low_float": True}, True, ""),
        ({"high_float": True, "low_float": True}, False, "too full and too low"),
        ({"estop_ok": False}, False, "spare contact"),
    ],
)
def test_floats_that_contradict_each_other_and_an_open_emergency_stop_are_not_good(contacts, good, told):
    calm = PanelImage(Selector.AUTO, button=False, estop_ok=True, high_float=False, low_float=False)
    finding = check_hardware._floats_and_stop(replace(calm, **contacts))
    assert finding.good is good
    assert told in finding.remedy


def test_without_a_named_port_the_pins_are_looked_at_all_the_same(
    tmp_path: Path, demo_site: Site, pins: KeptPins
):
    shutil.copytree(demo_site.folder, tmp_path / "site")
    rig = tmp_path / "site" / "rig.toml"
    rig.write_text(re.sub(r"(?m)^port = .*\n", "", rig.read_text(encoding="utf-8")), encoding="utf-8")
    words = ["check", "--site", str(tmp_path / "site"), "--hardware", "--pins", "mock", "--json"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert found(result) == {"port": False, "pins": True, "selector": True, "contacts": True}
