"""The board's program beside its rounds: Ctrl-C, the record's files, and how long a round may take."""

import pytest
from bench import Bench
from board_on_bench import SERVER_ID, Board, running
from fake_machine import put_in_place

from firmware_bridge import registers as reg
from firmware_bridge.firmware import pin_plan
from firmware_bridge.firmware.kept import LONGEST_WRITE_MS
from firmware_bridge.firmware.limits import LONGEST_LEASE_MS

# One sector erased, the worst of the data sheets of such flash (from memory), and a few pages written.
SLOWEST_WRITE_MS = 420
LONGEST_ROUND_MS = 20


@pytest.fixture
def board(tmp_path, monkeypatch):
    return Board(tmp_path, monkeypatch)


# What no byte at the USB port may do, and what outlives a start.


def test_ctrl_c_is_switched_off_while_the_board_runs_and_stays_on_in_service_mode(board):
    board.run()
    assert board.bench.interrupt_keys == [-1]
    board.bench.interrupt_keys.clear()
    board.bench.outside[pin_plan.RESET_BUTTON] = 0
    board.main.start()
    assert board.bench.interrupt_keys == []


def test_a_board_that_runs_hears_no_ctrl_c_before_anything_can_go_on(board, monkeypatch):
    order = []
    monkeypatch.setattr(board.main.micropython, "kbd_intr", lambda key: order.append(key))
    uart = board.main.machine.UART
    monkeypatch.setattr(
        board.main.machine, "UART", lambda *args, **how: (order.append("line"), uart(*args, **how))[1]
    )
    board.run()
    assert order == [-1, "line"]


def test_the_record_lies_in_two_files_and_a_trip_in_it_outlives_the_board(board, monkeypatch):
    board.at(10, lambda: board.bench.put_outside(pin_plan.LEAK, 1))
    board.run()
    written = [board.folder / name for name in board.main.RECORD_FILES]
    assert written[0].read_bytes() != b""
    assert written[1].read_bytes() != b""
    again = Board.__new__(Board)
    again.folder, again.bench = board.folder, Bench()
    again.wiring, again.main = put_in_place(monkeypatch, again.bench)
    again.hear(3, bytes((SERVER_ID, 4, 0, reg.IN_TRIPS, 0, 2)))
    again.run()
    assert again.bench.sent[0][3:7] == bytes((0, 1 << (reg.TRIP_LEAK - 1), 0, reg.TRIP_LEAK))


def test_a_board_without_its_record_says_so_and_takes_a_press_of_the_button(board, monkeypatch):
    (board.folder / board.main.RECORD_FILES[0]).unlink()
    board.bench.last_round = 400
    board.hear(3, bytes((SERVER_ID, 4, 0, reg.IN_TRIPS, 0, 2)))
    board.at(100, lambda: board.bench.put_outside(pin_plan.RESET_BUTTON, 0))
    board.at(200, lambda: board.bench.put_outside(pin_plan.RESET_BUTTON, 1))
    board.hear(300, bytes((SERVER_ID, 4, 0, reg.IN_TRIPS, 0, 2)))
    board.run()
    lost = bytes((1 << (reg.TRIP_MEMORY - 1 - 8), 0, 0, reg.TRIP_MEMORY))
    assert [reply[3:7] for reply in board.bench.sent] == [lost, bytes(4)]


# Time, everything that may hold a round up added together.


def slow_writes(board, monkeypatch):
    """Let every write of the record take its longest; give the gaps between feeds of the watchdog, ms."""
    bench, save = board.bench, board.main.RecordFiles.save

    def slow(files, slot, data):
        bench.run_us(1000 * SLOWEST_WRITE_MS)
        save(files, slot, data)

    fed_us, gaps = [], []

    def feed(_watchdog):
        if fed_us:
            gaps.append((bench.now_us - fed_us[-1]) // 1000)
        fed_us.append(bench.now_us)

    monkeypatch.setattr(board.main.RecordFiles, "save", slow)
    monkeypatch.setattr(board.main.machine.WDT, "feed", feed)
    return gaps


@pytest.mark.parametrize("counts", [5, 350, 450, 500])
def test_with_the_slowest_writes_no_round_starves_the_watchdog_and_silence_ends_in_time(
    board, monkeypatch, counts
):
    """The dose ends at another moment of the silence each time, and its end is written."""
    bench = board.bench
    bench.last_round = 2600
    gaps = slow_writes(board, monkeypatch)
    running(board, monkeypatch, flags=reg.COMMAND_ENABLE | reg.COMMAND_RUN, dose=(1, 1, counts, 400))
    asked_us, off_us = [], []
    hear = bench.script[5]
    bench.script[5] = lambda: (asked_us.append(bench.now_us), hear())
    drive = bench.drive

    def watched(number, level):
        if number == pin_plan.ENABLE and bench.driven.get(number) == 1 and level == 0:
            off_us.append(bench.now_us)
        drive(number, level)

    monkeypatch.setattr(bench, "drive", watched)
    board.run()
    (off,) = off_us
    assert off - asked_us[0] < 2_000_000
    assert SLOWEST_WRITE_MS <= max(gaps) < board.main.WATCHDOG_MS
    assert len([gap for gap in gaps if gap >= SLOWEST_WRITE_MS]) == 2


def test_what_may_block_a_round_stays_below_the_watchdog_and_silence_with_a_hang_ends_within_2500_ms(board):
    """A round that hangs right before the lease would have ended is ended by the watchdog."""
    board.run()
    assert board.bench.watchdog_ms == board.main.WATCHDOG_MS == 500
    assert SLOWEST_WRITE_MS < LONGEST_WRITE_MS < board.main.WATCHDOG_MS - LONGEST_ROUND_MS
    assert LONGEST_LEASE_MS + board.main.WATCHDOG_MS < 2500


@pytest.mark.parametrize("stray", ["boot.py", "struct.mpy", "firmware_bridge/firmware/pumps.mpy", "lib/x.py"])
def test_a_stray_file_keeps_the_board_off_and_is_told(board, stray):
    path = board.folder / stray
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(b"")
    assert board.identity()[-1] == reg.SELF_TEST_STRAYS
    assert board.all_is_off()
