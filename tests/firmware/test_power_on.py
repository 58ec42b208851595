"""The board's program from power-on to its end, on a bench: what starts, what stays off, what ends it."""

import struct

import pytest
from board_on_bench import DOSING, FILLING, FRONT_ENDS, LIMITS, OUTPUTS, SERVER_ID, Board, command, running

from firmware_bridge import registers as reg
from firmware_bridge.firmware import pin_plan, self_test
from firmware_bridge.firmware.board_file import BOARD_FILE, pack
from firmware_bridge.firmware.modbus import framed


@pytest.fixture
def board(tmp_path, monkeypatch):
    return Board(tmp_path, monkeypatch)


def test_a_sound_board_passes_its_self_tests_and_says_what_it_is(board):
    found = board.identity()
    assert found == (
        reg.MAP_ID,
        reg.FIRMWARE_VERSION,
        3,
        LIMITS.checksum(),
        LIMITS.lease_ms,
        60_000,
        FRONT_ENDS.checksum(),
        0,
    )
    assert board.bench.uart_settings | {"tx": 0, "rx": 0} == {
        "id": pin_plan.UART_ID,
        "baudrate": 115_200,
        "bits": 8,
        "parity": 0,
        "stop": 1,
        "tx": 0,
        "rx": 0,
        "txbuf": 512,
        "rxbuf": 512,
        "timeout": 0,
    }


def test_nothing_pulses_an_output_from_power_on_through_many_idle_rounds(board):
    board.run()
    assert board.bench.rounds == 50
    for pin, level in OUTPUTS.items():
        assert set(board.bench.levels(pin)) == {level}


def test_the_boot_id_differs_at_every_start_and_fits_the_register(board, monkeypatch):
    ids = {board.main._boot_id() for _ in range(50)}
    assert len(ids) == 50
    assert all(0 < boot_id < 1 << 30 for boot_id in ids)
    for chance in (b"\x00" * 4, b"\xff" * 4):
        monkeypatch.setattr(board.main.os, "urandom", lambda count, chance=chance: chance)
        assert 0 < board.main._boot_id() < 1 << 30


def test_with_the_button_held_at_power_on_nothing_starts_and_everything_is_off(board):
    board.bench.outside[pin_plan.RESET_BUTTON] = 0
    board.main.start()
    assert board.bench.watchdog_ms is None
    assert board.bench.uart_settings is None
    assert board.all_is_off()


def test_a_button_line_that_rises_late_is_not_a_held_button(board):
    bench = board.bench
    looks = []
    level = bench.level
    bench.level = lambda pin: (looks.append(1), 0)[1] if pin == 20 and len(looks) < 5 else level(pin)
    board.run()
    assert bench.rounds == 50


def test_the_watchdog_is_short_and_fed_once_by_every_whole_round(board):
    board.run()
    assert 0 < board.bench.watchdog_ms <= 500
    assert board.bench.feeds == board.bench.rounds == 50


@pytest.mark.parametrize("part", ["attend", "high_float", "set_valve", "read_ph_decimv", "read_flow_pulses"])
def test_a_round_that_fails_anywhere_feeds_no_watchdog_and_leaves_everything_off(board, monkeypatch, part):
    running(board, monkeypatch, **FILLING)

    def broken(*arguments):
        raise RuntimeError(part)

    board.at(10, lambda: monkeypatch.setattr(board.wiring.BoardHal, part, broken))
    board.at(9, lambda: seen.append(board.bench.level(pin_plan.VALVE)))
    seen = []
    board.run()
    assert seen == [1]
    assert board.bench.rounds == 10
    assert board.bench.feeds == 9
    assert board.all_is_off()


@pytest.mark.parametrize("end", [KeyboardInterrupt, SystemExit, MemoryError, AssertionError])
def test_whatever_ends_the_loop_stops_the_motor_and_starts_the_board_anew(board, monkeypatch, end):
    running(board, monkeypatch, **DOSING)

    def raised():
        turning.append(board.bench.level(pin_plan.DECODER_GATE))
        raise end

    turning = []
    board.at(20, raised)
    board.run()
    assert turning == [0]
    assert board.all_is_off()
    given = board.bench.levels(pin_plan.STEP).count(1)
    board.bench.run_us(10_000)
    assert board.bench.levels(pin_plan.STEP).count(1) == given > 0


