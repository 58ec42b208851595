"""The record that outlives a restart: torn, lost, refused; when it is written, and how often."""

import zlib

import pytest
from desk import BOOT_ID, POLL_MS, STIRRING, Desk, desk_limits, dosing, filling
from hypothesis import given
from hypothesis import strategies as st

from controller.run.image import Trip
from controller.run.request import ALL_OFF
from firmware_bridge import registers as reg
from firmware_bridge.firmware.kept import LONGEST_WRITE_MS
from firmware_bridge.firmware.two_slots import TwoSlots
from sim.board_memory import BoardMemory

NEXT = BOOT_ID + 1


class PowerCut(Exception):
    """The power goes away in the middle of a write."""


def leak_and_dry(desk: Desk) -> None:
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False


# Two slots.


@given(contents=st.lists(st.binary(max_size=40), max_size=6))
def test_the_newest_record_is_found_by_whoever_starts(contents):
    memory = BoardMemory(1)
    for content in contents:
        slots = TwoSlots(memory)
        slots.load()
        assert slots.save(content)
        assert TwoSlots(memory).load() == content


def test_a_write_torn_at_any_byte_leaves_the_record_before():
    memory = BoardMemory(1)
    slots = TwoSlots(memory)
    slots.load()
    slots.save(b"the one before")
    slots.save(b"the torn one, which is longer")
    whole = memory.slots[0]
    assert TwoSlots(memory).load() == b"the torn one, which is longer"
    for size in range(len(whole)):
        memory.slots[0] = whole[:size]
        assert TwoSlots(memory).load() == b"the one before"
        memory.slots[0] = whole[:size] + bytes([whole[size] ^ 0x10]) + whole[size + 1 :]
        assert TwoSlots(memory).load() == b"the one before"


def test_after_a_torn_write_the_sound_slot_is_not_the_next_to_be_written():
    memory = BoardMemory(1)
    slots = TwoSlots(memory)
    slots.load()
    slots.save(b"sound")
    memory.slots[0] = b""
    again = TwoSlots(memory)
    again.load()
    again.save(b"newer")
    memory.slots[0] = b"torn"
    assert TwoSlots(memory).load() == b"sound"


def test_the_record_has_each_number_at_its_place():
    """Layout 2, put together by hand: a board with newer firmware must read what the older one has kept."""
    channels = {"dose_caps": (1000,) * 2, "night_caps": (1500,) * 2, "max_counts_per_s": (500,) * 2}
    desk = Desk(desk_limits(**channels, anti_drip=(0, 7)))
    desk.run_talking(1500, dosing(dose_id=0x10, target=0x60, channel=1))
    desk.link.write(ALL_OFF)
    desk.link.write(filling(open_id=0x21, max_ms=5000))
    desk.run(100)
    desk.link.write(ALL_OFF)
    leak_and_dry(desk)
    left_ms = desk.node._night.left_ms
    whole = max(desk.memory.slots, key=lambda slot: slot[4:8])
    assert whole[:4] == b"TKMY"
    by_hand = (
        bytes.fromhex("02 02 05 00") + left_ms.to_bytes(4, "big") + bytes.fromhex("0004 03 00000021")
    ) + bytes.fromhex("00 01 00000010 00000060 00000060" + "00000000 00000000 00" + "00000010 00000060 07")
    night = bytes(4) + (0x60).to_bytes(4, "big") + (100).to_bytes(4, "big") + bytes(4 * 12)
    assert whole[8:-4] == by_hand + night
    assert int.from_bytes(whole[-4:], "big") == zlib.crc32(whole[:-4])


# A board whose record is lost, or cannot be written.


@pytest.mark.parametrize(
    "slots",
    [
        [b"", b""],
        [b"\xff" * 300, b"\xff" * 300],
        [b"\x00" * 300, b""],
    ],
)
def test_a_board_that_has_lost_its_record_stays_off_until_a_person_resets_it(slots):
    desk = Desk()
    desk.memory.slots = slots
    desk.restart()
    assert desk.image().first_trip is Trip.MEMORY
    desk.link.write(ALL_OFF)
    assert not desk.link.write(STIRRING)
    assert desk.refusal() == reg.REFUSED_TRIPPED
    desk.press_reset()
    desk.restart(BOOT_ID + 2)
    assert desk.image().trips == frozenset()
    desk.link.write(ALL_OFF)
    assert desk.link.write(STIRRING)


def test_one_lost_slot_of_two_is_no_loss():
    desk = Desk()
    leak_and_dry(desk)
    for lost in (0, 1):
        kept = list(desk.memory.slots)
        newest = max((0, 1), key=lambda slot: desk.memory.slots[slot][4:8])
        if lost != newest:
            desk.memory.slots[lost] = b""
        desk.restart()
        assert desk.image().trips == {Trip.LEAK}
        desk.memory.slots = kept


def test_a_record_of_another_layout_counts_as_lost():
    desk = Desk()
    slots = TwoSlots(desk.memory)
    content = slots.load()
    slots.save(bytes((content[0] + 1,)) + content[1:])
    desk.restart()
    assert desk.image().trips == {Trip.MEMORY}


