"""A port that cannot be opened, a plug that is pulled and put back: what is told, and how it goes on."""

import errno
import os
import termios

import pytest
import serial
from fake_port import PATIENT_S, Clock, FakePort, on, patient, spoken
from pty_peer import PtyPeer

from firmware_bridge import serial_line
from firmware_bridge.faults import HardwareFault
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.link import LinkSilent
from firmware_bridge.serial_line import SerialLine

READ = framed(bytes.fromhex("11 04 00 08 00 02"))
READ_REPLY = framed(bytes.fromhex("11 04 04 00 0A 01 02"))


# What can be wrong when a port is opened.


def fault_of(port) -> HardwareFault:
    with pytest.raises(HardwareFault) as caught:
        SerialLine(str(port), 115200, Clock()).open()
    assert caught.value.where == str(port)
    return caught.value


def test_a_missing_port_is_told_with_the_ports_there_are(tmp_path, monkeypatch):
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    (by_id / "usb-another-line").touch()
    monkeypatch.setattr(serial_line, "BY_ID", by_id)
    fault = fault_of(tmp_path / "usb-tank-board-line")
    assert fault.problem == "there is no such port"
    assert str(by_id / "usb-another-line") in fault.remedy


def test_a_missing_port_on_a_computer_without_any_asks_for_the_plug(tmp_path, monkeypatch):
    monkeypatch.setattr(serial_line, "BY_ID", tmp_path / "nothing")
    assert "plug the board in" in fault_of(tmp_path / "usb-tank-board-line").remedy


def test_a_file_and_a_folder_are_no_serial_ports(tmp_path):
    (tmp_path / "notes.txt").write_text("no port")
    assert fault_of(tmp_path / "notes.txt").problem == "this is not a serial port"
    assert fault_of(tmp_path).problem == "this is not a serial port"


def test_a_port_that_another_program_holds_is_told_as_taken_and_free_again_afterwards():
    with PtyPeer(lambda _request: (READ_REPLY,)) as peer:
        first = patient(peer.port)
        assert fault_of(peer.port).problem == "another program is using this port"
        assert first.exchange(READ) == READ_REPLY
        first.close()
        second = patient(peer.port)
        assert second.exchange(READ) == READ_REPLY
        second.close()


@pytest.mark.parametrize(
    ("group", "mode", "says"),
    [
        ("dialout", 0o660, "sudo usermod -aG dialout tester, then log out and in anew"),
        ("root", 0o660, "udev rule"),
        ("dialout", 0o600, "udev rule"),
    ],
)
def test_a_forbidden_port_names_the_group_to_join(group, mode, says, tmp_path, mocker, monkeypatch):
    """Common practice: distributions give serial ports to a group; its name is read from the device."""
    port = tmp_path / "ttyUSB0"
    port.touch()
    port.chmod(mode)
    monkeypatch.setenv("USER", "tester")
    mocker.patch.object(serial_line.Path, "group", return_value=group)
    refused = serial.SerialException(errno.EACCES, "permission denied")
    mocker.patch.object(serial_line.serial, "Serial", side_effect=refused)
    fault = fault_of(port)
    assert fault.problem == "you may not use this port"
    assert says in fault.remedy


def test_another_fault_of_the_port_is_told_in_the_systems_words(mocker):
    mocker.patch.object(serial_line.serial, "Serial", side_effect=OSError(errno.EIO, "Input/output error"))
    assert "Input/output error" in fault_of("/dev/board").problem


# A plug that is pulled, and put back.


@pytest.mark.parametrize("call", ["in_waiting", "write", "read"])
@pytest.mark.parametrize(
    "error",
    [serial.SerialException("gone"), OSError(errno.EIO, "gone"), termios.error(errno.EIO, "gone")],
    ids=["serial", "system", "terminal"],
)
def test_a_port_that_fails_in_any_way_is_closed_and_told_as_silent(call, error, mocker):
    port = FakePort(Clock())
    line = on(port, mocker)
    port.failing = {call: error, "close": OSError(errno.EBADF, "closed already")}
    with pytest.raises(LinkSilent, match="gone"):
        line.exchange(READ)
    assert port.closed
    assert line.trouble == "the port is gone"


def test_a_lost_port_is_tried_again_once_a_second_and_no_more(mocker):
    port = FakePort(Clock(), lambda _request: spoken(READ_REPLY))
    line = on(port, mocker)
    tried = mocker.spy(serial_line.serial, "Serial")
    port.failing = {"write": OSError(errno.EIO, "gone"), "open": OSError(errno.ENOENT, "no such file")}
    for _ in range(40):
        with pytest.raises(LinkSilent):
            line.exchange(READ)
        port.clock.now_s += 0.1
    assert tried.call_count == 3
    assert line.trouble == "there is no such port"
    port.failing = {}
    port.clock.now_s += 1.0
    assert line.exchange(READ) == READ_REPLY
    assert line.trouble is None


def test_a_board_that_is_plugged_in_again_is_found_by_its_stable_name(tmp_path):
    name, clock = tmp_path / "usb-tank-board-line", Clock()
    first = PtyPeer(lambda _request: (READ_REPLY,))
    name.symlink_to(first.port)
    line = patient(str(name), clock)
    assert line.exchange(READ) == READ_REPLY
    first.pull_the_plug()
    name.unlink()
    with pytest.raises(LinkSilent):
        line.exchange(READ)
    with PtyPeer(lambda _request: (READ_REPLY,)) as second:
        name.symlink_to(second.port)
        clock.now_s += 1.0
        assert line.exchange(READ) == READ_REPLY
        line.close()


def test_a_line_that_was_closed_on_purpose_stays_closed(mocker):
    port = FakePort(Clock(), lambda _request: spoken(READ_REPLY))
    line = on(port, mocker)
    line.close()
    line.close()
    port.clock.now_s += 60
    with pytest.raises(LinkSilent, match="not open"):
        line.exchange(READ)
    assert port.written == []


def test_a_function_that_the_host_does_not_use_is_the_callers_error(mocker):
    with pytest.raises(ValueError, match="function 05"):
        on(FakePort(Clock()), mocker).exchange(framed(bytes.fromhex("11 05 00 AC FF 00")))


def test_no_descriptor_is_left_behind_by_many_plugs():
    with PtyPeer(lambda _request: (READ_REPLY,)) as peer:
        before = len(os.listdir("/proc/self/fd"))
        for _ in range(20):
            with SerialLine(peer.port, 115200, Clock(), allowance_s=PATIENT_S) as line:
                line.exchange(READ)
        assert len(os.listdir("/proc/self/fd")) == before
