"""`tankhand board show|watch|limits show|emulate` against the real firmware on a real pseudo-terminal."""

import json
import os
import pty
import re
import shutil
import time
import tty
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from emulated import PATIENT_S, Served, served, speaks_another_map, wants_other_limits

from controller.cli import main
from controller.cli.board import line, watch
from controller.cli.board.words import SELF_TESTS, TRIPS, failed_tests
from controller.run.image import Trip
from controller.run.request import ALL_OFF, DoseCommand, Request
from controller.service.board_settings import expected_of, limits_of
from controller.settings.values import Site
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardIdentity, BoardLink
from firmware_bridge.firmware.board_file import FALLBACK_SERVER_ID
from firmware_bridge.firmware.modbus import READ_INPUT
from firmware_bridge.link import LinkSilent
from firmware_bridge.serial_line import SerialLine

ROOT = Path(__file__).parents[2]


def board(*words: str) -> Result:
    return CliRunner().invoke(main, ["board", *words])


@pytest.fixture
def emulated(demo_site: Site, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    with served(demo_site, monkeypatch) as made:
        yield made


def until(happened, what: str) -> None:
    deadline_s = time.monotonic() + PATIENT_S
    while not happened():
        assert time.monotonic() < deadline_s, f"{what} never happened"
        time.sleep(0.01)


def test_show_tells_what_the_board_is_and_that_it_fits(emulated: Served, demo_site: Site):
    result = board("show", "--port", emulated.port, "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    told = json.loads(result.stdout)
    assert result.stdout.count("\n") == 1
    assert told["firmware"] == f"{reg.FIRMWARE_VERSION >> 8}.{reg.FIRMWARE_VERSION & 0xFF}"
    assert (told["fits_site"], told["misfits"]) == (True, [])
    assert told["limits"]["checksum"] == told["limits"]["wanted"] == limits_of(demo_site).checksum()
    assert told["front_ends"]["checksum"] == expected_of(demo_site).front_ends_checksum
    assert told["boot_id"] > 0
    assert told["trips"] == []
    assert (told["enabled"], told["valve_open"], told["running"]) == (False, False, False)
    assert [pump["pump"] for pump in told["pumps"]] == [
        pump.name for pump in sorted(demo_site.rig.pumps.values(), key=lambda pump: pump.channel)
    ]


def test_looking_only_reads_and_renews_no_lease(emulated: Served, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(watch, "sleep", lambda _seconds: None)
    for words in (["show"], ["watch", "--times", "3"], ["limits", "show"]):
        assert board(*words, "--port", emulated.port).exit_code == 0
    assert len(emulated.functions) >= 6
    assert set(emulated.functions) == {READ_INPUT}
    assert emulated.switched_on == []
    assert json.loads(board("show", "--port", emulated.port, "--json").stdout)["enabled"] is False


def test_a_trip_is_told_with_its_first_reason_in_words_and_the_remedy(emulated: Served):
    emulated.board.pins.leak_wet = True
    until(lambda: "leak" in board("show", "--port", emulated.port, "--json").stdout, "the trip")
    told = json.loads(board("show", "--port", emulated.port, "--json").stdout)
    assert told["first_trip"] == Trip.LEAK.value
    assert told["inputs"]["leak"] is True
    shown = board("show", "--port", emulated.port).stdout
    assert f"First trip (leak): {TRIPS[Trip.LEAK][0]}; {TRIPS[Trip.LEAK][1]}" in shown
    assert "wet, or wire cut" in shown


def test_what_stands_on_each_scale_and_what_the_second_electrode_gives_are_shown(
    emulated: Served, demo_site: Site
):
    emulated.board.pins.overrides.update({"scale 1": 12_345, "scale 4": reg.NO_READING, "second ph": -1802})
    until(lambda: "12345" in board("show", "--port", emulated.port, "--json").stdout, "the weight")
    told = json.loads(board("show", "--port", emulated.port, "--json").stdout)
    names = {scale.line: scale.name for scale in demo_site.rig.scales.values()}
    assert [row["line"] for row in told["scales"]] == [0, 1, 2, 3, 4]
    assert told["scales"][1] == {"line": 1, "scale": names.get(1), "gross_g": 12_345}
    assert told["scales"][4]["gross_g"] is None
    assert told["inputs"]["second_ph_mv"] == -180.2
    shown = board("show", "--port", emulated.port).stdout
    assert "12345 g gross" in shown
    assert "-180.2 mV" in shown


def test_every_trip_and_every_self_test_of_the_register_map_has_words():
    assert set(TRIPS) == set(Trip)
    assert all(meaning and remedy for meaning, remedy in TRIPS.values())
    bits = [value for name, value in vars(reg).items() if name.startswith("SELF_TEST_")]
    assert set(SELF_TESTS) == set(bits)
    assert failed_tests(sum(bits)) == tuple(SELF_TESTS.values())
    assert failed_tests(1 << 15) == ("unknown",)
    assert failed_tests(0) == ()


def test_counters_are_those_of_the_motor(emulated: Served, demo_site: Site):
    pump = demo_site.rig.pumps["kelp"]
    settings = demo_site.rig.board
    with SerialLine(emulated.port, settings.baud, time.monotonic, PATIENT_S) as wire:
        link = BoardLink(wire, settings.server_id)
        assert link.write(ALL_OFF)
        image = link.read()
        assert image is not None
        dose = DoseCommand(pump.channel, dose_id=9, target_count=40, counts_per_s=100, boot_id=image.boot_id)

        def done() -> bool:
            link.write(Request(dose=dose))
            motions = link.read_motions()
            return motions is not None and motions[pump.channel].count_done == 40

        until(done, "the dose")
        assert link.write(ALL_OFF)
    told = json.loads(board("show", "--port", emulated.port, "--json").stdout)
    kelp = next(row for row in told["pumps"] if row["pump"] == "kelp")
    assert (kelp["last_dose_id"], kelp["count_done"], kelp["counts_since_boot"]) == (9, 40, 40)
    assert kelp["ml_since_boot"] == pytest.approx(40 * pump.ml_per_count)
    assert all(row["counts_since_boot"] == 0 for row in told["pumps"] if row["pump"] != "kelp")


def test_a_board_with_the_limits_of_another_site_is_told(demo_site: Site, monkeypatch: pytest.MonkeyPatch):
    with served(wants_other_limits(demo_site), monkeypatch) as other:
        told = json.loads(board("show", "--port", other.port, "--json").stdout)
        limits = json.loads(board("limits", "show", "--port", other.port, "--json").stdout)
        shown = board("show", "--port", other.port).stdout
        said = board("limits", "show", "--port", other.port).stdout
    assert told["fits_site"] is False
    assert [misfit["side"] for misfit in told["misfits"]] == ["limits and front ends"]
    assert "NOT AS THE SITE WANTS" in shown
    assert limits["alike"] is False
    assert limits["board"]["valve_cap_s"] == limits["site"]["valve_cap_s"] / 2
    assert "NOT those of this site" in said


def test_of_a_board_with_another_register_map_nothing_but_its_identity_is_told(emulated: Served):
    version = speaks_another_map(emulated.board)
    result = board("show", "--port", emulated.port, "--json")
    told = json.loads(result.stdout)
    assert (told["fits_site"], told["map"]) == (False, f"{reg.MAP_ID + 1:04x}")
    assert [misfit["side"] for misfit in told["misfits"]] == ["kind of board"]
    assert f"version {version} of the register map" in told["misfits"][0]["problem"]
    # Its other registers mean something else: they are not even read.
    assert not {"limits", "front_ends", "boot_id", "trips", "inputs", "pumps"} & told.keys()
    assert len(emulated.functions) == 1
    shown = board("show", "--port", emulated.port)
    assert (shown.exit_code, shown.stderr) == (0, "")
    assert "NOT AS THE SITE WANTS" in shown.stdout
    assert "lease" not in shown.stdout


def test_limits_are_told_in_ml_with_their_counts(emulated: Served, demo_site: Site):
    told = json.loads(board("limits", "show", "--port", emulated.port, "--json").stdout)
    assert told["alike"] is True
    amounts = {row["what"]: row["is"] for row in told["wanted"]}
    for pump in demo_site.rig.pumps.values():
        counts = limits_of(demo_site).night_caps[pump.channel]
        said = amounts[f"channel {pump.channel}, {pump.name}: most in one night"]
        ml = float(re.match(r"[0-9.]+", said).group())
        assert said.endswith(f" = {counts} counts")
        assert ml == pytest.approx(counts * pump.ml_per_count, abs=0.51)
        # The board's cap is the site's own, with the margin for whole rollers.
        assert pump.night_cap_ml <= ml <= pump.night_cap_ml * 1.06


def test_watch_gives_one_object_a_line_and_goes_on_when_the_board_falls_silent(
    emulated: Served, monkeypatch: pytest.MonkeyPatch
):
    naps: list[float] = []

    def nap(seconds: float) -> None:
        naps.append(seconds)
        monkeypatch.setattr(BoardLink, "read", lambda _link: None)

    monkeypatch.setattr(watch, "sleep", nap)
    result = board("watch", "--port", emulated.port, "--times", "2", "--json")
    looks = [json.loads(line) for line in result.stdout.splitlines()]
    assert (result.exit_code, naps) == (0, [1.0])
    assert [look["answered"] for look in looks] == [True, False]
    assert {"high_float", "leak", "ph_mv", "level_mm"} <= looks[0]["inputs"].keys()


def test_ctrl_c_ends_watching_without_a_complaint(emulated: Served, monkeypatch: pytest.MonkeyPatch):
    def interrupted(_seconds: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(watch, "sleep", interrupted)
    result = board("watch", "--port", emulated.port)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.count("\n") == 1
    assert "no trip" in result.stdout


@pytest.mark.parametrize("words", [["show"], ["watch", "--times", "1"], ["limits", "show"]])
def test_a_port_that_is_not_there_is_one_line(words: list[str], tmp_path: Path):
    port = str(tmp_path / "no_such_port")
    result = board(*words, "--port", port)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith(f"{port}: there is no such port; ")
    assert result.stderr.count("\n") == 1


def test_a_port_on_which_nothing_answers_is_one_line(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(line, "LOOKING_S", 0.05)
    near, far = pty.openpty()
    tty.setraw(far)
    try:
        result = board("show", "--port", os.ttyname(far))
    finally:
        os.close(near)
        os.close(far)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "nothing answers" in result.stderr
    assert "TX and RX" in result.stderr


@pytest.mark.parametrize("words", [["board", "show"], ["check", "--hardware", "--pins", "mock"], ["serve"]])
def test_a_board_that_holds_no_settings_is_told_as_such(
    words: list[str], demo_site: Site, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    fallen_back = replace(demo_site.rig.board, server_id=FALLBACK_SERVER_ID)
    site = replace(demo_site, rig=replace(demo_site.rig, board=fallen_back))
    identify = BoardLink.identify

    def heard(link: BoardLink) -> BoardIdentity:
        """Spare the wait for a server id that nobody has on this line."""
        if link.server_id != FALLBACK_SERVER_ID:
            raise LinkSilent("the board does not answer")
        return identify(link)

    monkeypatch.setattr(BoardLink, "identify", heard)
    with served(site, monkeypatch) as empty:
        empty.board._node.fail_self_test(reg.SELF_TEST_SETTINGS)
        result = CliRunner().invoke(main, [*words, "--port", empty.port])
    assert result.exit_code == 2
    assert "a board answers that holds no sound settings; write them with" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_site_without_a_port_names_the_key_and_where_to_look(tmp_path: Path, demo_site: Site):
    shutil.copytree(demo_site.folder, tmp_path / "site")
    rig = tmp_path / "site" / "rig.toml"
    rig.write_text(re.sub(r"(?m)^port = .*\n", "", rig.read_text(encoding="utf-8")), encoding="utf-8")
    result = board("show", "--site", str(tmp_path / "site"))
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("rig.toml: board.port: ")
    assert "by-id" in result.stderr