@pytest.mark.parametrize("wish", [FILLING, DOSING], ids=["filling", "dosing"])
@pytest.mark.parametrize("contact", [pin_plan.HIGH_FLOAT, pin_plan.LEAK], ids=["float", "leak"])
def test_a_contact_that_opens_has_valve_pump_and_enable_off_before_its_round_ends(
    board, monkeypatch, wish, contact
):
    running(board, monkeypatch, **wish)
    board.at(12, lambda: (seen.append(board.all_is_off()), board.bench.put_outside(contact, 1)))
    board.at(13, lambda: seen.append(board.all_is_off()))
    seen = []
    board.run()
    assert seen == [False, True]
    assert board.bench.rounds == 50


def test_a_silent_host_has_everything_off_before_two_seconds(board, monkeypatch):
    running(board, monkeypatch, **FILLING)
    board.bench.last_round = 2100
    seen = {}
    for number in (1880, 1920):
        board.at(number, lambda number=number: seen.update({number: board.all_is_off()}))
    board.run()
    assert seen == {1880: False, 1920: True}


@pytest.mark.parametrize(
    ("damage", "bit"),
    [
        (
            lambda board: board.put("firmware_bridge/firmware/pumps.py", b"# not as installed\n"),
            reg.SELF_TEST_CODE,
        ),
        (lambda board: (board.folder / "firmware_bridge/firmware/valve.py").unlink(), reg.SELF_TEST_CODE),
        (lambda board: (board.folder / self_test.MANIFEST_FILE).unlink(), reg.SELF_TEST_CODE),
        (lambda board: board.bench.adc_decimv.update(core=0), reg.SELF_TEST_CONVERTER),
        (lambda board: board.bench.adc_decimv.update(core=33_000), reg.SELF_TEST_CONVERTER),
        (
            lambda board: (board.bench.outside.update({18: 1}), board.bench.adc_decimv.update({28: 5000})),
            reg.SELF_TEST_INPUTS,
        ),
    ],
)
def test_a_failed_self_test_is_told_and_keeps_everything_off(board, monkeypatch, damage, bit):
    damage(board)
    monkeypatch.setattr(board.main, "_boot_id", lambda: 4711)
    board.hear(10, command(4711, 1))
    board.hear(15, command(4711, 2, **FILLING))
    assert board.identity()[-1] == bit
    assert board.bench.feeds == 50
    for pin, level in OUTPUTS.items():
        assert set(board.bench.levels(pin)) == {level}


def test_memory_that_keeps_no_pattern_is_told(board, monkeypatch):
    monkeypatch.setattr(board.main.self_test, "memory_fault", lambda block: True)
    assert board.identity()[-1] == reg.SELF_TEST_MEMORY


@pytest.mark.parametrize(
    "content",
    [
        None,
        b"",
        pack(SERVER_ID, 115_200, LIMITS, FRONT_ENDS)[:-1],
    ],
    ids=["missing", "empty", "torn"],
)
def test_a_board_without_settings_it_can_carry_out_answers_only_to_say_so(board, content):
    if content is None:
        (board.folder / BOARD_FILE).unlink()
    else:
        board.put(BOARD_FILE, content)
    board.hear(3, bytes((1, 4, 0, reg.IN_IDENTITY, 0, reg.IDENTITY_WORDS)))
    board.run()
    (reply,) = board.bench.sent
    found = struct.unpack(reg.IDENTITY_FORMAT, reply[3:-2])
    assert found[2:] == (0, 0, 0, 0, 0, reg.SELF_TEST_SETTINGS)


def test_a_motor_turns_for_the_host_and_stops_at_its_target(board, monkeypatch):
    running(board, monkeypatch, flags=reg.COMMAND_ENABLE | reg.COMMAND_RUN, dose=(1, 1, 7, 400))
    board.bench.last_round = 400
    board.hear(380, bytes((SERVER_ID, 4, 0, reg.IN_MOTION_DONE, 0, 2)))
    board.run()
    assert board.bench.levels(pin_plan.STEP).count(1) == 7 * pin_plan.PULSES_PER_COUNT
    assert board.bench.sent[-1][3:7] == bytes((0, 0, 0, 7))


def test_a_line_on_which_bytes_never_stop_holds_up_no_round_and_is_not_answered(board):
    bench = board.bench
    for number in range(1, 51):
        board.at(number, lambda: bench.received.extend(bytes(range(200))))
    board.run()
    assert bench.rounds == bench.feeds == 50
    assert bench.sent == []


def test_more_bytes_than_one_round_takes_are_taken_by_the_next_ones(board):
    request = framed(bytes((SERVER_ID, 4, 0, reg.IN_MAP_ID, 0, 1)))
    board.at(3, lambda: board.bench.received.extend(bytes(400)))
    board.at(10, lambda: board.bench.received.extend(request))
    board.run()
    assert [reply[3:5] for reply in board.bench.sent] == [reg.MAP_ID.to_bytes(2, "big")]
