"""The programs of the programmable I/O, run word by word (RP2040 datasheet, section 3.4)."""

import pytest
from bench import Bench
from fake_machine import put_in_place
from fake_pio import PioMachine, assembled
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_bridge.firmware import pulse_programs
from firmware_bridge.firmware.limits import MOST_COUNTS
from firmware_bridge.firmware.pin_plan import PULSES_PER_COUNT, STEP
from firmware_bridge.firmware.pulse_programs import CYCLES_PER_PULSE, count_edges, give_pulses
from firmware_bridge.firmware.stepper import ladder

# The words of the RP2040 datasheet's encodings (3.4.2 to 3.4.11), put together by hand.
GIVE_PULSES_WORDS = [
    0x80A0,  # pull block
    0xA027,  # mov x, osr
    0x0020,  # jmp !x, 0
    0xF301,  # set pins, 1 [19]
    0xF100,  # set pins, 0 [17]
    0x0042,  # jmp x--, 2
]
COUNT_EDGES_WORDS = [0x2020, 0x20A0, 0x0040]  # wait 0 pin 0; wait 1 pin 0; jmp x--, 0


class Line:
    """A pin that a generator drives; it notes the cycle of every edge."""

    def __init__(self):
        self.level = 0
        self.cycle = 0
        self.rises = []
        self.falls = []
        self.giver = PioMachine(lambda: self.level, self.drive)
        self.giver.load(assembled(give_pulses))
        self.giver.enabled = True

    def drive(self, level):
        if level != self.level:
            (self.rises if level else self.falls).append(self.cycle)
        self.level = level

    def run(self, cycles):
        for _ in range(cycles):
            self.giver.cycle()
            self.cycle += 1


def test_the_programs_are_the_words_of_the_datasheet():
    assert assembled(give_pulses) == GIVE_PULSES_WORDS
    assert assembled(count_edges) == COUNT_EDGES_WORDS


def test_assembling_leaves_the_module_as_it_was():
    assembled(give_pulses)
    assert pulse_programs.CYCLES_PER_PULSE == CYCLES_PER_PULSE
    assert not hasattr(pulse_programs, "jmp")


@pytest.mark.parametrize("pulses", [1, 2, 3, 7, 99, 100, 101, 1000])
def test_it_gives_exactly_as_many_rising_edges_as_asked_and_never_one_more(pulses):
    line = Line()
    line.giver.tx.append(pulses)
    line.run((pulses + 1) * CYCLES_PER_PULSE)
    assert len(line.rises) == pulses
    line.run(20 * CYCLES_PER_PULSE)
    assert len(line.rises) == len(line.falls) == pulses
    assert line.level == 0


def test_it_gives_nothing_until_it_is_asked_and_nothing_when_asked_for_nothing():
    line = Line()
    line.run(1000)
    line.giver.tx.append(0)
    line.run(1000)
    assert line.rises == []


def test_it_can_be_asked_again():
    line = Line()
    for _ in range(3):
        line.giver.tx.append(5)
        line.run(6 * CYCLES_PER_PULSE)
    assert len(line.rises) == 15