@pytest.mark.parametrize("channels", [1, 2, 5, 16])
def test_limits_for_more_or_fewer_pumps_keep_trips_the_counts_of_the_others_and_the_valves_time(channels):
    desk = Desk()
    desk.run_talking(3000, dosing(dose_id=1, target=1000, rate=500))
    desk.link.write(ALL_OFF)
    desk.run_talking(2000, filling(open_id=3))
    leak_and_dry(desk)
    desk.limits = desk_limits(
        dose_caps=(1000,) * channels, night_caps=(1500,) * channels, max_counts_per_s=(500,) * channels
    )
    before = desk.node._night.total[-1]
    desk.restart()
    assert desk.image().trips == {Trip.LEAK}
    assert desk.image().open_id == 3
    assert desk.node._night.total == [1000] + [0] * (channels - 1) + [before]
    assert before >= 2000


@pytest.mark.parametrize("wish", [dosing(), filling()], ids=["dose", "fill"])
def test_nothing_flows_when_it_cannot_be_written_down_first(wish):
    desk = Desk()

    def full(_slot, _data):
        raise OSError(28, "no space left")

    desk.memory.save = full
    assert not desk.link.write(wish)
    assert desk.hal.starts == []
    assert desk.hal.history == []
    assert desk.image().trips == {Trip.MEMORY}
    desk.run(1000)
    del desk.memory.save
    desk.press_reset()
    desk.link.write(ALL_OFF)
    assert desk.link.write(STIRRING)


def test_a_storage_that_refuses_is_not_asked_again_and_again():
    desk, asked = Desk(), []

    def full(_slot, _data):
        asked.append(desk.now_ms)
        raise OSError(28, "no space left")

    desk.memory.save = full
    leak_and_dry(desk)
    desk.run(5000)
    assert 1 <= len(asked) <= 2
    assert desk.image().trips == {Trip.LEAK, Trip.MEMORY}


# When it is written.


def test_it_is_written_before_the_motor_turns_and_before_the_valve_opens():
    desk, seen = Desk(), []
    save = desk.memory.save

    def watched(slot, data):
        seen.append((desk.hal.turning, desk.hal.valve))
        save(slot, data)

    desk.memory.save = watched
    desk.link.write(dosing(dose_id=1, target=100))
    desk.run_talking(2000, dosing(dose_id=1, target=100))
    assert len(desk.hal.starts) == 1
    desk.link.write(ALL_OFF)
    desk.run_talking(2000, filling())
    assert desk.hal.valve
    desk.link.write(ALL_OFF)
    desk.run(POLL_MS)
    assert seen == [(False, False)] * 4


@pytest.mark.parametrize("wish", [dosing(), filling()], ids=["dose", "fill"])
@pytest.mark.parametrize("contact", ["wet", "high"])
def test_a_contact_that_opens_during_the_write_lets_nothing_begin(wish, contact):
    desk = Desk()
    save = desk.memory.save

    def long(slot, data):
        setattr(desk.hal, contact, True)
        save(slot, data)

    desk.memory.save = long
    assert not desk.link.write(wish)
    assert desk.refusal() == reg.REFUSED_TRIPPED
    assert desk.hal.history == []
    desk.run(100)
    assert desk.image().motion.count_done == 0


def test_a_night_of_commands_that_change_nothing_writes_nothing():
    desk = Desk()
    desk.run_talking(60_000, STIRRING)
    desk.run_talking(10_000, ALL_OFF)
    desk.run(10_000)
    assert desk.memory.writes == 0


def test_a_write_never_eats_the_last_of_a_lease():
    desk, left = Desk(), []
    save = desk.memory.save

    def watched(slot, data):
        left.append(desk.node.guard.lease_left_ms)
        save(slot, data)

    desk.memory.save = watched
    desk.link.write(dosing(dose_id=1, target=160))
    # The dose ends 300 ms before the lease does, and the enable is on until then.
    desk.run(1700)
    assert not desk.hal.turning
    assert desk.hal.enable
    assert len(left) == 1
    desk.run(400)
    assert not desk.hal.enable
    assert len(left) == 2
    assert all(ms > LONGEST_WRITE_MS or ms <= 0 for ms in left)


def test_power_cut_in_any_write_of_an_evening_never_frees_a_cap_nor_a_trip():
    """Cut the power in the n-th write, for every n, with half of it written."""

    def evening(desk: Desk) -> None:
        for dose_id, target in ((1, 700), (2, 500)):
            desk.link.write(ALL_OFF)
            desk.run_talking(2500, dosing(dose_id=dose_id, target=target, rate=500))
        desk.link.write(ALL_OFF)
        desk.run_talking(2000, filling(open_id=1))
        leak_and_dry(desk)

    whole = Desk()
    evening(whole)
    assert whole.memory.writes == 6
    for fatal in range(1, whole.memory.writes + 1):
        desk = Desk()
        save = desk.memory.save

        def cut(slot, data, desk=desk, save=save, fatal=fatal):
            save(slot, data if desk.memory.writes < fatal - 1 else data[: len(data) // 2])
            if desk.memory.writes == fatal:
                raise PowerCut

        desk.memory.save = cut
        with pytest.raises(PowerCut):
            evening(desk)
        moved = sum(desk.node.pumps.since_boot)
        del desk.memory.save
        desk.restart()
        assert Trip.MEMORY not in desk.image().trips
        assert desk.node._night.total[0] >= moved
        assert not desk.node.guard.armed