def test_every_pulse_is_as_long_as_the_pace_reckons_and_high_for_half_of_it():
    line = Line()
    line.giver.tx.append(50)
    line.run(51 * CYCLES_PER_PULSE)
    assert {b - a for a, b in zip(line.rises, line.rises[1:], strict=False)} == {CYCLES_PER_PULSE}
    assert {b - a for a, b in zip(line.rises, line.falls, strict=True)} == {CYCLES_PER_PULSE // 2}


@pytest.fixture
def bench(monkeypatch):
    bench = Bench()
    wiring, _ = put_in_place(monkeypatch, bench)
    bench.hal = wiring.BoardHal()
    return bench


def rises(bench) -> int:
    return bench.levels(STEP).count(1)


@pytest.mark.parametrize("count", [1, 2, 17])
def test_a_motor_gets_exactly_its_counts_of_pulses_and_stops_by_itself(bench, count):
    bench.hal.motor_start(3, count, 100)
    bench.run_cycles((count * PULSES_PER_COUNT + 1) * CYCLES_PER_PULSE)
    assert rises(bench) == count * PULSES_PER_COUNT
    bench.run_cycles(1000)
    assert rises(bench) == count * PULSES_PER_COUNT
    assert bench.hal.motor_count() == count


def test_the_count_can_be_read_midway_as_often_as_one_likes_without_bending_a_pulse(bench):
    bench.hal.motor_start(0, 5, 100)
    seen = []
    for _ in range(5 * PULSES_PER_COUNT + 10):
        bench.run_cycles(CYCLES_PER_PULSE)
        seen.append((bench.hal.motor_count(), rises(bench) // PULSES_PER_COUNT))
    assert all(told == true for told, true in seen)
    assert {told for told, _ in seen} == set(range(6))
    assert rises(bench) == 5 * PULSES_PER_COUNT


@settings(max_examples=40)
@given(stops=st.lists(st.integers(0, 3 * PULSES_PER_COUNT * CYCLES_PER_PULSE), max_size=5))
def test_a_motion_cut_anywhere_and_carried_on_gives_its_counts_and_no_pulse_twice(stops):
    with pytest.MonkeyPatch.context() as monkeypatch:
        bench = Bench()
        hal = put_in_place(monkeypatch, bench)[0].BoardHal()
    target, done = 3, 0
    for cycles in [*stops, 4 * PULSES_PER_COUNT * CYCLES_PER_PULSE]:
        if done == target:
            break
        hal.motor_start(1, target - done, 100)
        bench.run_cycles(cycles)
        hal.motor_stop()
        assert bench.level(STEP) == 0
        done += hal.motor_count()
        assert done == rises(bench) // PULSES_PER_COUNT
    assert done == target
    assert rises(bench) == target * PULSES_PER_COUNT


def test_the_count_stays_readable_after_the_stop(bench):
    bench.hal.motor_start(0, 5, 100)
    bench.run_cycles(250 * CYCLES_PER_PULSE)
    bench.hal.motor_stop()
    assert bench.hal.motor_count() == bench.hal.motor_count() == 2
    before = rises(bench)
    bench.run_cycles(10_000)
    assert rises(bench) == before


def test_edges_that_nobody_gave_are_told_so_that_the_node_can_trip(bench):
    bench.hal.motor_start(0, 1, 100)
    bench.run_cycles(101 * CYCLES_PER_PULSE)
    for _ in range(PULSES_PER_COUNT):
        for level in (1, 0):
            bench.drive(STEP, level)
            bench.settle()
    assert bench.hal.motor_count() == 2


def test_a_counter_that_does_not_answer_is_told_as_an_impossible_count(bench):
    bench.hal.motor_start(0, 1, 100)
    bench.machines[1].pushed = lambda word: -1
    assert bench.hal.motor_count() < 0


def test_a_last_count_that_cannot_be_read_is_told_until_the_next_start_and_not_taken_for_none(bench):
    bench.hal.motor_start(0, 5, 100)
    bench.run_cycles(150 * CYCLES_PER_PULSE)
    assert bench.hal.motor_count() == 1
    bench.run_cycles(150 * CYCLES_PER_PULSE)
    pushed = bench.machines[1].pushed
    bench.machines[1].pushed = lambda word: -1
    bench.hal.motor_stop()
    bench.machines[1].pushed = pushed
    assert bench.hal.motor_count() == -1
    bench.hal.motor_stop()
    assert bench.hal.motor_count() == -1
    bench.hal.motor_start(0, 1, 100)
    assert bench.hal.motor_count() == 0


def test_the_speed_rises_with_the_distance_to_what_was_asked_and_never_beyond(bench):
    """v = sqrt(v0^2 + 2 a s): constant acceleration."""
    bench.hal.motor_start(0, 200, 133)
    # At its top speed it takes 1.5 s, at its first one 10 s.
    for _ in range(20_000):
        if bench.hal.motor_count() == 200:
            break
        bench.run_us(500)
    assert bench.hal.motor_count() == 200
    speeds = [125_000_000 * 256 / pace / CYCLES_PER_PULSE / PULSES_PER_COUNT for pace in bench.paces]
    assert speeds == sorted(speeds)
    assert speeds[0] == pytest.approx(20, rel=1e-3)
    assert speeds[-1] == pytest.approx(133, rel=1e-3)
    assert all(speed <= 133 for speed in speeds)
    assert len(speeds) > 5


@pytest.mark.parametrize("asked", [50, 133, 450])
def test_no_motor_is_ever_driven_faster_than_the_way_it_has_come_allows(bench, asked):
    """From 20 counts/s at 400 counts/s2, as a loaded head bears it: v = sqrt(v0^2 + 2 a s)."""
    paces, seen = bench.paces, 0
    bench.hal.motor_start(0, 400, asked)
    speed = 0.0
    for _ in range(10_000):
        for pace in paces[seen:]:
            counts = rises(bench) / PULSES_PER_COUNT
            speed = 125_000_000 * 256 / pace / CYCLES_PER_PULSE / PULSES_PER_COUNT
            assert speed <= min(asked, (20**2 + 2 * 400 * counts) ** 0.5) * 1.001
        seen = len(paces)
        if speed > 0.999 * asked:
            break
        bench.run_us(500)
        bench.hal.motor_count()
    assert speed == pytest.approx(asked, rel=1e-3)
    assert seen > 1


def test_a_slow_motor_starts_at_its_own_speed(bench):
    bench.hal.motor_start(0, 1, 1)
    assert 125_000_000 * 256 / bench.paces[-1] / CYCLES_PER_PULSE == pytest.approx(PULSES_PER_COUNT, rel=1e-3)


def test_the_ladder_follows_constant_acceleration():
    for rung, speed in enumerate(ladder()):
        exact = (20**2 + 2 * 400 * 4 * rung) ** 0.5
        assert exact - 1 < speed <= exact


def test_the_longest_motion_fits_the_generator_and_the_counter(bench):
    bench.hal.motor_start(0, MOST_COUNTS, 100)
    assert MOST_COUNTS * PULSES_PER_COUNT < 1 << 30
    bench.run_cycles(150 * CYCLES_PER_PULSE)
    assert bench.hal.motor_count() == 1
